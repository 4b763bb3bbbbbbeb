// The run this page is about: its number, or the key of the request that starts it until the server has given it one.
// Finishing it, cutting again, and what went wrong are kept on the tablet like readings, so that the page goes on when
// the server is out of reach.

import { clearProblems, fieldsOf, showProblems } from "./forms.js";
import { items, keep, listen, outcome } from "./outbox.js";
import { savedWord } from "./outbox_view.js";
import { data, moment, piece } from "./pad_data.js";
import { newKey } from "./send.js";

const run = { id: data.run_id, key: null };
const said = (name) => document.querySelector(`[data-run="${name}"]`);
const agains = new Set();

export const named = () => (run.key ? { run_key: run.key } : { run_id: run.id });
export const onAgain = (hear) => agains.add(hear);

const token = () => (run.key ? `r:${run.key}` : `r${run.id}`);
const everyPiece = () => data.pieces.map((each) => `p${each.id}`);

// What an entry must come in order with, and what must wait for it. A note keeps nothing else waiting.
export function order(path, body, key) {
  const dimension = `p${body.piece_id}/d${body.dimension_id}`;
  if (path === "take-reading") return { holds: [dimension], waits: [dimension, token()] };
  if (path === "scrap-piece") return { holds: [`p${body.piece_id}`], waits: [`p${body.piece_id}`, token()] };
  if (path === "log-event") return { holds: [], waits: [token()] };
  const all = [...everyPiece(), token()];
  return { holds: path === "cut-again" ? [...all, `r:${key}`] : all, waits: all };
}

const CALLED = { "cutter broken": "Cutter broken", chatter: "Chatter", note: "Note" };

function inWords(path, body) {
  const operation = `${data.part} op ${data.operation}`;
  if (path === "scrap-piece") return `Scrap ${piece(body.piece_id).mark}: ${body.text}`;
  if (path === "log-event") return `${CALLED[body.kind]}: ${body.text}`;
  if (path === "cut-again") return `Cut again: ${operation}`;
  return `${body.outcome === "broken off" ? "Broken off" : "Finish the run"}: ${operation}`;
}

// ---- The buttons and what they keep
for (const form of document.querySelectorAll("form[data-keep]")) {
  let key = newKey();
  let busy = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    clearProblems(form);
    const mine = key;
    const path = form.dataset.keep;
    const body = { ...named(), ...fieldsOf(form), ...moment() };
    if (body.piece_id) body.piece_id = Number(body.piece_id);
    const problems = lacking(form, body);
    if (problems.length) showProblems(form, { problems });
    else {
      if (path === "log-event") body.build_id = data.build_id;
      const became = outcome(mine);
      const before = { ...run };
      const kept = keep({ key: mine, path, body, what: inWords(path, body), build_id: data.build_id, ...order(path, body, mine) });
      // At once: a gauge may type before the tablet's disk has it, and what it types belongs to the new run.
      if (path === "cut-again") Object.assign(run, { id: null, key: mine });
      try {
        await kept.catch((error) => {
          Object.assign(run, before);
          throw error;
        });
      } catch (error) {
        showProblems(form, { problems: [], message: `Not saved: this tablet could not keep it (${error.message}).` });
        busy = false;
        return;
      }
      key = newKey();
      busy = false;
      AFTER[path]({ form, key: mine, body, became });
    }
    busy = false;
  });
}

function lacking(form, body) {
  return [...form.querySelectorAll("[data-field]")]
    .map((field) => field.dataset.field)
    .filter((name) => !String(body[name] ?? "").trim())
    .map((field) => ({ field, read: "", why: "nothing was entered", accepts: "something here" }));
}

const words = new Map(); // by key: where "saved on this tablet" becomes "saved"
function showSaved(place, key, where = "tablet") {
  place.hidden = false;
  place.replaceChildren(savedWord(where));
  words.set(key, place);
}

const AFTER = {
  "log-event": ({ form, key }) => {
    form.reset();
    showSaved(form.querySelector("[data-kept]"), key);
  },
  "scrap-piece": ({ form, key, body }) => {
    form.reset();
    scrapped(body.piece_id, key);
  },
  "cut-again": ({ key }) => again(key),
  "finish-run": async ({ key, body, became }) => {
    over(body.outcome ?? "finished", key);
    const result = await became;
    if (result.sent) location.assign(result.answer.page);
  },
};

function scrapped(id, key) {
  document.querySelector(`[data-piece-state="${id}"]`).textContent = "scrap";
  document.querySelector(`[data-scrap-choice="${id}"]`)?.remove();
  showSaved(document.querySelector(`[data-piece-saved="${id}"]`), key);
}

function again(key, fresh = true) {
  Object.assign(run, { id: null, key });
  const at = new Date().toLocaleTimeString([], { timeStyle: "short" });
  said("since").textContent = fresh ? `cut again since ${at}` : "cut again";
  showSaved(said("saved"), key);
  for (const hear of agains) hear();
}

function over(outcome, key) {
  said("open").hidden = true;
  said("over").hidden = false;
  said("over-said").textContent = `This run is over: ${outcome}. Readings can still be added to it.`;
  said("next").hidden = true;
  const following = data.following[0];
  const how = following && [following.name, following.machine, following.setup].filter(Boolean).join(", ");
  said("following").textContent = following
    ? `Next in the plan of ${data.part}: op ${following.number} ${how}. Starting it needs the server.`
    : `No operation follows in the plan of ${data.part}.`;
  showSaved(said("over-saved"), key);
}

// ---- What the server makes of it
listen((news) => {
  if (news.kind === "sent") {
    if (news.path === "cut-again" && run.key === news.key) {
      Object.assign(run, { id: news.answer.run_id, key: null });
      history.replaceState(null, "", news.answer.page);
    }
    if (words.has(news.key)) showSaved(words.get(news.key), news.key, "shop");
    if (news.path === "finish-run") said("next").hidden = false;
  } else if (news.kind === "told" && words.has(news.key)) {
    // It is in the list, with the server's words; here nothing may look saved any more.
    words.get(news.key).replaceChildren("needs attention: see the list under the page");
    if (words.get(news.key) === said("over-saved")) said("open").hidden = false;
  }
});

// A page loaded again takes up what this tablet did with its run before the server knew.
export async function takeUp() {
  const mine = (body) => (run.key ? body.run_key === run.key : body.run_id === run.id);
  for (const { key, path, body, state } of await items()) {
    if (state !== "waiting" && state !== "attention") continue;
    if (path === "cut-again" && mine(body)) again(key, false);
    if (path === "finish-run" && mine(body)) over(body.outcome ?? "finished", key);
    if (path === "scrap-piece" && piece(body.piece_id)) scrapped(body.piece_id, key);
  }
}
