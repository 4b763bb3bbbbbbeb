// Works a calculation out as one types; the address always carries what was typed, so that it can be shared.

import { clearProblems, problemInWords } from "./forms.js";

const form = document.getElementById("work");
const link = document.getElementById("link");
let turn = 0;
let waiting;

function query() {
  const asked = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (value.trim()) asked.set(name, value.trim());
  return asked;
}

async function work() {
  const mine = ++turn;
  const asked = query();
  const address = `${location.pathname}?${asked}`;
  history.replaceState(null, "", address);
  link.value = location.origin + address;
  let answer;
  try {
    answer = await (await fetch(`/api/handbook/${form.dataset.calculation}?${asked}`)).json();
  } catch {
    answer = { outputs: [], problems: [], message: "The server did not answer." };
  }
  if (mine === turn) show(answer, asked);
}

function show(answer, asked) {
  clearProblems(form);
  const elsewhere = [];
  for (const problem of answer.problems ?? []) {
    // A field that is still empty is not a mistake yet.
    if (!problem.read && !asked.has(problem.field)) continue;
    const error = form.querySelector(`[data-field="${CSS.escape(problem.field)}"] .error`);
    if (error) {
      error.textContent = problemInWords(problem);
      error.hidden = false;
      form.elements[problem.field]?.setAttribute("aria-invalid", "true");
    } else elsewhere.push(problemInWords(problem));
  }
  const outputs = answer.outputs ?? [];
  document.getElementById("answer").replaceChildren(...outputs.map(line));
  const error = document.getElementById("answer-error");
  error.textContent = elsewhere.join(" ") || (outputs.length || answer.problems?.length ? "" : (answer.message ?? ""));
  error.hidden = !error.textContent;
  document.getElementById("answer-wait").hidden = outputs.length > 0 || !error.hidden;
}

function line({ label, said, note }) {
  const row = document.createElement("div");
  const dt = document.createElement("dt");
  dt.textContent = label;
  const dd = document.createElement("dd");
  dd.textContent = said;
  if (note) {
    const small = document.createElement("span");
    small.className = "note";
    small.textContent = note;
    dd.append(small);
  }
  row.append(dt, dd);
  return row;
}

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(work, 120);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  work();
});
link.addEventListener("focus", () => link.select());
link.value = location.href;
