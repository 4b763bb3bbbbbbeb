// Adds photographs: chosen or taken, told by name and size, and sent one after another. One that was not taken stays
// chosen with the reason beside it; the key of each is made when it is chosen, so that a second try is done once.

import { clearProblems, fieldsOf, showProblems } from "./forms.js";
import { newKey, NOT_REACHED } from "./send.js";

const LARGEST = 25 * 1024 * 1024;
const PATIENCE = 180_000; // a full photograph over a slow network

async function sendPhoto(file, fields, key) {
  const body = new FormData();
  for (const [name, value] of Object.entries(fields)) body.append(name, value);
  body.append("photo", file, "photo");
  let response;
  try {
    response = await fetch("/api/photos", {
      method: "POST",
      headers: { "Idempotency-Key": key },
      body,
      signal: AbortSignal.timeout(PATIENCE),
    });
  } catch {
    return { ok: false, problems: [], message: NOT_REACHED };
  }
  try {
    const answer = await response.json();
    return response.ok ? { ok: true, answer } : { ok: false, problems: answer.problems, message: answer.message };
  } catch {
    return { ok: false, problems: [], message: `Not saved: the server answered with ${response.status} and nothing that can be read.` };
  }
}

const size = (file) => `${Math.max(file.size / 1024 / 1024, 0.1).toFixed(1)} MB`;

function start(form) {
  const chosenText = form.querySelector("[data-chosen]");
  const hint = chosenText.textContent;
  const button = form.querySelector("[type=submit]");
  const kept = form.querySelector("[data-kept]");
  let chosen = []; // { file, key }
  let busy = false;

  const tell = () => {
    chosenText.textContent = chosen.length
      ? chosen.map(({ file }) => `${file.name}, ${size(file)}`).join("; ")
      : hint;
  };

  for (const input of form.querySelectorAll("input[type=file]")) {
    input.addEventListener("change", () => {
      if (!input.files.length) return;
      clearProblems(form);
      kept.hidden = true;
      chosen = [...input.files].map((file) => ({ file, key: newKey() }));
      input.value = ""; // the same one may be chosen again
      tell();
    });
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    clearProblems(form);
    if (!chosen.length) {
      const why = "no photograph is chosen";
      showProblems(form, { problems: [{ field: "photo", read: "", why, accepts: "one taken now, or from pictures kept here" }] });
      return;
    }
    busy = true;
    button.disabled = true;
    kept.hidden = true;
    const fields = { ...fieldsOf(form), [`${form.dataset.about}_id`]: form.dataset.id };
    const left = [];
    let trouble = null;
    for (const each of chosen) {
      const result = await once(each, fields);
      if (result.ok) {
        show(form, result.answer);
      } else {
        left.push(each);
        trouble ??= result;
      }
    }
    busy = false;
    button.disabled = false;
    chosen = left;
    tell();
    if (trouble) {
      showProblems(form, trouble);
      return;
    }
    if (form.dataset.then === "reload") {
      location.reload();
      return;
    }
    form.reset();
    kept.hidden = false;
  });
}

async function once({ file, key }, fields) {
  if (file.size > LARGEST) {
    const why = `it is ${size(file)} large`;
    return { ok: false, problems: [{ field: "photo", read: file.name, why, accepts: "at most 25 MB" }] };
  }
  const result = await sendPhoto(file, fields, key);
  // The server does not learn the name; here it says which of several is meant.
  for (const problem of result.problems ?? []) if (problem.field === "photo") problem.read = file.name;
  return result;
}

// In the strip of the same thing, where there is one on the page.
function show(form, photo) {
  const strip = document.querySelector(`[data-photos="${form.dataset.about}-${form.dataset.id}"]`);
  if (!strip) return;
  const item = document.createElement("li");
  const link = document.createElement("a");
  link.className = "photo";
  link.href = photo.full;
  const image = document.createElement("img");
  image.src = photo.small;
  image.alt = photo.caption || "photograph without a caption";
  link.append(image);
  item.append(link);
  if (photo.caption) {
    const caption = document.createElement("p");
    caption.textContent = photo.caption;
    item.append(caption);
  }
  strip.append(item);
}

const started = new WeakSet();

// Once for what a page came with, and again when others' work made a new one of it (live.js).
function startAll() {
  for (const form of document.querySelectorAll("form[data-photo]")) {
    if (!started.has(form)) start(form);
    started.add(form);
  }
}

startAll();
window.addEventListener("matchmark:swapped", startAll);
