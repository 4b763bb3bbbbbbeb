// A sheet, pasted or loaded: read by the server, shown with every cell it cannot read, taken only when all of it can be.

import { fieldsOf, problemInWords } from "./forms.js";
import { newKey, send } from "./send.js";

const form = document.getElementById("sheet");
const byId = (id) => document.getElementById(id);
const text = byId("sheet-text");
const error = form.querySelector("[data-sheet-error]");

let file = "";
let kind = null;
let columns = {};
let key = newKey();
let looked = 0;

const base = () => ({
  build_id: Number(form.dataset.build),
  part_id: form.dataset.part ? Number(form.dataset.part) : null,
  kind,
  text: file ? "" : text.value,
  file,
  columns,
});

async function look() {
  const turn = ++looked;
  error.hidden = true;
  byId("sheet-take").disabled = true;
  const result = await send("preview-sheet", base(), key);
  if (turn !== looked) return;
  if (!result.ok) {
    byId("sheet-preview").hidden = true;
    error.textContent = result.problems.map(problemInWords).join(" ") || result.message;
    error.hidden = false;
    return;
  }
  show(result.answer);
}

function show(found) {
  byId("sheet-preview").hidden = false;
  for (const button of form.querySelectorAll("[data-kind]"))
    button.setAttribute("aria-pressed", String(button.dataset.kind === found.kind));
  byId("sheet-said").textContent = said(found);
  list(byId("sheet-notes"), found.notes);
  list(
    byId("sheet-problems"),
    found.problems.map((each) => `Line ${each.line}, ${each.heading}: ${problemInWords(each)}`),
  );
  list(
    byId("sheet-changes"),
    found.changes.map((each) => `${each.what}: ${each.said}`),
  );
  byId("sheet-changes-head").hidden = !found.changes.length;
  table(found);
  byId("sheet-look").classList.toggle("main", !found.can_be_taken);
  byId("sheet-take").disabled = !found.can_be_taken;
  byId("sheet-why-not").textContent = found.can_be_taken ? "" : "Nothing is taken until all of it can be.";
  byId("sheet-preview").scrollIntoView({ block: "nearest" });
}

function said(found) {
  if (!found.kind) return "The headings do not say what it is. Say whether these are dimensions or operations.";
  const label = (name) => found.fields.find((field) => field.name === name)?.label ?? name;
  if (found.missing.length)
    return `No column for ${found.missing.map(label).join(", ")}. Say below which column it is, or add it to the sheet.`;
  if (found.duplicates.length)
    return `More than one column for ${found.duplicates.map((each) => label(each.field)).join(", ")}. Say below which one counts.`;
  const rows = `${found.row_count} ${found.kind.slice(0, found.row_count === 1 ? -1 : undefined)}`;
  const wrong = found.problems.length;
  if (wrong) return `${rows}; ${wrong} ${wrong === 1 ? "cell" : "cells"} cannot be read.`;
  const { new: fresh, changed, unchanged } = found.counts;
  const counts = [
    [fresh, "new"],
    [changed, "changed"],
    [unchanged, "as in the plan"],
  ].filter(([count]) => count);
  return `${rows}, all of it can be read: ${counts.map(([count, word]) => `${count} ${word}`).join(", ")}.`;
}

function list(where, lines) {
  where.replaceChildren(
    ...lines.map((line) => {
      const item = document.createElement("li");
      item.textContent = line;
      return item;
    }),
  );
}

function table(found) {
  const head = document.createElement("tr");
  head.append(cell("th", "Line"));
  for (const column of found.headings) {
    const th = cell("th", column.heading || "(no heading)");
    if (found.fields.length) th.append(picker(column, found));
    head.append(th);
  }
  const wrong = new Map(found.problems.map((each) => [`${each.line}:${each.column}`, each]));
  const body = document.createElement("tbody");
  for (const row of found.rows) {
    const tr = document.createElement("tr");
    tr.append(cell("td", row.line));
    row.cells.forEach((value, index) => {
      const td = cell("td", value);
      const problem = wrong.get(`${row.line}:${index}`);
      if (problem) {
        td.className = "wrong";
        const why = document.createElement("span");
        why.className = "cell-why";
        why.textContent = problem.why;
        td.append(why);
      }
      tr.append(td);
    });
    body.append(tr);
  }
  const thead = document.createElement("thead");
  thead.append(head);
  byId("sheet-table").replaceChildren(thead, body);
}

// What a column is taken for; the builder may place a heading that is not known, or leave a column out.
function picker(column, found) {
  const select = document.createElement("select");
  select.setAttribute("aria-label", `What “${column.heading}” is`);
  const add = (value, label) => {
    const option = document.createElement("option");
    option.value = value;
    option.textContent = label;
    option.selected = value === column.field;
    select.append(option);
  };
  if (!column.field) add("", "not known: leave out");
  for (const field of found.fields) add(field.name, field.label);
  if (column.field) add("leave out", "leave out");
  if (!column.field) select.classList.add("unplaced");
  select.addEventListener("change", () => {
    columns = { ...columns, [column.index]: select.value };
    look();
  });
  return select;
}

function cell(tag, value) {
  const made = document.createElement(tag);
  made.textContent = value;
  if (tag === "th") made.scope = "col";
  return made;
}

function forgetColumns() {
  columns = {};
  kind = null;
  key = newKey();
}

byId("sheet-look").addEventListener("click", look);
text.addEventListener("input", () => {
  file = "";
  byId("sheet-file").value = "";
  byId("sheet-file-name").textContent = "";
  forgetColumns();
});
text.addEventListener("paste", () => setTimeout(look));
byId("sheet-file").addEventListener("change", async (event) => {
  const chosen = event.target.files[0];
  if (!chosen) return;
  forgetColumns();
  byId("sheet-file-name").textContent = chosen.name;
  if (chosen.size > 5_000_000) {
    error.textContent = `“${chosen.name}” is larger than 5 MB. Accepted: a CSV file of at most 5 MB.`;
    error.hidden = false;
    return;
  }
  const bytes = new Uint8Array(await chosen.arrayBuffer());
  let binary = "";
  for (let start = 0; start < bytes.length; start += 32768)
    binary += String.fromCharCode(...bytes.subarray(start, start + 32768));
  file = btoa(binary);
  if (!file) {
    error.textContent = `“${chosen.name}” is empty. Accepted: a CSV file with headings and rows.`;
    error.hidden = false;
    byId("sheet-preview").hidden = true;
    return;
  }
  look();
});
for (const button of form.querySelectorAll("[data-kind]"))
  button.addEventListener("click", () => {
    kind = button.dataset.kind;
    columns = {};
    look();
  });
byId("sheet-take").addEventListener("click", async () => {
  byId("sheet-take").disabled = true;
  const who = fieldsOf(form).who ?? "";
  const result = await send("load-plan", { ...base(), who }, key);
  if (result.ok) {
    location.assign(result.answer.page);
    return;
  }
  error.textContent = result.problems.map(problemInWords).join(" ") || result.message;
  error.hidden = false;
  byId("sheet-take").disabled = false;
});
form.addEventListener("submit", (event) => event.preventDefault());
