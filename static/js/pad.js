// The measuring pad: choose a dimension, type or key in the figure, Enter saves it and goes on to the next one. A gauge
// that types like a keyboard (a value, then Enter) drives it without a touch. What is saved is on this tablet first.

import { ask } from "./ask.js";
import { problemInWords } from "./forms.js";
import { again, items, keep, listen, standing, undo } from "./outbox.js";
import { data, moment } from "./pad_data.js";
import { keysInto } from "./pad_keys.js";
import { readLength, shown, written } from "./pad_length.js";
import { hearOthers } from "./pad_others.js";
import { named, onAgain, order, takeUp } from "./pad_run.js";
import { tick } from "./pad_tick.js";
import { buttonOf, lineOf, showFresh, showLine, showTold, showUndone } from "./pad_told.js";
import { doubt, judge, nextMove } from "./pad_verdict.js";
import { newKey } from "./send.js";

const DOUBLE_TAP_MS = 600;
const pad = document.getElementById("pad");
const part = (name) => pad.querySelector(`[data-pad="${name}"]`);
const readings = new Map(); // what was entered on this page and not undone, by key
const newest = new Map(); // the newest key of each dimension of each piece, by target

const touched = new Map(); // when its line last changed by something done here, by target

let selected = null;
let key = newKey();
let asking = false;
let savedAt = 0;
let enteredAs = "absolute";
let unit = data.unit;
let repeating = false;
let told = null; // the key of the reading in the large field

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
  if (deviation.disabled) enterAs("absolute");
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
// A gauge may type its next figure before the tablet's disk has the last: the pad goes on at once, and what could not be
// kept is put back into the field with the reason.
async function save() {
  const target = selected;
  if (asking || !target) return;
  if (!part("value").value.trim() && Date.now() - savedAt < DOUBLE_TAP_MS) return;
  clearError();
  const mine = key;
  try {
    const asked = { value: part("value").value.trim(), unit, entered_as: enteredAs };
    let value_nm = meant(asked, target);
    if (value_nm instanceof Promise) {
      asking = true;
      value_nm = await value_nm.finally(() => (asking = false));
    }
    if (value_nm === null) return part("value").focus({ preventScroll: true });
    const body = {
      piece_id: target.piece_id,
      dimension_id: target.dimension_id,
      ...named(),
      ...asked,
      gauge: part("gauge").value,
      temperature_c: temperature(),
      ...moment(),
    };
    const entry = { key: mine, path: "take-reading", body, what: inWords(target, body), build_id: data.build_id };
    const kept = keep({ ...entry, ...order("take-reading", body, mine) });
    const putBack = lineOf(target);
    goOn(target);
    await kept.catch((error) => {
      putBack();
      choose(target);
      part("value").value = body.value;
      throw error;
    });
    localStorage.setItem(`gauge-${target.dimension_id}`, body.gauge);
    entered(mine, target, body, value_nm, putBack);
  } catch (error) {
    showError(error instanceof NotMeant ? error.message : `Not saved: this tablet could not keep it (${error.message}).`);
  }
}

function goOn(target) {
  key = newKey();
  savedAt = Date.now();
  part("value").value = "";
  if (!repeating) enterAs("absolute");
  buttonOf(target).removeAttribute("data-wanted");
  touched.set(target.id, Date.now());
  choose(next(target));
}

class NotMeant extends Error {}

// The size in nm (undefined where only the server can tell); a promise of it where it has to be asked about, of null
// where that was left. What was answered is put into `asked`.
function meant(asked, target) {
  if (!asked.value) throw new NotMeant("Nothing was entered. Type what the gauge says.");
  const value_nm = sizeOf(asked, target);
  const found = value_nm === undefined ? null : doubt(value_nm, asked.unit, target.limits);
  const size = found && `${written(value_nm, asked.unit, 4)} ${asked.unit}`;
  if (found?.kind === "not a size") {
    const accepts = `a size near ${target.requirement}, or a deviation`;
    throw new NotMeant(problemInWords({ read: asked.value, why: `${size} is not a size that metal can have`, accepts }));
  }
  if (!found || asked.sure) return value_nm;
  return ask(questionAbout(found, size, asked, target)).then((sets) => {
    if (sets === null) return null;
    Object.assign(asked, sets);
    return meant(asked, target);
  });
}

function sizeOf({ value, unit, entered_as }, target) {
  const { nm, why } = readLength(value, unit);
  if (why) throw new NotMeant(problemInWords({ read: value, why, accepts: data.accepts }));
  return nm === undefined ? undefined : nm + (entered_as === "deviation" ? target.limits.nominal_nm : 0);
}

function questionAbout(found, size, { value, unit, entered_as }, { requirement }) {
  const other = unit === "in" ? "mm" : "in";
  const whole = entered_as === "absolute" && readLength(value, unit).mark === "";
  if (found.kind === "other unit" && whole) {
    return {
      text: `${value} ${unit} is far from the drawing's ${requirement}; ${value} ${other} would be near it. Which is meant?`,
      choices: [
        { label: `${value} ${other}`, sets: { unit: other } },
        { label: `${value} ${unit} is right`, sets: { sure: true } },
      ],
    };
  }
  return {
    text: `${size} is far from the drawing's ${requirement}. Is it right?`,
    choices: [{ label: `Yes, it measured ${size}`, sets: { sure: true } }],
  };
}

function temperature() {
  const typed = part("temperature").value.trim().replace(",", ".");
  if (typed && !(Number(typed) >= -50 && Number(typed) <= 150))
    throw new NotMeant(`“${typed}”: it is not a temperature metal is measured at. Accepted: a number of °C from -50 to 150.`);
  return typed;
}

const inWords = (target, { value, unit, entered_as }) =>
  `${target.mark} ${target.name} ${entered_as === "deviation" ? "deviation " : ""}${value} ${unit}`;

// ---- What is said of it
function entered(key, target, body, value_nm, putBack) {
  tick();
  const reading = { key, target, value_nm, where: "tablet", putBack, ...provisional(target, body, value_nm) };
  readings.set(key, reading);
  newest.set(target.id, key);
  told = key;
  showLine(reading);
  retell();
}

function provisional(target, body, value_nm) {
  if (value_nm === undefined) return { word: "", shown: `${body.value} ${body.unit}`, sentence: "The server works this one out." };
  const verdict = judge(value_nm, target.limits);
  const sentence = nextMove(target.name, value_nm, target.limits, verdict, target.operation, data.unit);
  return { word: verdict.word, shown: shown(value_nm, data.unit), sentence };
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
  else if (news.kind === "changed" && reading?.asks) Object.assign(reading, { asks: false, word: "" }); // sent otherwise than judged
  showClock();
});

function answered({ key, body, answer }, reading) {
  const target = data.targets.find((each) => each.piece_id === body.piece_id && each.dimension_id === body.dimension_id);
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
}

async function refused({ question }, reading) {
  reading.asks = true;
  if (told === reading.key) retell();
  if (!question || document.hidden || document.querySelector("dialog[open]")) return;
  const sets = await ask(question);
  if (sets !== null) await again(reading.key, sets);
}

// ---- Undoing
async function takeBack(reading) {
  const { key, target } = reading;
  const body = { why: "undone at the pad", ...moment() };
  const lines = { holds: [`p${target.piece_id}/d${target.dimension_id}`], waits: [`p${target.piece_id}/d${target.dimension_id}`] };
  reading.back ??= newKey();
  const entry = { key: reading.back, path: "take-back-reading", body, what: `Take back ${target.mark} ${target.name} ${reading.shown}`, build_id: data.build_id, ...lines };
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
  notice.textContent = `This tablet's clock is ${minutes} min ${ahead > 0 ? "ahead of" : "behind"} the shop's computer. Set it right: the log takes its times from it.`;
}

// ---- Wiring
for (const target of data.targets) buttonOf(target).addEventListener("click", () => choose(target));
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
  for (const target of data.targets)
    if (/metal left/.test(buttonOf(target).querySelector(".said").textContent)) buttonOf(target).setAttribute("data-wanted", "");
  const first = data.targets.find((each) => buttonOf(each).hasAttribute("data-wanted"));
  if (first) choose(first);
});

const first = data.targets.find((each) => buttonOf(each).hasAttribute("data-wanted")) ?? data.targets[0];
if (first) choose(first);
showClock();

// A page loaded again shows what this tablet still holds for it.
async function restore() {
  for (const { key, path, body, state } of await items()) {
    const target = data.targets.find((each) => each.piece_id === body.piece_id && each.dimension_id === body.dimension_id);
    if (path !== "take-reading" || !target || (state !== "waiting" && state !== "attention")) continue;
    const { nm } = readLength(body.value, body.unit);
    const value_nm = nm === undefined ? undefined : nm + (body.entered_as === "deviation" ? target.limits.nominal_nm : 0);
    readings.set(key, { key, target, value_nm, where: "tablet", putBack: lineOf(target), ...provisional(target, body, value_nm) });
    newest.set(target.id, key);
    showLine(readings.get(key));
  }
  await takeUp();
}
restore().catch(() => undefined); // where nothing can be kept, there is nothing to show; the page says so
