// What waits on this tablet to be sent, and how it goes out: item by item, each under its own pass
// and key, whoever is signed in. Nothing here can be read back.

import { ask } from "./network.js";
import { all, store } from "./store.js";

const AGAIN = 15000;

export const shown = document.getElementById("waiting");

const say = (value) => document.dispatchEvent(new CustomEvent("say", { detail: { value } }));
export const warn = (title, text) =>
  document.dispatchEvent(new CustomEvent("warn", { detail: { title, text } }));

export async function count() {
  const waiting = (await all()).length;
  shown.textContent = `${shown.dataset.words}: ${waiting}`;
  shown.hidden = waiting === 0 && !("always" in shown.dataset);
  return waiting;
}

// What is kept of a row is only ever followed by what was typed later, whichever was sealed first.
function unlessNewer(id, number, act) {
  return store("items", "readwrite", (items) => {
    const asked = items.get(id);
    asked.onsuccess = () => {
      if (!(asked.result?.number > number)) act(items);
    };
    return asked;
  });
}

export const put = (item) => unlessNewer(item.id, item.number, (items) => items.put(item));

export async function drop(id, number) {
  await unlessNewer(id, number, (items) => items.delete(id));
  await count();
}

// Asked for while it is going on, it goes on once more: something may have come, or the network.
let sending = null;
let asked = false;
let later;
export function flush() {
  asked = true;
  sending ??= flushAsked().finally(() => (sending = null));
  return sending;
}

async function flushAsked() {
  let waiting = 0;
  while (asked) {
    asked = false;
    await flushAll();
    waiting = await count();
  }
  clearTimeout(later);
  if (waiting > 0) later = setTimeout(flush, AGAIN);
}

async function flushAll() {
  for (const item of await all()) {
    const body = new URLSearchParams({ key: item.key, pass: item.pass, sealed: item.sealed });
    let said;
    try {
      const answer = await ask(shown.dataset.url, { method: "POST", body, credentials: "omit" });
      if (!answer.ok && ![409, 422].includes(answer.status)) break;
      said = await answer.json();
    } catch {
      break; // no network, or one that answers with a page of its own: it stays
    }
    const { fate, what_to_do } = said;
    await drop(item.id, item.number);
    if (what_to_do) warn(shown.dataset.refused, what_to_do);
    else if (fate === "clash" || fate === "late") say(shown.dataset[fate]);
  }
}
