// The screen kept on while a stopwatch runs, and again after the page was out of sight.

import { say } from "./watch_row.js";

let awake;

export function letSleep() {
  awake?.release();
  awake = undefined;
}

export async function stayAwake(isRunning) {
  if (!isRunning() || document.hidden || awake?.released === false) return;
  try {
    const lock = await navigator.wakeLock.request("screen");
    if (isRunning()) awake = lock;
    else lock.release();
  } catch {
    say("This browser cannot keep the screen on. Touch the screen now and then.");
  }
}
