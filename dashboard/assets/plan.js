/* The plan of one floor as inline SVG. Built once a floor; later only classes and words change.
   One unit is in the tab order; arrows go to the nearest unit that way, Enter opens. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  const MARKS = { t: "treat", r: "revisit", o: "ring" };
  const MARK_WORDS = { t: "known infested, treat", r: "treated, revisit", o: "a ring rule asks for it" };
  let drawn = null;
  let nodes = {};
  let rover = null;

  function pattern(id, size, ...marks) {
    return S.svg("pattern", { id: id, width: size, height: size, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, ...marks);
  }

  function patterns() {
    const defs = S.svg("defs", {}, pattern("treads", 0.5, S.svg("rect", { width: 0.06, height: 0.5, class: "tread" })));
    for (let cls = 0; cls < 6; cls += 1) { /* a pattern does not see the colour of the room it fills */
      defs.append(pattern(`fill-t-${cls}`, 1.2, S.svg("rect", { width: 0.34, height: 1.2, class: `ink c${cls}` })),
        pattern(`fill-r-${cls}`, 1.2, S.svg("circle", { cx: 0.4, cy: 0.4, r: 0.24, class: `ink c${cls}` })));
    }
    return defs;
  }

  function named(cls, part, pathOnly) {
    const group = S.svg("g", { class: cls }, S.svg("path", { d: part[0] }));
    if (pathOnly || part[4] < 0.45) return group;
    group.append(S.svg("text", { x: part[1], y: part[2] + part[4] * 0.35, "font-size": part[4], text: part[3] }));
    return group;
  }

  function unitNode(row) {
    const [id, path, x, y, letters] = row;
    const line = (cls, size) => S.svg("text", { class: cls, x: x, "font-size": letters * size });
    const node = S.svg("g", { class: "unit", role: "button", tabindex: -1, "data-unit": id },
      S.svg("title"),
      S.svg("path", { d: path, class: "room" }),
      S.svg("path", { d: path, class: "overlay" }),
      S.svg("path", { d: path, class: "edge" }),
      line("code", 0.95), line("chance", 1.12), line("mark", 0.8));
    node.letters = letters;
    node.querySelector(".code").textContent = id;
    node.place = [x, y];
    return node;
  }

  function build(floor) {
    const halls = floor.halls.map((d) => S.svg("path", { d: d, class: "hall" }));
    const units = floor.units.map(unitNode);
    nodes = Object.fromEntries(floor.units.map((row, index) => [row[0], units[index]]));
    for (const [x, y, unit] of floor.beds) {
      if (!nodes[unit]) continue;
      nodes[unit].querySelector(".code").before(S.svg("g", { class: "bed" },
        S.svg("rect", { x: x - 0.7, y: y - 0.95, width: 1.4, height: 1.9, rx: 0.2 }),
        S.svg("rect", { x: x - 0.5, y: y - 0.8, width: 1, height: 0.45, rx: 0.15 })));
    }
    const doors = floor.doors.map(([x1, y1, x2, y2]) => S.svg("line", { x1: x1, y1: y1, x2: x2, y2: y2, class: "door" }));
    const risers = floor.risers.map((d) => S.svg("path", { d: d, class: "riser" }));
    const quiet = S.svg("g", { "aria-hidden": "true" }, ...halls,
      ...floor.commons.map((part) => named("common", part)), ...floor.stairs.map((part) => named("stair", part)));
    const over = S.svg("g", { "aria-hidden": "true", class: "over" }, ...doors, ...risers);
    const svg = S.svg("svg", { viewBox: floor.view.join(" "), role: "group", class: "floor" },
      patterns(), quiet, S.svg("g", { class: "units" }, ...units), over, S.svg("g", { class: "above", "aria-hidden": "true" }));
    /* Wide enough to read (10 px letters in most units) and to hit: 24 px at a desk, 44 px by finger. */
    const finger = window.matchMedia("(pointer: coarse)").matches;
    const scale = Math.min(Math.max(7.5 / floor.letters[0], 10 / floor.letters[1], (finger ? 44 : 24) / floor.least), 40);
    svg.style.minWidth = `${Math.round(floor.view[2] * scale)}px`;
    /* No larger than shows the whole floor at once, nor than a third of an inch a metre. */
    const [, , wide, high] = floor.view;
    svg.style.maxWidth = `max(${Math.round(wide * scale)}px, min(${Math.round(wide * 26)}px, calc(var(--plan-high) * ${(wide / high).toFixed(3)})))`;
    svg.addEventListener("click", clicked);
    svg.addEventListener("keydown", keyed);
    svg.addEventListener("focusin", (event) => rove(event.target.closest(".unit")));
    return svg;
  }

  function clicked(event) {
    const node = event.target.closest(".unit");
    if (!node) return;
    S.cameFromPlan = true;
    S.pick(node.dataset.unit);
  }

  function rove(node) {
    if (!node) return;
    if (rover) rover.setAttribute("tabindex", -1);
    rover = node;
    node.setAttribute("tabindex", 0);
  }

  const WAYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  function keyed(event) {
    const node = event.target.closest(".unit");
    if (!node) return;
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      S.cameFromPlan = true;
      S.pick(node.dataset.unit);
      return;
    }
    const all = Object.values(nodes);
    let next = null;
    if (event.key === "Home") next = all[0];
    if (event.key === "End") next = all[all.length - 1];
    const way = WAYS[event.key];
    if (way) {
      let least = Infinity;
      for (const other of all) {
        const dx = other.place[0] - node.place[0], dy = other.place[1] - node.place[1];
        const along = dx * way[0] + dy * way[1], aside = Math.abs(dx * way[1]) + Math.abs(dy * way[0]);
        if (other !== node && along > 0.5 && along >= aside * 0.5 && along + 2 * aside < least) {
          least = along + 2 * aside;
          next = other;
        }
      }
    }
    if (!next && !way) return;
    event.preventDefault();
    if (next) next.focus();
  }

  function paintUnit(id, node, look) {
    const [cls, label, mark] = look || [0, "?", ""];
    const chosen = id === S.now.selected;
    const key = `${cls}|${label}|${mark}|${chosen}`;
    if (node.key === key) return;
    node.key = key;
    node.setAttribute("class", `unit c${cls}${mark ? " m-" + mark : ""}${chosen ? " chosen" : ""}`);
    node.querySelector(".overlay").setAttribute("fill", mark === "t" || mark === "r" ? `url(#fill-${mark}-${cls})` : "none");
    node.querySelector(".chance").textContent = label;
    node.querySelector(".mark").textContent = mark ? MARKS[mark] : "";
    const lines = mark ? { code: -0.82, chance: 0.4, mark: 1.38 } : { code: -0.25, chance: 0.98, mark: 2 };
    for (const [line, dy] of Object.entries(lines)) node.querySelector(`.${line}`).setAttribute("y", (node.place[1] + dy * node.letters).toFixed(2));
    const words = S.now.words ? S.now.words.classes[cls] : "";
    const told = `Unit ${id}, chance ${label}, ${words}${mark ? ", " + MARK_WORDS[mark] : ""}`;
    node.setAttribute("aria-label", told);
    node.setAttribute("aria-pressed", chosen ? "true" : "false");
    node.querySelector("title").textContent = told;
  }

  S.pages = S.pages || {};
  S.unitOnPlan = (unit) => nodes[unit] || null;
  S.drawPlan = function (geometry, floorName, paint, selected) {
    const box = S.at("plan");
    if (!box || !geometry || !paint) return;
    const floor = geometry.floors.find((one) => one.name === floorName) || geometry.floors[0];
    Object.assign(S.now, { geometry: geometry, floor: floor.name, paint: paint });
    S.now.selected = selected || null;
    const key = `${geometry.key}|${floor.name}`;
    if (drawn !== key || !box.firstChild) {
      drawn = key;
      rover = null;
      box.replaceChildren(build(floor));
      const words = `${floor.title}: ${floor.units.length} ${floor.units.length === 1 ? "unit" : "units"}`;
      box.firstChild.setAttribute("aria-label", `${words}. Arrow keys move from unit to unit, Enter opens one.`);
      S.at("floor-words").textContent = words;
      document.title = `${geometry.name} · ${floor.title}`;
    }
    performance.mark("repaint-start");
    for (const [id, node] of Object.entries(nodes)) paintUnit(id, node, paint.units[id]);
    performance.measure("repaint", "repaint-start");
    if (!performance.getEntriesByName("plan-drawn").length) performance.mark("plan-drawn");
    const first = nodes[selected] || rover || highest(paint);
    if (first) rove(first);
    const above = box.querySelector(".above");
    above.replaceChildren();
    if (nodes[selected]) above.append(S.svg("path", { d: nodes[selected].querySelector(".room").getAttribute("d"), class: "chosen-edge" }), S.svg("path", { d: nodes[selected].querySelector(".room").getAttribute("d"), class: "chosen-line" }));
    S.drawArrows();
    if (selected && nodes[selected]) reveal(nodes[selected], box.parentElement);
  };

  function highest(paint) {
    const ids = Object.keys(nodes);
    ids.sort((a, b) => (paint.units[b] || [0])[0] - (paint.units[a] || [0])[0]);
    return nodes[ids[0]] || null;
  }

  function reveal(node, scroller) {
    const here = node.getBoundingClientRect(), frame = scroller.getBoundingClientRect();
    if (here.left < frame.left || here.right > frame.right) scroller.scrollLeft += here.left - frame.left - frame.width / 2 + here.width / 2;
    if (here.top < frame.top || here.bottom > frame.bottom) scroller.scrollTop += here.top - frame.top - frame.height / 2 + here.height / 2;
  }
})();
