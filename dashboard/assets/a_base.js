/* Shared by the page's own scripts: making elements, remembering what is shown, choosing a unit.
   Text only ever enters through textContent, so that no unit code or note can be markup. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  const SVG = "http://www.w3.org/2000/svg";
  S.now = { geometry: null, paint: null, lists: null, floor: null, selected: null, words: null, shape: "one", then: null, weeks: null, past: null };
  S.pages = (window.dash_clientside = window.dash_clientside || {}).spread = {};

  function fill(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      if (name === "text") node.textContent = value;
      else node.setAttribute(name, value === true ? "" : value);
    }
    node.append(...children.filter((child) => child !== null && child !== undefined));
    return node;
  }
  S.el = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
  S.svg = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
  S.at = (id) => document.getElementById(id);
  /* A page was laid out for the address that the browser told; where it told none, ask again. */
  S.pages.address = (path, laidOut) => ((path.replace(/(.)\/+$/, "$1")) === laidOut.replace(/(.)\/+$/, "$1") ? window.dash_clientside.no_update : path);

  S.tell = (id, data) => window.dash_clientside.set_props(id, { data: data });

  S.floorOf = function (unit) {
    const floors = S.now.geometry.floors;
    const here = floors.find((floor) => floor.name === S.now.floor);
    const holds = (floor) => floor && floor.units.some((row) => row[0] === unit);
    return holds(here) ? here.name : (floors.find(holds) || {}).name;
  };

  S.pick = function (unit) {
    const floor = S.floorOf(unit);
    if (floor === undefined) return;
    S.cameFrom = unit;
    if (floor !== S.now.floor) S.tell("floor", floor);
    S.tell("selected", unit);
  };

  S.close = function () {
    const unit = S.now.selected;
    if (!unit) return;
    S.tell("selected", null);
    const back = S.cameFromPlan ? `#plan [data-unit="${CSS.escape(unit)}"]` : `#doors [data-unit="${CSS.escape(unit)}"]`;
    const node = document.querySelector(back) || document.querySelector(`#plan [data-unit="${CSS.escape(unit)}"]`);
    setTimeout(() => node && node.isConnected && node.focus(), 0);
  };

  const narrow = window.matchMedia("(max-width: 760px)");
  function settle() {
    /* On a phone the panel covers the page; what lies beneath must not take the focus. */
    const covered = narrow.matches && !!S.now.selected && !S.peeking;
    for (const part of document.querySelectorAll(".head, .doors, .floor-plan")) part.inert = covered;
    document.body.classList.toggle("covered", covered);
  }
  narrow.addEventListener("change", settle);
  S.peek = function (on) {
    S.peeking = on;
    document.body.classList.toggle("peeking", on);
    settle();
  };

  S.pages.unit = function (selected) {
    const before = S.opened;
    S.opened = S.now.selected = selected || null;
    const panel = S.at("panel");
    if (!panel) return;
    if (selected !== before) S.peek(false);
    panel.hidden = !selected;
    document.body.classList.toggle("has-unit", !!selected);
    settle();
    if (!selected || selected === before) return;
    S.at("panel-title").textContent = `Unit ${selected}`;
    S.startForm(selected);
    /* Until this unit's words are here nothing of the last one may be read, and no button may move under a finger. */
    panel.classList.remove("slow");
    panel.classList.add("waiting");
    clearTimeout(S.waiting);
    S.waiting = setTimeout(() => panel.classList.replace("waiting", "slow"), 4000);
    panel.scrollTop = 0;
    S.at("panel-title").focus({ preventScroll: true });
    if (!narrow.matches && panel.getBoundingClientRect().top > window.innerHeight * 0.6) panel.scrollIntoView({ block: "nearest" });
  };

  S.pages.shown = function () {
    clearTimeout(S.waiting);
    const panel = S.at("panel");
    if (panel) panel.classList.remove("waiting", "slow");
  };

  document.addEventListener("click", function (event) {
    if (event.target.closest("#close")) S.close();
    const row = event.target.closest("#doors [data-unit]");
    if (row) {
      S.cameFromPlan = false;
      S.pick(row.dataset.unit);
    }
    const floor = event.target.closest("#floors [data-floor]");
    if (floor) S.tell("floor", floor.dataset.floor);
  });
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape" && S.now.selected && !event.defaultPrevented) S.close();
  });
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "visible" && S.at("plan")) S.tell("wake", Date.now());
  });
})();
