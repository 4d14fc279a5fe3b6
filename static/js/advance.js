// A complete number moves on to the next field: no further digit could make it a value of its test.
// Nothing is taken from it: a decimal mark or a backspace right afterwards goes back to that number,
// and so do Shift and Tab. Another unit, a longer number and a changed one wait for Enter, and so
// does a row of choices: that is touched, and the page would move under the finger.

let left = null;

function isComplete(field) {
  const { most, mostIn, decimals } = field.dataset;
  const unit = field.closest(".entry-row")?.querySelector("select[name^='u:']");
  const [, whole, part] = /^(\d+)(?:[.,](\d+))?$/.exec(field.value) ?? [];
  if (whole === undefined || (unit && unit.value !== mostIn)) return false;
  if (part !== undefined) return decimals > 0 && part.length >= decimals;
  if (decimals > 0 && whole.length < 3) return false;
  return whole * 10 > most || (decimals === "0" && whole === "0");
}

function moveOn({ target: field, inputType }) {
  left = null;
  if (inputType !== "insertText" || !field.matches("input[data-most]")) return;
  if (field.selectionEnd < field.value.length || !isComplete(field)) return;
  field.dispatchEvent(new CustomEvent("move-on", { bubbles: true }));
  const to = document.activeElement;
  if (to !== field) left = { from: field, to };
}

function goBack(event, change) {
  const { from } = left;
  event.preventDefault();
  from.focus();
  from.value = change(from.value);
  from.setSelectionRange(from.value.length, from.value.length);
  from.dispatchEvent(new Event("input", { bubbles: true }));
}

function belongsBefore(event, key) {
  if (left?.to !== event.target) return;
  const isMark = (key === "." || key === ",") && /^\d+$/.test(left.from.value);
  if (isMark) goBack(event, (text) => text + key);
  else if (key === "Backspace" && !left.to.value) goBack(event, (text) => text.slice(0, -1));
}

document.addEventListener("input", moveOn);
document.addEventListener("keydown", (event) => belongsBefore(event, event.key));
document.addEventListener("beforeinput", (event) => belongsBefore(event, event.data));
document.addEventListener("focusout", ({ target }) => {
  if (target === left?.to) left = null;
});
