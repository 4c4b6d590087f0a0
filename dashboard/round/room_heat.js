/* The heat job on the room page: probes and their readings, what is missing, and whether the heat may be ended. */
import { at, el } from "../web/elements.js";
import { inFeet, number } from "../web/local.js";
import { MOST } from "./heat_log.js";
import { degreesOf, earliest, fahrenheitOf, holds, inTheAir, judged, met, needed, readLines } from "./heat.js";
import { R, button, sheet, tell, words } from "./room_state.js";
import { fill, many, say } from "./said.js";

const H = () => R.heat, rules = () => words().heat.rules;
const warm = () => (H().scale ? H().scale === "F" : inFeet());
const degrees = (celsius) => (warm() ? `${number(fahrenheitOf(celsius), 1)} F` : `${number(celsius, 1)} C`);
const clock = (minute) => new Date(H().began + minute * 6e4).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
const last = (readings) => readings[readings.length - 1];
const figure = (value) => number(Math.round(value * 10) / 10, 1);
const doubtSaid = (one) => fill(words().heat.doubts[one.kind], { probe: one.probe, other: one.other, minute: figure(one.minute), value: figure(one.value), limit: figure(one.limit) });
const full = () => tell(say("heat_full"));
/* What storage has no room for is not read: the page says so and shows what is kept. */
function change(work) { try { if (work() !== false) tell(""); } catch { full(); } drawHeat(); }

export const heatGoesWith = (method) => !!(words().heat && H() && H().begun && words().heat.methods.includes(method));
export function drawHeat() {
  if (!words().heat || !H()) return;
  at("heat").replaceChildren(
    el("p", { class: "soft", text: say("heat_hint") }),
    el("div", { class: "seen", role: "group", "aria-label": say("heat_scale") }, ["C", "F"].map((scale) => button(say(scale === "F" ? "heat_F" : "heat_C"), () => change(() => H().put({ scale: scale })), { "aria-pressed": String(warm() === (scale === "F")), "data-scale": scale }))),
    roomsField(), el("p", { class: "soft", id: "heat-needed", text: many("heat_needed", H().rooms, { needed: needed(H().rooms, rules()) }) }),
    verdict(), ...H().probes.map(probe), addProbe());
}
function roomsField() {
  const node = el("input", { id: "heat-rooms", type: "text", inputmode: "numeric", autocomplete: "off", value: H().rooms });
  node.addEventListener("change", () => { if (/^([1-9]|[12]\d|30)$/.test(node.value.trim())) change(() => H().put({ rooms: Number(node.value) })); else node.value = H().rooms; });
  return el("label", { class: "set" }, el("span", { text: say("heat_rooms") }), node);
}
function addProbe() {
  const node = el("input", { id: "heat-place", type: "text", autocomplete: "off", maxlength: 40, list: "heat-places" });
  const add = () => {
    const place = node.value.replace(/[;,:+=\s]+/g, " ").trim();
    if (H().probes.length >= 60 || !place) { node.focus(); return; }
    change(() => { if (!H().add(place)) { tell(say("heat_twice", { probe: place })); return false; } return true; });
  };
  return el("div", { class: "two" }, el("label", { class: "set" }, el("span", { text: say("heat_where") }), node),
    el("datalist", { id: "heat-places" }, sheet().rows.map((row) => el("option", { value: row.name }))), button(say("heat_add"), add, { id: "heat-add" }));
}
function probe([place, readings], index) {
  const typed = el("input", { type: "text", inputmode: "decimal", autocomplete: "off", "data-degrees": place, placeholder: warm() ? "118.4 F" : "48.2 C", "aria-label": say("heat_degrees_at", { probe: place, scale: warm() ? "F" : "C" }) });
  const pasted = el("textarea", { rows: 4, "data-lines": place, "aria-label": say("heat_lines_of", { probe: place }), placeholder: "14:05 48.2" });
  const kept = (got, began) => change(() => {
    if (H().read(place, got, began)) return true;
    tell(say("heat_order", { probe: place, most: MOST }));
    return false;
  });
  const keepTyped = () => {
    const value = degreesOf(typed.value, warm()), now = Date.now(), began = H().began || now;
    if (value === null || value < rules().coldest || value > rules().hottest) { tell(say("heat_number")); return; }
    kept([[Math.round((now - began) / 600) / 100, value]], began);
    const next = document.querySelector(`[data-degrees="${CSS.escape(place)}"]`);
    if (next) next.focus();
  };
  typed.addEventListener("keydown", (event) => { if (event.key === "Enter") keepTyped(); });
  const keepPasted = () => {
    const got = readLines(pasted.value, warm(), H().began, Date.now());
    const bad = got.wrong || (got.readings.findIndex(([, celsius]) => celsius < rules().coldest || celsius > rules().hottest) + 1);
    if (bad) { tell(say("heat_line_wrong", { line: bad })); return; }
    kept(got.readings, got.began);
  };
  return el("fieldset", { class: "probe", "data-probe": place, id: `heat-probe-${index}` }, el("legend", { text: place }),
    el("p", { class: "probe-now", text: standing(readings) }),
    inTheAir(place, rules()) ? el("p", { class: "wrong-words", text: say("heat_air") }) : null,
    el("div", { class: "two" }, typed, button(say("heat_keep"), keepTyped, { "data-keep": place, "aria-label": say("heat_keep_of", { probe: place }) })),
    el("details", {}, el("summary", { text: say("heat_paste") }), el("p", { class: "soft", text: say("heat_paste_hint") }), pasted, button(say("heat_paste_keep"), keepPasted, { "data-paste": place })),
    readings.length ? button(say("heat_back"), () => change(() => H().takeBack(place)), { class: "quiet", "data-back": place, "aria-label": say("heat_back_of", { probe: place }) })
      : button(say("heat_drop"), () => change(() => H().drop(place)), { class: "quiet", "aria-label": say("heat_drop_of", { probe: place }) }));
}
function standing(readings) {
  if (!readings.length) return say("heat_none");
  const now = last(readings), told = say("heat_now", { degrees: degrees(now[1]), time: clock(now[0]), number: readings.length });
  if (met(readings, rules())) return `${told} ${say("heat_met")}`;
  const [celsius, minutes] = last(rules().rows), { longest, running } = holds(readings, celsius, rules(), 1);
  return `${told} ${longest === null ? say("heat_cool", { degrees: degrees(celsius) }) : say("heat_held", { held: figure(running || 0), need: figure(minutes), degrees: degrees(celsius) })}`;
}
function verdict() {
  const probes = H().probes, got = judged(probes, rules(), H().rooms), read = probes.filter(([, readings]) => readings.length);
  const coldest = read.length ? read.reduce((least, one) => (last(one[1])[1] < last(least[1])[1] ? one : least)) : null;
  const wait = got.given || got.doubts.length || !probes.length ? null : earliest(probes, rules());
  return el("div", { id: "heat-verdict", class: got.given ? "heat-met" : "heat-on", role: "status" },
    el("p", {}, el("b", { text: say(got.given ? "heat_may_end" : "heat_go_on") })),
    coldest ? el("p", { id: "heat-coldest", text: say("heat_coldest", { probe: coldest[0], degrees: degrees(last(coldest[1])[1]), time: clock(last(coldest[1])[0]) }) }) : null,
    got.short.length ? el("p", { id: "heat-short", text: say("heat_short", { probes: got.short.join(", ") }) }) : null,
    wait !== null && got.short.length ? el("p", { text: say("heat_wait", { minutes: figure(wait) }) }) : null,
    got.doubts.length ? el("ul", { class: "known", id: "heat-doubts" }, got.doubts.map((one) => el("li", { "data-doubt": one.kind, text: doubtSaid(one) }))) : null,
    el("p", { class: "soft", text: words().heat.published }), el("p", { class: "soft", text: words().heat.never }));
}
