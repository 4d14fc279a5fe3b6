// The stopwatch of a hold. While the page lives it counts by the monotonic clock, which no change
// of the tablet's clock moves. Over a reload its start is kept as a moment of that tablet's clock,
// with the visit's address and the row: a clock that is set in between would be off by as much.
// It ends itself: at the cap, or where nothing can be meant any more. What nobody was there to
// see, because the page was away or asleep, is not kept.

const KEPT = "kneeledger-watch";
const TOUCHED_TWICE = 500;
const LATE = 2000;
const MINUTE = 60000;
const calm = matchMedia("(prefers-reduced-motion: reduce)");
let run = null; // {id, from, reached, sent}, in milliseconds of performance.now()
let ended = -TOUCHED_TWICE;
let pace;
let awake;

const page = () => document.querySelector("form[data-ledger]")?.getAttribute("action");
const watchOf = (id) => document.querySelector(`[data-watch="${id}"]`);
const trials = (watch) => [...watch.closest(".values").querySelectorAll("input[inputmode]")];
const longest = (watch) => Number(watch.dataset.longest) * 1000;
const written = (tenths) => `${Math.floor(tenths / 10)}.${tenths % 10}`;
const sided = (watch, said) => (watch.dataset.about ? `${said}, ${watch.dataset.about}` : said);
const say = (value) => document.dispatchEvent(new CustomEvent("say", { detail: { value } }));

// Empty, or the only one: then the new time takes the place of the one before.
function free(watch) {
  const all = trials(watch);
  return all.find((field) => !field.value.trim()) ?? (all.length === 1 ? all[0] : undefined);
}

function changed(field) {
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

function endSaying(reason) {
  say(reason);
  end();
}

function end() {
  const watch = run && watchOf(run.id);
  run = null;
  ended = performance.now();
  clearInterval(pace);
  sessionStorage.removeItem(KEPT);
  awake?.release();
  awake = undefined;
  if (watch) delete watch.dataset.running;
  remind();
  draw();
}

// Why it ended: the cap says so itself; else it is offered, and that of an earlier try is taken back.
function why(watch, capped) {
  const field = watch.dataset.reason && document.querySelector(`[name="${watch.dataset.reason}"]`);
  if (!field) return;
  const before = field.value;
  const cap = watch.hasAttribute("data-cap-is-reason") ? "cap" : "";
  if (capped && cap) field.value = cap;
  else if (trials(watch).length === 1 || before === cap) field.value = "";
  if (field.value !== before) changed(field);
  if (!capped) field.focus();
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

function marks(watch, passed) {
  for (const tick of watch.querySelectorAll("[data-at]")) {
    const at = Number(tick.dataset.at);
    tick.toggleAttribute("data-reached", run !== null && passed >= at * 1000);
    if (!tick.hasAttribute("data-reached") || run.reached >= at) continue;
    run.reached = at;
    say(sided(watch, `${at} seconds`));
  }
}

function draw() {
  for (const button of document.querySelectorAll("[data-watch] button")) {
    const other = run !== null && button.parentElement.dataset.watch !== run.id;
    if (other) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
  for (const tick of document.querySelectorAll("[data-watch]:not([data-running]) [data-reached]")) {
    tick.removeAttribute("data-reached");
  }
}

// While the watch is out of sight, the bar at the foot says that it runs and leads back to it.
function remind(watch, time) {
  const link = document.querySelector("[data-timing]");
  const { top, bottom } = watch?.getBoundingClientRect() ?? { top: 0, bottom: 1 };
  link.hidden = bottom > 0 && top < innerHeight - link.closest(".act-bar").offsetHeight;
  if (link.hidden) return;
  link.href = `#${watch.id}`;
  link.textContent = sided(watch, `${time} s`);
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
  } else if (passed >= longest(watch)) {
    if (watch.hasAttribute("data-capped")) keep(watch, longest(watch) / 100, true);
    else endSaying(sided(watch, `Longer than ${watch.dataset.longest} s cannot be meant: nothing was kept`));
  } else {
    const tenths = Math.floor(passed / 100);
    watch.dataset.running = "";
    const time = calm.matches ? `${Math.floor(tenths / 10)}` : written(tenths);
    watch.querySelector(".time").textContent = time;
    remind(watch, time);
    marks(watch, passed);
    tellServer(watch, now);
  }
}

async function stayAwake() {
  if (!run || document.hidden || awake?.released === false) return;
  try {
    const lock = await navigator.wakeLock.request("screen");
    if (run) awake = lock;
    else lock.release();
  } catch {
    say("This browser cannot keep the screen on. Touch the screen now and then.");
  }
}

function go(id, from) {
  run = { id, from, reached: (performance.now() - from) / 1000, sent: -MINUTE };
  pace = setInterval(look, 100);
  look();
  draw();
  stayAwake();
}

function start(watch) {
  if (!free(watch)) return say(sided(watch, "Every trial is filled. Empty one to time again"));
  const from = performance.now();
  const kept = { visit: page(), id: watch.dataset.watch, at: performance.timeOrigin + from };
  sessionStorage.setItem(KEPT, JSON.stringify(kept));
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
    const capped = watch.hasAttribute("data-capped") && now - run.from >= longest(watch);
    if (capped) look();
    else keep(watch, Math.floor((now - run.from) / 100), false);
  }
}

function goOn() {
  const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "null");
  const watch = kept?.visit === page() && watchOf(kept.id);
  if (!watch) return;
  for (let part = watch.closest("details"); part; part = part.parentElement.closest("details")) {
    part.open = true;
  }
  go(kept.id, kept.at - performance.timeOrigin);
}

// A test that is under way is not signed away: on the window, before anything else hears of it.
function unlessRunning(event) {
  if (!run || !event.target.matches("[data-ledger]")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  say("The stopwatch runs. Stop it first, then sign.");
}

document.addEventListener("click", touched);
addEventListener("submit", unlessRunning, true);
document.addEventListener("visibilitychange", stayAwake);
document.addEventListener("htmx:afterSettle", () => {
  look();
  draw();
});
goOn();
document.addEventListener("filled", goOn); // without network the page is told late whose it is
