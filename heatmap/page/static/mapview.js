// Map: the heat map, and what is behind a position.

import { byId, made, shownText, write } from "./dom.js";
import { Grate, mark } from "./grate.js";

export class MapView {
  constructor() {
    this.grate = new Grate(byId("map-picture"), (label) => this.explain(this.label === label ? null : label));
    this.label = null;
    byId("map-key").append(
      ...["too hot", "in band", "too cold"].map((word) => made("span", {}, mark(word, true), ` ${word}`)),
      made("span", {}, mark("too hot", false), mark("in band", false), mark("too cold", false), " not sure"),
      made("span", { id: "map-suspect" }, mark("suspect", true), " left out"),
      made("span", {}, made("i", { class: "low" }), made("span", { id: "map-low" }), " ", made("i"), made("span", { id: "map-high" })),
    );
  }

  take(state) {
    this.state = state;
    this.show();
  }

  show() {
    if (!this.state || byId("map").hidden) return;
    const { map, grill, session } = this.state;
    write(byId("map-answer"), map?.answer ?? session.heading ?? "");
    for (const limit of ["low", "high"]) {
      write(byId(`map-${limit}`), `${shownText(map?.[limit] ?? grill.target[limit])}${limit === "high" ? ` ${grill.degree}` : ""}`);
    }
    byId("map-suspect").hidden = !this.state.spots.some((one) => one.suspect);
    this.grate.draw(this.state);
    if (this.label === null) byId("explained").replaceChildren(...(map?.band ? [made("p", {}, map.band)] : []));
    else if (this.version !== this.state.version) this.explain(this.label);
  }

  async explain(label) {
    this.label = label;
    this.version = this.state.version;
    byId("map").classList.toggle("explaining", label !== null);
    if (label === null) return this.show();
    let lines;
    try {
      const response = await fetch(`/api/explain/${encodeURIComponent(label)}`, { signal: AbortSignal.timeout(8000) });
      const answer = await response.json();
      lines = response.ok ? answer.lines : [answer.error];
    } catch {
      lines = ["Out of reach."];
    }
    if (this.label === label) byId("explained").replaceChildren(...lines.map((line) => made("p", {}, line)));
  }
}
