// The page Pair: takes the code from behind the # of its address, where no server sees it, and wipes it from there so
// that it stays in no history.

const form = document.querySelector("[data-pair]");

function take() {
  const code = decodeURIComponent(location.hash.slice(1));
  if (!form || !code) return;
  history.replaceState(null, "", location.pathname);
  form.elements.code.value = code;
  form.elements.name.focus();
}

addEventListener("hashchange", take);
take();
