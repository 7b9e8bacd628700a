// The colours of the map, the same as in the program's pictures: blue below the band, neutral in it, orange above.

const COLOURS = ["#123a6b", "#2364a5", "#5699ce", "#a4c8e5", "#f4f2ee", "#fcce93", "#f5a245", "#dc7514", "#b04e00"];
const ROUND_STEPS = [5, 10, 20, 25, 50, 100, 200];

// The edges of the steps of colour and their colours: the band, and round steps of about half of it outside.
export function bandSteps(low, high) {
  const half = Math.max((high - low) / 2, 1e-9);
  const away = (step) => Math.abs(Math.log(step / half));
  const step = ROUND_STEPS.reduce((best, one) => (away(one) < away(best) ? one : best));
  const sides = [0, 1, 2, 3];
  return {
    edges: [...sides.map((index) => low - step * (3 - index)), ...sides.map((index) => high + step * index)],
    colours: COLOURS.map((text) => [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16))),
  };
}
