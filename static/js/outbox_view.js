// On every page: how much is kept on this tablet only, always in sight, and the list of it under the page. Nothing in the list
// goes away by itself but what the server has taken.

import { again, begin, items, listen, putAside, standing, throwAway } from "./outbox.js";
import { problemInWords } from "./forms.js";

const SHAPES = {
  // An open tray with something in it: it is here, and not put away yet. A pin driven home through the line: it is.
  tablet: "M3 10V20.5H21V10M12 3.2A3.3 3.3 0 1 0 12 9.8A3.3 3.3 0 1 0 12 3.2Z",
  shop: "M1 16H23M12 4V16M6.5 3.5H17.5M10 16.5L12 22L14 16.5",
  asks: "M12 22V13.5L5.5 6.5M12 13.5L18.5 6.5M2.5 2.5L9.5 5L5 10ZM21.5 2.5L14.5 5L19 10Z",
};

export function shape(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const drawn = { viewBox: "0 0 24 24", class: "drawn-mark", width: "1.3em", height: "1.3em", "aria-hidden": "true" };
  for (const [key, value] of Object.entries(drawn)) svg.setAttribute(key, value);
  svg.dataset.shape = name;
  const path = document.createElementNS(svg.namespaceURI, "path");
  const stroke = { d: SHAPES[name], fill: "none", stroke: "currentColor", "stroke-width": "2" };
  for (const [key, value] of Object.entries(stroke)) path.setAttribute(key, value);
  svg.append(path);
  return svg;
}

// The two words of being saved, each with its shape.
export function savedWord(where) {
  const word = document.createElement("span");
  word.className = `saved-word saved-${where}`;
  word.dataset.savedWhere = where;
  word.append(shape(where), ` ${where === "tablet" ? "saved on this tablet" : "saved"}`);
  return word;
}

const sheet = document.createElement("link");
sheet.rel = "stylesheet";
sheet.href = "/static/css/outbox.css";
document.head.append(sheet);

const chip = make("button", "outbox-chip");
chip.type = "button";
chip.hidden = true;
chip.setAttribute("aria-expanded", "false");
chip.setAttribute("aria-controls", "outbox");
document.querySelector(".plate").append(chip);

const list = make("section", "outbox");
list.id = "outbox";
list.hidden = true;
list.setAttribute("aria-label", "Kept on this tablet");
document.getElementById("main").after(list); // under the page: nothing under a finger moves when it opens

let opened = null; // as the builder last chose; else open where something needs attention at the machine
chip.addEventListener("click", async () => {
  const box = list.getBoundingClientRect();
  opened = list.hidden || box.top > innerHeight - 100 || box.bottom < 100;
  show();
  await drawing;
  if (opened) list.scrollIntoView({ block: "center" });
});

listen(show);
begin();

let drawing = Promise.resolve();
function show() {
  // One after the other: a slow look into the store must not put an older list over a newer one.
  drawing = drawing.then(draw, draw);
}

async function draw() {
  const { waiting, attention, aside, reach, words } = standing;
  const closed = reach === "closed";
  chip.hidden = !closed && waiting + attention + aside === 0;
  const said = [];
  if (closed) said.push("nothing can be kept on this tablet");
  if (waiting) said.push(`${waiting} on this tablet only`);
  if (attention) said.push(attention === 1 ? "1 needs attention" : `${attention} need attention`);
  if (!waiting && !attention && aside) said.push(`${aside} put aside`);
  chip.replaceChildren(shape(attention || closed ? "asks" : "tablet"), ` ${said.join(" · ")}`);
  chip.dataset.unsent = String(waiting + attention);
  chip.dataset.state = attention || closed ? "attention" : waiting ? "waiting" : "aside";
  const open = !chip.hidden && (opened ?? (attention > 0 && document.body.classList.contains("at-machine")));
  chip.setAttribute("aria-expanded", String(open));
  list.hidden = !open;
  if (chip.hidden) opened = null;
  if (!open) return list.replaceChildren();

  const kept = closed ? [] : await items();
  const head = make("p", "outbox-head", headline(waiting, reach, words));
  if (reach === "unpaired") head.append(" ", link("/pair", "Pair this tablet"));
  list.replaceChildren(head, ...kept.map(line));
}

function headline(waiting, reach, words) {
  if (reach === "closed") return `Not safe to log here: ${words}. Leave the private mode, or use another browser.`;
  if (reach === "unpaired") return `Kept, not sent: the server does not know this tablet any more. Pair this tablet again.`;
  if (reach === "unreached") return `Kept, and sent as soon as it can be: ${words}.`;
  return waiting ? "Kept on this tablet, being sent." : "Kept on this tablet.";
}

const STATES = {
  waiting: "waits to be sent",
  attention: "needs attention",
  undone: "undone: not sent",
  aside: "put aside: not sent",
};

function line(item) {
  const row = make("article", "outbox-item");
  row.dataset.key = item.key;
  row.dataset.state = item.state;
  const at = new Date(item.created_at).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
  const head = make("p", "outbox-what");
  head.append(shape(item.state === "attention" ? "asks" : "tablet"), make("strong", "", item.what));
  row.append(head, make("p", "outbox-state", `${STATES[item.state]} · entered ${at}`));
  if (item.told) row.append(make("p", "outbox-told", serverWords(item.told)));
  if (item.state === "waiting") return row;
  const buttons = make("div", "actions");
  if (item.state === "attention") {
    for (const choice of item.told.question?.choices ?? [])
      buttons.append(button(choice.label, () => again(item.key, choice.sets), true));
    buttons.append(button("Send again", () => again(item.key)));
    buttons.append(button("Put it aside", () => putAside(item.key)));
  } else {
    buttons.append(button("Send it after all", () => again(item.key)));
  }
  const away = throwing(item);
  buttons.append(button("Throw away…", () => {
    away.hidden = !away.hidden;
    if (!away.hidden) away.querySelector("input").focus();
  }));
  row.append(buttons, away);
  return row;
}

function serverWords({ problems, question, message }) {
  if (question) return `The server asks: ${question.text}`;
  return `The server says: ${problems.map(problemInWords).join(" ") || message}`;
}

// Throwing away asks, and wants the reason.
function throwing(item) {
  const form = make("form", "outbox-throw");
  form.hidden = true;
  form.noValidate = true;
  const label = make("label", "", "It will not be sent; a note in the log says that it was thrown away. Why? ");
  const reason = document.createElement("input");
  reason.maxLength = 500;
  reason.autocomplete = "off";
  label.append(reason);
  const error = make("p", "error", "Nothing was entered. Say why it is thrown away.");
  error.hidden = true;
  form.append(label, error, button("Throw it away", null));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const why = reason.value.trim();
    error.hidden = why !== "";
    if (why) throwAway(item, why, document.querySelector("[data-viewer] input[name=who]")?.value.trim() ?? "");
    else reason.focus();
  });
  return form;
}

function make(tag, className, text = "") {
  const element = document.createElement(tag);
  if (className) element.className = className;
  if (text) element.textContent = text;
  return element;
}

function button(label, press, main = false) {
  const element = make("button", main ? "main" : "", label);
  element.type = press ? "button" : "submit";
  if (press) element.addEventListener("click", press);
  return element;
}

function link(address, label) {
  const element = make("a", "button", label);
  element.href = address;
  return element;
}
