// The measuring pad: choose a dimension, type or key in the figure, Enter saves it and goes on to the next one. A gauge
// that types like a keyboard (a value, then Enter) drives it without a touch. What is saved is on this tablet first.

import { again, items, keep, listen, standing, undo } from "./outbox.js";
import { data, moment } from "./pad_data.js";
import { keysInto } from "./pad_keys.js";
import { shown, written } from "./pad_length.js";
import { askAtPad, inWords, meant, NotMeant, provisional, sizeKept, temperature } from "./pad_meant.js";
import { hearOthers } from "./pad_others.js";
import { named, onAgain, order, takeUp } from "./pad_run.js";
import { tick } from "./pad_tick.js";
import { buttonOf, lineOf, showFresh, showLine, showTold, showUndone } from "./pad_told.js";
import { newKey } from "./send.js";

const DOUBLE_TAP_MS = 600;
const pad = document.getElementById("pad");
const part = (name) => pad.querySelector(`[data-pad="${name}"]`);
const readings = new Map(); // what was entered on this page and not undone, by key
const newest = new Map(); // the newest key of each dimension of each piece, by target

const touched = new Map(); // when its line last changed by something done here, by target

let selected = null;
let key = newKey();
let savedAt = 0;
let enteredAs = "absolute";
let wished = "absolute"; // as chosen by hand: kept from one dimension to the next
let unit = data.unit;
let repeating = false;
let told = null; // the key of the reading in the large field

const targetOf = ({ piece_id, dimension_id }) =>
  data.targets.find((each) => each.piece_id === piece_id && each.dimension_id === dimension_id);

// ---- Choosing
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
  part("gauge").value = localStorage.getItem(`gauge-${target.dimension_id}`) ?? target.gauge;
  part("drawing").innerHTML = document.querySelector(`[data-drawing="${target.id}"]`).innerHTML;
  const deviation = pad.querySelector('[data-enter="deviation"]');
  deviation.disabled = target.limits.nominal_nm === null;
  deviation.title = deviation.disabled ? "This one has no nominal size to deviate from" : "";
  enterAs(deviation.disabled ? "absolute" : wished);
  pad.hidden = false;
  part("value").focus({ preventScroll: true });
}

// The next dimension that has not been measured; where none is left, stay.
function next(target) {
  if (repeating) return target;
  const from = data.targets.findIndex((each) => each.id === target.id);
  const order = [...data.targets.slice(from + 1), ...data.targets.slice(0, from)];
  return order.find((each) => buttonOf(each).hasAttribute("data-wanted")) ?? target;
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

// ---- Saving
// A gauge may type its next figure before the tablet's disk has the last, or in the moment a question closes: the pad goes
// on at once, and what was left or could not be kept is put back into the field, with the reason.
async function save() {
  const target = selected;
  if (!target || (!part("value").value.trim() && Date.now() - savedAt < DOUBLE_TAP_MS)) return;
  clearError();
  let putBack = null;
  const asked = { value: part("value").value.trim(), unit, entered_as: enteredAs };
  try {
    const entry = { key, path: "take-reading", build_id: data.build_id };
    const about = { gauge: part("gauge").value, temperature_c: temperature(part("temperature").value), ...moment() };
    const meaning = meant(asked, target);
    putBack = lineOf(target);
    goOn(target);
    const value_nm = await meaning;
    if (meaning instanceof Promise) part("value").focus({ preventScroll: true });
    if (value_nm === null) return comeBack(target, asked, putBack);
    const body = { piece_id: target.piece_id, dimension_id: target.dimension_id, ...named(), ...asked, ...about };
    await keep({ ...entry, body, what: inWords(target, body), ...order("take-reading", body, entry.key) });
    localStorage.setItem(`gauge-${target.dimension_id}`, body.gauge);
    entered(entry.key, target, body, value_nm, putBack);
  } catch (error) {
    if (putBack) comeBack(target, asked, putBack);
    showError(error instanceof NotMeant ? error.message : `Not saved: this tablet could not keep it (${error.message}).`);
  }
}

function comeBack(target, { value }, putBack) {
  putBack();
  choose(target);
  part("value").value = value;
}

function goOn(target) {
  key = newKey();
  savedAt = Date.now();
  part("value").value = "";
  buttonOf(target).removeAttribute("data-wanted");
  touched.set(target.id, Date.now());
  choose(next(target));
}

// ---- What is said of it
function entered(key, target, body, value_nm, putBack) {
  tick();
  const reading = { key, target, value_nm, where: "tablet", putBack, ...provisional(target, body, value_nm) };
  readings.set(key, reading);
  newest.set(target.id, key);
  told = key;
  showLine(reading);
  retell();
  pointToNext();
}

// The biggest button is the next move: cutting again while metal is left, finishing when none is.
function pointToNext() {
  const left = [...document.querySelectorAll(".target .said")].some((said) => said.textContent.includes("metal left"));
  for (const [path, next] of [
    ["finish-run", !left],
    ["cut-again", left],
  ])
    for (const button of document.querySelector(`form[data-keep="${path}"]`).querySelectorAll("button")) {
      button.classList.toggle("main", next);
      button.classList.toggle("big", next);
    }
}

function retell() {
  const reading = readings.get(told);
  if (reading) showTold(reading, { undo: () => takeBack(reading), series: series(reading) });
}

// Readings of the same dimension, one after another: how many, their mean, and how far they lie apart.
function series({ target }) {
  let figures = [];
  for (const each of readings.values()) {
    if (each.target.id !== target.id) figures = [];
    else if (each.value_nm !== undefined) figures.push(each.value_nm);
  }
  if (figures.length < 2) return "";
  const decimals = data.unit === "mm" ? 4 : 5;
  const mean = Math.round(figures.reduce((sum, nm) => sum + nm, 0) / figures.length);
  const spread = shown(Math.max(...figures) - Math.min(...figures), data.unit);
  return `${figures.length} readings: mean ${written(mean, data.unit, decimals)}, spread ${spread}. The last one stands.`;
}

listen((news) => {
  const reading = readings.get(news.key);
  if (news.kind === "sent" && news.path === "take-reading") answered(news, reading);
  else if (news.kind === "told" && reading) refused(news.told, reading);
  // Sent again, perhaps otherwise than it was judged here.
  else if (news.kind === "changed" && reading?.asks) Object.assign(reading, { asks: false, word: "" });
  showClock();
});

function answered({ key, body, answer }, reading) {
  const target = targetOf(body);
  if (!target || !answer.verdict) return;
  const now = { target, where: "shop", word: answer.verdict, shown: answer.shown, sentence: answer.sentence };
  if (reading) {
    const same = reading.word === now.word && reading.sentence === now.sentence;
    const differs = reading.where === "tablet" && reading.word && !same ? `${reading.word}: ${reading.sentence}` : "";
    Object.assign(reading, now, { differs, asks: false, reading_id: answer.reading_id, value_nm: answer.value_nm });
    if (reading.undoing) takeBack(reading);
  }
  touched.set(target.id, Date.now());
  document.querySelector(`[data-drawing="${target.id}"]`).innerHTML = answer.drawing;
  if ((newest.get(target.id) ?? key) === key) showLine(now);
  if (selected?.id === target.id) part("drawing").innerHTML = answer.drawing;
  const state = document.querySelector(`[data-piece-state="${target.piece_id}"]`);
  if (state && answer.piece) state.textContent = answer.piece.state;
  if (told === key && reading && !reading.undoing) retell();
  pointToNext();
}

async function refused({ question }, reading) {
  reading.asks = true;
  if (told === reading.key) retell();
  if (!question || document.hidden || document.querySelector("dialog[open]")) return;
  const sets = await askAtPad(question);
  part("value").focus({ preventScroll: true });
  if (sets !== null) await again(reading.key, sets);
}

// ---- Undoing
async function takeBack(reading) {
  const { key, target } = reading;
  const body = { why: "undone at the pad", ...moment() };
  const line = `p${target.piece_id}/d${target.dimension_id}`;
  const what = `Take back ${target.mark} ${target.name} ${reading.shown}`;
  reading.back ??= newKey();
  const entry = { key: reading.back, path: "take-back-reading", body, what, build_id: data.build_id };
  Object.assign(entry, { holds: [line], waits: [line] });
  let how = "taken back";
  if (reading.reading_id) await keep({ ...entry, body: { reading_id: reading.reading_id, ...body } });
  else how = await undo(key, entry);
  if (how === "gone") {
    reading.undoing = true; // its answer is on the way; then it is taken back
    return;
  }
  readings.delete(key);
  touched.set(target.id, Date.now());
  const before = [...readings.values()].reverse().find((each) => each.target.id === target.id);
  if (newest.get(target.id) === key) {
    reading.putBack();
    if (before) newest.set(target.id, before.key);
    else newest.delete(target.id);
  }
  if (told === key) {
    told = null;
    showUndone(reading, how);
  }
  choose(target);
}

// ---- What others did
async function fromOthers(fresh, now, began) {
  const kept = (await items()).filter(({ state }) => state === "waiting" || state === "attention");
  const held = new Set(kept.flatMap((item) => item.holds));
  for (const target of data.targets) {
    const same = now.targets.find((each) => each.id === target.id);
    if (!same) continue;
    Object.assign(target, same);
    const free = !held.has(`p${target.piece_id}/d${target.dimension_id}`) && (touched.get(target.id) ?? 0) < began;
    if (free) showFresh(target, fresh);
    if (selected !== target) continue;
    part("asked").textContent = target.asked;
    part("drawing").innerHTML = document.querySelector(`[data-drawing="${target.id}"]`).innerHTML;
  }
  for (const { id, state } of now.pieces)
    if (!held.has(`p${id}`)) document.querySelector(`[data-piece-state="${id}"]`).textContent = state;
}
hearOthers(fromOthers);

// ---- The clock
const SLOW_MS = 2 * 60 * 1000;
const atLoad = Date.now() - Date.parse(data.now);

function showClock() {
  const ahead = standing.clock_ahead_ms ?? atLoad;
  const notice = document.querySelector("[data-clock]");
  notice.hidden = Math.abs(ahead) <= SLOW_MS;
  const minutes = Math.round(Math.abs(ahead) / 60000);
  const off = `${minutes} min ${ahead > 0 ? "ahead of" : "behind"} the shop's computer`;
  notice.textContent = `This tablet's clock is ${off}. Set it right: the log takes its times from it.`;
}

// ---- Wiring
for (const target of data.targets) buttonOf(target).addEventListener("click", () => choose(target));
for (const button of pad.querySelectorAll("[data-enter]"))
  button.addEventListener("click", () => {
    wished = button.dataset.enter;
    enterAs(wished);
    part("value").focus({ preventScroll: true });
  });
for (const button of pad.querySelectorAll("[data-enter-unit]"))
  button.addEventListener("click", () => {
    enterIn(button.dataset.enterUnit);
    part("value").focus({ preventScroll: true });
  });
part("repeat").addEventListener("click", () => {
  repeating = !repeating;
  part("repeat").setAttribute("aria-pressed", String(repeating));
  part("value").focus({ preventScroll: true });
});
part("value").addEventListener("input", clearError);
part("form").addEventListener("submit", (event) => {
  event.preventDefault();
  save();
});
keysInto(pad, part("value"), { changed: clearError, save });

// What is to be measured again once it is cut again: what had metal left, and what was never measured.
onAgain(() => {
  const nth = document.querySelector("[data-run=nth]");
  nth.textContent = Number(nth.textContent) + 1;
  nth.parentElement.hidden = false;
  for (const target of data.targets)
    if (/metal left/.test(buttonOf(target).querySelector(".said").textContent))
      buttonOf(target).setAttribute("data-wanted", "");
  const first = data.targets.find((each) => buttonOf(each).hasAttribute("data-wanted"));
  if (first) choose(first);
});

const first = data.targets.find((each) => buttonOf(each).hasAttribute("data-wanted")) ?? data.targets[0];
if (first) choose(first);
pointToNext();
showClock();

// A page loaded again shows what this tablet still holds for it.
async function restore() {
  for (const { key, path, body, state } of await items()) {
    const target = targetOf(body);
    if (path !== "take-reading" || !target || (state !== "waiting" && state !== "attention")) continue;
    const value_nm = sizeKept(body, target);
    const said = provisional(target, body, value_nm);
    readings.set(key, { key, target, value_nm, where: "tablet", putBack: lineOf(target), ...said });
    newest.set(target.id, key);
    showLine(readings.get(key));
  }
  await takeUp();
}
restore().catch(() => undefined); // where nothing can be kept, there is nothing to show; the page says so
