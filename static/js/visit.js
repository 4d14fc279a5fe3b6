// The conditions of a test open by themselves when its value is about to be typed and they are
// not complete. Without script they open once the draft is saved.

document.addEventListener("focusin", (event) => {
  const values = event.target.closest(".values");
  const conditions = values?.closest(".entry-row")?.querySelector(".conditions[data-needed]");
  if (conditions) conditions.open = true;
});
