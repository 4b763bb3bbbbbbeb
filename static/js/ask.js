// Asks instead of guessing: shows the server's question with its answers. Resolves to the fields the chosen answer
// sets, or null when it was left.

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
