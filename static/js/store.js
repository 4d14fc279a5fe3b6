// The browser's store: what waits to be sent, the pages that may be shown again, and their key.

const TABLES = { items: "id", pages: "visit", keys: "id" };

export const works =
  globalThis.isSecureContext && "indexedDB" in globalThis && Boolean(crypto.subtle);

let opening;
function open() {
  opening ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("kneeledger-outbox", 2);
    asked.onupgradeneeded = () => {
      const there = asked.result.objectStoreNames;
      for (const [table, keyPath] of Object.entries(TABLES)) {
        if (!there.contains(table)) asked.result.createObjectStore(table, { keyPath });
      }
    };
    asked.onsuccess = () => {
      asked.result.onversionchange = () => asked.result.close();
      resolve(asked.result);
    };
    asked.onerror = asked.onblocked = () => reject(asked.error);
  });
  return opening;
}

// One transaction over one table: the answer to what was asked in it, once it is on the disk.
export async function store(table, mode, act) {
  const change = (await open()).transaction(table, mode, { durability: "strict" });
  const asked = act(change.objectStore(table));
  return new Promise((resolve, reject) => {
    change.oncomplete = () => resolve(asked.result);
    change.onerror = change.onabort = () => reject(change.error);
  });
}

export const all = () => store("items", "readonly", (items) => items.getAll());
