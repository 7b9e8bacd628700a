// The marks the knobs were turned to just now: as advised, until they are set otherwise.

import { byId, made, write } from "./dom.js";
import { laptopNow } from "./queue.js";
import { nameOf } from "./watch.js";

export class Turned {
  constructor(queue, told) {
    this.queue = queue;
    byId("turned").addEventListener("click", () => this.open());
    byId("turned-now").addEventListener("click", () => {
      const marks = Object.fromEntries(Object.entries(this.marks).filter(([, mark]) => mark !== null));
      queue.add("turned", { marks, taken_at: new Date(laptopNow()).toISOString() });
      byId("turned-sheet").close();
      told();
    });
  }

  take(state) {
    this.state = state;
  }

  open() {
    const { grill, decision } = this.state;
    const advised = Object.fromEntries((decision?.changes ?? []).map((one) => [one.burner, one.to]));
    this.marks = Object.fromEntries(grill.burners.map(({ name, mark }) => [name, advised[name] ?? mark]));
    byId("marks").replaceChildren(...grill.burners.map((burner) => this.row(burner)));
    byId("turned-sheet").showModal();
  }

  row(burner) {
    const { name, low, high, marks, mark } = burner;
    const step = marks?.length > 1 ? (high - low) / (marks.length - 1) : burner.step;
    const value = made("output", { "aria-live": "polite" });
    const show = () => write(value, this.marks[name] === null ? "?" : nameOf(this.marks[name], burner));
    const by = (sign) => () => {
      const before = this.marks[name] ?? low - sign * step;
      this.marks[name] = Math.min(high, Math.max(low, Math.round((before + sign * step) * 1e6) / 1e6));
      show();
    };
    show();
    const was = mark == null ? "" : `was ${nameOf(mark, burner)}`;
    return made(
      "div",
      { class: "knob", role: "group", "aria-label": name },
      made("p", {}, name, made("small", {}, was)),
      made("button", { type: "button", "aria-label": `${name} lower`, click: by(-1) }, "−"),
      value,
      made("button", { type: "button", "aria-label": `${name} higher`, click: by(1) }, "+"),
    );
  }
}
