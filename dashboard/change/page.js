/* The editor of the plan. It has the changes that are not kept yet; the server applies them anew each time. */
import { at, el, svgEl } from "../web/elements.js";
import { ask as asking } from "../web/ask.js";
import { inFeet } from "../web/local.js";
import { metresOf, paint } from "../web/drawn.js";
import { keep } from "../web/storage.js";
import { distance } from "../trace/geometry.js";
import "../web/sign_again.js";
import "../web/switch.js";

const KEY = `plan.${document.body.dataset.key}`;
const ROUTES = JSON.parse(at("routes").textContent);
const now = { ...{ open: [], undone: [] }, ...keep.get(KEY, {}), floor: "", plan: null, chosen: null, places: null, mark: null, busy: false, anew: {} };
const WATCHED = 700; /* milliseconds between two looks at how far a fit is */

const ask = (path, sent) => asking(path, sent, "There are too many changes for one go. Keep what there is first.", "Your changes are still here");
const say = (problems) => at("problems").replaceChildren(...problems.map((words) => el("p", { class: "form-error", text: words })));
const kept = () => (now.plan ? now.plan.kept.length : 0);
const sent = () => ({ changes: now.open, kept: kept(), ...now.anew });
const store = () => keep.try(KEY, { open: now.open, undone: now.undone });
const unitOf = (id) => now.plan.units.find((unit) => unit.id === id);
const button = (text, click, quiet = "") => el("button", { type: "button", class: quiet, text, click });
const field = (words, input) => el("label", { class: "field" }, words, input);
const typed = (id, value = "") => el("input", { id, type: "text", autocomplete: "off", maxlength: "60", value });

/* Changes */
async function look(problemsToo = true) {
  const reply = await ask("/change/see", now.plan ? sent() : { changes: now.open, ...now.anew });
  if (reply.ok) { now.plan = reply; show(); } else if (problemsToo) say(reply.problems);
  return reply.ok;
}

async function change(step, said) {
  if (now.busy) return;
  now.busy = true;
  const was = now.chosen;
  at("said").textContent = "Being drawn …";
  now.open.push({ step, on: at("day")?.value || document.body.dataset.today, ...said });
  say([]);
  const taken = await look();
  now.busy = false;
  at("said").textContent = "";
  if (!taken) { now.open.pop(); return; }
  at("open-said").textContent = `Changed: ${now.plan.open.at(-1)}. Not kept yet.`;
  now.undone = [];
  store();
  if (now.chosen !== was) return; /* somebody went on to another thing meanwhile */
  choose(null);
  at("open-title").focus({ preventScroll: true });
}

async function step(from, to, words) {
  if (now.busy || !from.length) return;
  now.busy = true;
  to.push(from.pop());
  say([]);
  const taken = await look();
  now.busy = false;
  if (!taken) { from.push(to.pop()); return; }
  store();
  choose(null);
  at("open-said").textContent = words;
}

/* What is chosen */
function choose(chosen, focus = true) {
  stopPlaces();
  now.chosen = chosen;
  for (const other of document.querySelectorAll(".grip.chosen")) other.classList.remove("chosen");
  at("unit").value = chosen?.kind === "unit" ? chosen.id : "";
  at("other").value = chosen && ["room", "riser", "stair"].includes(chosen.kind) ? `${chosen.kind} ${chosen.id}` : "";
  at("tool").hidden = !chosen;
  if (!chosen) { at("tool").replaceChildren(); return; }
  if (chosen.grip) chosen.grip.classList.add("chosen");
  else if (chosen.kind === "unit") {
    const unit = unitOf(chosen.id);
    if (!unit.floors.includes(now.floor)) { now.floor = unit.floors[0]; paintFloor(); }
    for (const grip of at("drawing").querySelectorAll(".grip-unit")) if (grip.dataset.unit === chosen.id) grip.classList.add("chosen");
  }
  const title = el("h3", { text: chosen.title, tabindex: "-1" });
  at("tool").replaceChildren(title, ...TOOLS[chosen.kind](chosen));
  if (focus) { title.focus({ preventScroll: true }); at("tool").scrollIntoView({ block: "nearest" }); }
}

const part = (words, ...inside) => el("details", {}, el("summary", { text: words }), el("div", { class: "tool-row" }, ...inside));
const since = () => field("From this day on", el("input", { id: "day", type: "date", value: document.body.dataset.today, max: document.body.dataset.today }));
const nextId = (kind) => {
  const taken = new Set([...now.plan.shafts.map((one) => one.id), ...now.plan.units.flatMap((unit) => unit.things.map((one) => one.id))]);
  let number = 1;
  while (taken.has(`${kind} ${number}`)) number += 1;
  return `${kind} ${number}`;
};

function unitTool({ id }) {
  const unit = unitOf(id);
  const floor = unit.floors.includes(now.floor) ? now.floor : unit.floors[0];
  const code = typed("new-code");
  const first = typed("first-part", `${id}A`);
  const second = typed("second-part", `${id}B`);
  const whole = typed("whole", id);
  const beside = [...new Set(unit.floors.flatMap((one) => unit.walls[one]))];
  const others = now.plan.units.filter((one) => one.id !== id && !beside.includes(one.id));
  const mate = el("select", { id: "mate" }, ...beside.map((one) => el("option", { value: one, text: one })), ...others.map((one) => el("option", { value: one.id, text: `${one.id} (not beside it)` })));
  const room = typed("as-room", "");
  const tied = el("select", { id: "tied" }, ...now.plan.units.filter((one) => one.id !== id).map((one) => el("option", { value: one.id, text: one.id })));
  const why = typed("why", "shares a laundry day with");
  const route = el("select", { id: "route" }, ...ROUTES.map(([key, words]) => el("option", { value: key, text: words })));
  const split = (line) => change("split", { unit: id, into: [first.value, second.value], floor, line });
  return [
    since(),
    part("Another code", field("Code from then on", code), button("Rename", () => change("rename", { unit: id, to: code.value }))),
    part("Part it in two", el("p", { class: "soft wide", text: "What was found in it holds for both parts until each has been looked at; clean looks clear neither." }),
      field("The part with the door", first), field("The other part", second),
      button("Draw the line", () => places(`Part ${id}: set both ends of the line.`, 2, split)),
      button("Across its middle", () => split(middle(id)), "quiet")),
    part("Join it with another", el("p", { class: "soft wide", text: "Finds in either hold for the whole; it is clear only once the whole is." }),
      field("With", mate), field("Code of the whole", whole), button("Join", () => change("merge", { units: [id, mate.value], into: whole.value }))),
    part("It is no unit any more", field("The room that it is, such as laundry or lounge", room), button("Take it out", () => change("gone", { unit: id, room: room.value }))),
    part("Doors, beds, outlets", ...["door", "bed", "outlet"].map((kind) => button(`Add a ${kind}`.replace("a outlet", "an outlet"), () => places(`Set the ${kind} of ${id}.`, 1, ([spot]) => change("add", { kind, id: nextId(kind), unit: id, floor, at: spot })), "quiet")),
      ...unit.things.map((one) => button(`Take out ${one.kind} ${one.id}`, () => change("remove", { kind: one.kind, id: one.id }), "quiet"))),
    ...(unit.walls[floor].length ? [part("Move a wall", ...wallFields(id, unit.walls[floor], floor))] : []),
    part("Link it with another unit", field("Unit", tied), field("What ties them", why), field("Counted as", route),
      button("Link", () => change("link", { a: id, b: tied.value, route: route.value, words: why.value })),
      button("No more link", () => change("unlink", { a: id, b: tied.value, route: route.value }), "quiet")),
  ];
}

function wallFields(a, others, floor) {
  const other = el("select", { id: "wall-with" }, ...others.map((one) => el("option", { value: one, text: one })));
  const metres = el("input", { id: "metres", inputmode: "decimal", value: inFeet() ? "1.5" : "0.5" });
  const every = el("input", { id: "every-floor", type: "checkbox" });
  const go = (sign) => change("wall", { a, b: other.value, floor, metres: sign * metresOf(metres.value), every_floor: every.checked });
  return [...(others.length > 1 ? [field("Wall with", other)] : []), field(inFeet() ? "Feet" : "Metres", metres),
    button(`Away from ${a}`, () => go(1)), button(`Into ${a}`, () => go(-1)),
    el("label", { class: "tick wide" }, every, "On every floor of these stacks")];
}

const wallTool = ({ a, b, floor }) => [el("p", { class: "soft", text: "Or pull it in the drawing." }), el("div", { class: "tool-row" }, ...wallFields(a, [b], floor)),
  part("There is no wall: the units are one", since(), field("Code of the whole", typed("whole", a)), button("Join", () => change("merge", { units: [a, b], into: at("whole").value })))];

function doorTool({ id }) {
  const metres = el("input", { id: "metres", inputmode: "decimal", value: inFeet() ? "1.5" : "0.5" });
  return [el("div", { class: "tool-row" }, field(inFeet() ? "Feet" : "Metres", metres),
    button("Left or down", () => change("move-door", { door: id, metres: -metresOf(metres.value) })),
    button("Right or up", () => change("move-door", { door: id, metres: metresOf(metres.value) })),
    button("Take it out", () => change("remove", { kind: "door", id }), "quiet"))];
}

const riserTool = ({ id }) => {
  const name = typed("riser-name", id);
  return [el("div", { class: "tool-row" }, field("Name", name), button("Give it this name", () => change("name-riser", { riser: id, name: name.value })),
    button("Take it out", () => change("remove", { kind: "riser", id }), "quiet"))];
};

const stairTool = ({ id }) => {
  const shaft = now.plan.shafts.find((one) => one.id === id);
  return [el("div", { class: "tool-row" }, ...(shaft.kind === "stair" ? [button("It is a lift", () => change("lift", { id }))] : []),
    button("Take it out", () => change("remove", { kind: shaft.kind, id }), "quiet"))];
};

const roomTool = ({ id, floor }) => {
  const name = typed("room-name", "laundry");
  const code = typed("new-unit");
  const room = now.plan.rooms.find((one) => one.id === id && one.floor === floor);
  return [el("div", { class: "tool-row" }, field("Name, such as laundry or lounge", name), button("Mark it as this room", () => change("room", { id, floor, name: name.value }))),
    ...(room?.kind === "common" ? [part("It is a unit", since(), field("Code", code), button("Make it a unit", () => change("new", { unit: code.value, floor, room: id })))] : [])];
};

const thingTool = ({ id, thing }) => [el("div", { class: "tool-row" }, button("Take it out", () => change("remove", { kind: thing, id })))];

const TOOLS = { unit: unitTool, wall: wallTool, door: doorTool, riser: riserTool, stair: stairTool, room: roomTool, thing: thingTool };

function chosenBy(grip) {
  const { step: kind, unit, a, b, floor, door, riser, stair, room, thing, kind: of } = grip.dataset;
  return { kind, id: unit ?? door ?? riser ?? stair ?? room ?? thing, a, b, floor: floor ?? now.floor, thing: of, grip, title: grip.getAttribute("aria-label") };
}

/* The middle of a unit's longer side, across: as the command line parts it. */
function middle(id) {
  const path = [...at("drawing").querySelectorAll(".grip-unit")].find((grip) => grip.dataset.unit === id).querySelector("path");
  const { x, y, width, height } = path.getBBox();
  return width >= height ? [[x + width / 2, flip() - y], [x + width / 2, flip() - y - height]] : [[x, flip() - y - height / 2], [x + width, flip() - y - height / 2]];
}

/* Places in the drawing */
const picture = () => at("drawing").querySelector("svg");
const flip = () => Number(picture().dataset.flip);
const spotOf = (event) => {
  const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture().getScreenCTM().inverse());
  return [place.x, place.y];
};

function places(words, most, done, least = most) {
  stopPlaces();
  now.places = { set: [], most, least, done };
  document.body.classList.add("asking");
  at("said").replaceChildren(words, " ", button("Stop", stopPlaces, "quiet"));
  if (least !== most) at("said").append(" ", button("That is all of it", () => endPlaces(), "quiet"));
  at("drawing").focus({ preventScroll: true });
  at("drawing").scrollIntoView({ block: "nearest" });
}

function stopPlaces() {
  now.places = null;
  now.mark = null;
  document.body.classList.remove("asking");
  at("said").textContent = "";
  for (const old of document.querySelectorAll(".put, .drawn-line, .mark")) old.remove();
}

function setPlace(spot) {
  now.places.set.push(spot);
  paintPlaces();
  if (now.places.set.length === now.places.most) endPlaces();
}

function endPlaces() {
  const { set, least, done } = now.places;
  if (set.length < least) return;
  const up = flip();
  stopPlaces();
  done(set.map(([x, y]) => [Math.round(x * 100) / 100, Math.round((up - y) * 100) / 100]));
}

function paintPlaces() {
  for (const old of document.querySelectorAll(".put, .drawn-line, .mark")) old.remove();
  const { set } = now.places;
  picture().append(svgEl("polyline", { class: "drawn-line", points: set.map((spot) => spot.join(",")).join(" ") }),
    ...set.map(([cx, cy]) => svgEl("circle", { class: "put", cx, cy, r: 0.4 })));
  if (now.mark) picture().append(svgEl("path", { class: "mark", d: `M${now.mark[0] - 1},${now.mark[1]}h2M${now.mark[0]},${now.mark[1] - 1}v2` }));
}

/* Pulling walls and doors */
let pulled = null;
at("drawing").addEventListener("pointerdown", (event) => {
  const grip = event.target.closest(".grip-wall, .grip-door");
  if (!grip || now.places || event.button) return;
  pulled = { grip, from: spotOf(event), by: 0 };
  grip.setPointerCapture(event.pointerId);
});
at("drawing").addEventListener("pointermove", (event) => {
  if (!pulled) return;
  const spot = spotOf(event);
  const [dx, dy] = [spot[0] - pulled.from[0], spot[1] - pulled.from[1]];
  if (pulled.grip.dataset.across) {
    const [ax, ay] = pulled.grip.dataset.across.split(",").map(Number);
    pulled.by = dx * ax + dy * ay;
    pulled.grip.setAttribute("transform", `translate(${ax * pulled.by} ${ay * pulled.by})`);
  } else {
    pulled.by = Math.abs(dx) >= Math.abs(dy) ? dx : -dy;
    pulled.grip.setAttribute("transform", `translate(${dx} ${dy})`);
  }
});
for (const name of ["pointerup", "pointercancel"]) at("drawing").addEventListener(name, (event) => {
  if (!pulled) return;
  const { grip, by, from } = pulled;
  pulled = null;
  grip.removeAttribute("transform");
  const metres = Math.round(by * 100) / 100;
  if (name === "pointercancel" || Math.abs(metres) < 0.1 || distance(from, spotOf(event)) < 0.1) return;
  const { a, b, floor, door } = grip.dataset;
  grip.dataset.pulled = "yes"; /* the click that follows chooses nothing */
  if (door) change("move-door", { door, metres });
  else change("wall", { a, b, floor, metres });
});

at("drawing").addEventListener("click", (event) => {
  if (now.places) { setPlace(spotOf(event)); return; }
  const grip = event.target.closest(".grip");
  if (grip?.dataset.pulled) { delete grip.dataset.pulled; return; }
  if (grip) choose(chosenBy(grip));
});
at("drawing").addEventListener("keydown", (event) => {
  const grip = event.target.closest(".grip");
  if (grip && !now.places && (event.key === "Enter" || event.key === " ")) { event.preventDefault(); choose(chosenBy(grip)); return; }
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!now.places || (!way && event.key !== "Enter")) return;
  event.preventDefault();
  const { x, y, width, height } = picture().viewBox.baseVal;
  now.mark ||= [x + width / 2, y + height / 2];
  if (way) now.mark = now.mark.map((value, k) => value + way[k] * (event.shiftKey ? 0.1 : 0.5));
  else setPlace(now.mark);
  if (now.places) paintPlaces();
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && now.places) stopPlaces();
  if ((event.ctrlKey || event.metaKey) && !event.target.matches("input, textarea") && event.key.toLowerCase() === "z") {
    event.preventDefault();
    (event.shiftKey ? at("redo") : at("undo")).click();
  }
});

/* What is seen */
function paintFloor() {
  paint(at("drawing"), now.plan.drawings[now.floor]);
  for (const one of at("floors").children) one.setAttribute("aria-pressed", String(one.dataset.floor === now.floor));
}

function options(select, first, rows) {
  select.replaceChildren(el("option", { value: "", text: first }), ...rows.map(([value, text]) => el("option", { value, text })));
}

function show() {
  const plan = now.plan;
  if (!plan.floors.includes(now.floor)) now.floor = plan.floors[0];
  at("floors").replaceChildren(...plan.floors.map((floor) => el("button", { type: "button", class: "quiet", "data-floor": floor, text: `Floor ${floor}`, click: () => { now.floor = floor; choose(null); paintFloor(); } })));
  paintFloor();
  options(at("unit"), "Choose", plan.units.map((unit) => [unit.id, `${unit.id} (floor ${unit.floors.join(", ")})`]));
  options(at("other"), "Choose", [
    ...plan.shafts.map((one) => [`${one.kind === "riser" ? "riser" : "stair"} ${one.id}`, `${one.kind} ${one.id}`]),
    ...plan.rooms.map((one) => [`room ${one.id}`, `${one.kind === "hallway" ? "hallway" : "room"} ${one.id} (floor ${one.floor})`])]);
  at("open").replaceChildren(...plan.open.map((words) => el("li", { text: words })));
  const changed = now.open.length || now.anew.drawing;
  if (!changed) at("open-said").textContent = "Nothing is changed.";
  at("says").replaceChildren(...plan.says.map((words) => el("p", { text: words })));
  at("undo").hidden = !now.open.length;
  at("redo").hidden = !now.undone.length;
  at("try").hidden = at("keep").hidden = !changed;
  at("trial").hidden = true;
  at("kept").replaceChildren(...plan.kept.map((words, place) => el("li", {}, words, button("Take back", () => back(place), "quiet"))));
  if (!plan.kept.length) at("kept").replaceChildren(el("li", { class: "none", text: "No change is kept yet." }));
  at("unfit").replaceChildren(...plan.unfit.map((words) => el("li", { text: words })));
  const checks = plan.checks.map((check) => el("li", {}, el("span", { class: "check-number warns", text: String(check.number) }), el("span", { text: check.words })));
  at("checks").replaceChildren(el("h3", { text: checks.length ? `Checks of the plan (${checks.length})` : "Every check of the plan is passed." }), ...(checks.length ? [el("ol", { class: "check-list" }, ...checks)] : []));
}

/* Trying and keeping */
let watching = 0;
async function watch(reply, until) {
  watching += 1;
  const mine = watching;
  at("trial").hidden = false;
  while (mine === watching) {
    if (!reply.ok) { say(reply.problems); at("trial").hidden = true; return; }
    if (reply.error) { say([reply.error]); at("trial").hidden = true; return; }
    if (until(reply)) return;
    at("share").hidden = !reply.running;
    at("share").value = reply.share ?? 0;
    at("trial-said").textContent = reply.done ? "" : `The log is being fitted with the changed plan. The last fit took ${reply.seconds} s, more while others work.`;
    await new Promise((done) => { setTimeout(done, WATCHED); });
    reply = await ask("/change/now");
  }
}

at("try").addEventListener("click", async () => {
  say([]);
  watch(await ask("/change/try", sent()), (reply) => {
    if (!reply.done) return false;
    at("share").hidden = true;
    at("trial-said").textContent = reply.moves.length ? "Chances that move, changed homes first; what two fits of one log differ by is left out:" : "No chance moves more than two fits of one log differ by themselves.";
    at("moves").replaceChildren(...reply.moves.map((words) => el("li", { text: words })));
    return true;
  });
});

async function save(what) {
  if (now.busy) return;
  now.busy = true;
  say([]);
  const reply = await ask("/change/keep", what);
  now.busy = false;
  if (!reply.ok) { say(reply.problems); return; }
  now.open = [];
  now.undone = [];
  now.anew = {};
  store();
  at("keep").hidden = at("try").hidden = at("undo").hidden = at("redo").hidden = true;
  if (!reply.reopens) { at("open-said").textContent = "Kept. Close the server and open it again to work with the changed plan."; return; }
  at("open-said").textContent = "Kept. The building opens with it as soon as its log is fitted; work goes on meanwhile.";
  watch(reply, (told) => {
    if (told.mark === document.body.dataset.mark) return false;
    location.reload();
    return true;
  });
}
at("keep").addEventListener("click", () => save(sent()));
const back = (place) => save({ back: place });
at("undo").addEventListener("click", () => step(now.open, now.undone, "The last change is undone."));
at("redo").addEventListener("click", () => step(now.undone, now.open, "It is changed again."));

/* Adding */
const ADDED = [["riser", "riser"], ["stair", "stair"], ["lift", "lift"]];
at("adders").replaceChildren(
  ...ADDED.map(([kind, words]) => button(`Add a ${words} through every floor`, () => places(`Set the middle of the ${words}.`, 1, ([spot]) => change("add", { kind, id: nextId(kind), floors: now.plan.floors, at: spot })), "quiet")),
  field("Code of a new unit", typed("drawn-code")),
  button("Draw a new unit", () => places("Set the corners of the new unit in turn.", 60, (outline) => change("new", { unit: at("drawn-code").value, floor: now.floor, outline }), 3), "quiet"));

at("file").addEventListener("change", async () => {
  const file = at("file").files[0];
  if (!file) return;
  at("file").value = "";
  if (file.size > 6000000) { say(["The drawing is larger than 6 MB. Use the command spread plan BUILDING redraw."]); return; }
  const before = now.anew;
  now.anew = { drawing: await file.text(), file_name: file.name };
  say([]);
  if (await look()) { choose(null); at("open-said").textContent = `${file.name} is laid under the changes. Not kept yet.`; } else now.anew = before;
});
at("unit").addEventListener("change", () => choose(at("unit").value ? { kind: "unit", id: at("unit").value, title: `Unit ${at("unit").value}` } : null, false));
at("other").addEventListener("change", () => {
  const [, kind, id] = /^(\w+) (.*)$/.exec(at("other").value) || [];
  const room = kind === "room" && now.plan.rooms.find((one) => one.id === id);
  if (room) now.floor = room.floor;
  if (room) paintFloor();
  choose(kind ? { kind, id, floor: now.floor, title: `${kind[0].toUpperCase()}${kind.slice(1)} ${id}` } : null, false);
});
document.addEventListener("spread-voice", (event) => { event.preventDefault(); choose(null); if (now.plan) show(); });

(async () => {
  if (await look()) { document.documentElement.dataset.ready = "yes"; return; }
  /* What is not kept yet no longer fits, for somebody has changed the plan: shown as it is, with the changes to undo. */
  const waiting = now.open;
  now.open = [];
  await look(false);
  now.undone = waiting.reverse();
  show();
  at("open-said").textContent = "Your changes did not fit the plan as it is now. Redo brings them back one by one.";
  document.documentElement.dataset.ready = "yes";
})();
