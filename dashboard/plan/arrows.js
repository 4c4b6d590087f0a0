/* Arrows on the plan from the likely sources to the selected unit, as wide as their share. What they say
   stands in words in the panel's list; here they are for the eye alone. Codes and chances stay readable:
   an arrow runs between the labels, or in the lane beside them. */
import { svgEl } from "../web/elements.js";
import { bedSide } from "./bed.js";
import { unitOnPlan } from "./plan.js";
import { state } from "./state.js";

const LANE = 0.8; /* metres; a narrower lane has no room for an arrow */
const points = (list) => list.map(([x, y]) => `${x.toFixed(2)},${y.toFixed(2)}`).join(" ");

function arrow(from, to, width, share) {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const ux = (to[0] - from[0]) / length, uy = (to[1] - from[1]) / length;
  const half = width / 2, wing = half + 0.2 + 0.35 * width, head = Math.min(0.6 * length, 1.7 * wing);
  const at = (along, aside) => [from[0] + ux * along - uy * aside, from[1] + uy * along + ux * aside];
  const shaft = length - head;
  return svgEl("polygon", { class: "arrow", "data-share": share, points: points([at(0, half), at(shaft, half), at(shaft, wing), at(length, 0), at(shaft, -wing), at(shaft, -half), at(0, -half)]) });
}

const room = (node) => node.querySelector(".room").getBBox();

function label(node) {
  const boxes = Array.from(node.querySelectorAll("text")).filter((line) => line.textContent).map((line) => line.getBBox());
  const left = Math.min(...boxes.map((box) => box.x)), top = Math.min(...boxes.map((box) => box.y));
  return { left: left, top: top, right: Math.max(...boxes.map((box) => box.x + box.width)), bottom: Math.max(...boxes.map((box) => box.y + box.height)) };
}

/* The free strips left and right of the labels that all the given units share: [middle, width]. */
function lanes(nodes) {
  const rooms = nodes.map(room), labels = nodes.map(label);
  const strip = (from, to) => [(from + to) / 2, to - from];
  return {
    left: strip(Math.max(...rooms.map((box) => box.x)) + 0.3, Math.min(...labels.map((box) => box.left))),
    right: strip(Math.max(...labels.map((box) => box.right)), Math.min(...rooms.map((box) => box.x + box.width)) - 0.3),
  };
}

/* How far a label reaches from its middle in a direction. */
function reach(node, ux, uy) {
  const box = label(node), [x, y] = node.place;
  const aside = (ux > 0 ? box.right - x : x - box.left) / Math.max(Math.abs(ux), 1e-6);
  const along = (uy > 0 ? box.bottom - y : y - box.top) / Math.max(Math.abs(uy), 1e-6);
  return Math.min(aside, along) + 0.2;
}

function across(source, target, width, share, taken) {
  const [x1, y1] = source.place, [x2, y2] = target.place;
  if (Math.abs(y2 - y1) > Math.abs(x2 - x1)) { /* one over the other on the paper: beside the labels */
    const free = lanes([source, target]);
    const bed = bedSide(target), order = bed === "right" || (!bed && y1 >= y2) ? ["left", "right"] : ["right", "left"];
    const side = order.find((one) => free[one][1] >= LANE && !taken[one]);
    if (side) {
      taken[side] = true;
      const x = free[side][0];
      return arrow([x, y1], [x, y2], Math.min(width, 0.55 * free[side][1]), share);
    }
  }
  const apart = Math.hypot(x2 - x1, y2 - y1), ux = (x2 - x1) / apart, uy = (y2 - y1) / apart;
  let start = reach(source, ux, uy), end = apart - reach(target, -ux, -uy);
  if (end - start < 1.2) { /* labels that nearly meet: a short arrow over what divides them */
    const middle = (start + end) / 2;
    start = middle - 0.6;
    end = middle + 0.6;
  }
  return arrow([x1 + ux * start, y1 + uy * start], [x1 + ux * end, y1 + uy * end], width, share);
}

/* Sources on floors above (or below) as one short arrow: their codes and "up" or "down" stand where it begins. */
function stub(target, units, way, width, share, taken) {
  const free = lanes([target]), box = room(target), up = way === "up";
  const order = bedSide(target) === "right" ? ["left", "right"] : ["right", "left"]; /* the bed keeps its side free */
  const side = order.find((one) => !taken[one] && free[one][1] >= LANE) || "left";
  taken[side] = true;
  const code = target.querySelector(up ? ".code" : ".mark").getBBox();
  const reachIn = up || code.width ? code.width / 2 : target.querySelector(".chance").getBBox().width / 2;
  const space = side === "left" ? target.place[0] - reachIn - box.x - 0.4 : box.x + box.width - 0.4 - target.place[0] - reachIn;
  const size = Math.max(0.6, Math.min(1, space / (0.58 * Math.max(...units.map((unit) => unit.length), way.length))));
  const words = [...units, way], inwards = up ? 1 : -1; /* from the edge inwards; the word stands next to the arrow */
  const start = up ? box.y + 0.4 : box.y + box.height - 0.4;
  const wide = 0.58 * size * Math.max(...words.map((word) => word.length));
  const x = side === "left" ? box.x + 0.4 + wide / 2 : box.x + box.width - 0.4 - wide / 2;
  const lines = words.map((word, line) => svgEl("text", {
    class: "arrow-words", x: x.toFixed(2), "font-size": size.toFixed(2), text: word,
    y: (start + inwards * size * (line + (up ? 0.8 : 0.1))).toFixed(2) }));
  const after = start + inwards * size * (words.length + 0.15), end = target.place[1] + inwards * 0.3 * box.height;
  const tip = (end - after) * inwards > 1 ? end : after + inwards * 1;
  const at = free[side][1] >= LANE ? free[side][0] : x;
  return [arrow([at, after], [at, tip], Math.min(width, 0.55 * Math.max(free[side][1], LANE)), share), ...lines];
}

const floorPlace = (unit) => state.geometry.floors.findIndex((floor) => floor.units.some((row) => row[0] === unit));

export function drawArrows() {
  document.querySelectorAll("#plan .arrows").forEach((old) => old.remove());
  const told = state.arrows;
  if (!told || told.unit !== state.selected) return;
  const target = unitOnPlan(told.unit);
  if (!target) return;
  const svg = target.closest("svg"), beside = (unit) => unitOnPlan(unit, target);
  const group = svgEl("g", { class: "arrows" }), taken = {};
  const here = state.geometry.floors.findIndex((floor) => floor.name === svg.dataset.level);
  const near = told.from.filter(([unit]) => beside(unit)), far = told.from.filter(([unit]) => !beside(unit));
  for (const [unit, share] of near) group.append(across(beside(unit), target, 0.25 + 1.3 * share, share, taken));
  for (const way of ["up", "down"]) {
    const those = far.filter(([unit]) => (floorPlace(unit) > here) === (way === "up"));
    const share = those.reduce((sum, one) => sum + one[1], 0);
    if (those.length) group.append(...stub(target, those.map((one) => one[0]), way, 0.25 + 1.3 * share, share, taken));
  }
  svg.querySelector(".above").append(group);
}
