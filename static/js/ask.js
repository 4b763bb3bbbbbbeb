// Asks instead of guessing: shows the server's question with its answers.

import { send } from "./send.js";

const answered = new Map(); // by key: the body as it was typed, and what the answers to the questions about it set

// Sends an action and, where the server asks, sends it again with what the answers set. Resolves as `send` does; with a
// question still in it where that was left. The same body sent once more under its key, because no answer came, says
// again what was answered before: the server may have done it, and would refuse another request under that key.
export async function sendAsking(path, body, key) {
  const typed = JSON.stringify(body);
  const before = answered.get(key);
  const sets = before?.typed === typed ? before.sets : {};
  let result = await send(path, { ...body, ...sets }, key);
  while (!result.ok && result.question) {
    const more = await ask(result.question);
    if (more === null) break;
    Object.assign(sets, more);
    answered.set(key, { typed, sets });
    result = await send(path, { ...body, ...sets }, key);
  }
  return result;
}

// Resolves to the fields the chosen answer sets, or null when it was left.
export function ask(question) {
  const dialog = document.getElementById("question");
  dialog.querySelector("p").textContent = question.text;
  const choices = dialog.querySelector(".choices");
  choices.replaceChildren();
  return new Promise((resolve) => {
    let chosen = null;
    const add = (label, sets, main) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = label;
      if (main) button.className = "main";
      button.addEventListener("click", () => {
        chosen = sets;
        dialog.close();
      });
      choices.append(button);
    };
    question.choices.forEach((choice, place) => add(choice.label, choice.sets, place === 0));
    add("Leave it", null, false);
    dialog.addEventListener("close", () => resolve(chosen), { once: true });
    dialog.showModal();
  });
}
