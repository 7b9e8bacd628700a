// Where the knobs stand: turned just now, or found so. They begin as advised, else as they were.

import { byId, made, write } from "./dom.js";
import { laptopNow } from "./queue.js";

export const turnable = (grill) => grill.burners.filter((one) => one.control !== "none");

export class Turned {
  constructor(queue, told) {
    this.queue = queue;
    byId("turned").addEventListener("click", () => this.open());
    byId("turned-now").addEventListener("click", () => {
      queue.add("turned", { marks: Object.fromEntries(this.known), taken_at: new Date(laptopNow()).toISOString() });
      byId("turned-sheet").close();
      told();
    });
    byId("stand-so").addEventListener("click", () => {
      for (const [name, mark] of this.known) {
        queue.add("shots", { typed: `knob ${name} ${mark}`, position: null, aim: "rail", taken_at: new Date(laptopNow()).toISOString() });
      }
      byId("turned-sheet").close();
    });
  }

  take(state) {
    this.state = state;
  }

  get known() {
    return [...this.marks].filter(([, mark]) => mark !== null);
  }

  open() {
    const { grill, decision } = this.state;
    const advised = new Map((decision?.changes ?? []).map((one) => [one.burner, one.to]));
    const burners = turnable(grill);
    this.marks = new Map(burners.map(({ name, mark }) => [name, advised.get(name) ?? mark]));
    this.shows = [];
    const rows = burners.map((burner) => this.row(burner.name, [burner], burner.mark));
    byId("marks").replaceChildren(...rows, ...(burners.length > 1 ? [this.row("all", burners)] : []));
    this.show();
    byId("turned-sheet").showModal();
  }

  // One burner, or all of them, a step lower or higher.
  row(name, burners, was = null) {
    const value = made("output", { "aria-live": "polite" });
    if (burners.length === 1) this.shows.push(() => write(value, text(this.marks.get(name))));
    const by = (sign) => () => {
      for (const burner of burners) this.marks.set(burner.name, stepped(burner, this.marks.get(burner.name), sign));
      this.show();
    };
    return made(
      "div",
      { class: "knob", role: "group", "aria-label": name },
      made("p", {}, name, made("small", {}, was === null ? "" : `was ${text(was)}`)),
      made("button", { type: "button", "aria-label": `${name} lower`, click: by(-1) }, "−"),
      value,
      made("button", { type: "button", "aria-label": `${name} higher`, click: by(1) }, "+"),
    );
  }

  show() {
    for (const show of this.shows) show();
    byId("turned-now").disabled = byId("stand-so").disabled = !this.known.length;
  }
}

// A mark by its name, or as a number; nobody knows one that was never told.
const text = (mark) => (mark === null ? "?" : String(mark));

// The next mark lower or higher; from an unknown one to the middle.
function stepped({ low, high, step, marks }, mark, sign) {
  const all = marks?.length ? marks : null;
  const last = all ? all.length - 1 : Math.round((high - low) / step);
  const at = mark === null ? Math.round(last / 2) : (all ? all.indexOf(mark) : Math.round((mark - low) / step)) + sign;
  const held = Math.min(last, Math.max(0, at));
  return all ? all[held] : Math.min(high, Math.round((low + held * step) * 1e6) / 1e6);
}
