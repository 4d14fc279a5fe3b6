// The conditions of a test open by themselves when its value is about to be typed and one of them
// is missing. Without script they open once the draft is saved.

const MISSING = [
  "fieldset:not(:has(:checked))",
  "input[type=text]:placeholder-shown",
  "select:has(option[value='']:checked)",
].map((one) => `${one}:not([data-optional])`);

document.addEventListener("focusin", (event) => {
  const values = event.target.closest(".values");
  const tools = values?.closest(".entry-row")?.querySelector(".tools");
  if (tools?.querySelector(MISSING.map((one) => `.conditions ${one}`).join(", "))) tools.open = true;
});

// A visit opens on the first field that nothing is typed in.
const isBlank = (one) =>
  one.type === "radio" ? !one.closest("fieldset").querySelector(":checked") : !one.value;
const isSeen = (one) => one.checkVisibility({ visibilityProperty: true });
if (!location.hash && !document.querySelector("[data-focus]")) {
  const values = [...document.querySelectorAll(".ledger-form .values input")];
  values.find((one) => isSeen(one) && isBlank(one))?.focus({ preventScroll: true });
}

// A touch on "lacks" or "beyond straight" asks for the degrees; the arrow keys go on choosing.
document.addEventListener("click", ({ target, detail }) => {
  const degrees = target.closest(".typed-extension .chips")?.parentElement.querySelector(".number input");
  if (detail > 0 && target.checked && degrees && isSeen(degrees)) degrees.focus();
});

// A number that was opened stays open when its row is answered.
document.addEventListener("htmx:oobBeforeSwap", ({ detail }) => {
  if (!detail.target.querySelector(".opens[open]")) return;
  detail.fragment.querySelector?.(".opens")?.setAttribute("open", "");
});
