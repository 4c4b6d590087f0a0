/* The record of the job on the room page: what was done and how the home was found; and the end of the visit. */
import { at, el } from "../web/elements.js";
import { inFeet } from "../web/local.js";
import { degreesOf, fahrenheitOf } from "./heat.js";
import { here } from "../web/root.js";
import { Q } from "./queue.js";
import { draw } from "./room.js";
import { P } from "./photographs.js";
import { drawHeat, heatGoesWith } from "./room_heat.js";
import { drawSignature } from "./room_sign.js";
import { R, button, give, tell, today, words } from "./room_state.js";
import { many, say } from "./said.js";

const steps = () => (R.room && R.room.plan && R.room.plan.steps) || [];

export function tickOf(step) {
  return button(say("step_done"), (node) => {
    node.setAttribute("aria-pressed", String(R.job.tick(step)));
    named();
  }, { class: "ticked", "aria-pressed": String(R.job.ticked(step)), "data-step": `${step.item}|${step.place}`, "aria-label": say("step_is_done", { step: step.name }) });
}
function choice(field, title) {
  const name = say(title), id = `job-${field}`;
  return el("div", { class: "set" }, el("p", { class: "soft", id: id, text: name }), el("div", { class: "seen", role: "group", "aria-labelledby": id }, words().job[field].map(([value, text]) => button(text, (node) => {
    R.job.put(field, R.job.get(field) === value ? "" : value);
    for (const other of node.parentNode.children) other.setAttribute("aria-pressed", String(other.dataset.value === R.job.get(field)));
  }, { "aria-pressed": String(R.job.get(field) === value), "data-job": field, "data-value": value }))));
}
function written(title, id, value, put, attributes) {
  const node = el("input", Object.assign({ id: id, type: "text", autocomplete: "off", value: value }, attributes));
  node.addEventListener("input", () => put(node.value.trim()));
  return el("label", { class: "set" }, el("span", { text: say(title) }), node);
}
function productLine(number) {
  const one = R.job.product(number), put = (change) => {
    const before = R.job.lines();
    R.job.putProduct(number, change);
    if (R.job.lines() > before) at("job-products").append(productLine(R.job.lines() - 1));
  };
  return el("div", { class: "two" }, written("job_product", `job-product-${number}`, one.name, (text) => put({ name: text })), written("job_number", `job-number-${number}`, one.registration, (text) => put({ registration: text })));
}
/* How warm it is, in degrees of the phone's setting: in cool rooms nobody knows when eggs hatch. */
function warmth() {
  const F = inFeet(), kept = R.job.get("celsius");
  const shown = kept === null ? "" : String(Math.round((F ? fahrenheitOf(kept) : kept) * 10) / 10);
  return written(F ? "job_warmth_F" : "job_warmth_C", "job-warmth", shown, (text) => { const value = degreesOf(text, F); tell(text && value === null ? say("heat_number") : ""); R.job.put("celsius", value); }, { inputmode: "decimal" });
}
/* What is asked beside the steps; each may stay empty. */
export function drawJob() {
  if (!words().job) return [];
  return [choice("opened", "job_opened"), drawSignature(), written("job_code", "job-code", R.job.get("code"), (text) => R.job.put("code", text.toUpperCase()), { autocapitalize: "characters", maxlength: 12 }), choice("prepared", "job_prepared"), choice("pets", "job_pets"),
    written("job_window", "job-window", R.job.get("window"), (text) => R.job.put("window", text), { placeholder: "09:00-12:00", inputmode: "text" }),
    warmth(),
    el("div", { id: "job-products" }, Array.from({ length: R.job.lines() }, (_, i) => productLine(i))),
    el("p", { class: "soft", text: say("job_no_amount") })];
}
const count = () => R.job.count();
export const treatedName = () => steps().length ? say("record_steps", { done: count(), all: steps().length }) : say("record_treated");
function named() { if (at("treated")) at("treated").textContent = treatedName(); drawEnd(); }

/* Record the treatment with its job; returns whether it was kept. */
export function recordTreated() {
  const method = at("treat-method"), text = words().treatments.find(([value]) => value === method.value)[1].toLowerCase();
  const body = { answer: "treated", method: method.value };
  if (R.job.begun()) body.job = R.job.told(steps());
  const heat = heatGoesWith(method.value);
  if (heat) body.job = Object.assign(body.job || {}, { heat: R.heat.told() });
  if (!give(body, say("said_treated", { unit: R.unit, method: text }), "treated")) return false;
  R.job.drop();
  if (heat) { R.heat.forget(); drawHeat(); }
  return true;
}

/* -- the end of the visit -- */
let left = false;
export function drawEnd() {
  if (!at("end")) return;
  const open = [];
  if (R.draft && R.draft.changed && R.draft.items().length) open.push(say("end_look_open"));
  if (R.job.begun()) open.push(say("end_treat_open", { done: count(), all: steps().length }));
  if (R.heat && R.heat.begun) open.push(say("end_heat_open"));
  const lines = (R.room && R.room.today) || [], day = today();
  const told = el("input", { type: "checkbox", id: "end-told", checked: left });
  told.addEventListener("change", () => { left = told.checked; });
  const waits = Q.waiting().filter((one) => one.body.unit === R.unit).length;
  at("end").replaceChildren(...[
    lines.length ? el("ul", { class: "known", id: "end-today" }, lines.map((line) => el("li", { text: line }))) : el("p", { class: "soft", text: say("end_nothing") }),
    waits ? el("p", { class: "soft", text: many("end_waits", waits) }) : null,
    P.waiting ? el("p", { class: "soft", id: "end-photographs", text: many("photographs_wait", P.waiting) }) : null,
    ...P.refused.map((one) => el("p", { class: "wrong-words" }, one.refused, button(say("photograph_drop"), () => P.forget(one.name), { class: "quiet" }))),
    ...open.map((line) => el("p", { class: "wrong-words", text: line })),
    R.room && lines.length ? el("div", { class: "set" }, el("span", { text: say("end_notice") }), el("p", { class: "links" }, words().notices.map(([language, name]) => paper("notice", name, day, language)))) : null,
    R.room && lines.length ? el("p", { class: "links" }, paper("visit", say("end_record"), day)) : null,
    el("label", { class: "tick" }, told, el("span", { text: say("end_told") })),
    button(say("end_visit"), endVisit, { class: "wide strong", id: "end-visit" }),
  ].filter(Boolean));
}
const paper = (kind, text, day, language) => el("a", { class: "act", target: "_blank", rel: "noopener", href: here(`/round/${kind}/${encodeURIComponent(R.unit)}?on=${day}${language ? `&in=${language}` : ""}`), id: `paper-${kind}${language ? `-${language}` : ""}`, lang: language || document.documentElement.lang, text: text });
function endVisit() {
  if (R.draft && R.draft.changed && R.draft.items().length) { tell(say("end_look_open")); at("part-look").open = true; return; }
  if (R.job.begun() && !recordTreated()) return;
  if (left && !give({ answer: "told" }, say("said_told", { unit: R.unit }), "told")) return;
  left = false;
  at("part-end").open = false;
  at("part-follow").open = true;
  draw();
  Q.send();
}
P.onChange = drawEnd;
