// An open visit after a reload or a killed tab. With network its page keeps what would be needed;
// without, the ledger without a patient fills itself from that, unless this tablet was quiet for too
// long or locked: that is asked first. `sheet` is the page's number and the names of its rows.

import { addRows, letAdd } from "./adding.js";
import { reached } from "./network.js";
import { pageMade, pageTaken } from "./places.js";
import { atTheLock, begin, drop, forget, isLocked, keep, quietFor, recall } from "./reading.js";
import { all, works } from "./store.js";
import { sayUrgent } from "./urgent.js";

const NOBODY = "00000000-0000-0000-0000-000000000000"; // stands in the shell where the visit would
const SKIPPED = 1000; // more than a page sends between two keepings: numbers only ever rise
const VISIT = /^\/visits\/([0-9a-f-]{36})\/$/;
const STATIC = new URL("..", import.meta.url).pathname;
const LOOK_AGAIN = 5000;
const RESTING = 20000;
const form = document.querySelector("form[data-outbox-key], form[data-shell]");
export const inShell = Boolean(form && "shell" in form.dataset);

export const sheet = { number: 0, ids: {} };

// With network.

const shellNow = () => document.getElementById("ledger").dataset.shell;

async function keepNow() {
  const { outboxPass, outboxKey } = form.dataset;
  const page = { ...pageTaken(form), sheet, outboxPass, outboxKey };
  await keep(form.dataset.visit, shellNow(), page);
}

// One after the other, so that an older text never covers a newer one.
let keeping = Promise.resolve();
let asked = false;
export function keepPage() {
  if (asked || !works || !form?.dataset.visit) return keeping;
  asked = true;
  const next = () => {
    asked = false;
    return keepNow();
  };
  keeping = keeping.then(next).catch(() => {});
  return keeping;
}

// Only what anybody may fetch is kept, fetched without a cookie, and never as it was before.
async function keepFiles() {
  const cache = await caches.open(form.dataset.cache);
  const files = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
  const addresses = files
    .filter(({ origin, pathname }) => origin === location.origin && pathname.startsWith(STATIC))
    .map(({ pathname }) => pathname);
  const { shell, more } = document.getElementById("ledger").dataset;
  for (const address of new Set([shell, more, ...addresses])) {
    if (await cache.match(address)) continue;
    await cache.add(new Request(address, { credentials: "omit", cache: "no-cache" }));
  }
}

async function prepare() {
  await begin(Number(form.dataset.shift));
  await keepPage();
  document.addEventListener("input", keepPage);
  document.addEventListener("htmx:afterSettle", () => {
    keepFiles().catch(() => {}); // rows may have come
    keepPage();
  });
  if (document.readyState !== "complete") {
    await new Promise((resolve) => addEventListener("load", resolve, { once: true }));
  }
  await workerReady(1000);
}

// The network can fail for a moment: then once more after a pause, each twice as long.
async function workerReady(pause) {
  try {
    const { worker } = form.dataset;
    await navigator.serviceWorker.register(worker, { scope: "/", updateViaCache: "none" });
    await keepFiles();
  } catch {
    setTimeout(workerReady, pause, Math.min(2 * pause, 60000));
  }
}

// Without network.

const lockNow = () => document.dispatchEvent(new Event("lock-now"));

async function fill() {
  const visit = VISIT.exec(location.pathname)?.[1] ?? "";
  const quiet = Number(document.body.dataset.idleSeconds) * 1000;
  const page = quietFor() < quiet ? await recall(visit).catch(() => null) : null;
  if (!page) {
    if (location.pathname !== shellNow()) setTimeout(lockNow);
    return;
  }
  await addRows(page.added);
  pageMade(form, page);
  sayUrgent();
  const { outboxPass, outboxKey } = page;
  Object.assign(form.dataset, { visit, outboxPass, outboxKey });
  form.setAttribute("action", form.getAttribute("action").replace(NOBODY, visit));
  sheet.number = page.sheet.number + SKIPPED;
  Object.assign(sheet.ids, page.sheet.ids);
  document.addEventListener("input", keepPage);
  letAdd(form);
  document.dispatchEvent(new Event("filled"));
}

let typed = 0; // the page puts the focus into a field by itself: only what was typed counts
const isTyping = () => Date.now() - typed < RESTING;

// Goes over to the server's page once nothing waits, and never under a hand that types.
async function back() {
  if (!(await reached(document.body.dataset.reach)) || (await all()).length) return;
  if (isLocked()) lockNow();
  else if (!isTyping()) location.reload();
  else document.querySelector(".back")?.removeAttribute("hidden");
}

function waitForNetwork() {
  document.addEventListener("input", () => (typed = Date.now()));
  addEventListener("online", () => setTimeout(back, 1000));
  document.addEventListener("focusout", () => setTimeout(back, 1000));
  document.querySelector("[data-go-on]")?.addEventListener("click", () => location.reload());
  setInterval(back, LOOK_AGAIN);
}

const { lockUrl } = document.body.dataset;
if (!lockUrl) atTheLock(); // the lock itself, or signing in
if (works) {
  if (inShell) await fill();
  else if (form?.dataset.visit) prepare().catch(() => {});
  else if (!lockUrl) await forget();
  else if (VISIT.test(location.pathname) && !("apart" in document.body.dataset)) {
    drop(VISIT.exec(location.pathname)[1]).catch(() => {});
  }
  if (inShell || document.querySelector("[data-no-network]")) waitForNetwork();
}
