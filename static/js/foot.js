// The foot of a visit tells the truth of what was typed: how many rows wait on this tablet and since
// when, and that they went out. What the server said of the draft is older than what waits.

import { sheet } from "./reload.js";
import { all, works } from "./store.js";

const PART = "form[data-ledger] fieldset[hx-post]";
const SOON = 1000; // what is answered at once needs no word
const form = document.querySelector("form[data-ledger]");
const waiting = document.getElementById("waiting");
const typed = document.getElementById("typed");
const time = (at) => (at ? ` ${new Date(at).toTimeString().slice(0, 5)}` : "");
let found = []; // what waits now
let before = false; // something waited that was not typed since this page was opened
let telling;

function tell() {
  const newest = Math.max(0, ...found.map(({ at }) => at ?? 0));
  const { one, many } = typed.dataset;
  typed.textContent = `${found.length === 1 ? one : `${found.length} ${many}`}${time(newest)}.`;
  form.dataset.waits = found.some(({ id }) => id === sheet.ids.flags) ? "flags" : "";
}

function tellSent() {
  if (typed.textContent || before) typed.textContent = `${typed.dataset.sent}${time(Date.now())}.`;
  if (!before) return;
  const again = document.createElement("a");
  again.href = location.pathname;
  again.textContent = typed.dataset.again;
  typed.append(" ", again);
}

async function look() {
  const waited = found.length > 0;
  found = await all();
  clearTimeout(telling);
  if (found.length) {
    before ||= !("typed" in form.dataset);
    form.dataset.typed = "";
    telling = setTimeout(tell, typed.textContent ? 0 : SOON);
  } else if (waited) tellSent();
}

// The server's newest word stands alone again.
function answered({ detail }) {
  if (detail.target.id !== "foot" || found.length) return;
  delete form.dataset.waits;
  if (!before) typed.textContent = "";
}

if (form && typed) {
  document.addEventListener("input", ({ target }) => {
    if (target.closest(PART)) form.dataset.typed = "";
  });
  document.addEventListener("htmx:oobAfterSwap", answered);
  if (works) {
    new MutationObserver(look).observe(waiting, { childList: true });
    look();
  }
}
