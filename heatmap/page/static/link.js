// The line to the laptop: the state comes as it changes; closed while nobody looks at the page.

const AGAIN_MS = 3000;
const SILENT_MS = 40000;

export class Link {
  // state(state), reached(bool) and shut(text) are told what happens.
  constructor(told) {
    this.told = told;
    this.stream = null;
    this.timer = null;
    this.watch = null;
    this.heard = 0;
    this.beats = false;
    document.addEventListener("visibilitychange", () => (document.hidden ? this.close() : this.open()));
    window.addEventListener("online", () => this.open());
    window.addEventListener("offline", () => told.reached(false));
    window.addEventListener("pagehide", () => this.close());
    window.addEventListener("pageshow", (event) => event.persisted && this.open());
  }

  close() {
    this.stream?.close();
    this.stream = null;
    clearTimeout(this.timer);
    clearInterval(this.watch);
  }

  // First the state by itself: a stream cannot say why it is refused. Never from the cache: it tells the time.
  async open() {
    this.close();
    const mine = (this.asking = Symbol("asking"));
    let response;
    try {
      response = await fetch("/api/state", { cache: "no-store", signal: AbortSignal.timeout(8000) });
      const state = await response.json();
      if (mine !== this.asking) return;
      if (response.status === 401) return this.told.shut(state.error);
      if (!response.ok) throw new Error(state.error);
      this.take(state);
    } catch {
      if (mine === this.asking) this.again();
      return;
    }
    if (!document.hidden) this.listen();
  }

  listen() {
    this.stream = new EventSource("/api/events");
    this.stream.addEventListener("state", (event) => this.take(JSON.parse(event.data)));
    this.stream.addEventListener("beat", () => {
      this.beats = true;
      this.hear();
    });
    this.stream.addEventListener("error", () => {
      this.told.reached(false);
      if (this.stream?.readyState === EventSource.CLOSED) this.again();
    });
    this.watch = setInterval(() => {
      if (this.beats && Date.now() - this.heard > SILENT_MS) this.open();
    }, 10000);
  }

  take(state) {
    this.hear();
    this.told.state(state);
  }

  hear() {
    this.heard = Date.now();
    this.told.reached(true);
  }

  again() {
    this.close();
    this.told.reached(false);
    this.timer = setTimeout(() => document.hidden || this.open(), AGAIN_MS);
  }
}
