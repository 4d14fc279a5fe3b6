// Keying numbers from paper: one digit fills a field and moves on where every answer has one digit,
// Enter moves on otherwise, Backspace in an empty field goes back, a slash joins two marks; a
// tablet's number pad has none, so a button types it into the field that was last left.

const sheet = document.querySelector("form[data-keying]");
const slashButton = sheet?.querySelector("[data-slash]");
let last = null;

function neighbour(field, step) {
  const all = [...sheet.querySelectorAll("input[data-item]")];
  return all[all.indexOf(field) + step];
}

function onward(field) {
  const next = neighbour(field, 1);
  (next ?? sheet.querySelector("button.main")).focus();
  next?.select();
}

function slash(field) {
  const marked = field.value === "" ? neighbour(field, -1) : field;
  if (!marked?.value || marked.value.includes("/")) return false;
  marked.value += "/";
  marked.focus();
  marked.setSelectionRange(marked.value.length, marked.value.length);
  return true;
}

function pressed(event) {
  const field = event.target;
  if (!field.matches("input[data-item]") || event.isComposing) return;
  const before = neighbour(field, -1);
  let done = false;
  if (event.key === "Enter") {
    onward(field);
    done = true;
  } else if (event.key === "/") {
    done = slash(field);
  } else if (event.key === "Backspace" && field.value === "" && before) {
    before.focus();
    before.select();
    done = true;
  }
  if (done) event.preventDefault();
}

function typed(event) {
  const field = event.target;
  if (!field.matches("[data-digits]")) return;
  const marks = field.value.split("/");
  if (marks.every((mark) => mark.length === 1 && field.dataset.digits.includes(mark))) onward(field);
}

if (slashButton) {
  slashButton.hidden = false;
  slashButton.addEventListener("click", () => last && (slash(last) || last.focus()));
}
sheet?.addEventListener("focusout", (event) => {
  if (event.target.matches("input[data-item]")) last = event.target;
});
sheet?.addEventListener("keydown", pressed);
sheet?.addEventListener("input", typed);
// The first field is focused only now: a key that came before this script would not move on.
sheet?.querySelector("[data-first]")?.focus();
