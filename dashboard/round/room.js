/* The room page: where the unit stands, saving what was found, taking it back, and the server's word. Everything
   is answered through the same queue as the round, so it works without a connection. */
import { at, el } from "../web/elements.js";
import { keep, storageWorks } from "../web/storage.js";
import { local, many } from "./base.js";
import { Q } from "./queue.js";
import { drawFollow, drawTraps, drawTreat } from "./room_after.js";
import { drawLook, placesOf, refresh, rows } from "./room_look.js";
import { R, button, give, key, load, say, today, words } from "./room_state.js";

const unit = R.unit;
let way = "thorough-visual";

/* -- where the unit stands -- */
function drawState() {
  at("unit").replaceChildren(el("small", { text: "Unit " }), unit);
  document.title = `${unit} · room sheet`;
  at("building").textContent = Q.building ? Q.building.name : "";
  const ready = !!(R.room || R.any);
  at("wait").hidden = ready;
  if (!ready) at("wait").textContent = Q.signIn ? "Sign in again to get the room." : Q.online ? "Getting the room …" : "No connection, and this phone has no room sheet yet. Open this page once with a connection.";
  for (const name of ["look", "treat", "traps", "follow"]) at(`part-${name}`).hidden = !ready;
  if (!R.room) { at("state").replaceChildren(ready ? el("p", { class: "soft", text: "What is known of this unit comes with the connection. The sheet is here." }) : ""); return; }
  at("floor").textContent = R.room.floor;
  at("state").replaceChildren(
    el("p", { class: "tags" }, el("span", { class: `chance c${R.room.class}` }, el("b", { text: R.room.percent }), el("span", { text: `${R.room.chance_words} chance` })),
      el("span", { class: "tag stand", text: R.room.followup.title })),
    el("ul", { class: "known" }, shortly().map((one) => el("li", { text: local(one) }))));
}

/* Where it stands and when to come; what clearance lacks is told in full under follow-up. */
function shortly() {
  const one = R.room.followup;
  if (one.state === "looked-for") return [R.room.why];
  const said = [one.words[0]];
  if (one.lacks.length) said.push(`Clearance still lacks ${many(one.lacks.length, "thing", "things")}: see follow-up.`);
  if (one.visit) said.push(one.words[one.words.length - 1]);
  return said;
}

/* -- saving what was found -- */
export function drawThumb() {
  const looked = new Set(R.draft ? R.draft.items().map((one) => one.item) : []).size, all = rows().length;
  const looking = at("part-look").open && looked > 0 && (R.draft.changed || !R.draft.saved);
  at("save").hidden = !looking;
  at("save").textContent = `${R.draft && R.draft.saved ? "Save again" : "Save findings"}: ${looked} of ${all} items`;
  at("last").hidden = !R.last;
  if (R.last) { at("last-words").textContent = R.last.words; at("undo").setAttribute("aria-label", `Undo: ${R.last.words}`); }
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
  const proposal = R.room && R.room.proposal, W = words(), untouched = rows().filter((row) => row.group !== "check" && !R.draft.of(row.code).length);
  const nothing = R.draft.items().every((one) => !one.evidence.length);
  at("proposal").textContent = !Q.online ? "No connection. Saved as proposed, the level is worked out when it is sent; or choose one yourself."
    : !proposal ? "Asking what it amounts to …" : proposal.wrong || proposal.words;
  at("proposal").className = proposal && proposal.wrong ? "wrong-words" : "";
  at("rest").replaceChildren(untouched.length ? button(`I looked at the other ${many(untouched.length, "item", "items")} too: nothing seen`, () => {
    for (const row of untouched) for (const place of placesOf(row)) R.draft.put(row.code, place, { looked: true });
    R.room && delete R.room.proposal;
    for (const row of untouched) refresh(row);
    drawJudge();
    drawThumb();
    Q.send();
  }, { class: "quiet wide", id: "rest-nothing" }) : "");
  at("how").replaceChildren(...W.looks.map(([value, text]) => button(text, () => { way = value; drawJudge(); }, { "aria-pressed": String(way === value), "data-way": value })));
  const asProposed = !proposal ? "As proposed" : proposal.found === "no" ? "As proposed: nothing found" : proposal.level ? `As proposed: ${proposal.level_words.toLowerCase()}` : proposal.found === "yes" ? "As proposed: signs, no level" : "As proposed: not sure";
  at("levels").replaceChildren(
    button(asProposed, () => saveFindings("proposed", proposal ? asProposed.slice(13) : "level as proposed"), { class: "wide main-answer", "data-level": "proposed" }),
    ...W.levels.map(([value, text, hint]) => { const node = button("", () => saveFindings(value, text.toLowerCase()), { "data-level": value }); node.append(el("b", { text: text }), el("small", { text: hint })); return node; }),
    button("Signs, no level", () => saveFindings("signs", "signs found, no level"), { "data-level": "signs", disabled: nothing }),
    button("Not sure", () => saveFindings("unsure", "not sure"), { "data-level": "unsure" }),
    nothing ? button("Nothing found", () => saveFindings("nothing", "nothing found"), { class: "wide", "data-level": "nothing" }) : "");
}
function saveFindings(level, text) {
  const id = give({ answer: "room", method: way, level: level, items: R.draft.items(), from: R.draft.from }, `room sheet, ${text}`, "room");
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
    try { Q.add({ unit: unit, answer: "undo", undoes: R.last.id, when: today() }, `${unit}: taken back`); } catch { say("This phone has no room to keep that. Nothing was taken back."); return; }
  }
  if (R.last.kind === "room") R.draft.unsave();
  R.last = null;
  keep.drop(key(`roomlast.${unit}`));
  draw();
  Q.send();
}

export function draw() {
  drawState();
  if (R.room || R.any) { drawLook(); drawTreat(); if (!at("traps").contains(document.activeElement)) drawTraps(); drawFollow(); drawThumb(); }
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
    if (R.room.places_wrong) say(R.room.places_wrong);
    if (first) openFirst();
    if (at("judge").open) drawJudge();
  } else if (reply.version !== undefined && !R.room) {
    say(`This building has no unit ${unit}. Go back to the round and choose a door.`);
  }
  if (reply.busy) setTimeout(Q.send, 4000);
};
Q.onChange = function () { if (at("judge").open) { drawJudge(); Q.show(); } else draw(); };
function fetchAny() {
  fetch("/room/sheet.json").then((reply) => reply.json()).then((any) => keep.try(`any-room.${any.building.key}`, any)).catch(() => {});
}
function openFirst() {
  const status = R.given || !R.room ? "look" : R.room.status === "treat" ? "treat" : R.room.status === "revisit" ? "traps" : "look";
  if (!document.querySelector("main > details[open]")) at(`part-${status}`).open = true;
}

for (const name of ["look", "treat", "traps", "follow"]) at(`part-${name}`).addEventListener("toggle", drawThumb);
document.addEventListener("click", function (event) {
  if (event.target.closest("#save")) openJudge();
  if (event.target.closest("#judge-close")) at("judge").close();
  if (event.target.closest("#undo")) undo();
});

load();
if (!storageWorks()) say("This browser keeps nothing (private window?): an answer could not wait here, so none is taken. Open it in an ordinary window.");
draw();
if (R.room || R.any) openFirst();
Q.send();
