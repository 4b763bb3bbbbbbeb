// Sends one action to the server. A key made when the form is opened goes with it, so that a double tap or a second
// try after a lost answer is done once.

// crypto.randomUUID is missing on plain http; getRandomValues is everywhere.
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const NOT_REACHED =
  "Not saved: the server did not answer. What you entered is still here; try again when it is back.";

// Resolves to { ok: true, answer } or { ok: false, problems, question, message }.
export async function send(path, body, key) {
  let response;
  try {
    response = await fetch(`/api/${path}`, {
      method: "POST",
      headers: { "Content-Type": "application/json", "Idempotency-Key": key },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(20000),
    });
  } catch {
    return { ok: false, problems: [], question: null, message: NOT_REACHED };
  }
  let answer;
  try {
    answer = await response.json();
  } catch {
    const message = `Not saved: the server answered with ${response.status} and nothing that can be read.`;
    return { ok: false, problems: [], question: null, message };
  }
  if (response.ok) return { ok: true, answer };
  return { ok: false, problems: answer.problems ?? [], question: answer.question ?? null, message: answer.message ?? "" };
}
