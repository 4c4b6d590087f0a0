/* Another language or measure on the phone: the kept pages are fetched anew in it, if there is a connection, and then
   loaded. Without one they stay as they were kept, and the switch goes back. */
import { here, root } from "../web/root.js";
import { chosen } from "../web/switch.js";

const PAGES = ["/round", "/room/"].map(here);

/* Says whether the kept pages are in the chosen voice now. */
async function anew() {
  /* With a question, so that the worker lets it through to the server. */
  const fresh = await Promise.all(PAGES.map((page) => fetch(`${page}?fresh`, { cache: "no-cache" })));
  if (!globalThis.caches || fresh.some((page) => !page.ok || page.redirected)) return false;
  for (const name of await caches.keys()) {
    if (!name.startsWith(`spread-field${root}-`)) continue;
    const kept = await caches.open(name);
    await Promise.all(PAGES.map((page, i) => kept.put(page, fresh[i].clone())));
  }
  return true;
}

document.addEventListener("spread-voice", function (event) {
  event.preventDefault();
  anew().catch(() => {}).finally(() => location.reload());
});

/* The language was chosen on another page, or without a connection, after this one was kept. */
const wanted = chosen("language");
if (document.querySelector(`[data-language="${CSS.escape(wanted)}"]`) && wanted !== document.documentElement.lang) {
  anew().then((done) => done && location.reload()).catch(() => {});
}
