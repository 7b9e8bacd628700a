// The grate seen from above: the map's colours on a canvas, marks and food drawn over it, positions as keys.

import { contour } from "./contours.js";
import { drawn, made, shownText } from "./dom.js";
import { bandSteps } from "./ramp.js";

const NAMES_PX = 20; // the line above and the one below
const KEY_PX = 56;
const SHAPES = {
  "too hot": "M0 -9 L10 8 L-10 8 Z",
  "too cold": "M0 9 L10 -8 L-10 -8 Z",
  "in band": "M9 0 A9 9 0 1 1 -9 0 A9 9 0 1 1 9 0 Z",
  suspect: "M-8 -8 L8 8 M-8 8 L8 -8",
};

// The mark of one word: filled when sure, hollow when it only leans that way.
export function mark(word, sure) {
  const box = drawn("svg", { viewBox: "-13 -13 26 26", class: "mark", "aria-hidden": "true" });
  if (!SHAPES[word]) return box;
  box.append(drawn("path", { d: SHAPES[word], class: "halo" }), drawn("path", { d: SHAPES[word], class: sure ? "sure" : "leaning" }));
  return box;
}

export class Grate {
  // A picture inside `host`; `tapped(label)` makes the positions keys; without it only their names are written.
  constructor(host, tapped = null) {
    this.tapped = tapped;
    this.host = host;
    this.field = made("canvas");
    this.over = drawn("svg", { "aria-hidden": "true" });
    this.places = made("div", { class: "places" });
    this.box = made("div", { class: "grate" }, this.field, this.over, this.places);
    host.replaceChildren(made("p", { class: "side" }, "BACK"), this.box, made("p", { class: "side" }, "YOU"));
    new ResizeObserver(() => this.state && this.draw(this.state, this.food)).observe(host);
  }

  draw(state, food = []) {
    this.state = state;
    this.food = food;
    const { width, depth, shape } = state.grill;
    const room = { width: this.host.clientWidth, height: this.host.clientHeight - 2 * NAMES_PX };
    if (room.width < 40 || room.height < 40) return;
    this.scale = Math.min(room.width / width, room.height / depth);
    this.size = [width * this.scale, depth * this.scale];
    this.box.style.width = `${this.size[0]}px`;
    this.box.style.height = `${this.size[1]}px`;
    this.box.classList.toggle("round", shape === "round");
    this.over.setAttribute("viewBox", `0 0 ${width} ${depth}`);
    this.paint(state.map);
    this.over.replaceChildren(...this.limits(state.map), ...food.flatMap((one) => this.outline(one)));
    this.place(state);
  }

  paint(map) {
    const painted = JSON.stringify([map, this.size]);
    if (painted === this.painted) return; // the numbers come before their map
    this.painted = painted;
    const sharp = Math.min(window.devicePixelRatio || 1, 2);
    const [columns, rows] = this.size.map((one) => Math.max(1, Math.round(one * sharp)));
    this.field.width = columns;
    this.field.height = rows;
    if (!map) return;
    const values = filled(map.mean);
    const { edges, colours } = bandSteps(map.low, map.high);
    const across = cells(map.x, columns, (pixel) => ((pixel + 0.5) / columns) * this.state.grill.width);
    const along = cells(map.y, rows, (pixel) => (1 - (pixel + 0.5) / rows) * this.state.grill.depth);
    const image = new ImageData(columns, rows);
    const words = new Uint32Array(image.data.buffer);
    const inks = colours.map(([red, green, blue]) => (255 << 24) | (blue << 16) | (green << 8) | red);
    for (let row = 0; row < rows; row += 1) {
      const lower = values[along.index[row]];
      const upper = values[along.index[row] + along.step];
      const up = along.part[row];
      for (let column = 0; column < columns; column += 1) {
        const at = across.index[column];
        const right = across.part[column];
        const below = lower[at] + right * (lower[at + across.step] - lower[at]);
        const above = upper[at] + right * (upper[at + across.step] - upper[at]);
        const value = below + up * (above - below);
        let step = 0;
        while (step < edges.length && value >= edges[step]) step += 1;
        words[row * columns + column] = inks[step];
      }
    }
    this.field.getContext("2d").putImageData(image, 0, 0);
  }

  // Both limits of the band: the lower one dashed, the upper one solid.
  limits(map) {
    if (!map || map.x.length < 2 || map.y.length < 2) return [];
    const values = filled(map.mean);
    return [["low", map.low], ["high", map.high]].flatMap(([name, level]) => {
      const path = contour(map.x, map.y, values, level).map((line) => `M${line.map(([x, y]) => `${x} ${this.up(y)}`).join("L")}`).join("");
      return path ? [drawn("path", { d: path, class: "limit under" }), drawn("path", { d: path, class: `limit ${name}` })] : [];
    });
  }

  // Food as it lies: an outline at each heading, by the clock, 12 straight away from the cook.
  outline({ x, y, length, width, headings }) {
    return (headings.length ? headings : [12]).flatMap((heading) => {
      const how = { transform: `translate(${x} ${this.up(y)}) rotate(${heading * 30})`, rx: width / 2, ry: length / 2 };
      return ["food under", "food"].map((name) => drawn("ellipse", { ...how, class: name }));
    });
  }

  place(state) {
    const spots = new Map();
    if (this.tapped) for (const spot of state.spots) if (spot.shown != null && (spot.aim === "rail" || !spots.has(spot.position))) spots.set(spot.position ?? spot.id, spot);
    const positions = state.grill.positions;
    const apart = Math.min(...positions.map((one) => Math.min(...positions.map((other) => (one === other ? 1e9 : Math.max(Math.abs(one.x - other.x), Math.abs(one.y - other.y)))))));
    const side = Math.min(1.4 * KEY_PX, apart * this.scale - 2, Math.max(...this.size));
    this.places.style.fontSize = `${Math.max(11, Math.min(20, 0.3 * side))}px`;
    const told = positions.map(({ label, x, y }) => this.key(label, x, y, side, spots.get(label)));
    for (const spot of spots.values()) if (!positions.some((one) => one.label === spot.position)) told.push(this.key(null, spot.x, spot.y, side, spot));
    const focused = this.places.contains(document.activeElement) ? document.activeElement.dataset.position : null;
    this.places.replaceChildren(...told);
    if (focused) this.places.querySelector(`[data-position="${focused}"]`)?.focus();
  }

  key(label, x, y, side, spot) {
    const word = spot?.suspect ? "suspect" : spot?.leaning;
    const sure = spot?.suspect || (spot && spot.verdict === spot.leaning);
    const number = spot ? shownText(spot.shown) : label;
    const inside = word ? [mark(word, sure), made("b", {}, number)] : [made("b", { class: spot || !this.tapped ? "" : "open" }, number)];
    const said = spot ? `${label ?? "a spot"}: ${number}${word ? `, ${sure ? "" : "leaning "}${word}` : ""}` : this.tapped ? `${label}: not shot` : label;
    const key =
      this.tapped && label
        ? made("button", { type: "button", "aria-label": said, "data-position": label, click: () => this.tapped(label) }, ...inside)
        : made("span", { role: "img", "aria-label": said }, ...inside);
    key.style.cssText = `left:${x * this.scale}px;top:${this.up(y) * this.scale}px;width:${side}px;height:${side}px`;
    return key;
  }

  up(y) {
    return this.state.grill.depth - y;
  }
}

// For each pixel the cell before it and how far it is on the way to the next, held at the outermost cells.
function cells(at, pixels, where) {
  const step = at.length > 1 ? 1 : 0;
  const size = step ? at[1] - at[0] : 1;
  const index = new Int32Array(pixels);
  const part = new Float64Array(pixels);
  for (let pixel = 0; pixel < pixels; pixel += 1) {
    const place = Math.min(at.length - 1, Math.max(0, (where(pixel) - at[0]) / size));
    index[pixel] = Math.min(Math.max(0, at.length - 2), Math.floor(place));
    part[pixel] = place - index[pixel];
  }
  return { index, part, step };
}

// Cells off a round grate take their neighbours' mean, so that the colours reach the edge.
function filled(mean) {
  let values = mean;
  while (values.some((row) => row.includes(null)) && values.some((row) => row.some((one) => one !== null))) {
    const before = values;
    values = before.map((row, y) =>
      row.map((value, x) => {
        if (value !== null) return value;
        const known = [before[y - 1]?.[x], before[y + 1]?.[x], row[x - 1], row[x + 1]].filter((one) => one != null);
        return known.length ? known.reduce((sum, one) => sum + one) / known.length : null;
      }),
    );
  }
  return values;
}

// Where everything is, small: what is shot filled, what is not hollow, the one asked for large.
export function smallGrate(grill, shot, asked) {
  const { width, depth, shape, positions } = grill;
  const unit = Math.max(width, depth) / 100;
  const edge = { class: "metal", "stroke-width": 1.6 * unit };
  const box = drawn("svg", { viewBox: `${-unit} ${-unit} ${width + 2 * unit} ${depth + 2 * unit}`, "aria-hidden": "true" });
  box.append(
    shape === "round"
      ? drawn("circle", { cx: width / 2, cy: depth / 2, r: width / 2, ...edge })
      : drawn("rect", { width, height: depth, rx: 2 * unit, ...edge }),
  );
  for (const { label, x, y } of positions) {
    const here = label === asked;
    const name = here ? "here" : shot.has(label) ? "shot" : "open";
    box.append(drawn("circle", { cx: x, cy: depth - y, r: (here ? 7.5 : 3) * unit, class: name, "stroke-width": 1.4 * unit }));
  }
  return box;
}
