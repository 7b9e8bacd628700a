// What was tapped and is not yet on the laptop's disk. Each entry is kept by the phone under a key of its own, is sent in
// order, and leaves only when the laptop has it, or when the cook leaves it out. A question keeps the rest waiting.

import { names, store, stored, forget } from "./storage.js";

const WAIT_MS = 8000;
const LONGEST_MS = 10000;

// Random, for a key; the page comes over plain HTTP, where randomUUID is not to be had.
const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");

// When something was tapped, by the laptop's clock.
let ahead_ms = 0;
export const setClock = (now) => (ahead_ms = now ? Date.parse(now) - Date.now() : ahead_ms);
export const laptopNow = () => Date.now() + ahead_ms;

export class Queue {
  // kept(entry, answer), asked(entry), reached(bool), shut(text) and changed() are told what happens.
  constructor(told) {
    this.told = told;
    this.busy = false;
    this.allowed = false; // until it is known that this phone may enter anything
    this.failed = 0;
    this.timer = null;
    window.addEventListener("online", () => this.send());
    window.addEventListener("storage", (event) => event.key?.startsWith("gratemap.entry.") && told.changed());
  }

  get entries() {
    return names("entry.").map((name) => ({ name, ...stored(name) }));
  }

  add(path, body) {
    const key = newKey();
    // In the order of tapping, also where the phone's clock is put back.
    const newest = Number(names("entry.").at(-1)?.split(".")[1] ?? 0);
    const name = `entry.${String(Math.max(Date.now(), newest + 1)).padStart(15, "0")}.${key.slice(0, 8)}`;
    store(name, { path, tries: 0, body: { key, ...body } });
    this.told.changed();
    this.send();
  }

  // Put an answer in the place of an entry that was asked about, and go on.
  answer(entry, body) {
    store(entry.name, { path: entry.path, tries: entry.tries, body: { ...entry.body, ...body } });
    this.told.changed();
    this.send();
  }

  leaveOut(entry) {
    forget(entry.name);
    this.told.changed();
    this.send();
  }

  async send() {
    if (this.busy || !this.allowed) return;
    this.busy = true;
    clearTimeout(this.timer);
    try {
      for (let entry = this.entries[0]; entry && !entry.question && !entry.refused; entry = this.entries[0]) {
        if (!(await this.sendOne(entry))) break;
      }
    } finally {
      this.busy = false;
      this.told.changed();
    }
  }

  // True when the next may follow.
  async sendOne(entry) {
    const body = { ...entry.body };
    if (entry.path === "void" && body.of) {
      body.id = (stored("kept") ?? {})[body.of];
      delete body.of;
      if (body.id === undefined) return this.done(entry, null); // what it would take back was left out
    }
    const { name, ...whole } = entry;
    store(name, { ...whole, tries: entry.tries + 1 });
    let response;
    let answer;
    try {
      response = await fetch(`/api/${entry.path}`, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(body),
        signal: AbortSignal.timeout(WAIT_MS),
      });
      answer = await response.json();
    } catch {
      return this.later();
    }
    if (response.ok) return this.done({ ...entry, body }, answer);
    if (response.status === 401) return this.told.shut(answer.error), false;
    if (response.status === 409 && entry.path === "void") return this.done(entry, null); // there is nothing to do any more
    if (response.status === 429 || response.status >= 500) return this.later();
    if (this.entries[0]?.name === name) {
      store(name, { ...whole, tries: entry.tries + 1, question: answer.question, refused: answer.question ? undefined : answer.error });
      this.told.reached(true);
      this.told.asked({ ...entry, question: answer.question, refused: answer.error });
    }
    return false;
  }

  done(entry, answer) {
    this.failed = 0;
    if (answer?.id !== undefined && entry.path === "shots") {
      const newest = Object.entries({ ...stored("kept"), [entry.body.key]: answer.id }).slice(-50);
      store("kept", Object.fromEntries(newest));
    }
    forget(entry.name);
    this.told.reached(true);
    if (answer) this.told.kept(entry, answer);
    return true;
  }

  later() {
    this.told.reached(false);
    this.timer = setTimeout(() => this.send(), Math.min(LONGEST_MS, 1000 * 2 ** this.failed));
    this.failed += 1;
    return false;
  }
}
