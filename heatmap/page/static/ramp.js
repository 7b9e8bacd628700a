// The colours of the map, the same as in the program's pictures: blue below the band, neutral in it, orange above.

const ANCHORS = [
  "#123a6b", "#1d5c9e", "#3f8ac6", "#85b6dd", "#c3daec", "#f4f2ee", "#fddfb6", "#fbbd70", "#f2952f", "#d86f0e", "#b04e00",
].map((text) => [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16)));

const STEPS_A_SIDE = 4;
const SIDE = [0, 1, 2, 3].map((index) => 0.3 + (index * 0.7) / 3);
const ROUND_STEPS = [5, 10, 20, 25, 50, 100, 200];

// The colour, three numbers of 0 to 255, from -1 (far below the band) through 0 (its middle) to 1.
export function ramp(position) {
  const at = ((Math.min(1, Math.max(-1, position)) + 1) / 2) * (ANCHORS.length - 1);
  const lower = Math.min(ANCHORS.length - 2, Math.floor(at));
  return ANCHORS[lower].map((from, channel) => from + (at - lower) * (ANCHORS[lower + 1][channel] - from));
}

// The edges of the steps of colour and their colours: the band, and round steps of about half of it outside.
export function bandSteps(low, high) {
  const half = Math.max((high - low) / 2, 1e-9);
  const away = (step) => Math.abs(Math.log(step / half));
  const step = ROUND_STEPS.reduce((best, one) => (away(one) < away(best) ? one : best));
  const sides = [...Array(STEPS_A_SIDE).keys()];
  return {
    edges: [...sides.map((index) => low - step * (STEPS_A_SIDE - 1 - index)), ...sides.map((index) => high + step * index)],
    colours: [...SIDE.map((_, index) => ramp(-SIDE[STEPS_A_SIDE - 1 - index])), ramp(0), ...SIDE.map((one) => ramp(one))],
  };
}
