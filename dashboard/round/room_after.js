/* What follows the look: the treatment plan, the traps that were read, and what clearance still lacks. */
import { at, el } from "../web/elements.js";
import { speakDay } from "../web/local.js";
import { Q } from "./queue.js";
import { draw } from "./room.js";
import { drawJob, recordTreated, tickOf, treatedName } from "./room_job.js";
import { judged } from "./heat.js";
import { heatGoesWith } from "./room_heat.js";
import { kindOf, placeNames, placeSaid, statesOf } from "./room_look.js";
import { R, button, give, sheet, tell, words } from "./room_state.js";
import { parts, say } from "./said.js";

/* -- treat -- */
const list = (title, lines, open) => lines.length ? el("details", { open: open }, el("summary", { text: title }), el("ul", { class: "known" }, lines.map((line) => el("li", { text: line })))) : null;
export function drawTreat() {
  const plan = R.room && R.room.plan, W = words();
  const method = keepChoice("treat-method", W.treatments);
  method.addEventListener("change", () => { at("heat-goes").textContent = heatGoes(method.value); });
  const parts = [];
  if (!R.room) parts.push(el("p", { class: "soft", text: say("plan_later") }));
  else if (plan.none) parts.push(el("p", { text: plan.none }));
  else parts.push(
    el("p", {}, el("b", { text: say("plan_level", { level: plan.level }) }), ` ${say("plan_basis", { basis: plan.basis, minutes: plan.minutes, span: plan.minutes_span })}`),
    plan.failing ? el("p", { class: "wrong-words", id: "failing", text: plan.failing }) : null,
    ...plan.notes.map((note) => el("p", { class: "soft", text: note })),
    el("p", { class: "tell-soft", text: plan.cautions[0] }),
    el("ol", { class: "steps" }, plan.steps.map((step) => el("li", {}, el("b", { text: step.place ? `${step.name}, ${placeSaid(step.place)}` : step.name }), el("p", { class: "soft", text: step.why }), el("p", { text: step.do }),
      step.product ? el("p", {}, el("span", { class: "soft", text: `${say("product_is")} ` }), step.product) : null, step.caution ? el("p", {}, el("span", { class: "soft", text: `${say("care_is")} ` }), step.caution) : null, tickOf(step)))),
    el("p", { text: plan.product }),
    list(say("bring"), [...plan.materials.map(([name, count, more]) => `${name}${count === null ? "" : `: ${count}`} (${more})`), ...plan.tools]),
    list(say("resident_prepares"), plan.prepare), list(say("resident_must_not"), plan.must_not), list(say("cautions"), plan.cautions.slice(1)));
  parts.push(el("h2", { text: say("done") }), el("label", { class: "set" }, el("span", { text: say("treated_by") }), method),
    ...drawJob(), el("p", { class: "soft", id: "heat-goes", text: heatGoes(method.value) }), button(treatedName(), () => {
      if (recordTreated()) { at("part-treat").open = false; draw(); Q.send(); }
    }, { class: "wide strong", id: "treated" }));
  at("treat").replaceChildren(...parts.filter(Boolean));
}
const heatGoes = (method) => (!heatGoesWith(method) ? "" : say(judged(R.heat.told().probes.map((one) => [one.place, one.readings]), words().heat.rules, R.heat.rooms).given ? "heat_goes" : "heat_goes_short"));
const chosen = {};
function keepChoice(id, options) {
  const node = el("select", { id: id }, options.map(([value, text]) => el("option", { value: value, text: text, selected: chosen[id] === value })));
  node.addEventListener("change", () => { chosen[id] = node.value; });
  return node;
}

/* -- traps: set under legs, read, taken up; the days come from the log and nothing is filled in -- */
const traps = { caught: "", days: "", legs: {}, held: {}, states: {} };
const kinds = () => placeNames(R.draft.places.length ? R.draft.places : sheet().places.map((one) => one.kind));
const whole = (text) => /^[0-9]{1,4}$/.test(text || "") ? Number(text) : null;
const standing = () => (R.room && R.room.traps && R.room.traps.set_on ? R.room.traps : null);
function field(label, id, value, change) {
  const node = el("input", { id: id, type: "text", inputmode: "numeric", autocomplete: "off", value: value });
  node.addEventListener("input", () => change(node.value.trim()));
  return el("label", { class: "set" }, el("span", { text: label }), node);
}
function state(code, title, place) {
  const name = place ? `${title}, ${placeSaid(place)}` : title, id = `${code}|${place}`;
  return el("div", {}, el("p", { class: "soft", text: name }), el("div", { class: "seen", role: "group", "aria-label": name }, statesOf(code).map(([value, text]) => button(text, (node) => {
    traps.states[id] = traps.states[id] === value ? "" : value;
    for (const other of node.parentNode.children) other.setAttribute("aria-pressed", String(other.dataset.trapState === traps.states[id]));
  }, { "aria-pressed": String(traps.states[id] === value), "data-trap-state": value, "data-code": code, "data-at": place }))));
}
const covered = (place) => sheet().checks.some((row) => row.code === "encasement" && row.at.includes(kindOf(place)));
/* A bed without legs has its traps beside it; under a wheelchair there are none. */
const trapped = () => kinds().filter((place) => kindOf(place) !== "wheelchair");
const legless = (place) => kindOf(place) === "floor-bed";
export function drawTraps() {
  const stand = standing(), beds = kinds().filter(covered);
  const parts = [el("p", { id: "traps-stand", text: R.room ? R.room.traps.words : say("follow_later") }), ...drawCaught()];
  const read = [...readTraps(stand), ...(beds.length > 1 || beds.some((one) => kindOf(one) !== "bed") ? beds : [""]).map((place) => state("encasement", say("covers_found"), place)), el("p", { class: "soft", text: say("period_counts") }), readButton()];
  if (stand) parts.push(...read, button(say("take_up"), () => done({ answer: "traps-taken-up", places: [] }, say("said_up", { unit: R.unit })), { class: "quiet wide", id: "traps-up" }));
  else parts.push(...setTraps(), ...read);
  at("traps").replaceChildren(...parts);
}
/* What each trap caught at the last readings, darker the more, and what it points to. */
function drawCaught() {
  const told = R.room && R.room.traps;
  if (!told || !told.periods.length) return [];
  const most = Math.max(1, ...told.caught.flatMap(([, counts]) => counts));
  const cell = (count) => el("td", { class: count ? "some" : "", style: `--share: ${Math.round(100 * count / most)}%`, text: String(count) });
  return [el("table", { class: "caught", id: "caught" }, el("thead", {}, el("tr", {}, el("th", { scope: "col", text: say("trap") }), told.periods.map((day) => el("th", { scope: "col", text: day })))),
    el("tbody", {}, told.caught.map(([place, counts]) => el("tr", {}, el("th", { scope: "row", text: placeSaid(place) }), counts.map(cell))))), el("p", { id: "points", text: told.points })];
}
function readTraps(stand) {
  const method = keepChoice("trap-method", words().traps), places = stand ? stand.places : [];
  method.addEventListener("change", drawTraps);
  return [el("h2", { text: say("read_traps") }), el("label", { class: "set" }, el("span", { text: say("which_traps") }), method),
    method.value !== "interceptors" ? field(say("days_stood"), "trap-days", traps.days, (text) => { traps.days = text; })
      : stand ? el("p", { class: "soft", text: say("trap_days", { days: stand.days }) }) : "",
    field(say("bugs_caught"), "trap-caught", traps.caught, (text) => { traps.caught = text; nameRead(); }),
    ...places.map((place) => el("div", { class: "trap" }, field(say("in_this_trap", { place: placeSaid(place) }), `held-${place}`, traps.held[place] || "", (text) => { traps.held[place] = text; }), state("interceptors", say("traps_found"), place)))];
}
const caughtInAll = () => { const sum = Object.values(traps.held).map(whole).reduce((a, b) => a + (b || 0), 0); return whole(traps.caught) === null && sum ? sum : whole(traps.caught); };
const readButton = () => button(readName(), saveTraps, { class: "wide strong", id: "traps-save" });
const readName = () => caughtInAll() ? say("record_caught", { caught: caughtInAll() }) : say("record_clean");
const nameRead = () => { at("traps-save").textContent = readName(); };
function setTraps() {
  return [el("h2", { text: say("set_traps") }), el("p", { class: "soft", text: say("set_hint") }),
    ...trapped().map((place) => field(say(legless(place) ? "traps_round" : "legs_of", { place: placeSaid(place) }), `legs-${place}`, traps.legs[place] || "", (text) => { traps.legs[place] = text; at("traps-set").textContent = setName(); })),
    button(setName(), () => {
      const places = trapped().flatMap((place) => Array.from({ length: whole(traps.legs[place]) || 0 }, (_, i) => `${place} ${legless(place) ? "trap" : "leg"} ${i + 1}`));
      if (!places.length || places.length > 60) { tell(say("say_legs")); return; }
      done({ answer: "traps-set", places: places }, say("said_set", { unit: R.unit, number: places.length }));
    }, { class: "wide strong", id: "traps-set" })];
}
const setName = () => say("record_set", { number: trapped().reduce((sum, place) => sum + (whole(traps.legs[place]) || 0), 0) });
function saveTraps() {
  const caught = caughtInAll(), held = Object.entries(traps.held).filter(([, text]) => whole(text));
  if (caught === null) { tell(say("write_caught")); return; }
  const method = at("trap-method").value;
  if (!caught && method === "interceptors" && R.room && !standing()) { tell(say("not_set")); return; }
  const items = {};
  for (const [place, text] of held) items[`interceptors|${place}`] = { item: "interceptors", evidence: ["live"], count: whole(text), place: place };
  for (const [id, value] of Object.entries(traps.states)) if (value) {
    const [item, place] = id.split("|");
    items[id] = Object.assign(items[id] || Object.assign({ item: item, evidence: [] }, place ? { place: place } : {}), { state: value });
  }
  done(Object.assign({ answer: "traps", method: method, caught: caught, items: Object.values(items) }, whole(traps.days) ? { days: whole(traps.days) } : {}), say(caught ? "said_caught" : "said_clean", { unit: R.unit, caught: caught }));
}
function done(body, text) {
  if (!give(body, text, "traps")) return;
  Object.assign(traps, { caught: "", days: "", legs: {}, held: {}, states: {} });
  at("part-traps").open = false;
  if (at("traps").contains(document.activeElement)) document.activeElement.blur();  /* else it is not drawn anew */
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
