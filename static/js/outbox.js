// The queue of what is kept on this tablet and the one who delivers it: look, send, and only when the server has
// answered, take out. A lost connection or a server in trouble stops the queue and is tried again; what the server
// refuses or asks about waits for the builder, with everything that depends on it, while the rest goes on.

import { newKey, post } from "./send.js";
import * as store from "./outbox_store.js";

const LEASE_MS = 6000;
const FIRST_RETRY_MS = 1000;
const LAST_RETRY_MS = 30000;
const FAULTS_AT_MOST = 3;

// One and the same for all the pages a tab shows one after the other, so that none waits for the page before it. A tab
// that is copied shares it with its copy: then both send, and the server's key keeps it to once.
const owner = sessionStorage.getItem("outbox-owner") ?? newKey();
sessionStorage.setItem("outbox-owner", owner);
const channel = typeof BroadcastChannel === "function" ? new BroadcastChannel("matchmark-outbox") : null;
const listeners = new Set();

// How things stand: reach is "fine", "unreached", "unpaired" or "closed" (nothing can be kept here), with the words for
// it; clock_ahead_ms is this tablet's clock against the server's, null until that is known.
export const standing = { waiting: 0, attention: 0, aside: 0, reach: "fine", words: "", clock_ahead_ms: null };

// ---- What happens is told to whoever listens, in this tab and in the others.
// kind: "kept", "sent" (with the answer), "told" (a refusal or a question), "changed", "unreached", "unpaired".
export function listen(hear) {
  listeners.add(hear);
  return () => listeners.delete(hear);
}

async function tell(news) {
  await count().catch(() => undefined); // what is kept is kept, though it could not be counted just now
  for (const hear of listeners) hear(news);
  channel?.postMessage(news);
}

channel?.addEventListener("message", async ({ data }) => {
  await count().catch(() => undefined);
  for (const hear of listeners) hear(data);
  plan();
});

async function count() {
  const [waiting, attention, aside, undone] = await store.count("waiting", "attention", "aside", "undone");
  Object.assign(standing, { waiting, attention, aside: aside + undone });
}

// ---- Keeping
let keeping = 0; // entries on their way to the tablet's disk: a page that is left now would lose them

// entry: { key, path, body, what, build_id, holds, waits }. what: the entry in words. waits: the things it must come
// in order with; holds: the things whose later entries must wait for it. "p3/d7" is a part of "p3".
// Resolves when it is on the tablet's disk.
export async function keep(entry) {
  keeping += 1;
  try {
    await store.add(asItem(entry));
  } finally {
    keeping -= 1;
  }
  await tell({ kind: "kept", key: entry.key });
  deliver();
}

// Resolves to what became of it at the first attempt: { sent, answer }, { told } or { waiting }.
export function outcome(key, patience_ms = 4000) {
  return new Promise((resolve) => {
    const done = (result) => {
      clearTimeout(timer);
      stop();
      resolve(result);
    };
    const timer = setTimeout(() => done({ waiting: true }), patience_ms);
    const stop = listen((news) => {
      if (news.key === key && news.kind === "sent") done({ sent: true, answer: news.answer });
      else if (news.key === key && news.kind === "told") done({ told: news.told });
      else if (news.kind === "unreached" || news.kind === "unpaired") done({ waiting: true });
    });
  });
}

function asItem({ key, path, body, what, build_id = null, holds = [], waits = [], fill = null }) {
  const created_at = new Date().toISOString();
  return { key, path, body, what, build_id, holds, waits, fill, created_at, attempts: 0, state: "waiting", told: null };
}

export const items = store.all;

// ---- What the builder does with what is kept
// Undoes an entry of a reading: one that was never sent is not sent, and stays in the list as undone; one that may have
// arrived is followed by its being taken back. Resolves to "undone", "taken back", or "gone" where it has been answered.
export async function undo(key, takeBack) {
  let how = "gone";
  const edit = (item) => {
    if (item.state === "attention" || (item.state === "waiting" && item.attempts === 0)) {
      how = "undone";
      return { ...item, state: "undone" };
    }
    if (item.state !== "waiting") {
      how = "undone";
      return undefined;
    }
    how = "taken back";
    return item.undone_by ? undefined : { ...item, undone_by: takeBack.key };
  };
  const more = () => (how === "taken back" ? [asItem({ ...takeBack, fill: { field: "reading_id", from: key } })] : []);
  await store.change(key, edit, more);
  await tell({ kind: "changed", key });
  deliver();
  return how;
}

// Sends it again, with what an answer to the server's question sets.
export async function again(key, sets = {}) {
  await store.change(key, (item) => ({ ...item, body: { ...item.body, ...sets }, state: "waiting", told: null }));
  await tell({ kind: "changed", key });
  deliver();
}

export async function putAside(key) {
  await store.change(key, (item) => ({ ...item, state: "aside" }));
  await tell({ kind: "changed", key });
  deliver();
}

// Nothing is thrown away without a trace: a note with what it was and why takes its place.
export async function throwAway(item, reason, who) {
  const body = { kind: "note", text: `Thrown away at the tablet, not sent: ${item.what}. Why: ${reason}`.slice(0, 2000) };
  if (item.build_id !== null) body.build_id = item.build_id;
  if (item.body.piece_id) body.piece_id = item.body.piece_id;
  if (who) body.who = who;
  body.occurred_at = new Date().toISOString();
  const note = { key: newKey(), path: "log-event", body, what: `Note: ${body.text}`, build_id: item.build_id };
  await store.take(item.key, { more: [asItem(note)] });
  await tell({ kind: "changed", key: item.key });
  deliver();
}

// ---- Sending
// Shown the items in their order, it says which is the first that waits for nothing before it.
export function nextOf() {
  const held = [];
  return (item) => {
    const free = !item.waits.some((wait) => held.some((hold) => touch(hold, wait)));
    if (item.state === "waiting" && free && !item.fill) return true;
    if (item.state === "waiting" || item.state === "attention") held.push(...item.holds);
    return false;
  };
}

const touch = (a, b) => a === b || a.startsWith(`${b}/`) || b.startsWith(`${a}/`);

// What a reply means: "sent", "told" (the server will not take it so), "unpaired", or "unreached" with the words why.
export function meaning(reply) {
  if (reply === null) return { is: "unreached", words: "the server does not answer" };
  const { status, answer } = reply;
  if (status >= 200 && status < 300) {
    return answer ? { is: "sent" } : { is: "unreached", words: "something that is not the server answered" };
  }
  if (status === 401) return { is: "unpaired", words: answer?.message || "pair this tablet again" };
  if (status >= 400 && status < 500 && ![408, 425, 429].includes(status)) return { is: "told" };
  return { is: "unreached", words: answer?.message || `the server is in trouble (${status})` };
}

let running = null;
let nudged = false;
let failures = 0;
let timer = null;
let busyUntil = 0; // another tab is sending until then, or sooner

// Delivers what can be delivered; resolves when there is nothing more to do now.
export function deliver() {
  nudged = true;
  // Where the tablet's own store gave up half-way (the page is being closed), nothing was taken out: it is tried again.
  const failed = () => (failures += 1);
  running ??= work()
    .catch(failed)
    .finally(() => {
      running = null;
      plan();
    });
  return running;
}

async function work() {
  while (nudged) {
    nudged = false;
    let more = true;
    while (more) more = await one();
  }
}

// Sends one item. Resolves to whether to go on.
async function one() {
  const claimed = await store.claim(owner, LEASE_MS, nextOf());
  if (claimed === null) {
    if (standing.reach !== "fine" && standing.waiting === 0) reached();
    return false;
  }
  busyUntil = claimed.until ?? 0;
  if (claimed.until) return false;
  const { item } = claimed;
  const beat = setInterval(() => store.extend(owner, LEASE_MS), LEASE_MS / 3);
  const reply = await post(item.path, item.body, item.key);
  clearInterval(beat);
  if (reply && !Number.isNaN(reply.date)) standing.clock_ahead_ms = Date.now() - reply.date;
  const faults = (item.faults ?? 0) + (reply?.status === 500 ? 1 : 0);
  const { is, words } = faults >= FAULTS_AT_MOST ? { is: "told" } : meaning(reply);
  if (is === "sent") {
    reached();
    const filled = (body, field) => ({ ...body, [field]: reply.answer[field] });
    await store.take(item.key, { fill: (each) => ({ ...each, body: filled(each.body, each.fill.field), fill: null }) });
    await tell({ kind: "sent", key: item.key, path: item.path, body: item.body, answer: reply.answer });
    return true;
  }
  if (is === "told") {
    reached();
    const { problems = [], question = null, message = "" } = reply.answer ?? {};
    const told = { status: reply.status, problems, question, message: message || `refused (${reply.status})` };
    const edit = (kept) => (kept.state === "waiting" ? { ...kept, state: "attention", told, faults: 0 } : undefined);
    const now = await store.change(item.key, edit);
    // It was undone while it was under way; now it is certain that the server has nothing of it to take back.
    if (now?.undone_by && reply.status !== 500) {
      await store.change(now.key, ({ undone_by, ...kept }) => ({ ...kept, state: "undone" }));
      await store.take(now.undone_by);
    }
    await tell({ kind: "told", key: item.key, told });
    return true;
  }
  // A fault of the program that comes at one entry each time must not keep every later one waiting for ever.
  if (faults) await store.change(item.key, (kept) => ({ ...kept, faults }));
  failures += 1;
  standing.reach = is;
  standing.words = words;
  await store.release(owner);
  await tell({ kind: is, words });
  return false;
}

function reached() {
  failures = 0;
  standing.reach = "fine";
  standing.words = "";
}

// The next try by itself: sooner at first, then slower, and never at the same moment as another tablet's.
function plan() {
  clearTimeout(timer);
  if (running || standing.waiting === 0) return;
  const wait = Math.min(LAST_RETRY_MS, FIRST_RETRY_MS * 2 ** failures) * (0.5 + Math.random());
  timer = setTimeout(deliver, Math.max(wait, busyUntil - Date.now()));
}

// ---- When to try
export async function begin() {
  try {
    await count();
    for (const hear of listeners) hear({ kind: "changed" });
  } catch (error) {
    standing.reach = "closed";
    standing.words = `this browser keeps nothing (${error.message})`;
    for (const hear of listeners) hear({ kind: "changed" });
    return;
  }
  deliver();
}

addEventListener("online", deliver);
addEventListener("pageshow", deliver);
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible") deliver();
});
addEventListener("beforeunload", (event) => {
  if (standing.waiting === 0 && keeping === 0) return;
  event.preventDefault();
  event.returnValue = "";
});
