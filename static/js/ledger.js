// The ledger form: Enter goes to the next field (other limb first, then operated, test by test:
// the order of the page; from a value to the next value), a chosen grade can be taken back, and one tap copies last conditions.

const form = document.querySelector("form[data-ledger]");
const FIELDS = "input:not([type=hidden], [disabled], [data-view]), select, textarea";

function fields() {
  const groups = new Set();
  return [...form.querySelectorAll(FIELDS)].filter((field) => {
    if (!field.checkVisibility({ visibilityProperty: true })) return false;
    if (field.type !== "radio") return true;
    if (groups.has(field.name)) return false;
    groups.add(field.name);
    return true;
  });
}

function moveOn(field, typing) {
  const among = field.closest(".values") ? ".values, .conditions" : "*";
  const isField = (one) => one === field || (field.type === "radio" && one.name === field.name);
  const all = fields().filter((one) => isField(one) || one.closest(among));
  const following = all[all.findIndex(isField) + 1] ?? form.querySelector("button.main");
  if (typing && following?.type !== "text") return;
  following?.focus();
  if (following?.type === "text") following.select();
}

function next(event) {
  const field = event.target;
  if (event.key !== "Enter" || event.isComposing || !field.matches("input, select")) return;
  event.preventDefault();
  moveOn(field);
}

function changed(field) {
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

// A radio button cannot be emptied by itself: a second touch on it does so ("not tested").
let chosen = null;

function remember(event) {
  const radio = event.target.closest("label")?.querySelector("input[type=radio]");
  chosen = radio?.checked ? radio : null;
}

function takeBack(event) {
  if (event.target !== chosen) return;
  chosen.checked = false;
  changed(chosen);
  chosen = null;
}

function copyConditions(event) {
  const button = event.target.closest("button[data-same-conditions]");
  if (!button) return;
  event.preventDefault();
  for (const field of button.closest("[data-conditions]").querySelectorAll("[data-last]")) {
    if (field.type === "radio" || field.type === "checkbox") {
      field.checked = field.value === field.dataset.last;
    } else {
      field.value = field.dataset.last;
    }
    changed(field);
  }
}

if (form) {
  form.addEventListener("keydown", next);
  form.addEventListener("move-on", (event) => moveOn(event.target, true));
  form.addEventListener("pointerdown", remember);
  form.addEventListener("click", takeBack);
  form.addEventListener("click", copyConditions);
}
