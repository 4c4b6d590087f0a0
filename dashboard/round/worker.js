/* Opens the phone pages without a connection. It keeps their shell only; answers are never its business. The server
   fills in the two constants: what is kept, and a mark that changes with any of it. */
"use strict";
const ROOT = self.location.pathname.replace(/\/round\/worker\.js$/, "");
const MARK = `spread-field${ROOT}-`;
const KEPT = `${MARK}VERSION`;
const FILES = [/*FILES*/];
const SHELL = [...["/round", "/room/", "/round/field.css", "/round/icon.svg", "/round/manifest.webmanifest"].map((path) => ROOT + path), ...FILES];

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(KEPT).then((cache) => cache.addAll(SHELL.map((path) => new Request(path, { cache: "no-cache" })))).then(() => self.skipWaiting()),
  );
});
self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith(MARK) && name !== KEPT).map((name) => caches.delete(name)))).then(() => self.clients.claim()),
  );
});
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin || url.searchParams.has("fresh")) return;
  const room = event.request.mode === "navigate" && url.pathname.startsWith(`${ROOT}/room/`);
  const path = room ? `${ROOT}/room/` : url.pathname;
  if (!SHELL.includes(path)) return;
  event.respondWith(caches.open(KEPT).then((cache) => cache.match(path)).then((kept) => kept || fetch(event.request)));
});
