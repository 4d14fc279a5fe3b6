// Without network, or one that does not answer: an open visit's page is answered with its ledger
// without a patient, if this tablet may still read what belongs on it. Everything else goes past
// this script. It keeps no answer itself; pages keep only what anybody may fetch.

const NOTHING = "{% url 'without_network' %}";
const LIMIT = 6000;
const VISIT = /^\/visits\/([0-9a-f-]{36})\/$/;

self.addEventListener("install", (event) => {
  const asked = new Request(NOTHING, { credentials: "omit" });
  event.waitUntil(caches.open("{{ kept_as }}").then((cache) => cache.add(asked)));
});

self.addEventListener("activate", (event) => event.waitUntil(dropOthers()));

async function dropOthers() {
  for (const name of await caches.keys()) {
    if (name !== "{{ kept_as }}") await caches.delete(name);
  }
}

// The address of the ledger that a visit was shown on; nothing once the tablet was locked.
function shellOf(visit) {
  return new Promise((resolve) => {
    const asked = indexedDB.open("kneeledger-outbox");
    asked.onupgradeneeded = () => asked.transaction.abort();
    asked.onerror = () => resolve(null);
    asked.onsuccess = () => {
      const base = asked.result;
      if (!base.objectStoreNames.contains("pages")) return resolve(base.close());
      const page = base.transaction("pages").objectStore("pages").get(visit);
      page.onerror = () => resolve(null);
      page.onsuccess = () => {
        base.close();
        resolve(page.result?.shell);
      };
    };
  });
}

const kept = (address) => caches.match(address, { ignoreVary: true });

// All of a page or nothing: half a page would keep nothing of what is typed on it.
async function whole(request) {
  const answer = await fetch(request);
  return answer.ok ? new Response(await answer.blob(), answer) : answer;
}

// A network that does not answer is waited for only while there is nothing to show instead.
const shells = new Set();
async function pageOf(visit, { request, resultingClientId }) {
  const shell = shellOf(visit).then((address) => address && kept(address));
  const answered = whole(request).catch(() => null);
  const late = new Promise((resolve) => setTimeout(resolve, LIMIT, shell));
  const answer = await Promise.race([answered, late.then((found) => (found ? null : answered))]);
  if (answer) return answer;
  const found = await shell;
  if (found) shells.add(resultingClientId);
  return found || (await kept(NOTHING)) || Response.error();
}

// The ledger without a patient takes its files from where it came from itself.
async function fileOf({ request, clientId }) {
  const found = shells.has(clientId) && (await kept(request));
  return found || fetch(request).catch(async () => (await kept(request)) ?? Response.error());
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  const visit = request.mode === "navigate" ? VISIT.exec(pathname)?.[1] : null;
  if (visit) event.respondWith(pageOf(visit, event));
  else if (pathname.startsWith("{{ static }}")) event.respondWith(fileOf(event));
});
