// A short tick and a short buzz when a figure is kept, for who wants them: off until switched on, and remembered here.

const button = document.querySelector('[data-pad="tick"]');
let on = localStorage.getItem("tick") === "on";
let sound = null;

function show() {
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? "Sound and buzz: on" : "Sound and buzz: off";
}

button.addEventListener("click", () => {
  on = !on;
  localStorage.setItem("tick", on ? "on" : "off");
  show();
  tick();
});
show();

export function tick() {
  if (!on) return;
  navigator.vibrate?.(30);
  if (typeof AudioContext !== "function") return;
  sound ??= new AudioContext();
  const tone = sound.createOscillator();
  const level = sound.createGain();
  tone.frequency.value = 1400;
  level.gain.setValueAtTime(0.2, sound.currentTime);
  level.gain.exponentialRampToValueAtTime(0.001, sound.currentTime + 0.06);
  tone.connect(level).connect(sound.destination);
  tone.start();
  tone.stop(sound.currentTime + 0.07);
}
