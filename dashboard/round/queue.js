/* Answers that wait: each is kept on the phone under its own id before anything else happens, sent in order,
   and forgotten only when the server says by that id that it is kept. Sent twice it is one record: the server
   knows the id. What the server refuses stays, with its sentence, until a person decides. */
import { here } from "../web/root.js";
import { keep, newId } from "../web/storage.js";
import { say } from "./said.js";

/* An error whose words are for the person; the status tells whether it was the message that was too much. */
class Told extends Error {
  constructor(words, status) { super(words); this.status = status; }
}
const TOO_LARGE = 413;
const BY_CONTENT = [400, TOO_LARGE, 422, 500]; /* what one answer among others may be the reason of */
const AT_ONCE = 10;
const ENOUGH = 3; /* answers in a row that trip the server, and none that passes: it is the server */
const PATIENCE = 20000; /* ms for one request */
export const Q = { building: keep.get("building", null), online: true, signIn: "", trouble: "", onReply: null, onChange: null };
let sending = null, again = false, timer = null, pause = 2000;

const prefix = (key) => `wait.${key}.`;
const order = (a, b) => a.seq - b.seq || (a.id < b.id ? -1 : 1);
const read = (start) => keep.keys(start).map((key) => Object.assign(keep.get(key, {}), { key: key })).filter((one) => one.id).sort(order);
Q.all = () => (Q.building ? read(prefix(Q.building.key)) : []);
Q.waiting = () => Q.all().filter((one) => !one.refused);
Q.refused = () => Q.all().filter((one) => one.refused);
Q.elsewhere = () => read("wait.").filter((one) => !Q.building || one.building.key !== Q.building.key);

function write(one) {
  const bare = Object.assign({}, one);
  delete bare.key;
  keep.set(`${prefix(one.building.key)}${one.id}`, bare);
}

/* Keep an answer; returns its id. Throws when the phone has no room. */
Q.add = function (body, words) {
  const id = newId();
  const seq = Math.max(Date.now(), ...read("wait.").map((one) => one.seq + 1));
  write({ id: id, seq: seq, building: Q.building, words: words, body: Object.assign({ id: id }, body) });
  changed();
  return id;
};
Q.again = function (one) { write(Object.assign(one, { refused: "" })); changed(); Q.send(); };
/* A person has mended it: the same answer under the same id, for the server never kept it. */
Q.mend = function (one, change, words) { write(Object.assign(one, { body: Object.assign({}, one.body, change), words: words, refused: "" })); changed(); Q.send(); };
Q.forget = function (one) { keep.drop(one.key); changed(); };
Q.adopt = function (one) {
  keep.drop(one.key);
  write(Object.assign(one, { building: Q.building, refused: "" }));
  changed();
  Q.send();
};
/* An answer that never reached the server and is taken back leaves nothing to send. */
Q.undoRefused = (id) => { const one = Q.refused().find((other) => other.id === id); if (one) Q.forget(one); return !!one; };

function changed() { if (Q.onChange) Q.onChange(); }
Q.changed = changed;

function settle(replies) {
  const all = Q.all();
  for (const reply of replies) {
    const one = all.find((other) => other.id === reply.id);
    if (!one) continue;
    if (reply.ok) { keep.drop(one.key); continue; }
    /* Taken back before it was ever kept: the answer and its undo go together. */
    const undone = one.body.answer === "undo" && all.find((other) => other.refused && other.id === one.body.undoes);
    if (undone) { keep.drop(one.key); keep.drop(undone.key); continue; }
    one.refused = reply.words || say("refused_silent");
    write(one);
  }
}

export async function post(address, body) {
  const stop = new AbortController();
  const late = setTimeout(() => stop.abort(), PATIENCE);
  try {
    const response = await fetch(here(address), {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal: stop.signal, cache: "no-store",
    });
    let reply = null;
    try { reply = await response.json(); } catch { /* not our server's words: a proxy, a login page */ }
    if (reply && (response.status === 200 || response.status === 409) && reply.building) return reply;
    if (response.status === 401 && reply && reply.sign_in) Q.signIn = `${reply.sign_in}?next=${encodeURIComponent(location.pathname + location.search)}`;
    throw new Told(reply && reply.words ? reply.words : say("answered_code", { status: response.status }), response.status);
  } finally { clearTimeout(late); }
}

function meet(building) {
  if (Q.building && Q.building.key === building.key && Q.building.name === building.name) return; /* the key tells the person too */
  Q.building = building;
  keep.try("building", building);
}

/* How many go at once: fewer after a batch that did not pass, more after one that did. */
let most = AT_ONCE;

async function run() {
  const stuck = new Set(); /* what trips the server by itself is tried again later and holds up no other */
  const free = (one) => ![one.id, one.body.undoes, one.body.from].some((id) => stuck.has(id));
  let why = null, passed = false;
  for (;;) {
    again = false;
    const batch = Q.waiting().filter(free).slice(0, most);
    if (why && (!batch.length || (!passed && stuck.size >= ENOUGH))) throw why;
    const asked = Q.building ? Q.building.key : "", want = Q.want ? Q.want() : null;
    let reply;
    try {
      reply = await post("/round/answers", { building: asked, answers: batch.map((one) => one.body), want: want });
    } catch (error) {
      most = Math.max(1, Math.floor(Math.min(most, batch.length || 1) / 2));
      if (!BY_CONTENT.includes(error.status) || !batch.length) throw error;
      if (batch.length > 1) continue;
      if (error.status === TOO_LARGE) write(Object.assign(batch[0], { refused: error.message }));
      else { stuck.add(batch[0].id); why = error; }
      continue;
    }
    most = Math.min(AT_ONCE, most * 2);
    meet(reply.building);
    if (reply.replies) {
      settle(reply.replies);
      passed = true;
      for (const one of batch) if (!reply.replies.some((other) => other.id === one.id)) { stuck.add(one.id); why = new Told(say("refused_silent")); }
    }
    Q.online = true;
    Q.signIn = Q.trouble = "";
    pause = 2000;
    const settled = Q.waiting().length === 0;
    if (reply.replies && Q.onReply) Q.onReply(reply, settled, want);
    changed();
    /* The 409 of another building has no replies: ask once more, now under the right name. */
    if (!again && reply.replies && settled) return;
  }
}

Q.send = function () {
  if (sending) { again = true; return sending; }
  clearTimeout(timer);
  const locked = globalThis.navigator && navigator.locks ? () => navigator.locks.request("spread-send", run) : run;
  sending = locked().catch(function (error) {
    Q.online = false;
    Q.trouble = error instanceof Told ? error.message : "";
    timer = setTimeout(Q.send, pause);
    pause = Math.min(pause * 2, 30000);
    changed();
  }).finally(() => { sending = null; });
  changed();
  return sending;
};
Q.busy = () => !!sending;
/* A person or the browser says that it may work again: do not wait for the pause to end. */
Q.now = () => { pause = 2000; return Q.send(); };
