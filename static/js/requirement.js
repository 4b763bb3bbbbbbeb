// Shows what a requirement means while it is typed: its limits, the standard they come from, and for a thread what to
// read over wires.

const form = document.querySelector("form[data-general]");
const means = document.getElementById("means");
let turn = 0;
let waiting;

async function look() {
  const mine = ++turn;
  const text = form.elements.requirement.value.trim();
  const cutting = form.elements.cutting.value;
  if (!text) {
    means.hidden = true;
    return;
  }
  const asked = new URLSearchParams({ text, unit: form.elements.unit.value, cutting, general: form.dataset.general });
  let response;
  try {
    response = await fetch(`/api/handbook/requirement?${asked}`);
  } catch {
    return; // saving will tell
  }
  const answer = await response.json();
  if (mine !== turn) return;
  means.textContent = response.ok ? inWords(answer) : "";
  means.hidden = !means.textContent;
}

function inWords({ kind, low, high, unit, standard, over_wires: wires }) {
  if (kind === "reference") return "For reference: not judged.";
  const limits = low && high ? `${low} to ${high} ${unit}` : low ? `${low} ${unit} or more` : `${high} ${unit} or less`;
  const by = standard ? `, ${standard}` : "";
  const over = wires ? `. Over three ${wires.wire} ${unit} wires the micrometer reads ${wires.low} to ${wires.high}` : "";
  return `${limits}${by}${over}.`;
}

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(look, 150);
});
look();
