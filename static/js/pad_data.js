// What the machine page was given, and what every entry made on it carries.

export const data = JSON.parse(document.getElementById("pad-data").textContent);
export const page = document.getElementById("pad-page");

export const who = () => document.querySelector("[data-viewer] input[name=who]").value.trim();
export const moment = () => ({ who: who(), occurred_at: new Date().toISOString() });
export const piece = (id) => data.pieces.find((each) => each.id === Number(id));
