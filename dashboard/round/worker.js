/* Opens the phone pages without a connection. It keeps their shell only; answers are never its business. The server
   fills in the two constants: what is kept, and a mark that changes with any of it. */
"use strict";
const KEPT = "spread-field-VERSION";
const FILES = [/*FILES*/];
const SHELL = ["/round", "/room/", "/round/field.css", "/round/icon.svg", "/round/manifest.webmanifest", ...FILES];

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(KEPT).then((cache) => cache.addAll(SHELL.map((path) => new Request(path, { cache: "no-cache" })))).then(() => self.skipWaiting()),
  );
});
self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith("spread-field-") && name !== KEPT).map((name) => caches.delete(name)))).then(() => self.clients.claim()),
  );
});
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin || url.searchParams.has("fresh")) return;
  const room = event.request.mode === "navigate" && url.pathname.startsWith("/room/");
  const path = room ? "/room/" : url.pathname;
  if (!SHELL.includes(path)) return;
  event.respondWith(caches.open(KEPT).then((cache) => cache.match(path)).then((kept) => kept || fetch(event.request)));
});
