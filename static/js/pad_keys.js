// The keys of the pad, and those of a keyboard or a gauge that types: whatever is typed on this page outside a field of
// its own goes to the figure, so that a gauge needs no touch even when the focus was lost.

export function keysInto(pad, input, { changed, save }) {
  const put = (value) => {
    input.value = value.slice(0, 80);
    changed();
  };
  const press = (name) => {
    if (name === "back") put(input.value.slice(0, -1));
    else if (name === "clear") put("");
    else if (name === "±") put(/^[-−]/.test(input.value) ? input.value.slice(1) : `-${input.value.replace(/^\+/, "")}`);
    else put(input.value + name);
    input.focus({ preventScroll: true });
  };
  for (const key of pad.querySelectorAll("[data-key]")) key.addEventListener("click", () => press(key.dataset.key));

  document.addEventListener("keydown", (event) => {
    const at = event.target;
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing || pad.hidden) return;
    if (at.closest?.("input, textarea, select, [contenteditable]") || document.querySelector("dialog[open]")) return;
    if (/^[0-9.,+\-−]$/.test(event.key)) {
      // Put here and not left to the browser: which element gets a key whose focus moves meanwhile is its own affair.
      event.preventDefault();
      input.focus({ preventScroll: true });
      put(input.value + event.key);
    } else if (event.key === "Enter" && input.value && !at.closest?.("button, a, summary")) {
      event.preventDefault();
      save();
    } else if (event.key === "Backspace" && input.value) {
      event.preventDefault();
      press("back");
    }
  });
}
