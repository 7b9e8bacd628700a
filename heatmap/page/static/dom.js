// The few things the views share to write into the page.

export const byId = (id) => document.getElementById(id);

// An element with its attributes (functions are listeners) and children.
export function made(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name, value);
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

// The same in a drawing.
export function drawn(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

// Write only what has changed, so that nothing is read out twice.
export function write(element, text) {
  if (element.textContent !== (text ?? "")) element.textContent = text ?? "";
}

// Redraw only when what is drawn has changed.
export function once(draw) {
  let before = null;
  return (what) => {
    const told = JSON.stringify(what);
    if (told === before) return;
    before = told;
    draw(what);
  };
}

// What cannot be taken back is done at the second tap only.
export function twice(key, act) {
  const label = key.textContent;
  let timer = null;
  const calm = () => {
    clearTimeout(timer);
    timer = null;
    key.textContent = label;
    key.classList.remove("sure");
  };
  key.addEventListener("click", () => {
    if (timer !== null) {
      calm();
      act();
      return;
    }
    key.textContent = `${label}?`;
    key.classList.add("sure");
    timer = setTimeout(calm, 4000);
  });
}

// Number as a gun shows it: no decimals it has not got.
export const shownText = (shown) => String(Math.round(shown * 10) / 10);

export const reduced = (seconds) => {
  const whole = Math.max(0, Math.ceil(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};
