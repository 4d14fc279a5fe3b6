// What was typed in the last moment is sent when a field is left or a number is complete, and what
// did not arrive is sent again with the next thing that does. A form that leads away from the page
// (Lock now, Sign out, take over) waits until all is answered. The ledger's own form sends
// everything itself. Answers to two rows may come in either order: nothing is drawn over with an
// older draft.

const PART = "form[data-ledger] fieldset[hx-post]";
const LONGEST = 5000;
const unsent = new Set();

const send = () => unsent.forEach((part) => htmx.trigger(part, "leave"));
const isKept = (part) => part.dataset.held === "kept"; // in the outbox: it goes out by itself
const waiting = () => [...unsent].some((part) => part.isConnected && !isKept(part));
const isQuiet = () => !waiting() && !document.querySelector(`${PART}.htmx-request`);

function go(form, button, deadline) {
  if (!isQuiet() && Date.now() < deadline) {
    setTimeout(go, 50, form, button, deadline);
    return;
  }
  unsent.clear();
  form.dataset.waited = "";
  form.requestSubmit(button);
}

document.addEventListener("input", (event) => {
  const part = event.target.closest(PART);
  if (part) unsent.add(part);
});
document.addEventListener("htmx:beforeSend", (event) => unsent.delete(event.detail.elt));
document.addEventListener("htmx:afterRequest", (event) => {
  const { elt, successful, xhr } = event.detail;
  if (!elt.matches(PART)) return;
  if (successful) send();
  else if (xhr.status === 0 || xhr.status >= 500) unsent.add(elt);
});
document.addEventListener("htmx:oobBeforeSwap", ({ detail }) => {
  const answered = Number(detail.fragment.dataset?.draft);
  if (answered < Number(detail.target.dataset.draft)) detail.shouldSwap = false;
  else if (answered) detail.target.dataset.draft = answered;
});
document.addEventListener("focusout", send);
document.addEventListener("move-on", send); // a complete number is not waited for
addEventListener("online", send);
addEventListener("beforeunload", (event) => {
  if (waiting()) event.preventDefault();
});
document.addEventListener(
  "submit",
  (event) => {
    const form = event.target;
    if (form.matches("[data-ledger]")) unsent.clear();
    if (form.matches("[data-ledger], [data-waited], [method=dialog]") || isQuiet()) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    send();
    go(form, event.submitter, Date.now() + LONGEST);
  },
  true,
);
