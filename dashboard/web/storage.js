/* What a browser keeps for a page. localStorage is written before the next line runs, so an answer is kept before
   the page moves on. Buildings of one office keep apart what they keep. */
import { root } from "./root.js";

export const MARK = `spread${root.replaceAll("/", ".")}.`;

export const keep = {
  get(key, otherwise) {
    try {
      const text = localStorage.getItem(MARK + key);
      return text === null ? otherwise : JSON.parse(text);
    } catch { return otherwise; }
  },
  set(key, value) { /* throws when there is no room: the caller says so and does not move on */
    localStorage.setItem(MARK + key, JSON.stringify(value));
  },
  try(key, value) { try { this.set(key, value); } catch { /* a list that can be fetched again */ } },
  drop(key) { try { localStorage.removeItem(MARK + key); } catch { /* nothing kept, nothing to drop */ } },
  keys(start) {
    const found = [];
    try {
      for (let i = 0; i < localStorage.length; i += 1) {
        const key = localStorage.key(i);
        if (key.startsWith(MARK + start)) found.push(key.slice(MARK.length));
      }
    } catch { /* storage is switched off: storageWorks says so */ }
    return found;
  },
};

export function storageWorks() {
  try { keep.set("try", 1); keep.drop("try"); return true; } catch { return false; }
}

export function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
