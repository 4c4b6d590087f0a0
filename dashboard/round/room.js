/* The room page: where the unit stands, saving what was found, taking it back, and the server's word. Everything
   is answered through the same queue as the round, so it works without a connection. */
import { at, el } from "../web/elements.js";
import { here } from "../web/root.js";
import { keep, storageWorks } from "../web/storage.js";
import { Q } from "./queue.js";
import { P } from "./photographs.js";
import "./queue_sheet.js";
import { drawFollow, drawTraps, drawTreat } from "./room_after.js";
import { drawHeat } from "./room_heat.js";
import { drawEnd } from "./room_job.js";
import { drawLook, placesOf, refresh, rows, slept } from "./room_look.js";
import { R, button, give, key, load, tell, today, words } from "./room_state.js";
import { many, say } from "./said.js";
import { T } from "./together.js";
import "./voice.js";

const unit = R.unit;
let way = "thorough-visual";

/* -- where the unit stands -- */
function drawState() {
  at("unit").replaceChildren(el("small", { text: `${say("unit")} ` }), unit);
  document.title = say("room_title", { unit: unit });
  at("building").textContent = Q.building ? Q.building.name : "";
  const ready = !!(R.room || R.any);
  at("wait").hidden = ready;
  if (!ready) at("wait").textContent = Q.signIn ? say("room_sign_in") : Q.online ? say("getting_room") : say("room_offline");
  for (const name of ["look", "treat", "heat", "traps", "follow", "end"]) at(`part-${name}`).hidden = !ready;
  if (!R.room) { at("state").replaceChildren(ready ? el("p", { class: "soft", text: say("known_later") }) : ""); return; }
  at("floor").textContent = R.room.floor;
  at("state").replaceChildren(
    el("p", { class: "tags" }, el("span", { class: `chance c${R.room.class}` }, el("b", { text: R.room.percent }), el("span", { text: say("chance_of", { word: R.room.chance_words }) })),
      el("span", { class: "tag stand", text: R.room.followup.title })),
    el("ul", { class: "known" }, shortly().map((one) => el("li", { text: one }))));
}

/* Where it stands and when to come; what clearance lacks is told in full under follow-up. */
function shortly() {
  const one = R.room.followup;
  if (one.state === "looked-for") return [R.room.why];
  const said = [one.words[0]];
  if (one.lacks.length) said.push(many("still_lacks", one.lacks.length));
  if (one.visit) said.push(one.words[one.words.length - 1]);
  return said;
}

/* -- saving what was found -- */
export function drawThumb() {
  const looked = new Set(R.draft ? R.draft.items().map((one) => one.item) : []).size, all = rows().length;
  const looking = at("part-look").open && looked > 0 && (R.draft.changed || !R.draft.saved);
  at("save").hidden = !looking;
  at("save").textContent = say(R.draft && R.draft.saved ? "save_items_again" : "save_items", { looked: looked, all: all });
  at("last").hidden = !R.last;
  if (R.last) { at("last-words").textContent = R.last.words; at("undo").setAttribute("aria-label", say("undo_what", { what: R.last.words })); }
  at("thumb").hidden = at("save").hidden && at("last").hidden;
}
function openJudge() {
  R.room && delete R.room.proposal;
  way = (R.draft.items().length && way) || "thorough-visual";
  drawJudge();
  at("judge").showModal();
  at("judge-title").focus();
  Q.send();
}
function drawJudge() {
  const proposal = R.room && R.room.proposal, W = words(), untouched = rows().filter((row) => row.group !== "check" && !slept(row) && !R.draft.of(row.code).length);
  const nothing = R.draft.items().every((one) => !one.evidence.length);
  at("proposal").textContent = !Q.online ? say("judge_offline")
    : !proposal ? say("judge_asking") : proposal.wrong || proposal.words;
  at("proposal").className = proposal && proposal.wrong ? "wrong-words" : "";
  at("rest").replaceChildren(untouched.length ? button(many("rest_nothing", untouched.length), () => {
    for (const row of untouched) for (const place of placesOf(row)) R.draft.put(row.code, place, { looked: true });
    R.room && delete R.room.proposal;
    for (const row of untouched) refresh(row);
    drawJudge();
    drawThumb();
    Q.send();
  }, { class: "quiet wide", id: "rest-nothing" }) : "");
  const made = proposal && !proposal.wrong && way === "thorough-visual" && proposal.method !== way ? W.looks.find(([value]) => value === proposal.method) : null;
  at("how").replaceChildren(...(made ? [el("p", { class: "soft", id: "seen-makes", text: say("seen_makes", { way: made[1].toLowerCase() }) })] : []), ...W.looks.map(([value, text]) => button(text, () => { way = value; drawJudge(); }, { "aria-pressed": String(way === value), "data-way": value })));
  const amounts = !proposal ? "" : proposal.found === "no" ? say("level_nothing") : proposal.level ? proposal.level_words.toLowerCase() : proposal.found === "yes" ? say("level_signs") : say("level_unsure");
  at("levels").replaceChildren(
    button(amounts ? say("as_proposed_level", { level: amounts }) : say("as_proposed"), () => saveFindings("proposed", amounts || say("level_as_proposed")), { class: "wide main-answer", "data-level": "proposed" }),
    ...W.levels.map(([value, text, hint]) => { const node = button("", () => saveFindings(value, text.toLowerCase()), { "data-level": value }); node.append(el("b", { text: text }), el("small", { text: hint })); return node; }),
    button(say("signs_no_level"), () => saveFindings("signs", say("signs_found_no_level")), { "data-level": "signs", disabled: nothing }),
    button(say("not_sure"), () => saveFindings("unsure", say("level_unsure")), { "data-level": "unsure" }),
    nothing ? button(say("nothing_found"), () => saveFindings("nothing", say("level_nothing")), { class: "wide", "data-level": "nothing" }) : "");
}
function saveFindings(level, text) {
  const id = give({ answer: "room", method: way, level: level, items: R.draft.items(), from: R.draft.from }, say("said_sheet", { unit: unit, level: text }), "room");
  at("judge").close();
  if (!id) return;
  corrects(R.draft.from, id);
  R.draft.wasSaved(id, today());
  at("part-look").open = false;
  draw();
  Q.send();
}
/* The round's Undo takes back what stands: the sheet, where it took the place of the answer at the door. */
function corrects(before, now) {
  const kept = keep.get(key("round"), null);
  if (!kept || !kept.last || kept.last.id !== before) return;
  kept.last.id = now;
  kept.last.words = R.last.words;
  keep.try(key("round"), kept);
}
function undo() {
  if (!R.last) return;
  if (!Q.undoRefused(R.last.id)) {
    try { Q.add({ unit: unit, answer: "undo", undoes: R.last.id, when: today() }, say("taken_back", { unit: unit })); } catch { tell(say("no_room_undo")); return; }
  }
  if (R.last.kind === "room") R.draft.unsave();
  R.last = null;
  keep.drop(key(`roomlast.${unit}`));
  draw();
  Q.send();
}

/* What somebody is writing in is not drawn anew under their hands. */
const typing = (part) => at(part).contains(document.activeElement) && document.activeElement.matches("input, textarea");
export function draw() {
  drawState();
  if (R.room || R.any) { drawLook(); if (!typing("treat")) drawTreat(); if (!at("heat").childElementCount) drawHeat(); drawEnd(); if (!at("traps").contains(document.activeElement)) drawTraps(); drawFollow(); drawThumb(); }
  Q.show();
}

Q.onReply = function (reply) {
  keep.try(key("day"), { day: reply.day, live: reply.live, got: Date.now() });
  if (!R.draft || !reply.room) { if (!R.draft) load(); }
  if (reply.room) {
    const first = !R.room;
    if (!keep.get(key("any-room"), null)) fetchAny();
    if (!R.draft.begun) { load(); R.draft.begun = true; }
    R.room = reply.room;
    const kept = Object.assign({}, R.room);
    delete kept.proposal;
    keep.try(key(`room.${unit}`), kept);
    if (R.room.places_wrong) tell(R.room.places_wrong);
    if (first) openFirst();
    if (at("judge").open) drawJudge();
  } else if (reply.version !== undefined && !R.room) {
    tell(say("room_no_unit", { unit: unit }));
  }
  if (reply.busy) setTimeout(Q.send, 4000);
  P.send();
};
Q.onChange = function () { if (at("judge").open) { drawJudge(); Q.show(); } else draw(); };
function fetchAny() {
  fetch(here("/room/sheet.json")).then((reply) => reply.json()).then((any) => keep.try(`any-room.${any.building.key}`, any)).catch(() => {});
}
function openFirst() {
  const status = R.given || !R.room ? "look" : R.room.status === "treat" ? "treat" : R.room.status === "revisit" ? "traps" : "look";
  if (!document.querySelector("main > details[open]")) at(`part-${status}`).open = true;
}

for (const name of ["look", "treat", "heat", "traps", "follow", "end"]) at(`part-${name}`).addEventListener("toggle", drawThumb);
document.addEventListener("click", function (event) {
  if (event.target.closest("#save")) openJudge();
  if (event.target.closest("#judge-close")) at("judge").close();
  if (event.target.closest("#undo")) undo();
});

load();
if (!storageWorks()) tell(say("keeps_nothing"));
T.show();
draw();
if (R.room || R.any) openFirst();
Q.send();
