// Entering a route card afterwards: every filled line is an action of its own, sent in the order of the card, with a key
// of its own. What is saved is not sent again; what was refused stays, with the reason beside it.

import { sendAsking } from "./ask.js";
import { problemInWords } from "./forms.js";
import { newKey } from "./send.js";

const form = document.getElementById("card-entry");
const outcome = document.getElementById("entry-outcome");
const piece = Number(form?.dataset.piece);
const opened = new Date();
let busy = false;

// ---- Fields --------------------------------------------------------------------------------------------------------

const fields = () => [...form.querySelectorAll("input:not([readonly]), button[type=submit]")];
const valueOf = (line, name) => line.querySelector(`[name=${name}]`).value.trim();
const viewer = () => document.querySelector("[data-viewer] input[name=who]").value.trim();

function isFilled(line) {
  if (line.dataset.line === "reading") return valueOf(line, "value") !== "";
  // The offset is filled in beforehand and says nothing alone.
  return ["date", "time", "who", "rpm", "remark"].some(
    (name) => valueOf(line, name) !== "" || line.querySelector(`[name=${name}]`).validity.badInput,
  );
}

const isSaved = (line) => line.classList.contains("saved");

function tell(line, text, how) {
  const told = line.querySelector(".entry-told");
  told.textContent = text;
  line.classList.remove("saved", "refused");
  if (how) line.classList.add(how);
  for (const input of line.querySelectorAll("input")) {
    if (how === "saved") input.readOnly = true;
    if (how === "refused") input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
  }
  return how === "saved";
}

// ---- Sending -------------------------------------------------------------------------------------------------------

const slots = new Map(); // of one action: { key, body, unsure, answer }

// Resolves to the answer, or to the reason why not, as text.
async function once(name, path, body) {
  const said = JSON.stringify(body);
  const slot = slots.get(name) ?? { key: newKey(), body: said, unsure: false, answer: null };
  slots.set(name, slot);
  if (slot.answer) return { answer: slot.answer };
  // Another request needs another key; but where nobody knows whether the first arrived, its key finds out.
  if (slot.body !== said && !slot.unsure) slot.key = newKey();
  slot.body = said;
  const result = await sendAsking(path, body, slot.key);
  if (result.ok) {
    slot.answer = result.answer;
    return { answer: result.answer };
  }
  if (result.question) return { why: `Not sent: ${result.question.text}` };
  const cameBefore = result.problems.some((each) => each.field === "Idempotency-Key");
  slot.unsure = cameBefore || result.problems.length === 0;
  if (cameBefore)
    return { why: "It was saved before, as it stood then; only the answer was lost. Look at the piece, and correct it there." };
  return { why: result.problems.map(problemInWords).join(" ") || result.message };
}

// The moment a line gives, in the time of this device; noon where no time is given, and never later than when the form
// was opened: a second try must say what the first one said.
function momentOf(line) {
  const date = valueOf(line, "date");
  const time = valueOf(line, "time");
  const moment = new Date(`${date}T${time || "12:00"}`);
  return !time && moment > opened && date === localDate(opened) ? opened : moment;
}

const localDate = (moment) =>
  `${moment.getFullYear()}-${String(moment.getMonth() + 1).padStart(2, "0")}-${String(moment.getDate()).padStart(2, "0")}`;

function shared(step) {
  const run = step.querySelector('[data-line="run"]');
  const who = (run && valueOf(run, "who")) || viewer();
  const dated = run && valueOf(run, "date");
  return { who, ...(dated ? { occurred_at: momentOf(run).toISOString() } : {}) };
}

async function sendRun(step, line) {
  const badly = ["date", "time"].find((name) => line.querySelector(`[name=${name}]`).validity.badInput);
  if (badly) return tell(line, `The ${badly} is not whole.`, "refused");
  const number = step.dataset.number;
  const remark = valueOf(line, "remark");
  if (!valueOf(line, "date")) {
    // A remark alone is a note on the piece; anything else needs the day.
    const others = ["time", "who", "rpm"].some((name) => valueOf(line, name));
    if (others || !remark) return tell(line, `On which day was op ${number} done?`, "refused");
    const note = { kind: "note", piece_id: piece, text: `op ${number}: ${remark}`, ...shared(step) };
    const result = await once(`note-${number}`, "log-event", note);
    return result.answer ? tell(line, "Saved: a note on the piece", "saved") : tell(line, result.why, "refused");
  }
  const result = await once(`run-${number}`, "start-run", {
    operation_id: Number(step.dataset.operation),
    pieces: [{ piece_id: piece, work_offset: valueOf(line, "offset") }],
    rpm: valueOf(line, "rpm").replace(",", "."),
    finished: true,
    ...shared(step),
  });
  if (!result.answer) return tell(line, result.why, "refused");
  step.dataset.run = result.answer.run_id;
  if (remark) {
    const note = { kind: "note", run_id: result.answer.run_id, text: remark, ...shared(step) };
    const noted = await once(`note-${number}`, "log-event", note);
    if (!noted.answer) {
      // The run is in the log: only the remark can still be put right.
      for (const input of line.querySelectorAll("input:not([name=remark])")) input.readOnly = true;
      return tell(line, `Op ${number} is saved, its remark is not: ${noted.why}`, "refused");
    }
  }
  return tell(line, `Saved: op ${number} done${remark ? ", with the remark" : ""}`, "saved");
}

async function sendReadings(step, line) {
  const dimension = Number(line.dataset.dimension);
  const input = line.querySelector("[name=value]");
  const values = input.value.split(";").map((each) => each.trim()).filter(Boolean);
  const done = line.savedValues ?? [];
  line.savedValues = done;
  let answer = null;
  for (const [place, value] of values.entries()) {
    const result = await once(`reading-${dimension}-${done.length}`, "take-reading", {
      piece_id: piece,
      dimension_id: dimension,
      value,
      unit: document.body.dataset.unit,
      gauge: line.dataset.gauge,
      ...(step.dataset.run ? { run_id: Number(step.dataset.run) } : {}),
      ...shared(step),
    });
    if (!result.answer) {
      input.value = values.slice(place).join("; ");
      const before = done.length ? `Saved: ${done.join("; ")}. ` : "";
      return tell(line, before + result.why, "refused");
    }
    ({ answer } = result);
    done.push(value);
  }
  input.value = done.join("; ");
  return tell(line, `Saved: ${answer.shown} ${answer.verdict}. ${answer.sentence ?? ""}`, "saved");
}

async function sendAll() {
  const counted = { saved: 0, stay: 0 };
  let first = null;
  for (const step of form.querySelectorAll(".entry-step")) {
    let held = false; // readings belong to their operation: where it was refused they wait
    for (const line of step.querySelectorAll(".entry-line")) {
      if (isSaved(line) || !isFilled(line)) continue;
      let saved;
      if (line.dataset.line === "run") {
        saved = await sendRun(step, line);
        held = !saved && !step.dataset.run;
      } else if (held) {
        saved = tell(line, `Not sent: it waits for op ${step.dataset.number}.`, "refused");
      } else {
        saved = await sendReadings(step, line);
      }
      counted[saved ? "saved" : "stay"] += 1;
      if (!saved) first ??= line;
    }
  }
  return { ...counted, first };
}

const lines = (count) => `${count} ${count === 1 ? "line" : "lines"}`;

if (form) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    outcome.textContent = "Saving…";
    const { saved, stay, first } = await sendAll();
    busy = false;
    if (!saved && !stay) outcome.textContent = "Nothing new is filled in.";
    else
      outcome.textContent = [
        saved && `${lines(saved)} saved.`,
        stay && `${lines(stay)} not saved: the reason stands beside ${stay === 1 ? "it" : "each"}.`,
      ]
        .filter(Boolean)
        .join(" ");
    (first?.querySelector('input:not([readonly])[name="value"], input:not([readonly])') ?? form.querySelector("[type=submit]")).focus();
  });

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || !event.target.matches("input")) return;
    event.preventDefault();
    const all = fields();
    all[all.indexOf(event.target) + 1]?.focus();
  });

  // What was said of a line holds until the line is changed.
  form.addEventListener("input", (event) => {
    const line = event.target.closest(".entry-line");
    if (line && !isSaved(line)) tell(line, "", null);
  });

  window.addEventListener("beforeunload", (event) => {
    const unsaved = [...form.querySelectorAll(".entry-line")].some((line) => isFilled(line) && !isSaved(line));
    if (unsaved) event.preventDefault();
  });

  fields()[0]?.focus();
}
