// The page Devices: asks for a one-time code and shows it, as text and as squares for a camera, until it is void.

import { problemInWords } from "./forms.js";
import { newKey, send } from "./send.js";

const shown = document.querySelector("[data-invitation]");
const error = document.querySelector("[data-not-invited]");
let ticking = null;

async function invite(role) {
  error.hidden = true;
  const result = await send("invite", { role }, newKey());
  if (!result.ok) {
    error.textContent = result.problems.map(problemInWords).join(" ") || result.message;
    error.hidden = false;
    return;
  }
  show(result.answer);
}

function show({ role, code, life_s, links }) {
  shown.hidden = false;
  delete shown.dataset.void;
  shown.querySelector("[data-role-said]").textContent =
    role === "editor" ? "For a device that may write:" : "For a visitor who may look:";
  shown.querySelector("[data-code]").textContent = code;
  const drawn = links.map(({ address, picture }) => {
    const link = document.querySelector("[data-link]").content.cloneNode(true);
    link.querySelector("img").src = picture;
    link.querySelector("figcaption").textContent = address;
    return link;
  });
  shown.querySelector("[data-links]").replaceChildren(...drawn);
  count(Date.now() + life_s * 1000);
}

function count(end) {
  clearInterval(ticking);
  const left = shown.querySelector("[data-left]");
  const tick = () => {
    const seconds = Math.max(0, Math.round((end - Date.now()) / 1000));
    left.textContent = seconds ? `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")} left` : "void";
    if (seconds) return;
    clearInterval(ticking);
    shown.dataset.void = "";
  };
  ticking = setInterval(tick, 1000);
  tick();
}

for (const button of document.querySelectorAll("[data-invite]")) {
  button.addEventListener("click", () => invite(button.dataset.invite));
}
