// Where a field of cells crosses a level, by marching squares: lines, each a list of points [x, y].

export function contour(x, y, values, level) {
  const points = new Map(); // by the edge it lies on: where it is crossed
  const joined = new Map(); // from edge to the edges it is joined with, one in each cell
  const crossing = (row, column, nextRow, nextColumn) => {
    const [from, to] = [values[row][column], values[nextRow][nextColumn]];
    if (from < level === to < level) return null;
    const name = `${row} ${column} ${nextRow} ${nextColumn}`;
    const part = (level - from) / (to - from);
    points.set(name, [x[column] + part * (x[nextColumn] - x[column]), y[row] + part * (y[nextRow] - y[row])]);
    return name;
  };
  for (let row = 0; row + 1 < y.length; row += 1) {
    for (let column = 0; column + 1 < x.length; column += 1) {
      const met = [
        crossing(row, column, row, column + 1),
        crossing(row, column + 1, row + 1, column + 1),
        crossing(row + 1, column, row + 1, column + 1),
        crossing(row, column, row + 1, column),
      ].filter(Boolean);
      // Four crossings: a saddle. Either way of joining them is right within one cell.
      for (let pair = 0; pair < met.length; pair += 2) {
        const [one, other] = [met[pair], met[pair + 1]];
        joined.set(one, [...(joined.get(one) ?? []), other]);
        joined.set(other, [...(joined.get(other) ?? []), one]);
      }
    }
  }
  const lines = [];
  // Open lines from their ends first, then what is left, which is closed.
  const starts = [...joined.keys()].sort((one, other) => joined.get(one).length - joined.get(other).length);
  for (const start of starts) {
    const line = [];
    for (let at = start; at !== undefined; ) {
      line.push(points.get(at));
      const next = joined.get(at)?.[0];
      joined.set(at, (joined.get(at) ?? []).slice(1));
      if (next !== undefined) joined.set(next, joined.get(next).filter((one) => one !== at));
      at = next;
    }
    if (line.length > 1) lines.push(line);
  }
  return lines;
}
