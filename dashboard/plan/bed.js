/* The bed of the selected unit, the circle of its reach, and the shared walls, risers and outlets within it. The panel
   says the same in words; this is for the eye alone. The section has no beds: it is drawn from the side. */
import { svgEl } from "../web/elements.js";
import { outletPath, unitsOnPlan } from "./plan.js";
import { state } from "./state.js";

function one(bed, radius) {
  const [x, y] = bed.at, walls = bed.walls.map(([x1, y1, x2, y2]) => `M${x1},${y1}L${x2},${y2}`).join("");
  const group = svgEl("g", { class: "reach" }, svgEl("circle", { cx: x, cy: y, r: radius, class: "reach-circle-edge" }), svgEl("circle", { cx: x, cy: y, r: radius, class: "reach-circle" }),
    svgEl("rect", { x: x - 0.7, y: y - 0.95, width: 1.4, height: 1.9, rx: 0.2, class: "reach-bed" }));
  if (walls) group.append(svgEl("path", { d: walls, class: "reach-wall" }), svgEl("path", { d: walls, class: "reach-wall-dash" }));
  for (const [rx, ry] of bed.risers) group.append(svgEl("circle", { cx: rx, cy: ry, r: 0.55, class: "reach-riser-edge" }), svgEl("circle", { cx: rx, cy: ry, r: 0.55, class: "reach-riser" }));
  if (bed.outlets.length) group.append(svgEl("path", { d: outletPath(bed.outlets), class: "outlet" }));
  for (const [ox, oy] of bed.outlets) group.append(svgEl("circle", { cx: ox, cy: oy, r: 0.6, class: "reach-outlet-edge" }), svgEl("circle", { cx: ox, cy: oy, r: 0.6, class: "reach-outlet" }));
  return group;
}

/* Codes and chances stay readable: those that the drawing would cover are shown once more over it. */
function lift(group, svg, [x, y], far) {
  for (const unit of svg.querySelectorAll(".unit")) {
    if (Math.hypot(unit.place[0] - x, unit.place[1] - y) > far) continue;
    const lines = Array.from(unit.querySelectorAll("text"), (line) => line.cloneNode(true));
    group.append(svgEl("g", { class: unit.getAttribute("class").replace("unit", "lifted") }, ...lines));
  }
}

/* Which side of its unit's middle a bed is on, so that arrows take the other: left, right or none. */
export function bedSide(node) {
  const told = state.bed, level = node.closest("svg").dataset.level;
  const bed = told && told.unit === node.dataset.unit ? told.beds.find((other) => other.floor === level) : null;
  return !bed ? "" : bed.at[0] < node.place[0] ? "left" : "right";
}

export function drawBed() {
  document.querySelectorAll("#plan .reach").forEach((old) => old.remove());
  const told = state.bed;
  if (!told || told.unit !== state.selected) return;
  for (const bed of told.beds) {
    const node = unitsOnPlan(told.unit).find((unit) => unit.closest("svg").dataset.level === bed.floor);
    const above = node && node.closest("svg").querySelector(".above");
    if (!above) continue;
    const group = one(bed, told.radius);
    lift(group, node.closest("svg"), bed.at, told.radius + 3 * node.letters + 2);
    above.insertBefore(group, above.querySelector(".arrows"));
  }
}
