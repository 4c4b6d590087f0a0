/* Photographs that wait: kept in the browser's database as they are taken, made small, sent one by one, the
   smallest first, and forgotten only when the server says by its name that it is kept. Drawn anew on a canvas a
   photograph holds nothing but the picture: no place, no time, no camera. */
import { MARK, newId } from "../web/storage.js";
import { here } from "../web/root.js";
import { Q } from "./queue.js";

const SIDE = 1280, QUALITY = 0.72, PATIENCE = 60000;
export const P = { waiting: 0, refused: [], onChange: null };

function opened() {
  return new Promise((done, fail) => {
    const ask = indexedDB.open(`${MARK}photographs`, 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("waiting", { keyPath: "name" });
    ask.onsuccess = () => done(ask.result);
    ask.onerror = () => fail(ask.error);
  });
}
async function within(mode, work) {
  const base = await opened();
  try {
    return await new Promise((done, fail) => {
      const step = base.transaction("waiting", mode), ask = work(step.objectStore("waiting"));
      step.oncomplete = () => done(ask.result);
      step.onerror = step.onabort = () => fail(step.error);
    });
  } finally { base.close(); }
}

async function smaller(file) {
  const picture = await createImageBitmap(file);
  const by = Math.min(1, SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * by));
  canvas.height = Math.max(1, Math.round(picture.height * by));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done, fail) => { canvas.toBlob((blob) => blob ? done(blob) : fail(new Error("no picture")), "image/jpeg", QUALITY); });
}

/* Keep a photograph; returns its name, under which a finding speaks of it. Throws where it cannot be kept. */
P.take = async function (file) {
  const blob = await smaller(file), name = `photos/${newId()}.jpg`;
  await within("readwrite", (shelf) => shelf.put({ name: name, building: Q.building ? Q.building.key : "", bytes: blob.size, blob: blob }));
  await count();
  P.send();
  return name;
};
P.forget = async function (name) { await within("readwrite", (shelf) => shelf.delete(name)); await count(); };

const mine = async () => (await within("readonly", (shelf) => shelf.getAll())).filter((one) => Q.building && one.building === Q.building.key);
async function count() {
  const all = await mine();
  P.waiting = all.filter((one) => !one.refused).length;
  P.refused = all.filter((one) => one.refused);
  if (P.onChange) P.onChange();
}

let sending = null;
P.send = function () {
  sending = sending || run().catch(() => { /* no connection: the next turn of the queue tries again */ }).finally(() => { sending = null; });
  return sending;
};
async function run() {
  for (const one of (await mine()).filter((it) => !it.refused).sort((a, b) => a.bytes - b.bytes)) {
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const reply = await fetch(here(`/photographs/${one.name}?building=${encodeURIComponent(one.building)}`), { method: "POST", headers: { "Content-Type": "image/jpeg" }, body: one.blob, signal: stop.signal });
      const told = await reply.json().catch(() => null);
      if (reply.status === 200 && told && told.ok) await within("readwrite", (shelf) => shelf.delete(one.name));
      else if (reply.status === 422 && told) await within("readwrite", (shelf) => shelf.put(Object.assign(one, { refused: told.words })));
      else return;
    } finally { clearTimeout(late); }
    await count();
  }
}
count().catch(() => { /* no database (private window): taking one says so */ });
