/* What follows the look: the treatment plan, the traps that were read, and what clearance still lacks. */
import { at, el } from "../web/elements.js";
import { speakDay } from "../web/local.js";
import { Q } from "./queue.js";
import { draw } from "./room.js";
import { placeNames, placeSaid, statesOf } from "./room_look.js";
import { R, button, give, sheet, tell, words } from "./room_state.js";
import { parts, say } from "./said.js";

/* -- treat -- */
const list = (title, lines, open) => lines.length ? el("details", { open: open }, el("summary", { text: title }), el("ul", { class: "known" }, lines.map((line) => el("li", { text: line })))) : null;
export function drawTreat() {
  const plan = R.room && R.room.plan, W = words();
  const method = keepChoice("treat-method", W.treatments);
  const parts = [];
  if (!R.room) parts.push(el("p", { class: "soft", text: say("plan_later") }));
  else if (plan.none) parts.push(el("p", { text: plan.none }));
  else parts.push(
    el("p", {}, el("b", { text: say("plan_level", { level: plan.level }) }), ` ${say("plan_basis", { basis: plan.basis, minutes: plan.minutes, span: plan.minutes_span })}`),
    ...plan.notes.map((note) => el("p", { class: "soft", text: note })),
    el("p", { class: "tell-soft", text: plan.cautions[0] }),
    el("ol", { class: "steps" }, plan.steps.map((step) => el("li", {}, el("b", { text: step.place ? `${step.name}, ${placeSaid(step.place)}` : step.name }), el("p", { class: "soft", text: step.why }), el("p", { text: step.do }),
      step.product ? el("p", {}, el("span", { class: "soft", text: `${say("product_is")} ` }), step.product) : null, step.caution ? el("p", {}, el("span", { class: "soft", text: `${say("care_is")} ` }), step.caution) : null))),
    el("p", { text: plan.product }),
    list(say("bring"), [...plan.materials.map(([name, count, more]) => `${name}${count === null ? "" : `: ${count}`} (${more})`), ...plan.tools]),
    list(say("resident_prepares"), plan.prepare), list(say("resident_must_not"), plan.must_not), list(say("cautions"), plan.cautions.slice(1)));
  parts.push(el("h2", { text: say("done") }), el("label", { class: "set" }, el("span", { text: say("treated_by") }), method),
    button(say("record_treated"), () => {
      const text = W.treatments.find(([value]) => value === method.value)[1].toLowerCase();
      if (give({ answer: "treated", method: method.value }, say("said_treated", { unit: R.unit, method: text }), "treated")) { at("part-treat").open = false; draw(); Q.send(); }
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
  const name = () => { record.textContent = Number(traps.caught) > 0 ? say("record_caught", { caught: traps.caught }) : say("record_clean"); };
  name();
  const state = (code, title, place) => el("div", {}, el("p", { class: "soft", text: place ? `${title}, ${placeSaid(place)}` : title }),
    el("div", { class: "seen", role: "group", "aria-label": place ? `${title}, ${placeSaid(place)}` : title }, statesOf(code).map(([value, text]) => button(text, (node) => {
      const id = `${code}|${place}`;
      traps.states[id] = traps.states[id] === value ? "" : value;
      for (const other of node.parentNode.children) other.setAttribute("aria-pressed", String(other.dataset.trapState === traps.states[id]));
    }, { "aria-pressed": String(traps.states[`${code}|${place}`] === value), "data-trap-state": value, "data-code": code }))));
  const beds = placeNames(R.draft.places.length ? R.draft.places : sheet().places.map((one) => one.kind)).filter((one) => one.startsWith("bed"));
  at("traps").replaceChildren(
    el("label", { class: "set" }, el("span", { text: say("which_traps") }), method),
    el("div", { class: "two" }, field(say("days_stood"), "trap-days", traps.days, (text) => { traps.days = text; }), field(say("bugs_caught"), "trap-caught", traps.caught, (text) => { traps.caught = text; name(); })),
    state("interceptors", say("traps_found"), ""), ...(beds.length > 1 ? beds : [""]).map((place) => state("encasement", say("covers_found"), place)),
    el("p", { class: "soft", text: say("period_counts") }),
    record);
}
function saveTraps(method) {
  const days = Number(traps.days), caught = Number(traps.caught);
  if (!Number.isInteger(days) || days < 1) { tell(say("write_days")); return; }
  if (!Number.isInteger(caught) || caught < 0) { tell(say("write_caught")); return; }
  const items = Object.entries(traps.states).filter(([, value]) => value).map(([id, value]) => { const [item, place] = id.split("|"); return Object.assign({ item: item, evidence: [], state: value }, place ? { place: place } : {}); });
  if (!give({ answer: "traps", method: method, days: days, caught: caught, items: items }, say(caught ? "said_caught" : "said_clean", { unit: R.unit, caught: caught }), "traps")) return;
  traps.states = {};
  traps.caught = "0";
  at("part-traps").open = false;
  draw();
  Q.send();
}

/* -- follow-up -- */
const day = (told) => el("time", { datetime: told, text: speakDay(told) });
/* What clearance lacks and the next visit have parts of their own below: the sentence that names every thing that
   is lacking, and the last one, of the visit, are left out. */
const listed = (one, line) => one.lacks.length > 0 && one.lacks.every((lack) => line.includes(lack.words));
const briefly = (one) => one.words.filter((line, i) => i === 0 || !listed(one, line) && !(one.visit && i === one.words.length - 1));
export function drawFollow() {
  if (!R.room) { at("follow").replaceChildren(el("p", { class: "soft", text: say("follow_later") })); return; }
  const one = R.room.followup;
  at("follow").replaceChildren(
    el("p", {}, el("b", { class: "stand", text: one.title })),
    el("ul", { class: "known" }, briefly(one).map((line) => el("li", { text: line }))),
    one.lacks.length ? el("div", {}, el("h2", { text: say("lacks") }), el("ul", { class: "known", id: "lacks" }, one.lacks.map((lack) => el("li", { "data-lack": lack.code, text: lack.words })))) : "",
    one.visit ? el("div", {}, el("h2", { text: say("next_visit") }), el("p", { id: "visit" }, parts("visit_days", { earliest: day(one.visit.earliest), latest: day(one.visit.latest), target: day(one.visit.target) })), el("p", { class: "soft", text: one.visit.words })) : "",
    one.notes.length ? el("div", {}, el("h2", { text: say("not_counted") }), el("ul", { class: "known" }, one.notes.map((line) => el("li", { text: line })))) : "",
    el("p", { class: "soft", text: R.room.never }));
}
