// The turn clock as numbers. Every time is one of the day's clock, so that it holds over a screen that slept and a reload.

const SHORTEST_MS = 1000; // a key pressed sooner was pressed twice
export const RING_AGAIN_S = 5;

export const begin = ({ seconds, turns, what, end, place }, now) => ({ seconds, turns, what: what ?? [], end, place, begun: now, since: now, done: [] });

export const isOver = (clock) => clock.done.length >= clock.turns;

// What is left of this turn [s]; below 0: over by so much.
export const left = (clock, now) => clock.seconds - (now - clock.since) / 1000;

// The food was moved: on to the next turn, or it is off.
export function moved(clock, now) {
  if (isOver(clock) || now - clock.since < SHORTEST_MS) return clock;
  return { ...clock, since: now, done: [...clock.done, Math.round((now - clock.since) / 1000)] };
}

// Taken off or given up before the last turn.
export function stopped(clock, now) {
  const last = moved(clock, now);
  return { ...last, turns: last.done.length };
}

export const what = (clock, turn = clock.done.length) => (turn < clock.turns ? (clock.what[turn] ?? "") : (clock.end ?? ""));

// How often it should have rung in this turn by now.
export const rings = (clock, now) => (left(clock, now) > 0 ? 0 : 1 + Math.floor(-left(clock, now) / RING_AGAIN_S));
