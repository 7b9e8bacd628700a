// Do: the decision, what is left of a wait, and the key that follows from it.

import { byId, made, once, reduced, write } from "./dom.js";
import { laptopNow } from "./queue.js";
import { turnable } from "./turned.js";

// The time of day as the laptop says it.
export const timeOfDay = (until) => /T(\d\d:\d\d)/.exec(until)?.[1] ?? "";

export const left = (decision) => (decision?.until && decision.do === "wait" ? (Date.parse(decision.until) - laptopNow()) / 1000 : null);

export class DoView {
  constructor(go, turned) {
    const key = (text, tapped) => made("button", { type: "button", class: "main", click: tapped }, text);
    const keys = {
      shoot: () => key("Shoot", () => go("shoot")),
      turn: () => key("Turned", turned),
      sear: () => key("Food", () => go("food")),
      wait: () => key("Map", () => go("map")),
      stuck: () => key("Map", () => go("map")),
      knobs: () => key("Knobs", turned), // nobody has told where they stand
    };
    this.drawKeys = once((which) => byId("do-buttons").replaceChildren(...which.map((one) => keys[one]())));
    this.drawCautions = once((cautions) => byId("do-cautions").replaceChildren(...cautions.map((one) => made("li", {}, one))));
    this.drawChanges = once((changes) => byId("do-changes").replaceChildren(...changes.map((one) => made("li", {}, one.text))));
  }

  take(state) {
    this.decision = state.decision;
    write(byId("do-sentence"), this.decision?.sentence ?? state.session.heading ?? "");
    const untold = turnable(state.grill).some((one) => one.mark === null);
    const what = this.decision?.do ?? "shoot";
    this.drawKeys(what === "stuck" && untold ? [what, "knobs"] : [what]);
    this.drawChanges((this.decision?.do === "turn" && this.decision.changes.filter((one) => one.text)) || []);
    this.drawCautions(state.cautions ?? []);
    this.tick();
  }

  tick() {
    const seconds = left(this.decision);
    write(byId("do-left"), seconds === null ? "" : reduced(seconds));
    write(byId("do-until"), seconds === null ? "" : `until ${timeOfDay(this.decision.until)}`);
  }
}
