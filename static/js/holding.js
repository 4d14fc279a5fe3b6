// A row of an open visit's page is sealed and kept on this tablet before it is sent, and taken away
// once the server has it. A row's name says what was measured: the store knows it by another one.

import { LIMIT } from "./network.js";
import { forget } from "./reading.js";
import { inShell, keepPage, sheet } from "./reload.js";
import { seal } from "./seal.js";
import { all } from "./store.js";
import { sayUrgent } from "./urgent.js";
import { count, drop, flush, put } from "./waiting.js";

const PART = "form[data-ledger] fieldset[hx-post]";
const held = new WeakMap();

function textsOf(part) {
  const was = {};
  const typed = {};
  for (const field of part.querySelectorAll("input[name], select[name], textarea[name]")) {
    if (field.name === "was") Object.assign(was, JSON.parse(field.value));
    else if (!field.matches("[type=radio], [type=checkbox]") || field.checked) {
      typed[field.name] = field.value;
    }
  }
  return { was: JSON.stringify(was), typed };
}

async function hold(form, part, n) {
  const { row } = JSON.parse(part.getAttribute("hx-vals"));
  const text = JSON.stringify({ row, n, at: Date.now(), ...textsOf(part) });
  const item = {
    id: (sheet.ids[row] ??= crypto.randomUUID()),
    number: n,
    at: Date.now(),
    key: crypto.randomUUID(),
    pass: form.dataset.outboxPass,
    sealed: await seal(text, JSON.parse(form.dataset.outboxKey)),
  };
  await put(item);
  await keepPage();
  await count();
  return item;
}

function holding(form, part, n) {
  part.dataset.held = "keeping";
  const keeping = hold(form, part, n);
  keeping.then(
    () => (part.dataset.held = "kept"),
    () => delete part.dataset.held,
  );
  held.set(part, keeping);
  return keeping;
}

// An answer takes away what it answers, never what was kept of the row since.
async function answered({ detail: { elt, requestConfig, successful, xhr } }) {
  if (!elt.matches(PART)) return;
  const number = Number(requestConfig.parameters.n);
  const item = await held.get(elt)?.catch(() => null);
  if (xhr.status === 401) await forget();
  const asksHere = xhr.status === 409 && !xhr.getResponseHeader("HX-Retarget");
  if ((successful || asksHere) && item) await drop(item.id, number);
  else setTimeout(flush, 1000);
}

function lost(form, { detail: { elt } }) {
  if (elt.matches(PART)) sayWhenBack(form, elt);
}

function sayWhenBack(form, part) {
  part.querySelector(".echo")?.replaceChildren(form.dataset.whenBack);
  sayUrgent();
}

function holdOnly(form, part, n) {
  sayWhenBack(form, part);
  holding(form, part, n).then(flush, () => {});
}

// Numbers what is sent. The ledger without a patient sends nothing but what it has sealed.
function numbered(form, event) {
  const { elt, parameters } = event.detail;
  if (!form.contains(elt)) return;
  parameters.n = sheet.number += 1;
  if (elt.matches(PART)) event.detail.timeout = LIMIT; // from then on it waits with what is kept
  if (!inShell) return;
  event.preventDefault();
  if (elt.matches(PART)) holdOnly(form, elt, sheet.number);
}

function sent(form, { detail: { elt, requestConfig } }) {
  if (elt.matches(PART)) holding(form, elt, Number(requestConfig.parameters.n));
}

// Shown again without network: what was typed in the last moment was kept, but never held.
export async function holdTheRest(form) {
  const waiting = new Set((await all()).map(({ id }) => id));
  for (const part of form.querySelectorAll(PART)) {
    const { row } = JSON.parse(part.getAttribute("hx-vals"));
    const { was, typed } = textsOf(part);
    const isNew = ([name, text]) => (typed[name] ?? "") !== text;
    if (Object.entries(JSON.parse(was)).some(isNew) && !waiting.has(sheet.ids[row])) {
      holdOnly(form, part, (sheet.number += 1));
    }
  }
}

export function holdRows(form) {
  const on = (name, act) => document.addEventListener(`htmx:${name}`, (event) => act(form, event));
  on("configRequest", numbered);
  on("beforeSend", sent);
  on("sendError", lost);
  on("timeout", lost);
  document.addEventListener("htmx:afterRequest", answered);
  document.addEventListener("input", ({ target }) => delete target.closest(PART)?.dataset.held);
}
