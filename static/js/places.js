// What a ledger's page says and holds: taken from the page as plain data, and put into the ledger
// without a patient. Words become text, never markup.

const WORDS = ["H1", "P", "SPAN", "STRONG", "DIV", "H2"];
const FIELDS = "input[name]:not([type=hidden]), select[name], textarea[name]";
const isChoice = (field) => field.matches("[type=radio], [type=checkbox]");

function taken(node) {
  if (node.nodeType === Node.TEXT_NODE) return node.data.replace(/\s+/g, " ");
  if (node.nodeType !== Node.ELEMENT_NODE || node.matches("svg")) return "";
  return [node.tagName, node.className, ...[...node.childNodes].map(taken)];
}

function made([tag, look, ...parts]) {
  const node = document.createElement(WORDS.includes(tag) ? tag : "span");
  node.className = look;
  node.append(...parts.map((part) => (typeof part === "string" ? part : made(part))));
  return node;
}

function texts(form) {
  const found = {};
  for (const field of form.querySelectorAll(FIELDS)) {
    if (!isChoice(field)) found[field.name] = field.value;
    else if (field.checked) found[field.name] = field.value;
    else found[field.name] ??= "";
  }
  return found;
}

export function pageTaken(form) {
  const said = {};
  for (const place of document.querySelectorAll("[data-kept]")) {
    said[place.dataset.kept] = taken(place).slice(2);
  }
  const was = {};
  for (const field of form.querySelectorAll("input[name=was]")) Object.assign(was, JSON.parse(field.value));
  const held = [...form.querySelectorAll(".cell.held .says")].map((says) => says.id);
  for (const why of form.querySelectorAll("[data-holds]")) held.push(...why.dataset.holds.split(" "));
  const added = [...form.querySelectorAll("[data-added]")].map((row) => row.dataset.added);
  const last = {};
  for (const field of form.querySelectorAll("[data-last]")) last[field.name] = field.dataset.last;
  return { said, was, held, added, last, texts: texts(form) };
}

function shown(field, text) {
  if (isChoice(field)) {
    if (field.checked === (field.value === text)) return;
    field.checked = field.value === text;
    if (!field.checked) return;
  } else {
    if (field.value === text) return;
    field.value = text;
  }
  for (let at = field.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
}

// The conditions of last time, and the buttons that copy them.
function lastKnown(form, last) {
  for (const field of form.querySelectorAll(FIELDS)) {
    if (field.name in last) field.dataset.last = last[field.name];
  }
  for (const button of form.querySelectorAll("[data-same-conditions]")) {
    button.hidden = !button.closest("[data-conditions]").querySelector("[data-last]");
  }
}

export function pageMade(form, { said, was, held, last, texts: typed }) {
  for (const place of document.querySelectorAll("[data-kept]")) {
    const parts = said[place.dataset.kept] ?? [];
    place.replaceChildren(...parts.map((part) => (typeof part === "string" ? part : made(part))));
  }
  for (const field of form.querySelectorAll(FIELDS)) {
    if (field.name in typed) shown(field, typed[field.name]);
  }
  // Only names of fields that are here: what a page does not have it must not empty.
  for (const field of form.querySelectorAll("input[name=was]")) {
    const mine = Object.keys(JSON.parse(field.value));
    field.value = JSON.stringify(Object.fromEntries(mine.map((name) => [name, was[name] ?? ""])));
  }
  lastKnown(form, last);
  for (const why of form.querySelectorAll("[data-holds]")) {
    const row = why.dataset.kept.replace("why", "say");
    why.dataset.holds = held.filter((id) => id.startsWith(`${row}-`)).join(" ");
  }
  for (const id of held) document.getElementById(id)?.closest(".cell")?.classList.add("held");
}
