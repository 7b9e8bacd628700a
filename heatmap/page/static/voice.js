// Speech, buzz and beep. Speech is off until it is asked for.

import { stored, store } from "./storage.js";

let speaks = stored("speech") === true;
let sound = null;

const show = () =>
  document.querySelectorAll("[data-speech]").forEach((key) => {
    key.setAttribute("aria-pressed", String(speaks));
    key.hidden = !("speechSynthesis" in window);
  });

export function readySpeech() {
  document.querySelectorAll("[data-speech]").forEach((key) =>
    key.addEventListener("click", () => {
      speaks = !speaks;
      store("speech", speaks);
      show();
      say(key.textContent);
    }),
  );
  show();
}

// Letters and digits of a position apart, so that it is not read as a word.
export const spoken = (position) => String(position).replace(/([A-Z]+)(\d+)/g, "$1 $2");

export function say(text) {
  if (!speaks || !("speechSynthesis" in window)) return;
  speechSynthesis.cancel();
  speechSynthesis.speak(new SpeechSynthesisUtterance(text));
}

export function buzz(pattern) {
  navigator.vibrate?.(pattern);
}

// Sound is allowed only after a tap: called from one.
export function readySound() {
  const Sound = window.AudioContext ?? window.webkitAudioContext;
  if (Sound) sound ??= new Sound();
  sound?.resume();
}

export function beep(times, pitch = 1760) {
  if (sound?.state !== "running") return;
  for (let time = 0; time < times; time += 1) {
    const tone = sound.createOscillator();
    const volume = sound.createGain();
    const start = sound.currentTime + 0.3 * time;
    tone.type = "square";
    tone.frequency.value = pitch;
    volume.gain.value = 0.4;
    tone.connect(volume).connect(sound.destination);
    tone.start(start);
    tone.stop(start + 0.18);
  }
}
