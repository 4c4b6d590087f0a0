/* What follows the look: the treatment plan, the traps that were read, and what clearance still lacks. */
import { at, el } from "../web/elements.js";
import { speakDay } from "../web/local.js";
import { local } from "./base.js";
import { Q } from "./queue.js";
import { draw } from "./room.js";
import { placeNames, statesOf } from "./room_look.js";
import { R, button, give, say, sheet, words } from "./room_state.js";

/* -- treat -- */
const list = (title, lines, open) => lines.length ? el("details", { open: open }, el("summary", { text: title }), el("ul", { class: "known" }, lines.map((line) => el("li", { text: local(line) })))) : null;
export function drawTreat() {
  const plan = R.room && R.room.plan, W = words();
  const method = keepChoice("treat-method", W.treatments);
  const parts = [];
  if (!R.room) parts.push(el("p", { class: "soft", text: "The plan comes with the connection." }));
  else if (plan.none) parts.push(el("p", { text: plan.none }));
  else parts.push(
    el("p", {}, el("b", { text: `${plan.level} level` }), ` (${local(plan.basis)}). About ${plan.minutes} minutes (${plan.minutes_span}).`),
    ...plan.notes.map((note) => el("p", { class: "soft", text: note })),
    el("p", { class: "tell-soft", text: plan.cautions[0] }),
    el("ol", { class: "steps" }, plan.steps.map((step) => el("li", {}, el("b", { text: step.place ? `${step.name}, ${step.place}` : step.name }), el("p", { class: "soft", text: local(step.why) }), el("p", { text: local(step.do) }),
      step.product ? el("p", {}, el("span", { class: "soft", text: "Product: " }), step.product) : null, step.caution ? el("p", {}, el("span", { class: "soft", text: "Care: " }), local(step.caution)) : null))),
    el("p", { text: plan.product }),
    list("Bring", [...plan.materials.map(([name, count, more]) => `${name}${count === null ? "" : `: ${count}`} (${more})`), ...plan.tools]),
    list("The resident prepares", plan.prepare), list("The resident must not", plan.must_not), list("Cautions", plan.cautions.slice(1)));
  parts.push(el("h2", { text: "Done?" }), el("label", { class: "set" }, el("span", { text: "Treated by" }), method),
    button("Treatment done: record it", () => {
      const text = W.treatments.find(([value]) => value === method.value)[1].toLowerCase();
      if (give({ answer: "treated", method: method.value }, `treated, ${text}`, "treated")) { at("part-treat").open = false; draw(); Q.send(); }
    }, { class: "wide strong", id: "treated" }));
  at("treat").replaceChildren(...parts.filter(Boolean));
}
const chosen = {};
function keepChoice(id, options) {
  const node = el("select", { id: id }, options.map(([value, text]) => el("option", { value: value, text: text, selected: chosen[id] === value })));
  node.addEventListener("change", () => { chosen[id] = node.value; });
  return node;
}

/* -- traps -- */
const traps = { days: "14", caught: "0", states: {} };
export function drawTraps() {
  const W = words(), method = keepChoice("trap-method", W.traps);
  const field = (label, id, value, change) => { const node = el("input", { id: id, type: "text", inputmode: "numeric", autocomplete: "off", value: value }); node.addEventListener("input", () => change(node.value.trim())); return el("label", { class: "set" }, el("span", { text: label }), node); };
  const record = button("", () => saveTraps(method.value), { class: "wide strong", id: "traps-save" });
  const name = () => { record.textContent = Number(traps.caught) > 0 ? `Record: ${traps.caught} caught` : "Record: a clean period"; };
  name();
  const state = (code, title, place) => el("div", {}, el("p", { class: "soft", text: place ? `${title}, ${place}` : title }),
    el("div", { class: "seen", role: "group", "aria-label": place ? `${title}, ${place}` : title }, statesOf(code).map(([value, text]) => button(text, (node) => {
      const id = `${code}|${place}`;
      traps.states[id] = traps.states[id] === value ? "" : value;
      for (const other of node.parentNode.children) other.setAttribute("aria-pressed", String(other.dataset.trapState === traps.states[id]));
    }, { "aria-pressed": String(traps.states[`${code}|${place}`] === value), "data-trap-state": value, "data-code": code }))));
  const beds = placeNames(R.draft.places.length ? R.draft.places : sheet().places.map((one) => one.kind)).filter((one) => one.startsWith("bed"));
  at("traps").replaceChildren(
    el("label", { class: "set" }, el("span", { text: "Which traps" }), method),
    el("div", { class: "two" }, field("Days they stood", "trap-days", traps.days, (text) => { traps.days = text; }), field("Bugs caught", "trap-caught", traps.caught, (text) => { traps.caught = text; name(); })),
    state("interceptors", "Traps found", ""), ...(beds.length > 1 ? beds : [""]).map((place) => state("encasement", "Encasements found", place)),
    el("p", { class: "soft", text: "A period counts towards clearance only with its days, and with the traps where they were put." }),
    record);
}
function saveTraps(method) {
  const days = Number(traps.days), caught = Number(traps.caught);
  if (!Number.isInteger(days) || days < 1) { say("Write the days that the traps stood as a whole number, such as 14."); return; }
  if (!Number.isInteger(caught) || caught < 0) { say("Write the bugs caught as a whole number; 0 if none."); return; }
  const items = Object.entries(traps.states).filter(([, value]) => value).map(([id, value]) => { const [item, place] = id.split("|"); return Object.assign({ item: item, evidence: [], state: value }, place ? { place: place } : {}); });
  if (!give({ answer: "traps", method: method, days: days, caught: caught, items: items }, caught ? `traps read, ${caught} caught` : "traps read, a clean period", "traps")) return;
  traps.states = {};
  traps.caught = "0";
  at("part-traps").open = false;
  draw();
  Q.send();
}

/* -- follow-up -- */
const day = (told) => el("time", { datetime: told, text: speakDay(told) });
/* What clearance lacks and the next visit have parts of their own below, so their sentences are left out. */
const briefly = (one) => one.words.filter((line, i) => i === 0 || !(one.lacks.length && line.startsWith("To be cleared")) && !(one.visit && i === one.words.length - 1));
export function drawFollow() {
  if (!R.room) { at("follow").replaceChildren(el("p", { class: "soft", text: "It comes with the connection." })); return; }
  const one = R.room.followup;
  at("follow").replaceChildren(
    el("p", {}, el("b", { class: "stand", text: one.title })),
    el("ul", { class: "known" }, briefly(one).map((line) => el("li", { text: local(line) }))),
    one.lacks.length ? el("div", {}, el("h2", { text: "Clearance still lacks" }), el("ul", { class: "known", id: "lacks" }, one.lacks.map((lack) => el("li", { "data-lack": lack.code, text: lack.words })))) : "",
    one.visit ? el("div", {}, el("h2", { text: "Next visit" }), el("p", { id: "visit" }, day(one.visit.earliest), " to ", day(one.visit.latest), ", best ", day(one.visit.target)), el("p", { class: "soft", text: local(one.visit.words) })) : "",
    one.notes.length ? el("div", {}, el("h2", { text: "Not counted" }), el("ul", { class: "known" }, one.notes.map((line) => el("li", { text: line })))) : "",
    el("p", { class: "soft", text: R.room.never }));
}
