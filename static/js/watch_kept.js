// The start of a stopwatch over a reload: the visit's address, the row, a moment of the tablet's
// clock; no name, no value.

const KEPT = "kneeledger-watch";
const page = () => document.querySelector("form[data-ledger]")?.getAttribute("action");

export function keepStart(id, from) {
  const kept = { visit: page(), id, at: performance.timeOrigin + from };
  sessionStorage.setItem(KEPT, JSON.stringify(kept));
}

export function dropStart() {
  sessionStorage.removeItem(KEPT);
}

// The start that was kept for the visit on this page, in milliseconds of its performance.now().
export function startKept() {
  const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "null");
  return kept && kept.visit === page() ? { id: kept.id, from: kept.at - performance.timeOrigin } : null;
}
