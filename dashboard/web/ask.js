/* A question of a desk page to its server: JSON there, JSON back, and a sentence where none came. */
import { here } from "./root.js";

export async function ask(path, sent, tooLarge, still) {
  try {
    const reply = await fetch(here(path), sent === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(sent) });
    if (reply.status === 413) return { ok: false, problems: [tooLarge] };
    return await reply.json();
  } catch {
    return { ok: false, problems: [`The server did not answer. ${still}; try again.`] };
  }
}
