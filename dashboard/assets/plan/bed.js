/* The bed of the selected unit, the circle of its reach, and the shared walls, risers and outlets within it. The panel
   says the same in words; this is for the eye alone. The section has no beds: it is drawn from the side. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});

  function one(bed, radius) {
    const [x, y] = bed.at, walls = bed.walls.map(([x1, y1, x2, y2]) => `M${x1},${y1}L${x2},${y2}`).join("");
    const group = S.svg("g", { class: "reach" }, S.svg("circle", { cx: x, cy: y, r: radius, class: "reach-circle-edge" }), S.svg("circle", { cx: x, cy: y, r: radius, class: "reach-circle" }),
      S.svg("rect", { x: x - 0.7, y: y - 0.95, width: 1.4, height: 1.9, rx: 0.2, class: "reach-bed" }));
    if (walls) group.append(S.svg("path", { d: walls, class: "reach-wall" }), S.svg("path", { d: walls, class: "reach-wall-dash" }));
    for (const [rx, ry] of bed.risers) group.append(S.svg("circle", { cx: rx, cy: ry, r: 0.55, class: "reach-riser-edge" }), S.svg("circle", { cx: rx, cy: ry, r: 0.55, class: "reach-riser" }));
    if (bed.outlets.length) group.append(S.svg("path", { d: S.outletPath(bed.outlets), class: "outlet" }));
    for (const [ox, oy] of bed.outlets) group.append(S.svg("circle", { cx: ox, cy: oy, r: 0.6, class: "reach-outlet-edge" }), S.svg("circle", { cx: ox, cy: oy, r: 0.6, class: "reach-outlet" }));
    return group;
  }

  /* Codes and chances stay readable: those that the drawing would cover are shown once more over it. */
  function lift(group, svg, [x, y], far) {
    for (const unit of svg.querySelectorAll(".unit")) {
      if (Math.hypot(unit.place[0] - x, unit.place[1] - y) > far) continue;
      const lines = Array.from(unit.querySelectorAll("text"), (line) => line.cloneNode(true));
      group.append(S.svg("g", { class: unit.getAttribute("class").replace("unit", "lifted") }, ...lines));
    }
  }

  /* Which side of its unit's middle a bed is on, so that arrows take the other: left, right or none. */
  S.bedSide = function (node) {
    const told = S.now.bed, level = node.closest("svg").dataset.level;
    const bed = told && told.unit === node.dataset.unit ? told.beds.find((other) => other.floor === level) : null;
    return !bed ? "" : bed.at[0] < node.place[0] ? "left" : "right";
  };

  S.drawBed = function () {
    document.querySelectorAll("#plan .reach").forEach((old) => old.remove());
    const told = S.now.bed;
    if (!told || told.unit !== S.now.selected) return;
    for (const bed of told.beds) {
      const node = S.unitsOnPlan(told.unit).find((unit) => unit.closest("svg").dataset.level === bed.floor);
      const above = node && node.closest("svg").querySelector(".above");
      if (!above) continue;
      const group = one(bed, told.radius);
      lift(group, node.closest("svg"), bed.at, told.radius + 3 * node.letters + 2);
      above.insertBefore(group, above.querySelector(".arrows"));
    }
  };
})();
