// What the phone keeps for itself; where it may keep nothing, for as long as the page is open.

const PREFIX = "gratemap.";
const open = new Map();
let kept = true;

const keeper = (() => {
  try {
    localStorage.setItem(`${PREFIX}try`, "1");
    localStorage.removeItem(`${PREFIX}try`);
    return localStorage;
  } catch {
    kept = false;
    return null;
  }
})();

export const outlivesThePage = () => kept;

export function stored(name) {
  if (open.has(name)) return JSON.parse(open.get(name));
  const text = keeper?.getItem(PREFIX + name);
  try {
    return text == null ? null : JSON.parse(text);
  } catch {
    return null;
  }
}

export function store(name, value) {
  const text = JSON.stringify(value);
  try {
    if (!keeper) throw new Error("nothing is kept");
    keeper.setItem(PREFIX + name, text);
    open.delete(name);
  } catch {
    kept = false;
    open.set(name, text);
  }
}

export function forget(name) {
  open.delete(name);
  keeper?.removeItem(PREFIX + name);
}

// Names that begin so, in order.
export function names(beginning) {
  const found = new Set([...open.keys()].filter((name) => name.startsWith(beginning)));
  for (let index = 0; index < (keeper?.length ?? 0); index += 1) {
    const name = keeper.key(index);
    if (name.startsWith(PREFIX + beginning)) found.add(name.slice(PREFIX.length));
  }
  return [...found].sort();
}
