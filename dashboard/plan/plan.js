/* The plan as inline SVG: one floor, all floors, or the section from the side. Built once a shape and floor;
   later only classes and words change. One unit is in the tab order; arrows go to the nearest unit that way,
   Page Up and Page Down to the floor above and below, Enter opens. */
import { tell } from "../web/dash.js";
import { at, el, svgEl } from "../web/elements.js";
import { inFeet, spoken } from "../web/local.js";
import { drawArrows } from "./arrows.js";
import { drawBed } from "./bed.js";
import { pick } from "./choosing.js";
import { drawLegend, drawTools, viewShown } from "./show.js";
import { state } from "./state.js";
import { zoom } from "./zoom.js";

const MARKS = { t: "treat", r: "revisit", o: "ring" };
const MARK_WORDS = { t: "found and never closed, treat", r: "treated, to be revisited", o: "a ring rule asks for it" };
const GLIDE = 120; /* units */
let drawn = null;
let nodes = {}; /* unit: its nodes, one a drawing that shows it */
let rover = null;
let beganWhole = false;

function pattern(id, size, ...marks) {
  return svgEl("pattern", { id: id, width: size, height: size, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, ...marks);
}

function patterns() {
  const defs = svgEl("defs", {}, pattern("treads", 0.5, svgEl("rect", { width: 0.06, height: 0.5, class: "tread" })));
  for (let cls = 0; cls < 6; cls += 1) { /* a pattern does not see the colour of the room it fills */
    defs.append(pattern(`fill-t-${cls}`, 1.2, svgEl("rect", { width: 0.34, height: 1.2, class: `ink c${cls}` })),
      pattern(`fill-r-${cls}`, 1.2, svgEl("circle", { cx: 0.4, cy: 0.4, r: 0.24, class: `ink c${cls}` })));
  }
  return svgEl("svg", { class: "patterns", width: 0, height: 0, "aria-hidden": "true" }, defs);
}

function named(cls, part) {
  const group = svgEl("g", { class: cls }, svgEl("path", { d: part[0] }));
  if (part[4] < 0.45) return group;
  group.append(svgEl("text", { x: part[1], y: part[2] + part[4] * 0.35, "font-size": part[4], text: part[3] }));
  return group;
}

function unitNode(row) {
  const [id, path, x, y, letters, most] = row;
  const line = (cls, size) => svgEl("text", { class: cls, x: x, "font-size": letters * size });
  const node = svgEl("g", { class: "unit", role: "button", tabindex: -1, "data-unit": id },
    svgEl("title"),
    svgEl("path", { d: path, class: "room" }),
    svgEl("path", { d: path, class: "overlay" }),
    svgEl("path", { d: path, class: "edge" }),
    line("code", 0.95), line("chance", 1.12), line("mark", 0.8));
  node.letters = letters;
  node.most = most || 6;
  const parts = node.parts = { title: node.firstChild, overlay: node.querySelector(".overlay"), code: node.querySelector(".code"), chance: node.querySelector(".chance"), mark: node.querySelector(".mark") };
  parts.code.textContent = id;
  node.place = [x, y];
  return node;
}

/* A bed and its pillow as one path: on a plan of a thousand units each element is worked on at every repaint. */
function bedPath(x, y) {
  const round = (left, top, wide, high, r) => `M${left + r},${top}h${wide - 2 * r}a${r},${r} 0 0 1 ${r},${r}v${high - 2 * r}a${r},${r} 0 0 1 ${-r},${r}h${2 * r - wide}a${r},${r} 0 0 1 ${-r},${-r}v${2 * r - high}a${r},${r} 0 0 1 ${r},${-r}z`;
  return round(x - 0.7, y - 0.95, 1.4, 1.9, 0.2) + round(x - 0.5, y - 0.8, 1, 0.45, 0.15);
}

/* All outlets of a floor as one path: a disc with two slots each. */
export const outletPath = (places) => places.map(([x, y]) => `M${x - 0.33},${y}a0.33,0.33 0 1 0 0.66,0a0.33,0.33 0 1 0 -0.66,0zM${x - 0.11},${y - 0.14}v0.28M${x + 0.11},${y - 0.14}v0.28`).join("");

function build(floor) {
  const halls = floor.halls.map((d) => svgEl("path", { d: d, class: "hall" }));
  const units = floor.units.map(unitNode);
  const own = {};
  for (const node of units) {
    own[node.dataset.unit] = node;
    (nodes[node.dataset.unit] = nodes[node.dataset.unit] || []).push(node);
  }
  for (const [x, y, unit] of floor.beds) {
    if (!own[unit]) continue;
    own[unit].parts.code.before(svgEl("path", { class: "bed", d: bedPath(x, y) }));
  }
  const doors = floor.doors.map(([x1, y1, x2, y2]) => svgEl("line", { x1: x1, y1: y1, x2: x2, y2: y2, class: "door" }));
  const risers = floor.risers.map((d) => svgEl("path", { d: d, class: "riser" }));
  const outlets = floor.outlets.length ? [svgEl("path", { class: "outlet", d: outletPath(floor.outlets) })] : [];
  const texts = (floor.texts || []).map(([x, y, size, words, anchor]) => svgEl("text", { x: x, y: y, "font-size": size, class: `side ${anchor}`, text: words }));
  const quiet = svgEl("g", { "aria-hidden": "true" }, ...halls,
    ...floor.commons.map((part) => named("common", part)), ...floor.stairs.map((part) => named("stair", part)), ...texts);
  const over = svgEl("g", { "aria-hidden": "true", class: "over" }, ...doors, ...risers, ...outlets);
  const [left, top, wide, high] = floor.view;
  const svg = svgEl("svg", { viewBox: floor.view.join(" "), role: "group", class: "floor", "data-level": floor.name },
    quiet, svgEl("g", { class: "units" }, ...units), over, svgEl("g", { class: "above", "aria-hidden": "true" }));
  if (floor.name) svg.append(scaleBar(left, top + high));
  /* Wide enough to read (10 px letters in most units) and to hit: 24 px at a desk, 44 px by finger. */
  const finger = window.matchMedia("(pointer: coarse)").matches;
  svg.reads = Math.min(Math.max(7.5 / floor.letters[0], 10 / floor.letters[1], (finger ? 44 : 24) / floor.least), 40);
  svg.wide = wide;
  svg.high = high;
  svg.addEventListener("click", clicked);
  svg.addEventListener("keydown", keyed);
  svg.addEventListener("focusin", (event) => rove(event.target.closest(".unit")));
  return svg;
}

/* Five metres, or fifteen feet, in the margin below the floor. */
function scaleBar(left, bottom) {
  const feet = inFeet(), long = feet ? 15 * 0.3048 : 5, y = bottom - 0.45;
  return svgEl("g", { class: "scale-bar", "aria-hidden": "true" },
    svgEl("path", { d: `M${left + 1.5},${y - 0.3}V${y}H${left + 1.5 + long}V${y - 0.3}` }),
    svgEl("text", { x: left + 1.8 + long, y: y + 0.1, "font-size": 0.8, text: feet ? "15 ft" : "5 m" }));
}

function clicked(event) {
  const node = event.target.closest(".unit");
  if (!node || zoom.dragged()) return;
  state.cameFromPlan = true;
  pick(node.dataset.unit);
}

function rove(node) {
  if (!node) return;
  if (rover) rover.setAttribute("tabindex", -1);
  rover = node;
  node.setAttribute("tabindex", 0);
}

const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function nearest(node, way, all) {
  let least = Infinity, next = null;
  for (const other of all) {
    const dx = other.place[0] - node.place[0], dy = other.place[1] - node.place[1];
    const along = dx * way[0] + dy * way[1], aside = Math.abs(dx * way[1]) + Math.abs(dy * way[0]);
    if (other !== node && along > 0.5 && along >= aside * 0.5 && along + 2 * aside < least) {
      least = along + 2 * aside;
      next = other;
    }
  }
  return next;
}

/* The unit at the same place one floor up or down: on the section it is the next row. */
function otherFloor(node, up) {
  const svg = node.closest("svg");
  if (!svg.dataset.level) { const all = Array.from(svg.querySelectorAll(".unit")); return Promise.resolve(nearest(node, [0, up ? -1 : 1], all)); }
  const floors = state.geometry.floors, index = floors.findIndex((floor) => floor.name === svg.dataset.level) + (up ? 1 : -1);
  if (index < 0 || index >= floors.length) return Promise.resolve(null);
  const there = floors[index], close = there.units.slice().sort((a, b) => distance(a, node) - distance(b, node))[0];
  if (!close) return Promise.resolve(null);
  if (state.shape === "one") tell("floor", there.name);
  return new Promise((done) => setTimeout(() => done(unitsOnPlan(close[0]).find((one) => one.closest("svg").dataset.level === there.name) || null), 60));
}
const distance = (row, node) => Math.hypot(row[2] - node.place[0], row[3] - node.place[1]);

function keyed(event) {
  const node = event.target.closest(".unit");
  if (!node || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    state.cameFromPlan = true;
    pick(node.dataset.unit);
    return;
  }
  if (event.shiftKey) return;
  if (event.key === "PageUp" || event.key === "PageDown") {
    event.preventDefault();
    otherFloor(node, event.key === "PageUp").then((next) => next && next.focus());
    return;
  }
  const all = Array.from(node.closest("svg").querySelectorAll(".unit"));
  let next = null;
  if (event.key === "Home") next = all[0];
  if (event.key === "End") next = all[all.length - 1];
  const way = WAYS[event.key];
  if (way) next = nearest(node, way, all);
  if (!next && !way) return;
  event.preventDefault();
  if (next) next.focus();
}

/* Only what differs is written: the browser works again on all that is written, whether it differs or not. */
const put = (node, name, value) => { if (node.getAttribute(name) !== value) node.setAttribute(name, value); };
const write = (node, words) => {
  if (!node.firstChild) { if (words) node.textContent = words; }
  else if (node.firstChild.data !== words) node.firstChild.data = words;
};

function paintUnit(id, node, look, shown) {
  const [cls, label, mark] = look || [0, "?", ""];
  const chosen = id === state.selected, dim = shown.kept !== null && !shown.kept.has(id);
  const key = `${shown.key}|${cls}|${label}|${mark}|${chosen}|${dim}`;
  if (node.key === key) return;
  node.key = key;
  const { title, overlay, code, chance, mark: line } = node.parts;
  put(node, "class", `unit c${cls}${mark ? " m-" + mark : ""}${chosen ? " chosen" : ""}${dim ? " dim" : ""}`);
  put(overlay, "fill", mark === "t" || mark === "r" ? `url(#fill-${mark}-${cls})` : "none");
  const words = spoken(label), fits = Math.min(1, node.most / Math.max(words.length, 1));
  write(chance, words);
  put(chance, "font-size", (node.letters * 1.12 * fits).toFixed(2));
  write(line, mark ? MARKS[mark] : "");
  const down = mark ? [-0.82, 0.4, 1.38] : [-0.25, 0.98, 2];
  [code, chance, line].forEach((one, i) => put(one, "y", (node.place[1] + down[i] * node.letters).toFixed(2)));
  const where = state.shape === "one" ? "" : `, ${floorsOf(id)}`;
  const told = `Unit ${id}${where}, ${shown.say} ${words}${shown.classes[cls] && shown.classes[cls] !== words ? ", " + shown.classes[cls] : ""}${mark ? ", " + MARK_WORDS[mark] : ""}${dim ? ", left out by the filter" : ""}`;
  put(node, "aria-label", told);
  put(node, "aria-pressed", chosen ? "true" : "false");
  write(title, told);
}

export const unitsOnPlan = (unit) => nodes[unit] || [];
/* A unit's node: in the drawing of another node if that is given, and else the first. */
export const unitOnPlan = (unit, beside) => (beside ? unitsOnPlan(unit).find((node) => node.closest("svg") === beside.closest("svg")) : unitsOnPlan(unit)[0]) || null;
export function floorsOf(unit) {
  const geometry = state.geometry;
  if (!geometry.titles) {
    geometry.titles = {};
    for (const floor of geometry.floors) for (const row of floor.units) geometry.titles[row[0]] = geometry.titles[row[0]] ? `${geometry.titles[row[0]]} and ${floor.title}` : floor.title;
  }
  return geometry.titles[unit] || "";
}

function draw(geometry, shape, floor) {
  const box = at("plan");
  if (!document.querySelector("svg.patterns")) document.body.append(patterns());
  nodes = {};
  rover = null;
  box.className = `plan ${shape}`;
  if (shape === "section") box.replaceChildren(build(geometry.section));
  else if (shape === "all") box.replaceChildren(...geometry.floors.map((one) => el("figure", { class: "one-floor" }, el("figcaption", { text: one.title }), build(one))));
  else box.replaceChildren(build(floor));
  const count = geometry.floors.length, all = Object.keys(geometry.titles || {}).length;
  const units = `${floor.units.length} ${floor.units.length === 1 ? "unit" : "units"}`;
  const words = { one: `${floor.title}: ${units}`, all: `All ${count} floors, lowest first`, section: "From the side: a column a stack, a row a floor" }[shape];
  const title = { one: floor.title, all: "all floors", section: "section" }[shape];
  for (const svg of box.querySelectorAll("svg.floor")) {
    const told = shape === "all" ? geometry.floors.find((one) => one.name === svg.dataset.level).title : words;
    svg.setAttribute("aria-label", `${told}. Arrow keys move from unit to unit, Enter opens one.`);
  }
  at("plan-title").textContent = shape === "section" ? "Section" : "Floor plan";
  at("floor-words").textContent = words;
  document.title = `${geometry.name} · ${title}`;
  /* On a desk the section and all floors begin whole; one floor begins as large as reads well. */
  const begins = shape !== "one" && window.matchMedia("(min-width: 1000px)").matches;
  if (begins !== beganWhole) { beganWhole = begins; zoom[begins ? "whole" : "auto"](); } else zoom.fresh();
  return all;
}

let last = [];
export const redrawPlan = () => drawPlan(...last);
export function drawPlan(geometry, floorName, paint, selected, shape) {
  last = [geometry, floorName, paint, selected, shape];
  const box = at("plan");
  if (!box || !geometry || !paint) return;
  const floor = geometry.floors.find((one) => one.name === floorName) || geometry.floors[0];
  const before = state.selected;
  Object.assign(state, { geometry: geometry, floor: floor.name, paint: paint, shape: shape || "one" });
  state.selected = selected || null;
  const key = `${geometry.key}|${state.shape}|${state.shape === "one" ? floor.name : ""}|${inFeet()}`;
  const built = drawn !== key || !box.firstChild;
  if (built) {
    drawn = key;
    floorsOf("");
    draw(geometry, state.shape, floor);
    drawTools();
  }
  paintPlan();
  if (!performance.getEntriesByName("plan-drawn").length) performance.mark("plan-drawn");
  const first = unitOnPlan(selected) || rover || highest(paint);
  if (first) rove(first);
  outline(box, selected);
  drawArrows();
  drawBed();
  if (selected && nodes[selected] && (built || before !== selected || state.revealNext)) reveal(unitOnPlan(selected), box.parentElement);
  state.revealNext = false;
}

/* Colours and labels of what is shown: today in the chosen view, or the week that the slider stands at. */
export function paintPlan() {
  const paint = state.paint, then = state.then, view = viewShown();
  if (!paint || !state.words) return;
  performance.mark("repaint-start");
  const kept = paint.kept && !then ? new Set(paint.kept) : null;
  const shown = then || { key: paint.show || "chance", say: view.say, classes: view.classes, units: paint.units };
  shown.kept = kept;
  /* Few units glide to their new colour; of many, every gliding room would be painted again frame by frame. */
  const many = Object.keys(nodes).length > GLIDE;
  at("plan").classList.toggle("at-once", many);
  for (const [id, all] of Object.entries(nodes)) for (const node of all) paintUnit(id, node, shown.units[id], shown);
  performance.measure("repaint", "repaint-start");
  drawLegend();
}

function outline(box, selected) {
  for (const above of box.querySelectorAll(".above")) above.replaceChildren();
  for (const node of unitsOnPlan(selected)) {
    const d = node.querySelector(".room").getAttribute("d");
    node.closest("svg").querySelector(".above").append(svgEl("path", { d: d, class: "chosen-edge" }), svgEl("path", { d: d, class: "chosen-line" }));
  }
}

function highest(paint) {
  const ids = Object.keys(nodes);
  ids.sort((a, b) => (paint.units[b] || [0])[0] - (paint.units[a] || [0])[0]);
  return unitOnPlan(ids[0]);
}

function reveal(node, scroller) {
  const here = node.getBoundingClientRect(), frame = scroller.getBoundingClientRect();
  if (here.left < frame.left || here.right > frame.right) scroller.scrollLeft += here.left - frame.left - frame.width / 2 + here.width / 2;
  if (here.top < frame.top || here.bottom > frame.bottom) scroller.scrollTop += here.top - frame.top - frame.height / 2 + here.height / 2;
}
