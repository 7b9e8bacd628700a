// Shoot: the next position, the pad, and what the laptop said of the number.

import { byId, made, once, shownText, twice, write } from "./dom.js";
import { smallGrate } from "./grate.js";
import { laptopNow } from "./queue.js";
import { turnable } from "./turned.js";
import { buzz, say, spoken } from "./voice.js";

const NUMBER = /^\d+([.,]\d+)?$/;
const DIGITS = 4;
const FRESH_MS = 5000;

export class Shoot {
  // `reopen` takes a sear that was refused, to be put right where it is entered.
  constructor(queue, reopen) {
    this.queue = queue;
    this.reopen = reopen;
    this.state = null;
    this.choice = null; // {position, aim, replaces, again}: what was chosen instead of the next one
    this.fresh = []; // acknowledged, and not yet in the state
    this.drawSmall = once(({ grill, shot, asked }) => byId("small-grate").replaceChildren(smallGrate(grill, new Set(shot), asked)));
    this.drawQuestion = once((what) => this.writeQuestion(what));
    document.querySelectorAll("[data-digit]").forEach((key) => key.addEventListener("click", () => this.type(key.dataset.digit)));
    byId("back").addEventListener("click", () => this.put(byId("typed").value.slice(0, -1)));
    byId("undo").addEventListener("click", () => this.undo());
    byId("enter").addEventListener("click", () => this.enter());
    byId("entry").addEventListener("submit", (event) => {
      event.preventDefault();
      this.enter();
    });
    byId("typed").addEventListener("input", () => this.show());
    byId("more").addEventListener("click", () => byId("more-sheet").showModal());
    byId("small-grate").addEventListener("click", () => this.pick("any"));
    byId("skip").addEventListener("click", () => this.skip());
    document.querySelectorAll("[data-aim]").forEach((key) => key.addEventListener("click", () => this.aim(key.dataset.aim)));
    document.querySelectorAll("[data-pick]").forEach((key) => key.addEventListener("click", () => this.pick(key.dataset.pick)));
    document.querySelectorAll("#round-over [data-round]").forEach((key) => key.addEventListener("click", () => this.begin(key.dataset.round)));
    document.querySelectorAll("#more-sheet [data-round]").forEach((key) => twice(key, () => this.begin(key.dataset.round)));
    document.addEventListener("keydown", (event) => this.pressed(event));
  }

  // Number keys work wherever the focus is in this view; a field takes its own.
  pressed(event) {
    if (byId("shoot").hidden || document.querySelector("dialog[open]") || event.target.matches("input") || event.ctrlKey || event.metaKey || event.altKey) return;
    if (/^\d$/.test(event.key)) this.type(event.key);
    else if (event.key === "Backspace") this.put(byId("typed").value.slice(0, -1));
    else if (event.key === "Enter" && !event.target.matches("button, a")) this.enter();
    else return;
    event.preventDefault();
  }

  // The entry the laptop asks about, if there is one: nothing behind it is sent.
  get doubted() {
    const first = this.queue.entries[0];
    return first?.question || first?.refused ? first : null;
  }

  // The round as the phone knows it: what the laptop told, and what still waits to be told to it.
  get round() {
    const entries = this.queue.entries;
    const begun = entries.findLastIndex((one) => one.path === "round");
    const { ahead, shot_positions: told } = this.state.session;
    const undone = new Set(entries.map((one) => one.path === "void" && one.body.of));
    const waiting = entries
      .slice(begun + 1)
      .filter(({ path, body }) => path === "skip" || (path === "shots" && body.aim === "rail" && !undone.has(body.key)));
    const fresh = begun < 0 ? this.fresh.filter((one) => one.shot?.aim === "rail").map((one) => one.shot.position) : [];
    const gone = new Set([...fresh, ...waiting.map((one) => one.body.position)]);
    const order = begun < 0 ? ahead : this.state.grill.positions.map((one) => one.label);
    return { coming: order.filter((label) => !gone.has(label)), shot: [...(begun < 0 ? told : []), ...gone] };
  }

  get asked() {
    return this.choice?.position ?? this.round.coming[0] ?? null;
  }

  type(digit) {
    const value = byId("typed").value;
    if (NUMBER.test(value) || value === "") this.put((value + digit).slice(0, DIGITS));
    else this.put(digit);
  }

  put(text) {
    byId("typed").value = text;
    this.show();
  }

  enter() {
    const text = byId("typed").value.trim();
    if (!text || !this.state) return;
    const number = NUMBER.test(text) ? Number(text.replace(",", ".")) : null;
    const entry = this.doubted;
    if (entry?.question && number !== null) {
      this.put("");
      this.reply(entry, number, number === entry.question.shown);
      return;
    }
    if (entry) {
      // What was refused is put right in its own place, so that the order stays.
      if (entry.path !== "shots") return;
      this.put("");
      this.queue.answer(entry, number === null ? { typed: text, shown: undefined } : { shown: number, typed: undefined });
      return;
    }
    const { aim = "rail", replaces = false } = this.choice ?? {};
    const at = aim === "patch" ? null : this.asked;
    if (number !== null && at === null && aim !== "patch") {
      this.tell("Tap the grate: which position?");
      return this.pick("any");
    }
    const what = number === null ? { typed: text } : { shown: number, replaces };
    // A queued number goes to the round it was tapped in; behind a round that is queued too, to that one.
    const round = this.queue.entries.some((one) => one.path === "round") ? {} : { round: this.state.session.round };
    this.queue.add("shots", { position: at, aim, ...what, ...round, taken_at: new Date(laptopNow()).toISOString() });
    this.choice = null;
    this.put("");
  }

  // The answer to a question: keep the number in doubt, or another one.
  reply(entry, shown, insist) {
    const { position, aim } = entry.question;
    this.queue.answer(entry, { position, aim: aim ?? entry.body.aim, shown, typed: undefined, insist });
  }

  // Nothing was written: the number is put aside and its place shot again.
  again(entry) {
    const { position, aim, replaces = false } = { ...entry.body, ...entry.question };
    if (entry.question && position) this.choice = { position, aim, replaces };
    this.put("");
    this.queue.leaveOut(entry);
  }

  undo() {
    const { id, entry } = this.last;
    if (entry?.tries === 0) this.queue.leaveOut(entry);
    else if (entry) this.queue.add("void", { of: entry.body.key, id: null, reason: null });
    else this.queue.add("void", { id, reason: null });
    this.choice = null;
    this.show();
  }

  // What undo would take back: the newest that no other undo, on its way or just told, has taken.
  get last() {
    const entries = this.queue.entries;
    const taken = new Set(this.fresh.map((one) => one.withdrawn));
    for (const { path, body } of entries) if (path === "void") taken.add(body.of ?? body.id);
    const waiting = entries.filter((one) => one.path === "shots").map((entry) => ({ ...entry.body, id: entry.body.key, entry }));
    const known = [this.state.session.last, ...this.fresh.map((one) => one.shot), ...waiting].filter(Boolean);
    return known.reverse().find((one) => !taken.has(one.id)) ?? null;
  }

  skip() {
    byId("more-sheet").close();
    if (this.choice) this.choice = null;
    else this.queue.add("skip", { position: this.asked });
    this.show();
  }

  aim(aim) {
    byId("more-sheet").close();
    this.choice = this.choice?.aim === aim ? null : { position: aim === "patch" ? null : (this.asked ?? this.last?.position), aim };
    this.show();
  }

  begin(kind) {
    byId("more-sheet").close();
    this.choice = null;
    this.queue.add("round", { kind });
  }

  pick(how) {
    byId("more-sheet").close();
    const { grill, session } = this.state;
    const shot = new Set(session.shot_positions);
    const places = grill.rows.flatMap((row) =>
      grill.columns.map((column) => {
        const label = `${row}${column}`;
        if (!grill.positions.some((one) => one.label === label)) return made("span");
        const key = made("button", { type: "button", class: shot.has(label) ? "was-shot" : "", click: () => this.picked(how, label) }, label);
        key.disabled = how !== "any" && !shot.has(label);
        return key;
      }),
    );
    byId("pick-places").style.gridTemplateColumns = `repeat(${grill.columns.length}, 1fr)`;
    byId("pick-places").replaceChildren(...places);
    byId("pick-sheet").showModal();
  }

  picked(how, position) {
    byId("pick-sheet").close();
    this.choice = { position, aim: this.choice?.aim ?? "rail", replaces: how === "replace", again: this.state.session.shot_positions.includes(position) };
    this.show();
  }

  tell(text) {
    write(byId("kept"), text);
  }

  kept(entry, answer) {
    const { id, position, shown } = answer;
    const aim = entry.body.aim;
    const when = { version: answer.version, at: Date.now() };
    if (entry.path === "shots" && id != null) this.fresh.push({ ...when, shot: { id, position, shown, aim } });
    if (entry.path === "void") this.fresh.push({ ...when, withdrawn: entry.body.id });
    setTimeout(() => this.settle((one) => Date.now() - one.at < FRESH_MS), FRESH_MS);
    const text = answer.kept ? `Kept: ${answer.kept}` : answer.withdrawn ? `Taken back: ${answer.withdrawn}` : answer.round ? `Round ${answer.round}` : "";
    if (!text) return;
    this.tell(text);
    buzz(60);
    this.toSay = spoken(answer.kept ?? text);
    this.show();
    this.speak();
  }

  asks(entry) {
    buzz([120, 80, 120]);
    say(spoken(entry.question?.text ?? entry.refused));
    this.tell("");
    this.show();
  }

  // The number kept, then the next position, in one breath.
  speak() {
    if (this.doubted || !this.toSay) return;
    say(`${this.toSay}. ${this.asked ? spoken(this.asked) : ""}`);
    this.toSay = null;
  }

  take(state) {
    this.state = state;
    this.settle((one) => one.version > state.version);
  }

  // Leave what the state does not show yet.
  settle(missing) {
    this.fresh = this.fresh.filter(missing);
    this.show();
  }

  show() {
    if (!this.state) return;
    const { grill, session } = this.state;
    const entry = this.doubted;
    const asked = entry ? (entry.question?.position ?? entry.body.position) : this.asked;
    const aim = this.choice?.aim ?? "rail";
    const over = !entry && !asked && aim !== "patch";
    write(byId("asked"), aim === "patch" && !entry ? "patch" : (asked ?? ""));
    byId("asked").dataset.letters = byId("asked").textContent.length;
    const planned = session.next?.position === asked ? session.next?.how : "";
    const how = aim !== "rail" && aim !== "patch" ? aim : this.choice?.replaces ? "instead" : this.choice?.again ? "again" : planned;
    write(byId("how"), how ?? "");
    byId("target").hidden = over || Boolean(entry);
    byId("small-grate").hidden = Boolean(entry) || over;
    byId("round-over").hidden = !over;
    write(byId("over-headline"), this.state.pending ? "" : (this.state.decision?.headline ?? ""));
    this.drawSmall({ grill, shot: this.round.shot, asked });
    this.drawQuestion(entry && { name: entry.name, question: entry.question, refused: entry.refused });
    const last = this.last;
    const named = last ? (last.typed ?? `${last.position ?? ""} ${shownText(last.shown)}`) : "";
    write(byId("undo").lastChild, named);
    if (last?.entry && !entry && this.queue.failed) this.tell(`Waits: ${named}`);
    byId("undo").disabled = !last || Boolean(entry);
    document.querySelector("[data-aim='valley']").hidden = grill.surface === "plate";
    byId("turned").disabled = !turnable(grill).length;
    write(byId("said"), (!entry && session.said) || "");
    byId("enter").disabled = !byId("typed").value.trim();
  }

  writeQuestion(what) {
    byId("question").hidden = !what;
    if (!what) return;
    const entry = this.doubted;
    write(byId("question-text"), what.question?.text ?? what.refused);
    const keys = [made("button", { type: "button", click: () => this.again(entry) }, what.question ? "Again" : "Leave out")];
    if (what.question) {
      const { shown, meant } = what.question;
      keys.push(made("button", { type: "button", click: () => this.reply(entry, shown, true) }, `Keep ${shownText(shown)}`));
      if (meant != null) keys.push(made("button", { type: "button", class: "main", click: () => this.reply(entry, meant, false) }, shownText(meant)));
    } else if (entry.path === "sears") {
      const again = () => {
        this.reopen(entry.body);
        this.queue.leaveOut(entry);
      };
      keys.push(made("button", { type: "button", class: "main", click: again }, "Put right"));
    } else if (entry.path === "shots") {
      this.put(entry.body.typed ?? shownText(entry.body.shown));
    }
    byId("answers").replaceChildren(...keys);
  }
}
