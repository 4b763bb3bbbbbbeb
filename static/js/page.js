// On every page: forms that send actions, what is kept on this tablet only, and the viewer's own name and unit, kept in
// cookies on this device.

import { enhance } from "./forms.js";
import "./outbox_view.js";

const YEAR = 365 * 24 * 3600;

function remember(name, value) {
  document.cookie = `${name}=${encodeURIComponent(value)}; path=/; max-age=${YEAR}; samesite=strict`;
}

const viewer = document.querySelector("[data-viewer]");
viewer.addEventListener("submit", (event) => event.preventDefault());
viewer.elements.who.addEventListener("change", (event) => remember("who", event.target.value.trim()));
for (const button of viewer.querySelectorAll("button[name=unit]")) {
  button.addEventListener("click", () => {
    remember("unit", button.value);
    if (!somethingTyped()) location.reload();
    else stayInPlace(button);
  });
}

// What was typed stays: the page is not read afresh under it.
function somethingTyped() {
  const fields = document.querySelectorAll("main input:not([type]), main input[type=text], main textarea");
  return [...fields].some((field) => field.value !== field.defaultValue && !field.readOnly);
}

function stayInPlace(chosen) {
  for (const button of viewer.querySelectorAll("button[name=unit]"))
    button.setAttribute("aria-pressed", String(button === chosen));
  viewer.querySelector("[data-later]").hidden = false;
}

// An address with #name opens the folded part it points at.
const aim = location.hash && document.getElementById(location.hash.slice(1));
if (aim instanceof HTMLDetailsElement) aim.open = true;

// Once for what a page came with, and again for whatever takes its place.
export function enhanceAll(root) {
  for (const form of root.querySelectorAll("form[data-action]")) enhance(form);
  for (const link of root.querySelectorAll('a[href^="#"]')) {
    link.addEventListener("click", () => {
      const target = document.getElementById(link.getAttribute("href").slice(1));
      if (target instanceof HTMLDetailsElement) target.open = true;
    });
  }
}

enhanceAll(document);
