/* What others do meanwhile: answers of today, doors that somebody has taken, doors answered twice. Asked every few
   seconds while the page is seen; what was heard last is kept, so that a phone without a connection leaves others
   their doors and keeps its own. */
import { at, el } from "../web/elements.js";
import { keep, newId } from "../web/storage.js";
import { Q, post } from "./queue.js";
import { say } from "./said.js";

const EVERY = 3000;
const LASTS = 3 * 36e5; /* as on the server: afterwards nobody knows who goes where */
const key = (name) => `${name}.${Q.building ? Q.building.key : ""}`;
const heard = () => { const kept = keep.get(key("together"), null); return kept && Date.now() - kept.got < LASTS ? kept : {}; };
let memory = "";
function phone() {
  const kept = memory || keep.get("phone", "") || newId();
  if (!memory) keep.try("phone", kept);
  memory = kept;
  return kept;
}
export const T = { onNews: null };
T.answered = () => heard().answered || {};
T.taken = () => heard().taken || {};
T.holds = () => keep.get(key("holds"), []);
T.want = () => ({ phone: phone(), holds: T.holds() });
T.take = (units) => { keep.try(key("holds"), [...new Set([...T.holds(), ...units])]); };
T.give = (units) => { keep.try(key("holds"), T.holds().filter((unit) => !units.includes(unit))); };
T.takenBy = (unit) => (unit in T.taken() ? say("taken_by", { who: T.taken()[unit] || say("another_phone") }) : "");

/* The server's word. What was asked for and not granted is somebody else's; what was taken since stays asked for. */
T.hear = function (now, asked) {
  const before = JSON.stringify([T.answered(), T.taken(), heard().twice, heard().trouble]);
  if (now.part) T.take(now.part);
  const lost = asked.filter((unit) => !now.holds.includes(unit));
  keep.try(key("together"), { got: Date.now(), answered: now.answered, taken: now.taken, twice: now.twice, trouble: now.trouble });
  if (lost.length) T.give(lost);
  if (lost.length || before !== JSON.stringify([now.answered, now.taken, now.twice, now.trouble])) { T.show(); if (T.onNews) T.onNews(lost); }
};

T.show = function () {
  const seen = keep.get(key("seen"), []), known = heard();
  const twice = (known.twice || []).filter((one) => !seen.includes(one.id));
  const read = (one) => el("button", { type: "button", class: "quiet", text: say("read_it"), click: () => { keep.try(key("seen"), [...seen, one.id].slice(-200)); T.show(); } });
  at("notices").replaceChildren(
    ...(known.trouble || []).map((line) => el("p", { class: "tell", text: line })),
    ...twice.map((one) => el("div", { class: one.differ ? "notice differ" : "notice" }, el("p", { text: one.words }), read(one))));
};

async function ask() {
  if (!Q.building || Q.busy() || Q.signIn || document.visibilityState !== "visible" || navigator.onLine === false) return;
  const want = T.want();
  const reply = await post("/round/now", { building: Q.building.key, ...want });
  if (reply.building.key !== Q.building.key) { Q.send(); return; }
  if (reply.answered) T.hear(reply, want.holds);
  if (!Q.online || Q.waiting().length) Q.now();
}
async function round() {
  try { await ask(); } catch { /* no connection: the queue says so when something waits */ }
  setTimeout(round, EVERY);
}
setTimeout(round, EVERY);
