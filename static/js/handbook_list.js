// Finds a page of the handbook by the words of its title and question.

const find = document.getElementById("find");
const items = [...document.querySelectorAll("[data-words]")];

find.addEventListener("input", () => {
  const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
  for (const item of items) item.hidden = !words.every((word) => item.dataset.words.includes(word));
  for (const chapter of document.querySelectorAll(".chapter"))
    chapter.hidden = !chapter.querySelector("[data-words]:not([hidden])");
  document.getElementById("none-found").hidden = items.some((item) => !item.hidden);
});
find.focus();
