// Watch: all of it at a glance, for whoever stands by. Nothing is entered here.

import { byId, write } from "./dom.js";
import { left, timeOfDay } from "./doview.js";

const NONE = "–";

export class Watch {
  take(state) {
    this.decision = state.decision;
    const { grill, session, map } = state;
    const changes = this.decision?.changes ?? [];
    write(byId("watch-headline"), this.decision?.headline ?? session.heading ?? "");
    write(byId("watch-answer"), map?.answer ?? session.heading ?? "");
    write(byId("watch-knobs"), changes.map((one) => one.text ?? one.burner).join("\n") || grill.burners.map(markText).filter(Boolean).join("\n") || NONE);
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

// How a burner stands: its mark, by name where the marks are named.
export function markText({ name, mark, marks, low, high }) {
  if (mark == null) return "";
  return `${name} ${nameOf(mark, { marks, low, high })}`;
}

// Named marks are evenly spaced between the lowest and the highest.
export function nameOf(mark, { marks, low, high }) {
  if (!marks?.length) return String(Math.round(mark * 100) / 100);
  const at = marks.length > 1 ? ((mark - low) / (high - low)) * (marks.length - 1) : 0;
  return marks[Math.min(marks.length - 1, Math.max(0, Math.round(at)))];
}
