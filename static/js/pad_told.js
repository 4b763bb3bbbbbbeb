// What the pad says of a reading: on its line in the list, and in the large field beside the pad. What the tablet worked
// out itself is marked provisional until the server has answered.

import { savedWord } from "./outbox_view.js";

const marks = document.getElementById("verdict-marks").content;
const told = document.getElementById("told");

export const buttonOf = (target) => document.querySelector(`[data-target="${target.id}"]`);
const drawingOf = (target) => document.querySelector(`[data-drawing="${target.id}"]`);
const markOf = (word) => marks.querySelector(`[data-word="${word}"]`)?.innerHTML ?? "";

// How a line stands now, to be put back when its reading is undone.
export function lineOf(target) {
  const button = buttonOf(target);
  const [line, drawing] = [button.innerHTML, drawingOf(target).innerHTML];
  const wanted = button.hasAttribute("data-wanted");
  return () => {
    button.innerHTML = line;
    drawingOf(target).innerHTML = drawing;
    button.toggleAttribute("data-wanted", wanted);
  };
}

// reading: { target, shown, word, sentence, where: "tablet" | "shop", drawing? }
export function showLine({ target, shown, word, where, drawing }) {
  const button = buttonOf(target);
  button.querySelector(".verdict").innerHTML = markOf(word);
  button.querySelector(".value").textContent = shown;
  button.querySelector(".said").replaceChildren(word, ...(where === "tablet" ? [" ", savedWord(where)] : []));
  button.removeAttribute("data-wanted");
  if (drawing) drawingOf(target).innerHTML = drawing;
}

// A line as it stands on the page just asked for.
export function showFresh(target, fresh) {
  const [line, now] = [fresh.querySelector(`[data-target="${target.id}"]`), buttonOf(target)];
  for (const name of [".verdict", ".what", ".value", ".said"])
    now.querySelector(name).innerHTML = line.querySelector(name).innerHTML;
  now.toggleAttribute("data-wanted", line.hasAttribute("data-wanted"));
  drawingOf(target).innerHTML = fresh.querySelector(`[data-drawing="${target.id}"]`).innerHTML;
}

export function showTold(reading, { undo, series = "" }) {
  const { target, word, shown, sentence, where, differs, asks } = reading;
  told.className = `told told-${(word || "unknown").replaceAll(" ", "-")}`;
  told.dataset.where = where;
  const head = line("told-head", ` ${word || "not judged yet"}`);
  head.insertAdjacentHTML("afterbegin", markOf(word));
  const what = line("told-what", `${target.mark} ${target.name} ${shown} `);
  what.append(savedWord(where));
  told.replaceChildren(head, what, line("told-move", sentence));
  const provisional = "Provisional: worked out on this tablet; the server has not answered yet.";
  if (where === "tablet" && !asks) told.append(line("told-provisional", provisional));
  if (asks) told.append(line("told-differs", "The server has not taken it: see the list under the page."));
  const otherwise = `The server judges otherwise than this tablet did (${differs}). What it says stands.`;
  if (differs) told.append(line("told-differs", otherwise));
  if (series) told.append(line("told-series", series));
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Undo";
  button.setAttribute("aria-label", `Undo ${target.mark} ${target.name} ${shown}`);
  button.addEventListener("click", () => {
    button.disabled = true;
    undo();
  });
  told.append(button);
}

export function showUndone({ target, shown }, how) {
  told.className = "told told-undone";
  told.dataset.where = how;
  const what = line("told-what", `${target.mark} ${target.name} ${shown}`);
  what.prepend(Object.assign(document.createElement("del"), { textContent: "undone" }), " ");
  const said = {
    undone: "It was not sent, and stays in the list on this tablet as undone.",
    "taken back": "It is taken back in the log; the entry stays there, struck out.",
  };
  told.replaceChildren(what, line("told-move", said[how]));
}

function line(className, text) {
  const paragraph = document.createElement("p");
  paragraph.className = className;
  paragraph.textContent = text;
  return paragraph;
}
