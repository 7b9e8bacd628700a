// Where a field of cells crosses a level, by marching squares: a list of short lines [x0, y0, x1, y1].

export function contour(x, y, values, level) {
  const lines = [];
  for (let row = 0; row + 1 < y.length; row += 1) {
    for (let column = 0; column + 1 < x.length; column += 1) {
      const corners = [
        [x[column], y[row], values[row][column]],
        [x[column + 1], y[row], values[row][column + 1]],
        [x[column + 1], y[row + 1], values[row + 1][column + 1]],
        [x[column], y[row + 1], values[row + 1][column]],
      ];
      const met = [];
      corners.forEach(([x0, y0, v0], index) => {
        const [x1, y1, v1] = corners[(index + 1) % 4];
        if (v0 < level !== v1 < level) {
          const part = (level - v0) / (v1 - v0);
          met.push([x0 + part * (x1 - x0), y0 + part * (y1 - y0)]);
        }
      });
      // Four crossings: a saddle. Either way of joining them is right within one cell.
      for (let pair = 0; pair + 1 < met.length; pair += 2) lines.push([...met[pair], ...met[pair + 1]]);
    }
  }
  return lines;
}
