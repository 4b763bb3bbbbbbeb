// What a figure typed at the pad is taken for, on the tablet itself: its size, what speaks against it, and the verdict
// until the server has answered.

import { ask } from "./ask.js";
import { problemInWords } from "./forms.js";
import { data } from "./pad_data.js";
import { readLength, shown, written } from "./pad_length.js";
import { doubt, judge, nextMove } from "./pad_verdict.js";

export class NotMeant extends Error {}

// The size in nm (undefined where only the server can tell); a promise of it where it has to be asked about, of null
// where that was left. What was answered is put into `asked`.
export function meant(asked, target) {
  if (!asked.value) throw new NotMeant("Nothing was entered. Type what the gauge says.");
  takeSignAsDeviation(asked, target.limits);
  const value_nm = sizeOf(asked, target);
  const found = value_nm === undefined ? null : doubt(value_nm, asked.unit, target.limits);
  const size = found && `${written(value_nm, asked.unit, 4)} ${asked.unit}`;
  if (found?.kind === "not a size") {
    const accepts = `a size near ${target.requirement}, or a deviation`;
    throw new NotMeant(problemInWords({ read: asked.value, why: `${size} is not a size that metal can have`, accepts }));
  }
  if (!found || asked.sure) return value_nm;
  return askAtPad(questionAbout(found, size, asked, target)).then((sets) => {
    if (sets === null) return null;
    Object.assign(asked, sets);
    return meant(asked, target);
  });
}

// A size has no sign: a figure with one can only be a deviation, whatever the switch says.
function takeSignAsDeviation(asked, { nominal_nm, low_nm, high_nm }) {
  if (asked.entered_as === "deviation" || !/^[+−-]/.test(asked.value) || (nominal_nm ?? high_nm ?? low_nm ?? 0) <= 0) return;
  if (nominal_nm === null)
    throw new NotMeant(`“${asked.value}” is a deviation, and this one has no nominal size to deviate from. Type the size.`);
  asked.entered_as = "deviation";
}

// The Enter of a gauge that goes on typing must not choose an answer: no button has the focus until somebody gives it.
export function askAtPad(question) {
  document.activeElement?.blur(); // a field whose focus a closing question gives back takes no keys in chromium
  const answer = ask(question);
  const dialog = document.getElementById("question");
  dialog.tabIndex = -1;
  dialog.focus();
  return answer;
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
    const far = `${value} ${unit} is far from the drawing's ${requirement}`;
    return {
      text: `${far}; ${value} ${other} would be near it. Which is meant?`,
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

// A temperature as the server takes it.
export function temperature(text) {
  const read = text.trim().replace(",", ".");
  const why = "it is not a temperature metal is measured at";
  if (read && !(Number(read) >= -50 && Number(read) <= 150))
    throw new NotMeant(problemInWords({ read, why, accepts: "a number of °C from -50 to 150" }));
  return read;
}

// The size kept in an entry made before, undefined where only the server can tell.
export function sizeKept({ value, unit, entered_as }, target) {
  const { nm } = readLength(value, unit);
  return nm === undefined ? undefined : nm + (entered_as === "deviation" ? target.limits.nominal_nm : 0);
}

export const inWords = (target, { value, unit, entered_as }) =>
  `${target.mark} ${target.name} ${entered_as === "deviation" ? "deviation " : ""}${value} ${unit}`;

// What the tablet says of a reading until the server has answered: { word, shown, sentence }.
export function provisional(target, body, value_nm) {
  if (value_nm === undefined)
    return { word: "", shown: `${body.value} ${body.unit}`, sentence: "The server works this one out." };
  const verdict = judge(value_nm, target.limits);
  const sentence = nextMove(target.name, value_nm, target.limits, verdict, target.operation, data.unit);
  return { word: verdict.word, shown: shown(value_nm, data.unit), sentence };
}
