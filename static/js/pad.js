// The measuring pad: choose a dimension, type or key in the figure, Enter saves it and goes on to the next one. A gauge
// that types like a keyboard (a value, then Enter) drives it without a touch.

import { ask } from "./ask.js";
import { problemInWords } from "./forms.js";
import { newKey, send } from "./send.js";

const data = JSON.parse(document.getElementById("pad-data").textContent);
const run = Number(document.getElementById("pad-page").dataset.run);
const pad = document.getElementById("pad");
const part = (name) => pad.querySelector(`[data-pad="${name}"]`);
const buttonOf = (target) => document.querySelector(`[data-target="${target.id}"]`);
const marks = document.getElementById("verdict-marks").content;

let selected = null;
let key = newKey();
let busy = false;
let enteredAs = "absolute";
let unit = data.unit;

function choose(target) {
  if (selected) buttonOf(selected).setAttribute("aria-pressed", "false");
  if (selected?.id !== target.id) {
    part("value").value = "";
    clearError();
    key = newKey();
  }
  selected = target;
  buttonOf(target).setAttribute("aria-pressed", "true");
  part("mark").textContent = target.mark;
  part("name").textContent = target.name;
  part("asked").textContent = target.asked;
  part("wires").textContent = target.wires;
  part("wires").hidden = !target.wires;
  part("gauge").value = sessionStorage.getItem(`gauge-${target.dimension_id}`) ?? target.gauge;
  part("drawing").innerHTML = document.querySelector(`[data-drawing="${target.id}"]`).innerHTML;
  const deviation = pad.querySelector('[data-enter="deviation"]');
  deviation.disabled = !target.has_nominal;
  if (!target.has_nominal) enterAs("absolute");
  pad.hidden = false;
  part("value").focus({ preventScroll: true });
}

function enterAs(how) {
  enteredAs = how;
  for (const button of pad.querySelectorAll("[data-enter]"))
    button.setAttribute("aria-pressed", String(button.dataset.enter === how));
}

function enterIn(which) {
  unit = which;
  for (const button of pad.querySelectorAll("[data-enter-unit]"))
    button.setAttribute("aria-pressed", String(button.dataset.enterUnit === which));
}

function press(name) {
  const input = part("value");
  if (name === "back") input.value = input.value.slice(0, -1);
  else if (name === "±") input.value = /^[-−]/.test(input.value) ? input.value.slice(1) : `-${input.value.replace(/^\+/, "")}`;
  else input.value += name;
  clearError();
  input.focus({ preventScroll: true });
}

function clearError() {
  part("error").hidden = true;
  part("value").removeAttribute("aria-invalid");
}

function showError(text) {
  part("error").textContent = text;
  part("error").hidden = false;
  part("value").setAttribute("aria-invalid", "true");
  part("value").focus({ preventScroll: true });
}

async function save() {
  if (busy || !selected) return;
  const target = selected;
  const body = {
    piece_id: target.piece_id,
    dimension_id: target.dimension_id,
    run_id: run,
    value: part("value").value,
    unit,
    entered_as: enteredAs,
    gauge: part("gauge").value,
    temperature_c: part("temperature").value.replace(",", "."),
    who: document.querySelector("[data-viewer] input[name=who]").value.trim(),
  };
  if (!body.value.trim()) {
    showError("Nothing was entered. Type what the gauge says.");
    return;
  }
  busy = true;
  clearError();
  let result = await send("take-reading", body, key);
  while (!result.ok && result.question) {
    const sets = await ask(result.question);
    if (sets === null) break;
    Object.assign(body, sets);
    result = await send("take-reading", body, key);
  }
  busy = false;
  if (result.ok) {
    key = newKey();
    sessionStorage.setItem(`gauge-${target.dimension_id}`, body.gauge);
    saved(target, result.answer);
  } else if (result.question) {
    part("value").focus({ preventScroll: true });
  } else {
    showError(result.problems.map(problemInWords).join(" ") || result.message);
  }
}

function markOf(word) {
  return marks.querySelector(`[data-word="${word}"]`)?.innerHTML ?? "";
}

function saved(target, answer) {
  const button = buttonOf(target);
  button.querySelector(".verdict").innerHTML = markOf(answer.verdict);
  button.querySelector(".value").textContent = answer.shown;
  button.querySelector(".said").textContent = answer.verdict;
  button.removeAttribute("data-wanted");
  document.querySelector(`[data-drawing="${target.id}"]`).innerHTML = answer.drawing;
  const state = document.querySelector(`[data-piece-state="${target.piece_id}"]`);
  if (state) state.textContent = answer.piece.state;

  const told = document.getElementById("told");
  told.className = `told told-${answer.verdict.replaceAll(" ", "-")}`;
  const head = document.createElement("p");
  head.className = "told-head";
  head.innerHTML = markOf(answer.verdict);
  head.append(` ${answer.verdict}`);
  const what = document.createElement("p");
  what.className = "told-what";
  what.textContent = `Saved: ${target.mark} ${target.name} ${answer.shown}`;
  const move = document.createElement("p");
  move.textContent = answer.sentence;
  told.replaceChildren(head, what, move);

  part("value").value = "";
  enterAs("absolute");
  choose(next(target));
}

// The next dimension that has not been measured; where none is left, stay.
function next(target) {
  const from = data.targets.findIndex((each) => each.id === target.id);
  const order = [...data.targets.slice(from + 1), ...data.targets.slice(0, from)];
  return order.find((each) => buttonOf(each).hasAttribute("data-wanted")) ?? target;
}

for (const target of data.targets) buttonOf(target).addEventListener("click", () => choose(target));
for (const button of pad.querySelectorAll("[data-key]")) button.addEventListener("click", () => press(button.dataset.key));
for (const button of pad.querySelectorAll("[data-enter]"))
  button.addEventListener("click", () => {
    enterAs(button.dataset.enter);
    part("value").focus({ preventScroll: true });
  });
for (const button of pad.querySelectorAll("[data-enter-unit]"))
  button.addEventListener("click", () => {
    enterIn(button.dataset.enterUnit);
    part("value").focus({ preventScroll: true });
  });
part("value").addEventListener("input", clearError);
part("form").addEventListener("submit", (event) => {
  event.preventDefault();
  save();
});

const first = data.targets.find((each) => buttonOf(each).hasAttribute("data-wanted")) ?? data.targets[0];
if (first) choose(first);
