// Pelvic drop as seen from behind or from in front: only the drawings turn, no column does. One
// choice holds for the whole page and is kept for this visit's page alone, by its address.

const KEPT = "kneeledger-view";
const page = () => document.querySelector("form[data-ledger]")?.getAttribute("action");

function show(view) {
  for (const choice of document.querySelectorAll("[data-view]")) choice.checked = choice.value === view;
}

function again() {
  const [visit, view] = (sessionStorage.getItem(KEPT) ?? "").split(" ");
  if (visit === page()) show(view);
}

// Nothing is typed by it, so the row hears nothing of it: on the window, before it gets there.
function turned(event) {
  if (!event.target.matches("[data-view]")) return;
  event.stopImmediatePropagation();
  show(event.target.value);
  sessionStorage.setItem(KEPT, `${page()} ${event.target.value}`);
}

addEventListener("input", turned, true);
document.addEventListener("htmx:afterSettle", again);
document.addEventListener("filled", again); // without network the page is told late whose it is
again();
