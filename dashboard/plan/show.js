/* The tools over the plan: its shape, what the colours tell, which units are meant, and the search. */
import { tell } from "../web/dash.js";
import { at, el } from "../web/elements.js";
import { pick } from "./choosing.js";
import { askLists } from "./doors.js";
import { floorsOf } from "./plan.js";
import { state } from "./state.js";
import { lookBack } from "./time.js";
import { zoom } from "./zoom.js";

export const viewShown = () => { const views = (state.words || {}).views || {}; return views[(state.paint || {}).show || "chance"] || { say: "chance", classes: [] }; };

function select(id, words, options, act) {
  const node = el("select", { id: id }, ...options.map(([value, text]) => el("option", { value: value, text: text })));
  node.addEventListener("change", () => act(node.value));
  return el("label", { class: "field" }, el("span", { text: words }), node);
}

export function show(change) {
  state.show = Object.assign({ show: "chance", only: "" }, state.show, change);
  tell("show", state.show);
  if ("only" in change) askLists({ only: change.only });
}

function shapes() {
  const names = [["one", "One floor"], ["all", "All floors"], ["section", "Section"]];
  if (state.geometry.floors.length === 1) names.splice(1, 1);
  const group = el("div", { class: "shapes", role: "group", "aria-label": "What is drawn" },
    ...names.map(([value, text]) => el("button", { type: "button", class: "shape", "data-shape": value, "aria-pressed": "false", text: text })));
  group.addEventListener("click", function (event) {
    const button = event.target.closest("[data-shape]");
    if (button) tell("shape", button.dataset.shape);
  });
  return group;
}

function search() {
  const units = Object.keys(state.geometry.titles);
  const input = el("input", { id: "find", type: "text", list: "find-codes", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", enterkeyhint: "go" });
  const told = el("p", { id: "find-told", class: "form-error", role: "alert" });
  const form = el("form", { role: "search", class: "find" },
    el("label", { class: "field" }, el("span", { text: "Find a unit" }), input), told,
    el("datalist", { id: "find-codes" }, ...units.map((unit) => el("option", { value: unit }))));
  const find = function () {
    const wanted = input.value.trim().toUpperCase();
    if (!wanted) return;
    const begin = units.filter((unit) => unit.toUpperCase().startsWith(wanted));
    const hit = units.find((unit) => unit.toUpperCase() === wanted) || (begin.length === 1 ? begin[0] : null);
    if (!hit) {
      told.textContent = begin.length ? `${begin.length} units begin so; type more of the code.` : `No unit ${input.value.trim()} here; the codes look like ${units[0]}.`;
      return;
    }
    told.textContent = "";
    state.cameFromPlan = true;
    state.revealNext = true;
    pick(hit);
  };
  form.addEventListener("submit", (event) => { event.preventDefault(); find(); });
  input.addEventListener("input", () => { told.textContent = ""; });
  return form;
}

export function drawTools() {
  const box = at("plan-tools");
  if (!box || !state.words || !state.geometry) return;
  if (!box.firstChild) {
    at("find-place").append(search());
    const views = Object.entries(state.words.views).map(([key, view]) => [key, view.name]);
    const back = el("button", { type: "button", id: "look-back", class: "quiet", "aria-expanded": "false", "aria-controls": "time-bar", text: "Look back" });
    back.addEventListener("click", () => lookBack(at("time-bar").hidden));
    box.append(shapes(), select("view", "Colours tell", views, (value) => show({ show: value })),
      select("only", "Only show", state.words.only, (value) => show({ only: value })), zoom.tools(), back);
  }
  for (const button of box.querySelectorAll("[data-shape]")) button.setAttribute("aria-pressed", String(button.dataset.shape === state.shape));
  at("floors").hidden = state.shape !== "one";
}

/* The legend of the view that is painted, and what a filter left over. */
export function drawLegend() {
  const shown = state.then ? state.then.legend : (state.paint || {}).show || "chance";
  for (const part of document.querySelectorAll("#legend [data-legend]")) part.hidden = part.dataset.legend !== shown;
  const words = at("only-words"), paint = state.paint;
  if (!words) return;
  const on = paint.kept && !state.then, name = on ? (state.words.only.find((one) => one[0] === paint.only) || ["", ""])[1] : "";
  const some = on && paint.kept.length, floors = some ? [...new Set(paint.kept.map(floorsOf))] : [];
  const where = some && floors.length <= 4 ? `, on ${floors.map((floor) => floor[0].toLowerCase() + floor.slice(1)).join(", ")}` : "";
  const told = !on ? "" : some ? `${name}: ${paint.kept.length} of ${Object.keys(paint.units).length} units${where}; the others are drawn pale.` : `${name}: no unit. Choose “All units” to see the others.`;
  if (words.textContent !== told) words.textContent = told;
}

/* A link from another page may name a unit: /?unit=203 */
export function openAsked() {
  if (state.askedOnce) return;
  state.askedOnce = true;
  const unit = new URLSearchParams(window.location.search).get("unit");
  if (unit && floorsOf(unit)) { state.revealNext = true; pick(unit); }
}
