// What is typed in a visit is kept sealed on this tablet until the server has it, and goes out from
// whatever page is open, signed in or not. Here its parts are tied to the page.

import { holdRows, holdTheRest } from "./holding.js";
import { leaveWhenReached, signOut } from "./leaving.js";
import { works } from "./store.js";
import { flush, shown } from "./waiting.js";

const form = document.querySelector("form[data-outbox-key], form[data-shell]");

if (works && shown) {
  if (form) {
    holdRows(form);
    leaveWhenReached(form);
    if ("shell" in form.dataset) holdTheRest(form);
  }
  document.addEventListener("submit", signOut, true);
  addEventListener("online", flush);
  flush();
} else if (form && shown) {
  shown.textContent = shown.dataset.off;
}
