// The idle lock on this screen: after the quiet time the page is emptied and the lock opens.
// The server locks on its own; this hides the patient when nothing is asked of the server.

const body = document.body;
const quiet = Number(body.dataset.idleSeconds) * 1000;
const warning = 60000;
const status = document.getElementById("status");
const tabs = new BroadcastChannel("kneeledger-activity");
let last = Date.now();
let warned = false;
let locked = false;

function active(event) {
  last = Date.now();
  if (event.type !== "message") tabs.postMessage("");
  if (!warned) return;
  warned = false;
  status.textContent = "";
}

function lock() {
  locked = true;
  document.title = "Kneeledger";
  document.querySelector("main").replaceChildren();
  document.querySelectorAll("dialog, #alert, #status").forEach((part) => part.replaceChildren());
  const form = document.querySelector("form[data-lock]");
  if (form) form.requestSubmit();
  else location.replace(body.dataset.lockUrl);
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
  for (const kind of ["pointerdown", "keydown", "wheel", "touchmove"]) {
    document.addEventListener(kind, active, { passive: true });
  }
  tabs.addEventListener("message", active);
  document.addEventListener("visibilitychange", look);
  setInterval(look, 1000);
}

// A page that comes back from the browser's memory is asked for again: it may be locked by now.
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
