// Every form with data-action sends its fields as that action and stays as it is until the server has taken it:
// problems are shown beside the fields they are about, and nothing typed is lost.

import { sendAsking } from "./ask.js";
import { newKey } from "./send.js";

export function enhance(form) {
  let key = newKey();
  let busy = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    clearProblems(form);
    const result = await sendAsking(form.dataset.action, fieldsOf(form), key);
    busy = false;
    if (result.ok) {
      key = newKey();
      taken(form, result.answer);
    } else if (!result.question) {
      showProblems(form, result);
    }
  });
}

function taken(form, answer) {
  const then = form.dataset.then;
  if (then === "stay") {
    form.reset();
    const kept = form.querySelector("[data-kept]");
    if (kept) {
      kept.hidden = false;
      setTimeout(() => (kept.hidden = true), 4000);
    }
  } else if (then === "reload" || answer.page.split("#")[0] === location.pathname) {
    if (answer.page?.includes("#") && then !== "reload") location.hash = answer.page.split("#")[1];
    location.reload();
  } else {
    location.assign(answer.page);
  }
}

export function fieldsOf(form) {
  const body = {};
  for (const [name, value] of new FormData(form)) body[name] = value;
  const who = document.querySelector("[data-viewer] input[name=who]");
  if (who?.value.trim()) body.who = who.value.trim();
  return body;
}

export function clearProblems(form) {
  for (const error of form.querySelectorAll(".error")) {
    error.hidden = true;
    error.textContent = "";
  }
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
}

export function showProblems(form, { problems, message }) {
  const elsewhere = [];
  let first = null;
  for (const problem of problems) {
    const field = form.querySelector(`[data-field="${CSS.escape(problem.field)}"]`);
    const error = field?.querySelector(".error");
    if (!error) {
      elsewhere.push(problemInWords(problem));
      continue;
    }
    error.textContent = problemInWords(problem);
    error.hidden = false;
    const input = field.querySelector("input, textarea, select");
    input?.setAttribute("aria-invalid", "true");
    first ??= input;
  }
  if (elsewhere.length || !problems.length) {
    const error = form.querySelector("[data-form-error]");
    error.textContent = elsewhere.join(" ") || message;
    error.hidden = false;
  }
  first?.focus();
}

export function problemInWords({ field, read, why, accepts }) {
  // What was read is told once, and never a number of the program's own.
  const said = read?.trim() && !why.includes(read) && !/(^|[._])id$/.test(field ?? "") ? `“${read}”: ${why}` : why;
  const sentence = said.charAt(0).toUpperCase() + said.slice(1);
  return accepts ? `${sentence}. Accepted: ${accepts}.` : `${sentence}.`;
}
