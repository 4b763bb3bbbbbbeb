// Starting a run: the pieces chosen, each on its offset, and the check list before the first cut.

import { ask, sendAsking } from "./ask.js";
import { clearProblems, showProblems } from "./forms.js";
import { newKey } from "./send.js";

const form = document.getElementById("start-run");
if (form) {
  let key = newKey();
  let busy = false;

  const body = (finished) => {
    const data = new FormData(form);
    const who = document.querySelector("[data-viewer] input[name=who]").value.trim();
    return {
      operation_id: Number(form.dataset.operation),
      pieces: data.getAll("piece").map((id) => ({ piece_id: Number(id), work_offset: data.get(`offset-${id}`) })),
      rpm: data.get("rpm"),
      feed: data.get("feed"),
      feed_unit: document.body.dataset.unit,
      finished,
      who,
    };
  };

  // The first piece ticked sits on the first offset the operation is planned for, the second on the second.
  const planned = form.querySelector("[data-offsets]").dataset.offsets.split(" ").filter(Boolean);
  const boxes = [...form.querySelectorAll("[name=piece]")];
  const chosenByHand = new Set();
  const giveOffsets = () => {
    if (!planned.length) return;
    boxes
      .filter((box) => box.checked)
      .forEach((box, place) => {
        const select = form.elements[`offset-${box.value}`];
        if (!chosenByHand.has(select)) select.value = planned[Math.min(place, planned.length - 1)];
      });
  };
  for (const box of boxes) box.addEventListener("change", giveOffsets);
  for (const select of form.querySelectorAll(".offset select"))
    select.addEventListener("change", () => chosenByHand.add(select));
  document.getElementById("all-ready")?.addEventListener("click", () => {
    for (const box of boxes) box.checked = "ready" in box.dataset;
    giveOffsets();
  });
  giveOffsets();

  const unchecked = () => [...form.querySelectorAll("[data-check]:not(:checked)")].length;

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    const finished = event.submitter?.name === "finished";
    clearProblems(form);
    const asked = body(finished);
    if (!asked.pieces.length) {
      showProblems(form, {
        problems: [{ field: "pieces", read: "", why: "no piece is chosen", accepts: "one piece or more" }],
      });
      return;
    }
    busy = true;
    if (!finished && unchecked()) {
      const text = `${unchecked()} of the checks before starting ${unchecked() === 1 ? "is" : "are"} not ticked. Start all the same?`;
      if ((await ask({ text, choices: [{ label: "Start all the same", sets: {} }] })) === null) {
        busy = false;
        return;
      }
    }
    const result = await sendAsking("start-run", asked, key);
    busy = false;
    if (result.ok) {
      key = newKey();
      location.assign(result.answer.page);
    } else if (!result.question) {
      showProblems(form, result);
    }
  });
}
