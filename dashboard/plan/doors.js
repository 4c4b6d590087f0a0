/* The lists, the tools above them and the floor buttons, from the lists' JSON. */
import { tell } from "../web/dash.js";
import { at, el } from "../web/elements.js";
import { state } from "./state.js";

function row(door, apart) {
  const top = el("span", { class: "row-top" },
    el("span", { class: "row-unit", text: door.u }), el("span", { class: "row-floor", text: door.f }),
    el("span", { class: "row-word", text: door.w }), el("span", { class: `pill c${door.c}`, text: door.p }));
  const foot = el("span", { class: "row-foot" },
    door.visit ? el("span", { class: "row-visit", text: door.visit }) : null,
    apart ? null : el("span", { title: door.worth, text: `find ${door.find}, ${door.access}, ${door.saves}` }),
    door.rule ? el("span", { class: "tag", text: `ring: ${door.rule}` }) : null,
    door.duty ? el("span", { class: "tag", text: `duty: ${door.duty}` }) : null);
  return el("li", {},
    el("button", { type: "button", class: "row", "data-unit": door.u, "aria-pressed": String(door.u === state.selected) },
      el("span", { class: "row-rank", text: door.r }),
      el("span", { class: "row-middle" }, top, el("span", { class: "row-why", text: door.why }), door.instead ? el("span", { class: "row-instead", text: door.instead }) : null, foot.firstChild ? foot : null)));
}

export function askLists(change) {
  state.ask = Object.assign({ method: state.lists.method, limit: state.lists.limit, floor: state.lists.floor, only: state.lists.only }, change);
  tell("ask", state.ask);
}

function tools() {
  const box = at("doors-tools");
  if (box.firstChild || !state.words) return;
  const method = el("select", { id: "method" }, ...state.words.methods.map(([value, words]) => el("option", { value: value, text: words })));
  const here = el("input", { type: "checkbox", id: "only-here" });
  method.addEventListener("change", () => askLists({ method: method.value }));
  here.addEventListener("change", () => askLists({ floor: here.checked ? state.floor : "" }));
  box.append(
    el("label", { class: "field" }, el("span", { text: "Looking with" }), method),
    el("label", { class: "tick" }, here, el("span", { text: "This floor only" })));
}

export function followFloor() {
  const here = at("only-here");
  if (here && here.checked && state.lists && state.lists.floor !== state.floor) askLists({ floor: state.floor });
}

function part(title, hint, doors, apart) {
  const list = el("ol", { class: "rows" }, ...doors.map((door) => row(door, apart === true)));
  return el("section", { class: apart ? "apart" : "main-list" }, title ? el("h3", { text: `${title} (${doors.length})` }) : null, el("p", { class: "soft", text: hint }), list);
}

/* By keyboard the doors are one stop of the Tab key: up and down go from door to door, on into the next list. */
let hand = null;
const rows = () => [...at("doors").querySelectorAll(".row")];
function rove(door) {
  hand = door ? door.dataset.unit : null;
  for (const one of rows()) one.tabIndex = one === door ? 0 : -1;
}
document.addEventListener("focusin", ({ target }) => { if (target.matches("#doors .row")) rove(target); });
document.addEventListener("keydown", (event) => {
  if (!event.target.matches("#doors .row") || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
  const all = rows(), now = all.indexOf(event.target);
  const ways = { ArrowUp: all[now - 1], ArrowDown: all[now + 1], Home: all[0], End: all.at(-1) };
  if (!(event.key in ways)) return;
  event.preventDefault();
  ways[event.key]?.focus();
});

export const nextDoor = () => ((state.lists && state.lists.next) || []).find((door) => door.u !== state.selected);

export function drawDoors(lists, selected) {
  const box = at("doors");
  if (!box || !lists) return;
  state.selected = selected || null;
  if (state.lists === lists && box.firstChild) {
    for (const node of box.querySelectorAll("[data-unit]")) node.setAttribute("aria-pressed", String(node.dataset.unit === selected));
    return;
  }
  state.lists = lists;
  const next = nextDoor();
  at("next-door").textContent = next ? `Next door: ${next.u}` : "No next door";
  tools();
  const active = document.activeElement;
  const held = active && box.contains(active) ? active.dataset.unit || active.id : null;
  const where = lists.floor ? " on this floor" : "";
  const parts = [];
  if (lists.next.length) {
    const first = part("", `Ranked by ${lists.by}${where}. ${lists.weighed}`, lists.next, false);
    if (lists.more) {
      const more = el("button", { type: "button", id: "more", class: "quiet", text: `Show more (${lists.more} left)` });
      more.addEventListener("click", () => askLists({ limit: lists.limit + 25 }));
      first.append(more);
    }
    parts.push(first);
  } else parts.push(el("p", { class: "soft", text: lists.only ? "No door to look at among the units that are shown. Choose “All units” over the plan." : `No door to look at${where}.` }));
  if (lists.asked.length) parts.push(part("Asked for", "Lower in the list, but the ring rule or a duty asks for them.", lists.asked, "asked"));
  if (lists.treat.length) parts.push(part("Treat", "Found and never closed, whatever the chance of today: no need to look, treat.", lists.treat, true));
  if (lists.revisit.length) parts.push(part("Revisit", "Treated and not yet cleared, or a visit of the watch; by the day it is due.", lists.revisit, true));
  box.replaceChildren(...parts);
  const found = (unit) => unit && rows().find((one) => one.dataset.unit === unit);
  rove(found(hand) || found(selected) || rows()[0]);
  if (held) {
    const again = held === "more" ? at("more") : box.querySelector(`[data-unit="${CSS.escape(held)}"]`);
    if (again) again.focus({ preventScroll: true });
  }
}

export function drawFloors(lists, floor) {
  const box = at("floors");
  if (!box || !lists) return;
  state.floor = floor;
  if (!box.firstChild) {
    box.append(...lists.floors.map((one) => el("button", { type: "button", class: "floor-button", "data-floor": one.name },
      el("b", { text: one.title }), el("span", { class: "floor-class" }), el("span", { class: "floor-due" }))));
    if (lists.floors.length > 7) { /* a tower: shorter buttons, the whole name still said */
      box.classList.add("many");
      lists.floors.forEach((one, index) => { box.children[index].querySelector("b").textContent = one.name; });
    }
    if (lists.floors.length === 1) box.classList.add("only-one");
  }
  lists.floors.forEach(function (one, index) {
    const button = box.children[index];
    button.setAttribute("aria-pressed", String(one.name === floor));
    button.querySelector(".floor-class").className = `floor-class c${one.c}`;
    button.querySelector(".floor-class").textContent = one.where;
    button.querySelector(".floor-due").textContent = box.classList.contains("many") ? `${one.number.replace(" infested", "")} · ${one.due || 0} due` : `${one.number} · ${one.doors}`;
    button.setAttribute("aria-label", `${one.title}: ${one.number}${one.where ? `, likeliest in ${one.where}` : ""}, ${one.doors}`);
  });
  const chosen = box.querySelector('[aria-pressed="true"]');
  if (chosen && box.scrollWidth > box.clientWidth) box.scrollLeft = chosen.offsetLeft - box.clientWidth / 2 + chosen.offsetWidth / 2;
  followFloor();
}
