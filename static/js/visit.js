// The conditions of a test open by themselves when its value is about to be typed and one of them
// is missing. Without script they open once the draft is saved.

const MISSING = [
  "fieldset:not(:has(:checked))",
  "input[type=text]:placeholder-shown",
  "select:has(option[value='']:checked)",
].map((one) => `${one}:not([data-optional])`);

document.addEventListener("focusin", (event) => {
  const values = event.target.closest(".values");
  const conditions = values?.closest(".entry-row")?.querySelector(".conditions");
  if (conditions?.querySelector(MISSING.join(", "))) conditions.open = true;
});

// A number that was opened stays open when its row is answered.
document.addEventListener("htmx:oobBeforeSwap", ({ detail }) => {
  if (!detail.target.querySelector(".opens[open]")) return;
  detail.fragment.querySelector?.(".opens")?.setAttribute("open", "");
});
