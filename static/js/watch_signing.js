// A test that is under way is not signed away: on the window, before anything else hears of it.

import { say } from "./watch_row.js";

export function signOnlyWhenStopped(isRunning) {
  const unlessRunning = (event) => {
    if (!isRunning() || !event.target.matches("[data-ledger]")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    say("The stopwatch runs. Stop it first, then sign.");
  };
  addEventListener("submit", unlessRunning, true);
}
