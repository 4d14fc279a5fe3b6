// Switched off: drops what was kept and goes.

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => event.waitUntil(clearUp()));

async function clearUp() {
  for (const name of await caches.keys()) await caches.delete(name);
  await self.registration.unregister();
}
