/* The round: one door at a time. The next door comes from what the phone has, at once; what the server
   plans after an answer takes its place when it arrives soon, and is offered when it arrives late. */
import { at, el } from "../web/elements.js";
import { here } from "../web/root.js";
import { keep, storageWorks } from "../web/storage.js";
import { clock, day, walk } from "./base.js";
import { Q } from "./queue.js";
import "./queue_sheet.js";
import { many, say } from "./said.js";
import { T } from "./together.js";
import "./voice.js";

const SOON = 1500;  /* ms in which a new plan may still change the door on the screen */
const STILL = 450;  /* ms in which a press is taken for the end of the last one: no door is answered by a bounce */
const LONGEST = 14 * 36e5;
const FEW = 3;      /* doors left on the phone: others answer too, so more are asked for */
let data = null, round = null, offered = "", soonUntil = 0, stillUntil = 0, later = null, holding = null;

const key = (name) => `${name}.${Q.building ? Q.building.key : ""}`;
const minutesOf = (date) => date.getHours() * 60 + date.getMinutes();
function fresh(old) {
  const now = new Date();
  return { begun: now.getTime(), begins: minutesOf(now), minutes: (old && old.minutes) || 240, method: (old && old.method) || "", order: (old && old.order) || "planned",
    also: (old && old.also) || [], team: (old && old.team) || 1, skipped: [], at: "", shown: "", count: 0, last: null };
}
const save = () => keep.try(key("round"), round);
function load() {
  data = keep.get(key("doors"), null);
  const kept = keep.get(key("round"), null);
  round = kept && Date.now() - kept.begun < LONGEST ? kept : fresh(kept);
}

Q.want = () => ({ method: round.method, minutes: round.minutes, begins: round.begins, elapsed: (Date.now() - round.begun) / 6e4, at: round.at,
  order: round.order, also: round.also, skipped: round.skipped, unit: round.asked || undefined, split: round.split || undefined, ...T.want() });

/* -- which doors are left, as far as the phone knows -- */
function answered() {
  const waiting = Q.waiting(), taken = new Set(waiting.filter((one) => one.body.answer === "undo").map((one) => one.body.undoes));
  return new Set(waiting.filter((one) => one.body.answer !== "undo" && !taken.has(one.id)).map((one) => one.body.unit));
}
function left() {
  if (!data) return [];
  const gone = answered(), skipped = new Set(round.skipped), others = T.answered(), taken = T.taken(), holds = T.holds();
  const open = data.round.doors.filter((door) => !gone.has(door.unit) && !skipped.has(door.unit) && !(door.unit in others) && !(door.unit in taken));
  return holds.length ? [...open.filter((door) => holds.includes(door.unit)), ...open.filter((door) => !holds.includes(door.unit))] : open;
}
function current() {
  const doors = left();
  return (round.picked && round.picked.unit === round.shown && round.picked) || doors.find((door) => door.unit === round.shown) || doors[0] || null;
}
function find(unit) { return data && data.round.doors.find((door) => door.unit === unit); }

function walkTo(door) {
  const ways = data.round.walk, place = (unit) => data.round.doors.findIndex((one) => one.unit === unit);
  const to = place(door.unit), from = place(round.at);
  let metres = null, start = "";
  if (to >= 0 && (round.at ? ways.here === round.at : true)) { metres = ways.from_here[to]; start = ways.here; }
  else if (to >= 0 && from >= 0) { metres = ways.between[from][to]; start = round.at; }
  const before = find(round.at) || round.stood;
  const levels = before && before.unit === round.at ? door.level - before.level : null;
  const climb = levels === null || levels === 0 ? "" : many(levels > 0 ? "up" : "down", Math.abs(levels));
  if (metres === null) return climb ? say("from_climb", { unit: round.at, climb: climb }) : "";
  return say(climb ? "from_climb_walk" : "from_walk", { unit: start, climb: climb, distance: walk(metres) });
}

/* -- showing -- */
function drawDoor() {
  const door = current();
  at("door").hidden = at("thumb").hidden = !door;
  at("none").hidden = !!door || !data;
  if (!door) { if (data) drawNone(); at("thumb").hidden = !round.last || !data; at("answers").hidden = true; return; }
  at("answers").hidden = false;
  if (round.shown !== door.unit) { round.shown = door.unit; save(); }
  const held = T.holds().includes(door.unit), done = T.answered()[door.unit];
  const tags = [held ? say("taken_here") : T.takenBy(door.unit), door.status === "treat" ? say("to_treat") : door.status === "revisit" ? say("to_revisit") : "", ...door.asked, door.beyond ? say("beyond") : "", door.access].filter(Boolean);
  const better = offered && offered !== door.unit && find(offered);
  const link = el("a", { class: "act", href: here(`/room/${encodeURIComponent(door.unit)}`), text: say("room_sheet") });
  const take = held || !(door.unit in T.taken()) ? el("button", { type: "button", class: "quiet", id: "take", text: say(held ? "give_back" : "take"), click: () => claim([door.unit], !held) }) : "";
  at("door").replaceChildren(
    better ? offer(better) : "",
    done && !answered().has(door.unit) ? el("div", { class: "notice" }, el("p", { text: say("meanwhile", { answer: done.words }) }), onward()) : "",
    el("div", { class: "where" }, el("h2", { id: "unit", tabindex: "-1" }, el("small", { text: `${say("unit")} ` }), door.unit), el("p", { class: "floor", text: door.floor }), el("p", { class: "walk", text: walkTo(door) })),
    el("p", { class: `chance c${door.class}` }, el("b", { text: door.percent }), el("span", { text: say("chance_of", { word: door.words }) })),
    tags.length ? el("p", { class: "tags" }, tags.map((tag) => el("span", { class: "tag", text: tag }))) : "",
    el("p", { class: "why", text: door.why }),
    door.instead ? el("p", { class: "notice", id: "instead", text: door.instead }) : "",
    el("p", { class: "soft", text: say("how_sure", { sure: door.sure }) }),
    el("dl", {}, el("div", {}, el("dt", { text: say("bring") }), el("dd", { text: door.bring.join(", ") })),
      el("div", {}, el("dt", { text: say("time") }), el("dd", { text: [say("about_minutes", { minutes: door.minutes }), door.tried].filter(Boolean).join(" · ") }))),
    el("p", { class: "links" }, link, take));
}
/* To the next door, where somebody else has answered this one. */
function onward() {
  const next = left()[0];
  return next ? el("button", { type: "button", class: "quiet", text: say("go_to", { unit: next.unit }), click: () => { round.picked = null; show(next.unit); } }) : "";
}
function claim(units, mine) {
  (mine ? T.take : T.give)(units);
  soonUntil = Infinity;
  draw();
  Q.send();
}
function offer(better) {
  const go = el("button", { type: "button", class: "quiet", text: say("go_to", { unit: better.unit }) });
  go.addEventListener("click", () => show(better.unit));
  return el("div", { class: "offer" }, el("p", { text: say("planned_again", { unit: better.unit, percent: better.percent }) }), go);
}
function drawNone() {
  const box = at("none"), skipped = round.skipped.length;
  const back = el("button", { type: "button", text: many("bring_back", skipped) });
  back.addEventListener("click", () => { round.skipped = []; save(); draw(); Q.send(); });
  box.replaceChildren(el("h2", { text: say("none_left") }),
    el("p", { text: Q.online ? data.round.words || say("all_answered") : say("all_answered_here") }),
    skipped ? el("p", {}, back) : "");
}
function drawTop() {
  at("building").textContent = Q.building ? Q.building.name : say("round");
  document.title = Q.building ? `${say("round")} · ${Q.building.name}` : say("round");
  if (!data) { at("progress").textContent = Q.signIn ? say("doors_sign_in") : Q.online ? say("getting_doors") : say("doors_offline"); return; }
  const doors = left(), planned = doors.filter((door) => !door.beyond).length, parts = [];
  parts.push(many("count_done", round.count));
  if (round.order === "planned") parts.push(planned ? many("count_to_go", planned) : say("time_used"));
  if (data.round.finish !== null && planned && round.order === "planned") parts.push(say("till", { clock: clock(new Date(round.begun + data.round.finish * 6e4)) }));
  at("progress").textContent = parts.map((part) => part.replace(/ /g, "\u00a0")).join(" · ");
}
function drawLast() {
  const last = round.last, bar = at("last");
  bar.hidden = !last;
  if (!last) return;
  at("last-words").textContent = last.words;
  const room = at("last-room");
  room.hidden = last.answer !== "found";
  if (!room.hidden) { room.href = here(`/room/${encodeURIComponent(last.unit)}?from=${last.id}`); room.setAttribute("aria-label", say("room_sheet_of", { unit: last.unit })); }
  at("undo").setAttribute("aria-label", say("undo_what", { what: last.words }));
}
const chosen = el("input", { id: "code", type: "text", autocomplete: "off", autocapitalize: "characters", enterkeyhint: "go" });
const form = el("form", { class: "set pick" }, el("label", { for: "code", text: say("by_code") }),
  el("div", {}, chosen, el("button", { type: "submit", class: "quiet", text: say("go") })), el("p", { class: "wrong-words", id: "code-wrong", role: "alert" }));
form.addEventListener("submit", (event) => { event.preventDefault(); byCode(chosen.value.trim()); });

chosen.addEventListener("input", () => { at("code-wrong").textContent = ""; });

/* The planned doors become this phone's, or what it has taken goes back to all. */
function takeAll() {
  const holds = T.holds(), planned = left().filter((door) => !door.beyond).map((door) => door.unit);
  const button = (text, act) => el("button", { type: "button", class: "quiet", text: text, click: act });
  return el("p", { class: "pair" },
    round.team > 1 ? button(say("take_part", { team: round.team }), () => { round.split = round.team; round.picked = null; soonUntil = Infinity; save(); Q.send(); }) : null,
    planned.some((unit) => !holds.includes(unit)) ? button(many("take_planned", planned.length), () => claim(planned, true)) : null,
    holds.length ? button(many("give_all", holds.length), () => claim(holds, false)) : null);
}
let drawnMore = "";
function drawMore() {
  if (!data || !at("more").open) return;
  // Doors that come in while somebody types or has a choice open must not wipe either away.
  const now = JSON.stringify([left().map((door) => [door.unit, door.floor, door.class, door.percent, door.beyond]), round.shown, data.round.shut, T.holds(), T.taken(), data.choices.methods, round.method, round.minutes, round.order, round.also, data.round.carry, round.team]);
  if (now === drawnMore) return;
  drawnMore = now;
  const typing = document.activeElement === chosen;
  const field = (label, input) => el("label", { class: "set" }, el("span", { text: label }), input);
  const select = (options, chosen, act) => {
    const node = el("select", {}, options.map(([value, text]) => el("option", { value: value, text: text, selected: value === chosen })));
    node.addEventListener("change", () => { act(node.value); round.shown = ""; offered = ""; round.picked = null; soonUntil = Infinity; save(); Q.send(); });
    return node;
  };
  const tick = (kind, text) => {
    const box = el("input", { type: "checkbox", checked: round.also.includes(kind) });
    box.addEventListener("change", () => { round.also = box.checked ? [...round.also, kind] : round.also.filter((one) => one !== kind); save(); Q.send(); });
    return el("label", { class: "tick" }, box, el("span", { text: text }));
  };
  const spans = [60, 120, 180, 240, 300, 360, 480].map((value) => [String(value), say("hours", { hours: value / 60 })]);
  const again = el("button", { type: "button", class: "quiet wide", text: say("begin_new") });
  again.addEventListener("click", () => { round = fresh(round); soonUntil = Infinity; save(); draw(); Q.send(); });
  at("more-body").replaceChildren(
    el("h3", { text: say("next_doors") }),
    takeAll(),
    el("ol", { class: "next" }, left().map((door) => {
      const button = el("button", { type: "button", "data-go": door.unit, "aria-current": door.unit === round.shown ? "true" : null },
        el("b", { text: door.unit }), el("span", { text: T.holds().includes(door.unit) ? `${door.floor} · ${say("taken_here")}` : door.floor }), el("span", { class: `pill c${door.class}`, text: door.percent }));
      return el("li", { class: door.beyond ? "beyond" : "" }, button);
    })),
    data.round.shut.length ? el("p", { class: "soft", text: say("left_out", { units: data.round.shut.map(([unit, why]) => `${unit} (${why})`).join("; ") }) }) : "",
    Object.keys(T.taken()).length ? el("p", { class: "soft", id: "taken", text: say("taken_elsewhere", { units: Object.keys(T.taken()).map((unit) => `${unit} (${T.takenBy(unit)})`).join("; ") }) }) : "",
    form,
    el("h3", { text: say("how_goes") }),
    field(say("looking_by"), select(data.choices.methods, data.round.method, (value) => { round.method = value; })),
    field(say("time_for_round"), select(spans, String(round.minutes), (value) => { round.minutes = Number(value); })),
    field(say("how_many_go"), select([1, 2, 3, 4, 5, 6].map((number) => [String(number), String(number)]), String(round.team || 1), (value) => { round.team = Number(value); drawnMore = ""; })),
    field(say("order"), select([["planned", say("order_planned")], ["likeliest", say("order_likeliest")]], round.order, (value) => { round.order = value; })),
    data.round.carry ? el("p", { class: "soft", id: "carry", text: data.round.carry }) : "",
    tick("revisit", say("also_revisit")), tick("treat", say("also_treat")),
    again);
  if (typing) chosen.focus({ preventScroll: true });
}
/* Where the log contradicts the model: a line before every door that opens to say how. */
let drawnWarned = "";
function drawWarned() {
  const told = (data && data.round.warnings) || [], now = JSON.stringify(told);
  if (now === drawnWarned) return;
  drawnWarned = now;
  at("warned").hidden = !told.length;
  at("warned").replaceChildren(el("details", {}, el("summary", { text: say("log_contradicts") }),
    el("ul", {}, told.map((one) => el("li", { text: one })))));
}
function draw() { drawTop(); drawWarned(); drawDoor(); drawLast(); drawMore(); Q.show(); }
function tell(words) { at("tell").textContent = words; at("tell").hidden = !words; if (words) at("main").scrollTop = 0; }

function show(unit, focus) {
  round.shown = unit;
  offered = "";
  hold();
  save();
  draw();
  at("main").scrollTop = 0;
  window.scrollTo(0, 0);
  const door = current();
  if (door) at("heard").textContent = say("heard", { unit: door.unit, floor: door.floor, word: door.words, percent: door.percent });
  if (focus !== false && door) at("unit").focus({ preventScroll: true });
}
function hold() {
  const answers = at("answers");
  stillUntil = performance.now() + STILL;
  answers.classList.add("still");
  clearTimeout(holding);
  holding = setTimeout(() => answers.classList.remove("still"), STILL);
}
function byCode(code) {
  const known = Object.keys((data && data.units) || {}), unit = known.find((one) => one.toLowerCase() === code.toLowerCase());
  if (!unit) { at("code-wrong").textContent = code ? say("no_unit", { unit: code }) : say("write_code", { unit: known[0] || "304" }); return; }
  round.skipped = round.skipped.filter((one) => one !== unit);
  round.picked = find(unit) || { unit: unit, floor: data.units[unit], level: 0, class: 0, percent: "?", words: say("not_fetched"), why: say("by_its_code"), sure: say("not_fetched_yet"), bring: [], minutes: 0, opens: "?", asked: [], status: "look", beyond: false, access: "" };
  round.asked = find(unit) ? "" : unit;
  chosen.value = "";
  at("code-wrong").textContent = "";
  at("more").open = false;
  show(unit);
  if (round.asked) Q.send();
}

/* -- answering -- */
function give(answer, more, said) {
  const door = current();
  if (!door) return;
  const when = day(data.day, data.live, data.got);
  const body = Object.assign({ unit: door.unit, answer: answer, method: data.round.method, when: when }, more);
  const words = said || say(`said_${answer}`, { unit: door.unit });
  let id;
  try { id = Q.add(body, words); } catch {
    tell(say("no_room", { unit: door.unit }));
    return;
  }
  tell("");
  T.give([door.unit]);
  round.last = { id: id, unit: door.unit, answer: answer, words: words, door: door };
  round.count += 1;
  round.at = door.unit;
  round.stood = { unit: door.unit, level: door.level };
  round.shown = round.asked = "";
  round.picked = null;
  soonUntil = performance.now() + SOON;
  save();
  next();
  Q.send();
}
function next() {
  const door = left()[0];
  show(door ? door.unit : "");
}
function skip() {
  const door = current();
  if (!door) return;
  round.skipped.push(door.unit);
  round.picked = null;
  round.last = { id: "", unit: door.unit, answer: "skip", words: say("said_skip", { unit: door.unit }), door: door };
  save();
  next();
  Q.send();
}
function undo() {
  const last = round.last;
  if (!last) return;
  if (last.answer === "skip") round.skipped = round.skipped.filter((unit) => unit !== last.unit);
  else {
    if (!Q.undoRefused(last.id)) {
      try { Q.add({ unit: last.unit, answer: "undo", undoes: last.id, when: day(data.day, data.live, data.got) }, say("taken_back", { unit: last.unit })); } catch {
        tell(say("no_room_undo"));
        return;
      }
    }
    round.count = Math.max(0, round.count - 1);
  }
  round.last = null;
  round.picked = find(last.unit) || last.door;
  show(last.unit);
  Q.send();
}

/* -- signs found: what, then how heavy; the level saves -- */
function openFound() {
  const door = current();
  at("found-title").textContent = say("found_in", { unit: door.unit });
  const alerts = data.round.alerts;
  at("seen").replaceChildren(...data.choices.evidence.filter(([value]) => alerts || value !== "alert").map(([value, text]) => el("button", { type: "button", "data-seen": value, "aria-pressed": "false", text: text })));
  at("levels").replaceChildren(...data.choices.levels.map(([value, text, hint]) => el("button", { type: "button", "data-level": value, "data-words": text.toLowerCase() }, el("b", { text: text }), el("small", { text: hint }))),
    el("button", { type: "button", class: "wide", "data-level": "", "data-words": "" }, el("b", { text: say("no_live") }), el("small", { text: say("no_live_more") })));
  at("found").showModal();
  at("found-title").focus();
}
function saveFound(button) {
  const seen = Array.from(document.querySelectorAll('#seen [aria-pressed="true"]'), (one) => one.dataset.seen);
  at("found").close();
  give("found", { level: button.dataset.level, evidence: seen }, say(button.dataset.words ? "said_found_level" : "said_found", { unit: current().unit, level: button.dataset.words }));
}

document.addEventListener("click", function (event) {
  const hit = (query) => event.target.closest(query);
  const answer = hit("[data-answer]");
  if (answer) {
    if (event.timeStamp < stillUntil) return; /* when it was pressed, however late a slow phone tells it */
    if (answer.dataset.answer === "found") openFound();
    else if (answer.dataset.answer === "skip") skip();
    else give(answer.dataset.answer);
    return;
  }
  const seen = hit("[data-seen]");
  if (seen) seen.setAttribute("aria-pressed", String(seen.getAttribute("aria-pressed") !== "true"));
  const level = hit("[data-level]");
  if (level) saveFound(level);
  if (hit("#found-close")) at("found").close();
  if (hit("#undo")) undo();
  const go = hit("[data-go]");
  if (go) { at("more").open = false; round.picked = null; show(go.dataset.go); }
});
at("more").addEventListener("toggle", drawMore);

/* -- the server's word -- */
/* A door on the screen that somebody else answers or takes stays until the person goes on: whoever comes out of a
   room must not answer for another one. */
function keepShown(answeredNow, takenNow) {
  const door = data && round.shown ? current() : null;
  if (door && (door.unit in answeredNow || door.unit in takenNow) && !answered().has(door.unit)) round.picked = door;
}
T.onNews = function (lost) {
  if (lost.length) tell(lost.map((unit) => `${unit}: ${T.takenBy(unit)}`).join("; "));
  if (!data) return;
  keepShown(T.answered(), T.taken());
  Q.changed();
  if (left().length < FEW) Q.send();
};
Q.onReply = function (reply, settled, want) {
  if (!reply.round) return;
  keepShown(reply.now.answered, reply.now.taken);
  const before = data && data.round.doors.length && round.shown;
  const building = keep.get(key("doors"), null);
  if (!building || !data || data.key !== reply.building.key) load();
  data = { key: reply.building.key, day: reply.day, live: reply.live, got: Date.now(), version: reply.version, round: reply.round, choices: reply.choices, units: reply.units };
  keep.try(key("doors"), data);
  keep.try(key("day"), { day: reply.day, live: reply.live, got: data.got });
  T.hear(reply.now, want.holds);
  if (want.split && reply.now.part) {
    if (round.split === want.split) delete round.split;
    tell(reply.now.part.length ? many("part_is", reply.now.part.length, { units: reply.now.part.join(", ") }) : say("part_none"));
  }
  if (reply.door && round.picked && round.picked.unit === reply.door.unit) { round.picked = Object.assign({ access: "" }, reply.door); round.asked = ""; }
  clearTimeout(later);
  if (reply.busy) later = setTimeout(Q.send, 4000); /* a refit is running: its figures follow */
  if (!settled) return;
  const doors = left(), first = doors[0], busy = at("found").open;
  const gone = before && !round.picked && !doors.some((door) => door.unit === round.shown);
  if (!first) { save(); return; }
  if (!busy && !round.picked && (performance.now() < soonUntil || !round.shown || gone)) {
    const moved = round.shown && round.shown !== first.unit;
    soonUntil = 0;
    if (moved || !round.shown) show(first.unit, false);
  } else if (first.unit !== round.shown && !round.picked && !busy) offered = first.unit;
  save();
};
Q.onChange = function () {
  if (at("found").open) { Q.show(); drawTop(); return; }
  draw();
};

/* For rooms that are opened without a connection: the sheet that all of them share, once the page stands. */
window.addEventListener("load", () => setTimeout(() => {
  fetch(here("/room/sheet.json")).then((reply) => reply.json()).then((any) => keep.try(`any-room.${any.building.key}`, any)).catch(() => {});
}, 3000));

load();
if (!storageWorks()) tell(say("keeps_nothing"));
T.show();
draw();
Q.send();
