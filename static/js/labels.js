// Choosing labels: all of a part at once, and how many sheets it comes to.

const form = document.getElementById("labels");
const told = document.getElementById("label-count");

function count() {
  const labels = form.querySelectorAll("input[type=checkbox]:checked").length * (Number(form.elements.copies.value) || 1);
  const each = Number(form.elements.sheet.selectedOptions[0].dataset.each);
  const start = Math.max(Number(form.elements.start.value) || 1, 1);
  const sheets = Math.ceil((labels + start - 1) / each);
  told.textContent = labels ? `${labels} ${labels === 1 ? "label" : "labels"}, ${sheets} ${sheets === 1 ? "sheet" : "sheets"}` : "Nothing is ticked yet";
}

if (form) {
  for (const button of form.querySelectorAll("[data-tick]")) {
    button.addEventListener("click", () => {
      const boxes = [...button.closest("fieldset").querySelectorAll("input[name=piece]")];
      const all = boxes.length ? boxes : [...button.closest("fieldset").querySelectorAll("input[name=operation]")];
      const on = all.some((box) => !box.checked);
      for (const box of all) box.checked = on;
      count();
    });
  }
  form.addEventListener("input", count);
  count();
}
