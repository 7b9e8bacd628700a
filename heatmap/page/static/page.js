// The page: five views over one state, the line to the laptop, and what waits to be sent.

import { DoView } from "./doview.js";
import { byId, write } from "./dom.js";
import { Food } from "./food.js";
import { Link } from "./link.js";
import { MapView } from "./mapview.js";
import { Queue, setClock } from "./queue.js";
import { Shoot } from "./shoot.js";
import { outlivesThePage } from "./storage.js";
import { Turned } from "./turned.js";
import { readySpeech } from "./voice.js";
import { Watch } from "./watch.js";

const VIEWS = ["shoot", "map", "do", "food", "watch"];
const TICK_MS = 250;

let state = null;
let reaches = true;
let shut = null;
let timer = null;
let shown = null; // the view

const queue = new Queue({
  kept: (entry, answer) => (entry.path === "sears" ? food.kept(entry.body) : shoot.kept(entry, answer)),
  asked: (entry) => shoot.asks(entry),
  reached,
  shut: close,
  changed: () => {
    shoot.show();
    showReach();
  },
});
const link = new Link({ state: take, reached, shut: close });
const shoot = new Shoot(queue, (sear) => {
  food.reopen(sear);
  go("food");
});
const map = new MapView();
const turned = new Turned(queue, () => go("do"));
const doing = new DoView(go, () => turned.open());
const food = new Food(queue);
const watch = new Watch();

function take(told) {
  state = told;
  shut = null;
  setClock(told.now);
  document.body.classList.toggle("watching", told.watching);
  write(byId("heading"), told.session.heading ?? `Round ${told.session.round}, ${told.session.shots} of ${told.session.of}`);
  open();
  for (const view of [shoot, map, turned, doing, food, watch]) view.take(told);
  showReach();
  queue.allowed = !told.watching;
  queue.send();
}

function reached(whether) {
  if (reaches !== whether) {
    reaches = whether;
    showReach();
  }
}

function close(text) {
  shut = text || "This address does not open the page any more. Scan the code on the laptop again.";
  write(byId("shut-text"), shut);
  link.close();
  open();
}

function go(view) {
  location.hash = view;
}

// Show the view of the address bar; whoever watches has only one.
function open() {
  const asked = location.hash.slice(1);
  const view = shut ? "shut" : !state ? null : state.watching ? "watch" : VIEWS.includes(asked) ? asked : "shoot";
  if (view === shown) return;
  shown = view;
  document.querySelectorAll("dialog[open]").forEach((sheet) => sheet.close());
  document.querySelector("nav").hidden = Boolean(shut);
  for (const one of [...VIEWS, "shut"]) byId(one).hidden = one !== view;
  document.querySelectorAll("nav a").forEach((tab) => {
    if (tab.hash === `#${view}`) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  });
  map.show();
  food.show();
}

function showReach() {
  const entries = queue.entries;
  const asks = Boolean(entries[0]?.question || entries[0]?.refused);
  const waiting = entries.length - asks;
  const waits = waiting && (!reaches || asks || entries[0].tries > 1) ? `${waiting} wait${waiting === 1 ? "s" : ""}` : "";
  write(byId("trouble"), state?.trouble ?? "");
  const unsafe = waits && !outlivesThePage() ? "keep this page open" : "";
  write(byId("reach"), [!reaches && "Out of reach", asks && "Question", waits, unsafe].filter(Boolean).join(", "));
  byId("strip").classList.toggle("waits", !reaches || asks);
  document.querySelector('nav a[href="#shoot"]').classList.toggle("asks", asks);
}

// Clocks run only while somebody looks, but for the turn clock, which rings.
function run() {
  clearInterval(timer);
  if (document.hidden && !food.clock) return;
  const tick = () => {
    doing.tick();
    watch.tick();
    food.tick();
  };
  timer = setInterval(tick, TICK_MS);
  tick();
}

window.addEventListener("hashchange", open);
document.addEventListener("visibilitychange", run);
document.querySelectorAll("[data-close]").forEach((key) => key.addEventListener("click", () => key.closest("dialog").close()));
byId("over-do").addEventListener("click", () => go("do"));
byId("shut-again").addEventListener("click", () => {
  shut = null;
  open();
  link.open();
});
readySpeech();
run();
link.open();
