// What is typed in a visit is sealed and kept on this tablet before it is sent, and taken away once
// the server has it. What waits goes out by itself, from whatever page is open, whoever is signed
// in: each item carries the pass of the page that it was typed on. Nothing here can be read back.

import { forget } from "./reading.js";
import { inShell, keepPage, sayUrgent, sheet } from "./reload.js";
import { seal } from "./seal.js";
import { all, store, works } from "./store.js";

const PART = "form[data-ledger] fieldset[hx-post]";
const AGAIN = 15000;
const form = document.querySelector("form[data-outbox-key], form[data-shell]");
const shown = document.getElementById("waiting");
const say = (value) => document.dispatchEvent(new CustomEvent("say", { detail: { value } }));
const warn = (title, text) =>
  document.dispatchEvent(new CustomEvent("warn", { detail: { title, text } }));

async function drop(id, number) {
  const kept = await store("items", "readonly", (items) => items.get(id));
  if (kept && kept.number <= number) await store("items", "readwrite", (items) => items.delete(id));
  await count();
}

async function count() {
  const waiting = (await all()).length;
  shown.textContent = `${shown.dataset.words}: ${waiting}`;
  shown.hidden = waiting === 0 && !("always" in shown.dataset);
  return waiting;
}

// Sending.

let sending = null;
function flush() {
  sending ??= flushAll().finally(() => (sending = null));
  return sending;
}

async function flushAll() {
  for (const item of await all()) {
    const body = new URLSearchParams({ key: item.key, pass: item.pass, sealed: item.sealed });
    let answer;
    try {
      answer = await fetch(shown.dataset.url, { method: "POST", body, credentials: "omit" });
    } catch {
      break; // no network: it stays
    }
    if (!answer.ok && ![409, 422].includes(answer.status)) break;
    const { fate, what_to_do } = await answer.json();
    await drop(item.id, item.number);
    if (what_to_do) warn(shown.dataset.refused, what_to_do);
    else if (fate === "clash" || fate === "late") say(shown.dataset[fate]);
  }
  if ((await count()) > 0) setTimeout(flush, AGAIN);
}

// Keeping a row of the visit's page. A row's name says what was measured: the store knows it by
// another one.

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

async function hold(part, n) {
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
  await store("items", "readwrite", (items) => items.put(item));
  await keepPage();
  await count();
  return item;
}

function sent({ detail: { elt, requestConfig } }) {
  if (!elt.matches(PART)) return;
  holding(elt, Number(requestConfig.parameters.n));
}

function holding(part, n) {
  part.dataset.held = "keeping";
  const keeping = hold(part, n);
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

// Numbers what is sent. The ledger without a patient sends nothing but what it has sealed.
function numbered(event) {
  const { elt, parameters } = event.detail;
  if (!form.contains(elt)) return;
  parameters.n = sheet.number += 1;
  if (!inShell) return;
  event.preventDefault();
  lost(event);
  if (elt.matches(PART)) holding(elt, sheet.number).then(flush, () => {});
}

function lost({ detail: { elt } }) {
  if (!elt.matches(PART)) return;
  elt.querySelector(".echo")?.replaceChildren(form.dataset.whenBack);
  sayUrgent();
}

// The whole form leaves the page only when the server can be reached: else the page would be gone.
async function reach(button) {
  try {
    await flush();
    const answer = await fetch(form.dataset.reach, { cache: "no-store" });
    if (!answer.ok) throw new Error(String(answer.status));
  } catch {
    warn(form.dataset.offlineTitle, form.dataset.offline);
    return;
  }
  form.elements.n.value = sheet.number += 1;
  form.dataset.reached = "";
  form.requestSubmit(button);
}

function leaving(event) {
  if (event.target !== form || "reached" in form.dataset) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (!inShell) reach(event.submitter);
}

// Signing out: with nothing waiting the browser forgets everything; else the person is asked.
async function signOut(event) {
  const out = event.target.closest("form[data-sign-out]");
  if (!out || "asked" in out.dataset) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  await flush();
  const waiting = await count();
  const asks = document.getElementById("unsent");
  out.elements.outbox.value = waiting ? "" : "empty";
  out.dataset.asked = "";
  const leave = () => forget().finally(() => out.requestSubmit());
  if (!waiting) leave();
  else {
    asks.querySelector("[data-count]").textContent = waiting;
    asks.returnValue = "";
    asks.onclose = () => {
      if (asks.returnValue === "leave") leave();
      else delete out.dataset.asked;
    };
    asks.showModal();
  }
}

if (works && shown) {
  if (form) {
    document.addEventListener("htmx:configRequest", numbered);
    document.addEventListener("input", ({ target }) => delete target.closest(PART)?.dataset.held);
    document.addEventListener("htmx:beforeSend", sent);
    document.addEventListener("htmx:afterRequest", answered);
    document.addEventListener("htmx:sendError", lost);
    document.addEventListener("htmx:timeout", lost);
    document.addEventListener("submit", leaving, true);
  }
  document.addEventListener("submit", signOut, true);
  addEventListener("online", flush);
  flush();
} else if (form && shown) {
  shown.textContent = shown.dataset.off;
}
