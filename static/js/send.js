// Sends one action to the server. A key made when the form is opened goes with it, so that a double tap or a second
// try after a lost answer is done once.

const TIMEOUT_MS = 20000;

// crypto.randomUUID is missing on plain http; getRandomValues is everywhere.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const NOT_REACHED =
  "Not saved: the server did not answer. What you entered is still here; try again when it is back.";

// The bare exchange: { status, answer, date }, where answer is null unless the body is a JSON object; or null when
// nothing came back in time. A redirection is not followed: an action has one address, and an answer from another one
// is nobody's word that it was done.
export async function post(path, body, key) {
  const giveUp = new AbortController();
  const timer = setTimeout(() => giveUp.abort(), TIMEOUT_MS);
  try {
    const response = await fetch(`/api/${path}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "Idempotency-Key": key },
      body: JSON.stringify(body),
      redirect: "manual",
      signal: giveUp.signal,
    });
    const text = await response.text();
    return { status: response.status, answer: objectIn(text), date: Date.parse(response.headers.get("Date") ?? "") };
  } catch {
    return null;
  } finally {
    clearTimeout(timer);
  }
}

function objectIn(text) {
  try {
    const read = JSON.parse(text);
    return read !== null && typeof read === "object" && !Array.isArray(read) ? read : null;
  } catch {
    return null;
  }
}

// Resolves to { ok: true, answer } or { ok: false, problems, question, message }.
export async function send(path, body, key) {
  const reply = await post(path, body, key);
  if (reply === null) return { ok: false, problems: [], question: null, message: NOT_REACHED };
  const { status, answer } = reply;
  if (answer === null) {
    const message = `Not saved: the server answered with ${status} and nothing that can be read.`;
    return { ok: false, problems: [], question: null, message };
  }
  if (status >= 200 && status < 300) return { ok: true, answer };
  return { ok: false, problems: answer.problems ?? [], question: answer.question ?? null, message: answer.message ?? "" };
}
