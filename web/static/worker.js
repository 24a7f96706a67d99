/* Keeps the shell, and nothing else: files whose address carries their content, and the sheet that says that
   nothing is heard. STORE, KEPT and UNHEARD are put before this by the watch. */
"use strict";

self.addEventListener("install", function (e) {
  e.waitUntil(caches.open(STORE).then(function (store) { return store.addAll(KEPT); })
    .then(function () { return self.skipWaiting(); }));
});

self.addEventListener("activate", function (e) {
  e.waitUntil(caches.keys().then(function (names) {
    return Promise.all(names.filter(function (name) { return name !== STORE; })
      .map(function (name) { return caches.delete(name); }));
  }).then(function () { return self.clients.claim(); }));
});

function unheard() {
  return new Response(UNHEARD, {
    status: 503,
    headers: {
      "Content-Type": "text/html; charset=utf-8",
      "Cache-Control": "no-store",
      "Content-Security-Policy": "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'"
    }
  });
}

self.addEventListener("fetch", function (e) {
  var address = new URL(e.request.url);
  if (e.request.method !== "GET" || address.origin !== self.location.origin) { return; }
  if (e.request.mode === "navigate") {
    e.respondWith(fetch(e.request).catch(unheard));
  } else if (KEPT.indexOf(address.pathname + address.search) >= 0) {
    e.respondWith(caches.open(STORE).then(function (store) { return store.match(e.request); })
      .then(function (kept) { return kept || fetch(e.request); }));
  }
});
