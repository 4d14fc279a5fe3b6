// The idle lock on this screen: after the quiet time the page is emptied and the lock opens.
// The server locks on its own; this hides the patient when nothing is asked of the server. Without
// network the page stays, emptied, and the lock opens when the network is back.

import { reached } from "./network.js";
import { forget, isLocked, setLocked, touched } from "./reading.js";

const body = document.body;
const quiet = Number(body.dataset.idleSeconds) * 1000;
const warning = 60000;
const AGAIN = 5000;
const SOON = 1000; // with network the lock is there by then
const status = document.getElementById("status");
const tabs = new BroadcastChannel("kneeledger-activity");
let last = Date.now();
let warned = false;
let locked = false;

let written = 0;
function note() {
  if (last - written < 1000) return;
  written = last;
  touched();
}

function active(event) {
  last = Date.now();
  note();
  if (event.type !== "message") tabs.postMessage("");
  if (!warned) return;
  warned = false;
  status.textContent = "";
}

async function lock() {
  if (locked) return;
  locked = true;
  setLocked();
  document.title = "Kneeledger";
  document.querySelector("main").replaceChildren();
  document.querySelectorAll("dialog, #alert, #status").forEach((part) => part.replaceChildren());
  setTimeout(sayLocked, SOON);
  await forget().catch(() => {});
  leave();
}

function sayLocked() {
  const said = document.createElement("p");
  said.textContent = body.dataset.locked;
  document.querySelector("main").replaceChildren(said);
}

async function leave() {
  if (!(await reached(body.dataset.reach))) {
    setTimeout(leave, AGAIN);
    return;
  }
  const form = document.querySelector("form[data-lock]");
  if (form) form.requestSubmit();
  else location.replace(`${body.dataset.lockUrl}?next=${encodeURIComponent(location.pathname)}`);
}

// Lock now: the ledger's page has sent what was typed last before this is heard.
function asked(event) {
  if (locked || !event.target.matches("form[data-lock]")) return;
  event.preventDefault();
  lock();
}

function look() {
  if (locked) return;
  if (document.querySelector("[data-running]")) active({ type: "stopwatch" }); // in every tab
  const left = last + quiet - Date.now();
  if (left <= 0) lock();
  else if (left <= warning && !warned) {
    warned = true;
    status.textContent = "This screen locks in a minute. Touch it to stay. Your draft is kept.";
  }
}

if (quiet > 0 && body.dataset.lockUrl) {
  if (!("apart" in body.dataset)) note(); // the server let this tablet in
  for (const kind of ["pointerdown", "keydown", "wheel", "touchmove"]) {
    document.addEventListener(kind, active, { passive: true });
  }
  tabs.addEventListener("message", active);
  document.addEventListener("submit", asked);
  document.addEventListener("lock-now", lock);
  document.querySelector("[data-lock-now]")?.addEventListener("click", lock);
  document.addEventListener("visibilitychange", look);
  setInterval(look, 1000);
  if (isLocked() && !document.querySelector("[data-no-network]")) lock();
}

// A page that comes back from the browser's memory is asked for again: it may be locked by now. Until
// then nothing of it is in sight: it was hidden when it went there.
addEventListener("pagehide", ({ persisted }) => {
  document.documentElement.hidden = persisted;
});
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
