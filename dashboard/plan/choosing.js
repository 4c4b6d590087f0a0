/* Choosing a unit, and laying it aside. */
import { pages, tell } from "../web/dash.js";
import { at } from "../web/elements.js";
import { startForm } from "./answer.js";
import { state } from "./state.js";

export function floorOf(unit) {
  const floors = state.geometry.floors;
  const here = floors.find((floor) => floor.name === state.floor);
  const holds = (floor) => floor && floor.units.some((row) => row[0] === unit);
  return holds(here) ? here.name : (floors.find(holds) || {}).name;
}

export function pick(unit) {
  const floor = floorOf(unit);
  if (floor === undefined) return;
  state.cameFrom = unit;
  if (floor !== state.floor) tell("floor", floor);
  tell("selected", unit);
}

export function close() {
  const unit = state.selected;
  if (!unit) return;
  tell("selected", null);
  const back = state.cameFromPlan ? `#plan [data-unit="${CSS.escape(unit)}"]` : `#doors [data-unit="${CSS.escape(unit)}"]`;
  const node = document.querySelector(back) || document.querySelector(`#plan [data-unit="${CSS.escape(unit)}"]`);
  setTimeout(() => node && node.isConnected && node.focus(), 0);
}

const narrow = window.matchMedia("(max-width: 760px)");
function settle() {
  /* On a phone the panel covers the page; what lies beneath must not take the focus. */
  const covered = narrow.matches && !!state.selected && !state.peeking;
  for (const part of document.querySelectorAll(".head, .doors, .floor-plan")) part.inert = covered;
  document.body.classList.toggle("covered", covered);
}
narrow.addEventListener("change", settle);
export function peek(on) {
  state.peeking = on;
  document.body.classList.toggle("peeking", on);
  settle();
}

pages.unit = function (selected) {
  const before = state.opened;
  state.opened = state.selected = selected || null;
  const panel = at("panel");
  if (!panel) return;
  if (selected !== before) peek(false);
  panel.hidden = !selected;
  document.body.classList.toggle("has-unit", !!selected);
  settle();
  if (!selected || selected === before) return;
  at("panel-title").textContent = `Unit ${selected}`;
  startForm(selected);
  /* Until this unit's words are here nothing of the last one may be read, and no button may move under a finger. */
  panel.classList.remove("slow");
  panel.classList.add("waiting");
  clearTimeout(state.waiting);
  state.waiting = setTimeout(() => panel.classList.replace("waiting", "slow"), 4000);
  panel.scrollTop = 0;
  at("panel-title").focus({ preventScroll: true });
  if (!narrow.matches && panel.getBoundingClientRect().top > window.innerHeight * 0.6) panel.scrollIntoView({ block: "nearest" });
};

pages.shown = function () {
  clearTimeout(state.waiting);
  const panel = at("panel");
  if (panel) panel.classList.remove("waiting", "slow");
};

document.addEventListener("click", function (event) {
  if (event.target.closest("#close")) close();
  const row = event.target.closest("#doors [data-unit]");
  if (row) {
    state.cameFromPlan = false;
    pick(row.dataset.unit);
  }
  const floor = event.target.closest("#floors [data-floor]");
  if (floor) tell("floor", floor.dataset.floor);
});
document.addEventListener("keydown", function (event) {
  if (event.key === "Escape" && state.selected && !event.defaultPrevented) close();
});
document.addEventListener("visibilitychange", function () {
  if (document.visibilityState === "visible" && at("plan")) tell("wake", Date.now());
});
/* News may come before Dash has laid the page out: it knows no "wake" yet, and what it lays out may be older. */
function wake() {
  if (at("plan")) tell("wake", Date.now());
  else setTimeout(wake, 100);
}
document.addEventListener("spread-news", (event) => { event.preventDefault(); wake(); });
