// Watch: all of it at a glance, for whoever stands by. Nothing is entered here.

import { byId, write } from "./dom.js";
import { left, timeOfDay } from "./doview.js";

const NONE = "–";

export class Watch {
  take(state) {
    this.decision = state.decision;
    const { session, map } = state;
    const changes = this.decision?.changes ?? [];
    write(byId("watch-headline"), this.decision?.headline ?? session.heading ?? "");
    write(byId("watch-answer"), map?.answer ?? session.heading ?? "");
    write(byId("watch-knobs"), changes.map((one) => `${one.burner} → ${one.to}`).join("\n") || NONE);
    write(byId("watch-place"), this.decision?.place?.where ?? NONE);
    write(byId("watch-seconds"), this.decision?.seconds_per_turn ? String(Math.round(this.decision.seconds_per_turn)) : NONE);
    this.tick();
  }

  tick() {
    const seconds = left(this.decision);
    const minutes = seconds === null ? NONE : String(Math.max(0, Math.ceil(seconds / 60)));
    write(byId("watch-minutes"), seconds === null ? NONE : `${minutes}, until ${timeOfDay(this.decision.until)}`);
  }
}
