// What others log on this run meanwhile: the page is asked for again, and what is new in it is handed over. Nothing that
// is being typed, and nothing kept on this tablet, is touched.

const GATHER_MS = 400;

// take(fresh, data, began): the page as it is now, what it gives the pad, and when it was asked for.
export function hearOthers(take) {
  let timer = null;
  const look = async () => {
    timer = null;
    const began = Date.now();
    try {
      const response = await fetch(location.pathname);
      const fresh = new DOMParser().parseFromString(await response.text(), "text/html");
      const given = fresh.getElementById("pad-data");
      if (response.ok && given) await take(fresh, JSON.parse(given.textContent), began);
    } catch {
      // Not reached: the next change, or the next page, brings it.
    }
  };
  addEventListener("matchmark:change", () => (timer ??= setTimeout(look, GATHER_MS)));
}
