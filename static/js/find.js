// A field that finds among many buttons: those without all of its words are hidden, and groups with
// a match open. Without script the groups are opened by hand.

function find(field) {
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  for (const group of document.querySelectorAll(`${field.dataset.finds} details`)) {
    const buttons = [...group.querySelectorAll("[data-find]")];
    for (const button of buttons) {
      button.hidden = !words.every((word) => button.dataset.find.includes(word));
    }
    group.hidden = buttons.every((button) => button.hidden);
    group.open = words.length > 0 && !group.hidden;
  }
}

document.addEventListener("input", (event) => {
  if (event.target.matches("[data-finds]")) find(event.target);
});
