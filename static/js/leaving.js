// Two ways away from a page on which something may wait: the whole form of a visit leaves only when
// the server can be reached, else the page would be gone; signing out asks while something waits.

import { reached } from "./network.js";
import { forget } from "./reading.js";
import { inShell, sheet } from "./reload.js";
import { count, flush, warn } from "./waiting.js";

async function reach(form, button) {
  if (!(await reached(form.dataset.reach))) {
    warn(form.dataset.offlineTitle, form.dataset.offline);
    return;
  }
  await flush().catch(() => {});
  form.elements.n.value = sheet.number += 1;
  form.dataset.reached = "";
  form.requestSubmit(button);
}

function stopped(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
}

export function leaveWhenReached(form) {
  const leaving = (event) => {
    if (event.target !== form || "reached" in form.dataset) return;
    stopped(event);
    if (!inShell) reach(form, event.submitter);
  };
  document.addEventListener("submit", leaving, true);
}

// With nothing waiting the browser forgets everything; else the person is asked. A store that fails
// keeps nobody signed in, and what it may hold is left to it.
export async function signOut(event) {
  const out = event.target.closest("form[data-sign-out]");
  if (!out || "asked" in out.dataset) return;
  stopped(event);
  const waiting = await flush()
    .then(count)
    .catch(() => null);
  const asks = document.getElementById("unsent");
  out.elements.outbox.value = waiting === 0 ? "empty" : "";
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
