/* Another language or measure on the phone: the kept pages are fetched anew in it, if there is a connection, and then
   loaded. Without one they stay as they were kept, and the switch goes back. */
import "../web/switch.js";

const PAGES = ["/round", "/room/"];

async function anew() {
  /* With a question, so that the worker lets it through to the server. */
  const fresh = await Promise.all(PAGES.map((page) => fetch(`${page}?fresh`, { cache: "no-cache" })));
  if (!globalThis.caches || fresh.some((page) => !page.ok || page.redirected)) return;
  for (const name of await caches.keys()) {
    if (!name.startsWith("spread-field-")) continue;
    const kept = await caches.open(name);
    await Promise.all(PAGES.map((page, i) => kept.put(page, fresh[i].clone())));
  }
}

document.addEventListener("spread-voice", function (event) {
  event.preventDefault();
  anew().catch(() => {}).finally(() => location.reload());
});
