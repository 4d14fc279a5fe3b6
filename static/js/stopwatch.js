// The stopwatch of a hold. While the page lives it counts by the monotonic clock, which no change
// of the tablet's clock moves. Over a reload its start is kept as a moment of that tablet's clock,
// with the visit's address and the row: a clock that is set in between would be off by as much.
// It ends itself: at the cap, or where nothing can be meant any more. What nobody was there to
// see, because the page was away or asleep, is not kept.

import { letSleep, stayAwake } from "./watch_awake.js";
import { dropStart, keepStart, startKept } from "./watch_kept.js";
import {
  changed, draw, free, isCapped, longest, marks, openTo, remind, say, show, sided, watchOf, why,
  written,
} from "./watch_row.js";
import { signOnlyWhenStopped } from "./watch_signing.js";

const TOUCHED_TWICE = 500;
const LATE = 2000;
const MINUTE = 60000;
let run = null; // {id, from, reached, sent}, in milliseconds of performance.now()
let ended = -TOUCHED_TWICE;
let pace;

const isRunning = () => run !== null;

function end() {
  const watch = run && watchOf(run.id);
  run = null;
  ended = performance.now();
  clearInterval(pace);
  dropStart();
  letSleep();
  if (watch) delete watch.dataset.running;
  remind();
  draw();
}

function endSaying(reason) {
  say(reason);
  end();
}

function keep(watch, tenths, capped) {
  const field = free(watch);
  if (!field) return endSaying(sided(watch, `${written(tenths)} s was not kept: every trial is filled`));
  end();
  field.value = written(tenths);
  changed(field);
  why(watch, capped);
  say(sided(watch, capped ? `${written(tenths)} s, the end of the test` : `${written(tenths)} s`));
}

// The server's idle lock hears of the watch as it hears of typing: by the row's draft.
function tellServer(watch, now) {
  if (now - run.sent < MINUTE) return;
  run.sent = now;
  htmx.trigger(watch.closest("fieldset[hx-post]"), "leave");
}

function look() {
  const watch = run && watchOf(run.id);
  if (!watch) return;
  const now = performance.now();
  const passed = now - run.from;
  if (passed < 0 || passed > longest(watch) + LATE) {
    endSaying(sided(watch, "The watch ran on with nobody there, or the clock was set: time it again"));
  } else if (passed < longest(watch)) {
    show(watch, passed);
    run.reached = marks(watch, passed, run.reached);
    tellServer(watch, now);
  } else if (isCapped(watch)) {
    keep(watch, longest(watch) / 100, true);
  } else {
    endSaying(sided(watch, `Longer than ${watch.dataset.longest} s cannot be meant: nothing was kept`));
  }
}

function go(id, from) {
  run = { id, from, reached: (performance.now() - from) / 1000, sent: -MINUTE };
  pace = setInterval(look, 100);
  look();
  draw(run?.id);
  stayAwake(isRunning);
}

function start(watch) {
  if (!free(watch)) return say(sided(watch, "Every trial is filled. Empty one to time again"));
  const from = performance.now();
  keepStart(watch.dataset.watch, from);
  go(watch.dataset.watch, from);
}

function touched(event) {
  const watch = event.target.closest("[data-watch] button")?.parentElement;
  if (!watch) return;
  const now = performance.now();
  if (!run) {
    if (now - ended >= TOUCHED_TWICE) start(watch);
  } else if (run.id !== watch.dataset.watch) {
    say(sided(watchOf(run.id) ?? watch, "One at a time. Stop this one first"));
  } else if (now - run.from >= TOUCHED_TWICE) {
    if (isCapped(watch) && now - run.from >= longest(watch)) look();
    else keep(watch, Math.floor((now - run.from) / 100), false);
  }
}

function goOn() {
  const kept = startKept();
  const watch = kept && watchOf(kept.id);
  if (!watch) return;
  openTo(watch);
  go(kept.id, kept.from);
}

document.addEventListener("click", touched);
signOnlyWhenStopped(isRunning);
document.addEventListener("visibilitychange", () => stayAwake(isRunning));
document.addEventListener("htmx:afterSettle", () => {
  look();
  draw(run?.id);
});
goOn();
document.addEventListener("filled", goOn); // without network the page is told late whose it is
