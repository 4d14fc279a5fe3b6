// What happened, said aloud: results of htmx requests in the status region, and NOT saved in the
// alert region with the form kept as it was.

const status = document.getElementById("status");
const alarm = document.getElementById("alert");
let fading;
let waits = false;

function say(text) {
  clearTimeout(fading);
  status.textContent = text;
  fading = setTimeout(() => (status.textContent = ""), 12000);
}

function warn(title, text) {
  const box = document.createElement("div");
  const head = document.createElement("h2");
  const body = document.createElement("p");
  box.className = "alarm";
  head.textContent = title;
  body.textContent = text;
  box.append(head, body);
  alarm.replaceChildren(box);
}

function failed(event) {
  const detail = event.detail;
  const form = detail.elt.closest("form");
  if (detail.requestConfig?.verb === "get") {
    say("This part could not be loaded. What you typed is still here.");
    return;
  }
  if ("held" in detail.elt.dataset) {
    if (!waits) say("No answer from the network. It waits on this tablet and goes out by itself.");
    waits = true; // said once, until something arrives again
    return;
  }
  if (form) form.dataset.unsaved = "";
  if (detail.xhr?.status === 503 && detail.xhr.responseText) return; // the answer says it itself
  warn("NOT saved", "What you typed is still in the form. Check the network and send it again.");
}

document.addEventListener("htmx:sendError", failed);
document.addEventListener("htmx:timeout", failed);
document.addEventListener("htmx:responseError", failed);

document.addEventListener("htmx:beforeRequest", (event) =>
  event.detail.target.setAttribute("aria-busy", "true"),
);

document.addEventListener("htmx:afterRequest", (event) => {
  const { elt, requestConfig, successful, target, xhr } = event.detail;
  target.removeAttribute("aria-busy");
  if (successful) waits = false;
  if (!successful || xhr.status >= 400 || requestConfig.verb === "get") return;
  alarm.replaceChildren();
  delete elt.closest("form")?.dataset.unsaved;
});

// The server says something with the header HX-Trigger: {"say": "Draft saved 10:42"}.
document.addEventListener("say", (event) => say(event.detail.value));

document.addEventListener("warn", (event) => warn(event.detail.title, event.detail.text));

function focusErrors(root) {
  root.querySelector("[data-focus]")?.focus();
}

document.addEventListener("htmx:afterSettle", (event) => focusErrors(event.detail.elt));
focusErrors(document);
