// A field that finds among many measures: those without all of its words are hidden, and groups with
// a match open. Without script the groups are opened by hand.

function find(field) {
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  for (const group of document.querySelectorAll(`${field.dataset.finds} details:has([data-find])`)) {
    const found = [...group.querySelectorAll("[data-find]")];
    for (const one of found) {
      one.hidden = !words.every((word) => one.dataset.find.includes(word));
    }
    group.hidden = found.every((one) => one.hidden);
    group.open = words.length > 0 && !group.hidden;
  }
}

document.addEventListener("input", (event) => {
  if (event.target.matches("[data-finds]")) find(event.target);
});
