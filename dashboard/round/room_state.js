/* What the parts of the room page share: the unit, what is known of it, the draft of findings, and keeping an
   answer. */
import { here } from "../web/root.js";
import { at, el } from "../web/elements.js";
import { keep } from "../web/storage.js";
import { day } from "./base.js";
import { findings } from "./findings.js";
import { heatLog } from "./heat_log.js";
import { job } from "./job.js";
import { Q } from "./queue.js";
import { say } from "./said.js";

const unit = decodeURIComponent(location.pathname.slice(here("/room/").length).replace(/\/$/, ""));
/* any: the sheet that all rooms share; room: the server's word on this one; draft: of findings; job: of a
   treatment; heat: readings of a heat job; last: what may be taken back. */
export const R = { unit: unit, given: new URLSearchParams(location.search).get("from") || "", any: null, room: null, draft: null, job: null, heat: null, last: null };

export const key = (name) => `${name}.${Q.building ? Q.building.key : ""}`;
export const tell = (words) => { at("tell").textContent = words; at("tell").hidden = !words; if (words) at("main").scrollTop = 0; };
export const button = (text, act, attributes) => { const node = el("button", Object.assign({ type: "button", text: text }, attributes)); node.addEventListener("click", () => act(node)); return node; };
export const words = () => (R.room || R.any).words;
export const sheet = () => (R.room || R.any).sheet;
export const today = () => { const told = keep.get(key("day"), null); return told ? day(told.day, told.live, told.got) : ""; };

Q.want = function () {
  const want = { room: unit };
  if (R.draft) Object.assign(want, { places: R.draft.places.join(", "), items: R.draft.items(), from: R.draft.from });
  return want;
};

export function load() {
  /* What was kept by an older version of these pages is asked for anew. */
  const whole = (kept) => (kept && kept.sheet.rows.every((row) => row.at) ? kept : null);
  R.any = whole(keep.get(key("any-room"), null));
  R.room = whole(keep.get(key(`room.${unit}`), null));
  R.draft = findings(unit, Q.building ? Q.building.key : "");
  R.job = job(unit, Q.building ? Q.building.key : "");
  R.heat = heatLog(unit, Q.building ? Q.building.key : "");
  R.draft.onFull = () => tell(say("no_room_entered"));
  if (Q.building) R.draft.begin(today(), R.given);
  R.last = keep.get(key(`roomlast.${unit}`), null);
}

/* Keep an answer; returns its id, or nothing when the phone could not. */
export function give(body, text, kind) {
  const when = today();
  if (!when) { tell(say("no_day")); return ""; }
  let id = "";
  try { id = Q.add(Object.assign({ unit: unit, when: when }, body), text); } catch {
    tell(say("no_room_kept"));
    return "";
  }
  tell("");
  R.last = { id: id, words: text, kind: kind };
  keep.try(key(`roomlast.${unit}`), R.last);
  at("heard").textContent = say("kept", { what: R.last.words });
  return id;
}
