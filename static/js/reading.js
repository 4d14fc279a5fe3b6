// What an open visit's page needs to be shown again without network, encrypted on this tablet. Its
// key cannot be taken out of the browser, and is deleted by every lock, signing out and the end of
// the shift: then nobody can read it any more, and the draft comes from the server alone.

import { store, works } from "./store.js";

const ACTIVE = "kneeledger-active";
const LOCKED = "kneeledger-locked";
const KEY = "reading";
const HOW = { name: "AES-GCM", length: 256 };

const keyOf = () => store("keys", "readonly", (keys) => keys.get(KEY));

// Somebody touched this tablet; the bare time, for the next start.
export const touched = () => localStorage.setItem(ACTIVE, String(Date.now()));
export const quietFor = () => Date.now() - Number(localStorage.getItem(ACTIVE));

// Locked without network, a tablet stays so until it has reached the lock itself.
export const isLocked = () => LOCKED in localStorage;
export const setLocked = () => localStorage.setItem(LOCKED, "");
export const atTheLock = () => localStorage.removeItem(LOCKED);

export async function forget() {
  if (!works) return;
  await store("keys", "readwrite", (keys) => keys.clear());
  await store("pages", "readwrite", (pages) => pages.clear());
  localStorage.removeItem(ACTIVE);
}

// Only a page that the server has shown to an open session begins a key.
export async function begin(secondsLeft) {
  const ends = Date.now() + secondsLeft * 1000;
  const key = (await keyOf())?.key ?? (await crypto.subtle.generateKey(HOW, false, ["encrypt", "decrypt"]));
  await store("keys", "readwrite", (keys) => keys.put({ id: KEY, key, ends }));
}

async function keyInForce() {
  const found = await keyOf();
  if (found && Date.now() < found.ends) return found.key;
  if (found) {
    await forget();
    setTimeout(() => document.dispatchEvent(new Event("lock-now"))); // the shift is over
  }
  return null;
}

const bound = (visit, iv) => ({ name: "AES-GCM", iv, additionalData: new TextEncoder().encode(visit) });

// False once there is no key any more: what is typed then waits in the outbox alone.
export async function keep(visit, shell, reading) {
  const key = await keyInForce();
  if (!key) return false;
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const text = new TextEncoder().encode(JSON.stringify(reading));
  const box = await crypto.subtle.encrypt(bound(visit, iv), key, text);
  if (!(await keyOf())) return false; // locked meanwhile
  await store("pages", "readwrite", (pages) => pages.put({ visit, shell, iv, box }));
  return true;
}

// A visit that is not open any more is not shown again.
export const drop = (visit) => store("pages", "readwrite", (pages) => pages.delete(visit));

export async function recall(visit) {
  const key = await keyInForce();
  const page = key && (await store("pages", "readonly", (pages) => pages.get(visit)));
  if (!page) return null;
  const text = await crypto.subtle.decrypt(bound(visit, page.iv), key, page.box);
  return JSON.parse(new TextDecoder().decode(text));
}
