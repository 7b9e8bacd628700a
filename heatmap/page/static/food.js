// Food: where it goes, seconds a turn, the clock that counts the turns, and how it came out.

import { byId, once, twice, write } from "./dom.js";
import { Grate } from "./grate.js";
import { laptopNow } from "./queue.js";
import { store, stored, forget } from "./storage.js";
import * as turnclock from "./turnclock.js";
import { beep, buzz, readySound, say } from "./voice.js";

const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);
const NUMBER = /^\d+([.,]\d+)?$/;

export class Food {
  constructor(queue) {
    this.queue = queue;
    this.grate = new Grate(byId("food-picture"));
    this.rung = 0;
    this.outcome = null;
    this.screen = null;
    byId("turn").addEventListener("click", () => this.tap());
    twice(byId("turn-stop"), () => this.keep(turnclock.stopped(this.clock, Date.now())));
    twice(byId("outcome-drop"), () => this.end());
    byId("outcome").addEventListener("submit", (event) => {
      event.preventDefault();
      this.send();
    });
    document.querySelectorAll("[data-outcome]").forEach((key) =>
      key.addEventListener("click", () => {
        this.outcome = this.outcome === key.dataset.outcome ? null : key.dataset.outcome;
        this.show();
      }),
    );
    document.addEventListener("pointerdown", () => this.clock && readySound()); // after a reload too
    this.drawGrate = once(() => this.grate.draw(this.state, this.outlines()));
  }

  // Kept by the phone, not by the page.
  get clock() {
    return stored("clock");
  }

  keep(clock) {
    store("clock", clock);
    this.rung = 0;
    if (turnclock.isOver(clock)) this.sleep();
    this.show();
  }

  take(state) {
    this.state = state;
    this.show();
  }

  tap() {
    readySound();
    const clock = this.clock;
    if (clock) {
      const next = turnclock.moved(clock, Date.now());
      if (next !== clock) buzz(60);
      this.keep(next);
    } else if (this.state?.turn_clock) {
      this.stayAwake();
      write(byId("food-said"), "");
      this.keep(turnclock.begin(this.state.turn_clock, Date.now()));
    }
  }

  // Where the browser allows it the screen stays on; the clock is right without it.
  async stayAwake() {
    this.screen = await navigator.wakeLock?.request("screen").catch(() => null);
  }

  sleep() {
    this.screen?.release().catch(() => null);
    this.screen = null;
  }

  end() {
    forget("clock");
    this.outcome = null;
    byId("peak").value = "";
    byId("word").value = "";
    write(byId("outcome-said"), "");
    this.show();
  }

  send() {
    const peak = byId("peak").value.trim();
    if (peak && !NUMBER.test(peak)) {
      write(byId("outcome-said"), "The peak is a number.");
      return;
    }
    const clock = this.clock;
    this.queue.add("sears", {
      place: clock.place ?? null,
      turns_s: clock.done,
      outcome: this.outcome,
      peak: peak ? Number(peak.replace(",", ".")) : null,
      note: byId("word").value.trim(),
      taken_at: new Date(laptopNow()).toISOString(),
    });
    this.end();
  }

  // The disk has it.
  kept({ turns_s: turns, outcome }) {
    write(byId("food-said"), `Kept: ${turns.join(", ")} s${outcome ? `, ${outcome}` : ""}`);
  }

  // What was refused, in the form once more.
  reopen({ place, turns_s: done, outcome, peak, note }) {
    store("clock", { place, done, turns: done.length, what: [] });
    this.outcome = outcome;
    byId("peak").value = peak ?? "";
    byId("word").value = note;
    this.show();
  }

  // The food as it will lie; where its size was never told, only where.
  outlines() {
    const { decision, grill } = this.state;
    if (!decision?.place) return [];
    const { x, y, headings } = decision.place;
    const some = grill.width / 8;
    return [{ x, y, length: grill.food?.length ?? some, width: grill.food?.width ?? some, headings: headings ?? [] }];
  }

  show() {
    if (!this.state || byId("food").hidden) return;
    const clock = this.clock;
    const over = Boolean(clock) && turnclock.isOver(clock);
    const offered = this.state.turn_clock;
    byId("outcome").hidden = !over || !clock.done.length;
    byId("food-where").hidden = over;
    byId("food-turns").hidden = over;
    if (over && !clock.done.length) return this.end();
    if (over) {
      write(byId("outcome-done"), `${clock.done.join(", ")} s`);
      document.querySelectorAll("[data-outcome]").forEach((key) => key.setAttribute("aria-pressed", String(key.dataset.outcome === this.outcome)));
      return;
    }
    const place = this.state.decision?.place;
    const at = place?.where ? capital(place.where) + (place.headings?.length ? `, heading ${place.headings.join(" and ")}` : "") : "";
    write(byId("food-words"), at || (this.state.decision?.sentence ?? this.state.session.heading ?? ""));
    const seconds = clock?.seconds ?? offered?.seconds ?? this.state.decision?.seconds_per_turn;
    const turns = clock?.turns ?? offered?.turns;
    write(byId("food-seconds"), seconds ? `${Math.round(seconds)} s a turn${turns ? `, ${turns} turns` : ""}` : "");
    if (!clock && !seconds && this.state.grill.no_seconds) write(byId("food-said"), this.state.grill.no_seconds);
    byId("turn").hidden = !clock && !offered;
    byId("turn-stop").hidden = !clock;
    byId("food").classList.toggle("running", Boolean(clock));
    this.drawGrate([this.state.version, place]);
    this.tick();
  }

  tick() {
    const clock = this.clock;
    if (byId("food").hidden && !clock) return;
    if (!clock) {
      const offered = this.state?.turn_clock;
      byId("turn").classList.remove("over");
      write(byId("turn-what"), capital(offered?.what?.[0] ?? ""));
      write(byId("turn-number"), "Start");
      write(byId("turn-then"), "");
      return;
    }
    if (turnclock.isOver(clock)) return;
    const now = Date.now();
    const left = turnclock.left(clock, now);
    const next = turnclock.what(clock, clock.done.length + 1);
    byId("turn").classList.toggle("over", left <= 0);
    write(byId("turn-what"), `Turn ${clock.done.length + 1} of ${clock.turns}`);
    write(byId("turn-number"), left > 0 ? String(Math.ceil(left)) : `+${Math.floor(-left)}`);
    write(byId("turn-then"), left > 0 ? `Then ${next}` : capital(next));
    const rings = turnclock.rings(clock, now);
    if (rings > this.rung) {
      beep(rings === 1 ? 3 : 1);
      buzz(rings === 1 ? [400, 150, 400, 150, 400] : 400);
      if (rings === 1 || this.rung === 0) say(next);
      this.rung = rings;
    }
  }
}
