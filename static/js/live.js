// Keeps a page up to date while others work: hears what is added to the build and shows it quietly, or offers it where
// somebody is busy on the page. Loaded by a script tag that says where the changes are and how far the page has read.

import { enhanceAll } from "./page.js";

const tag = document.querySelector("script[data-changes]");
const main = document.getElementById("main");
const POLL_MS = 2000;
const FAILS_AT_MOST = 3;

let place = tag.dataset.place;
let source = null;
let polling = null; // the turn that is on, where the page asks from time to time instead
let fails = 0;

// A form that a script of its own drives holds what no page from the server can bring back: such a page is not swapped.
// A form for photographs is taken over as it is, with what was chosen in it.
const ownScript = main.querySelector("form:not([data-action], [data-photo])") !== null;
const isRunPage = document.getElementById("pad-page") !== null;

// ---- Hearing -------------------------------------------------------------------------------------------------------

function listen() {
  if (source || polling || document.hidden) return;
  source = new EventSource(`${tag.dataset.changes}?after=${encodeURIComponent(place)}`);
  source.addEventListener("open", () => (fails = 0));
  source.addEventListener("change", (event) => heard(JSON.parse(event.data)));
  source.addEventListener("error", () => {
    fails += 1;
    if (fails >= FAILS_AT_MOST) {
      leave();
      poll();
    } else if (source.readyState === EventSource.CLOSED) {
      leave();
      setTimeout(listen, 1000 * fails); // the server said no; a lost connection the browser mends itself
    }
  });
}

function leave() {
  source?.close();
  source = null;
  clearTimeout(polling?.next);
  polling = null;
}

async function poll() {
  const mine = (polling = { next: 0 });
  try {
    const response = await fetch(`${tag.dataset.changes}?after=${encodeURIComponent(place)}`, {
      headers: { Accept: "application/json" },
      signal: AbortSignal.timeout(10000),
    });
    const changes = response.ok ? (await response.json()).changes : [];
    if (mine === polling) changes.forEach(heard);
  } catch {
    // Not reached: asked again at the next turn.
  }
  // Only now, so that a slow line is waited for and not asked over and over.
  if (mine === polling) mine.next = setTimeout(poll, POLL_MS);
}

function heard(change) {
  place = change.place;
  window.dispatchEvent(new CustomEvent("matchmark:change", { detail: change }));
  if (!isRunPage) soon();
}

// A browser opens few connections to one server: a page nobody looks at gives its own up and reads on when it is seen.
document.addEventListener("visibilitychange", () => {
  if (document.hidden) leave();
  else {
    fails = 0;
    listen();
  }
});
window.addEventListener("pagehide", leave);
window.addEventListener("pageshow", listen);
listen();

// ---- Showing -------------------------------------------------------------------------------------------------------

let waiting = 0;
let fetching = false;
let missed = false; // something came that is not shown yet

function soon() {
  missed = true;
  waiting ||= setTimeout(() => {
    waiting = 0;
    show();
  }, 150);
}

async function show(wanted = false) {
  if (!missed || fetching) return;
  if (!wanted && (ownScript || isBusy())) {
    offer(true);
    return;
  }
  if (ownScript) {
    location.reload();
    return;
  }
  fetching = true;
  missed = false;
  try {
    const response = await fetch(location.href, { signal: AbortSignal.timeout(10000) });
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const fresh = page.getElementById("main");
    if (!response.ok || !fresh) throw new Error("no page");
    // While it was fetched somebody may have begun to type.
    if (!wanted && isBusy()) missed = true;
    else swap(fresh);
    offer(missed);
  } catch {
    missed = true;
    offer(true);
  }
  fetching = false;
}

function isBusy() {
  const at = document.activeElement;
  if (main.contains(at) && at.matches("input, textarea, select")) return true;
  if (document.querySelector("dialog[open]")) return true;
  if (main.querySelector("details[open]")) return true;
  const selection = document.getSelection();
  if (selection && !selection.isCollapsed && main.contains(selection.anchorNode)) return true;
  return [...main.querySelectorAll("form")].some(isTouched);
}

function isTouched(form) {
  return [...form.elements].some((field) => {
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (field.matches("select")) return [...field.options].some((each) => each.selected !== each.defaultSelected) && isChosen(field);
    return field.matches("input, textarea") && field.value !== field.defaultValue;
  });
}

// A list in which nothing was chosen beforehand stands at its first line.
function isChosen(list) {
  return list.selectedIndex > 0 || [...list.options].some((each) => each.defaultSelected);
}

const keyOf = (element) =>
  element.id ||
  [
    element.tagName,
    element.getAttribute("href") ?? "",
    element.closest("form")?.dataset.action ?? "",
    [...(element.closest("details, form") ?? element).querySelectorAll("input[type=hidden]")].map((each) => each.value).join(),
    element.getAttribute("name") ?? element.textContent.trim().slice(0, 40),
  ].join("|");

function alike(root, element) {
  const key = keyOf(element);
  return [...root.querySelectorAll(element.tagName)].find((each) => keyOf(each) === key);
}

function swap(fresh) {
  const at = document.activeElement;
  const focused = main.contains(at) ? at : null;
  const anchor = [...main.querySelectorAll("[id]")].find((each) => each.getBoundingClientRect().bottom > 0);
  const top = anchor?.getBoundingClientRect().top;
  const scrolled = [...main.querySelectorAll(".scroll")].map((each) => each.scrollLeft);

  // What is open or typed in stays so: its place in the new page is found before the old one goes.
  for (const details of main.querySelectorAll("details[open]")) {
    const again = alike(fresh, details);
    if (again) again.open = true;
  }
  const kept = [...main.querySelectorAll("form")].filter(isTouched).flatMap((form) => [...form.elements]);
  const carried = kept.filter((field) => field.name && field.type !== "hidden").map((field) => [field, alike(fresh, field)]);
  const next = focused && alike(fresh, focused);
  for (const form of main.querySelectorAll("form[data-photo]")) {
    const { about, id } = form.dataset;
    fresh.querySelector(`form[data-photo][data-about="${CSS.escape(about)}"][data-id="${CSS.escape(id)}"]`)?.replaceWith(form);
  }

  main.replaceChildren(...fresh.childNodes);
  for (const [old, again] of carried) {
    if (!again) continue;
    if (old.type === "checkbox" || old.type === "radio") again.checked = old.checked;
    else again.value = old.value;
  }
  [...main.querySelectorAll(".scroll")].forEach((each, place) => (each.scrollLeft = scrolled[place] ?? 0));
  enhanceAll(main);
  window.dispatchEvent(new CustomEvent("matchmark:swapped", { detail: { main } }));
  next?.focus({ preventScroll: true });
  const held = anchor?.id && document.getElementById(anchor.id);
  if (held && window.scrollY > 0) window.scrollBy(0, held.getBoundingClientRect().top - top);
}

// ---- Offering ------------------------------------------------------------------------------------------------------

const banner = document.createElement("div");
banner.className = "something-added";
banner.setAttribute("role", "status");
banner.setAttribute("aria-live", "polite");
document.body.append(banner);

function offer(on) {
  if (!on) banner.replaceChildren();
  if (!on || banner.childElementCount) return;
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Something was added: show it";
  button.addEventListener("click", () => show(true));
  banner.append(button);
}

// When nobody is busy any more, what waited is shown without being asked for.
for (const kind of ["focusout", "toggle", "reset"]) {
  main.addEventListener(kind, () => missed && !ownScript && soon(), true);
}
