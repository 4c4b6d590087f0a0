/* What was clicked and the pictures, kept by the browser itself: pictures are too large for localStorage. */
import { MARK } from "../web/storage.js";

const STORE = "tracing";
const asked = (request) => new Promise((done, failed) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => failed(request.error);
});

async function store(mode) {
  const opening = indexedDB.open(`${MARK}trace`, 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore(STORE);
  return (await asked(opening)).transaction(STORE, mode).objectStore(STORE);
}

export async function kept() {
  try { return await asked((await store("readonly")).get("now")); } catch { return undefined; }
}

/* Returns whether it could be kept. */
export async function keepNow(state) {
  try { await asked((await store("readwrite")).put(state, "now")); return true; } catch { return false; }
}

export async function forget() {
  try { await asked((await store("readwrite")).delete("now")); } catch { /* nothing kept, nothing to forget */ }
}
