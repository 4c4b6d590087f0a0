/* The room sheet item by item: where people sleep, where to look, and what was seen at each item and place. */
import { at, el } from "../web/elements.js";
import { inFeet } from "../web/local.js";
import { P } from "./photographs.js";
import { Q } from "./queue.js";
import { drawThumb } from "./room.js";
import { R, button, sheet, tell, words } from "./room_state.js";
import { say, word } from "./said.js";

const FOOT = 0.3048;
const opened = {};
let built = "";

function drawPlaces() {
  const kinds = placeKinds();
  const change = (more) => { R.draft.setPlaces(more); built = ""; drawLook(); Q.send(); };
  return el("div", { class: "places" }, el("p", { class: "soft", text: say("sleep_on") }),
    kinds.map((kind, i) => button(`${placeSaid(placeNames(kinds)[i])} ×`, () => change(kinds.filter((_, other) => other !== i)), { "aria-label": say("take_away", { place: placeSaid(placeNames(kinds)[i]) }), disabled: kinds.length === 1, "data-place": kind })),
    button(say("more_bed"), () => change([...kinds, "bed"]), { class: "quiet", "data-more": "bed" }), button(say("more_sofa"), () => change([...kinds, "sofa"]), { class: "quiet", "data-more": "sofa" }), elsewhere((kind) => change([...kinds, kind])));
}
/* Furniture of few homes: offered where the sheet has a row for it. */
function elsewhere(more) {
  const others = sheet().rows.filter((row) => row.sleeping && row.at.length === 1 && row.code === row.at[0] && row.code !== "sofa").map((row) => row.code);
  const node = el("select", { "data-more": "else", "aria-label": say("more_else") }, [["", say("more_else")], ...others.map((kind) => [kind, placeSaid(kind)])].map(([value, text]) => el("option", { value: value, text: text })));
  node.addEventListener("change", () => { if (node.value) more(node.value); });
  return others.length ? node : null;
}
export function placeNames(kinds) {
  const many = (kind) => kinds.filter((one) => one === kind).length > 1;
  return kinds.map((kind, i) => many(kind) ? `${kind} ${kinds.slice(0, i + 1).filter((one) => one === kind).length}` : kind);
}
/* An item of one place is written without it; of several, each is its own finding. */
export function placesOf(row) {
  const mine = placeNames(placeKinds()).filter((name) => row.at.includes(kindOf(name)));
  /* What is slept on, and is no plain bed, says so by its place; a sofa that is only looked at has none. */
  const named = row.code === "sofa" || row.group === "bed" || row.code === "encasement" || row.code === row.at[0];
  return mine.length > 1 || (named && mine.some((name) => kindOf(name) !== "bed")) ? mine : [""];
}
export const kindOf = (place) => place.split(" ")[0];
/* Rows of a sleeping place are tapped one by one: without them a look says nothing. */
export const slept = (row) => row.sleeping && placeKinds().some((kind) => row.at.includes(kind));
const placeKinds = () => R.draft.places.length ? R.draft.places : sheet().places.map((place) => place.kind);
const label = (options, code) => (options.find(([value]) => value === code) || [code, code])[1].toLowerCase();
/* A place is kept and sent as a code, such as "bed 2"; people read it in their language. */
export function placeSaid(place) {
  const [kind, ...number] = place.split(" ");
  return [word(`place_${kind}`, kind), ...number].join(" ");
}
function told(row) {
  const found = R.draft.of(row.code);
  if (!found.length) return "";
  return found.map((one) => [one.place && placeSaid(one.place), one.evidence.map((sign) => label(words().evidence, sign)).join(" + "), one.count ? String(one.count) : "", one.state ? label(words().states, one.state) : "", !one.evidence.length && !one.state ? say("nothing_seen") : ""].filter(Boolean).join(", ")).join("; ");
}
export function drawLook() {
  if (!sheet()) return;
  const names = (placeKinds()).join();
  const now = `${names}|${R.room ? R.room.sheet.rows.map((row) => row.code).join() : "any"}`;
  if (built === now) { for (const row of rows()) refresh(row); return; }
  built = now;
  const known = R.room ? sheet().known : [];
  at("look").replaceChildren(
    known.length ? el("ul", { class: "known" }, known.map((one) => el("li", { text: one }))) : "",
    drawPlaces(),
    el("p", { class: "soft", text: say("likeliest_first") }),
    el("ol", { class: "items" }, shown().map(itemRow)),
    el("h2", { text: say("traps_covers") }), el("ol", { class: "items" }, sheet().checks.map(itemRow)),
    el("details", {}, el("summary", { text: say("whole_room") }), el("ul", { class: "known" }, sheet().notes.map((note) => el("li", {}, note.text, el("small", { class: "soft", text: ` ${note.source}` }))))));
}
/* Rows of furniture that this home has not are left out, unless something is written down of them. */
const shown = () => sheet().rows.filter((row) => !row.furniture || placeKinds().some((kind) => row.at.includes(kind)) || R.draft.of(row.code).length);
export const rows = () => sheet() ? [...shown(), ...sheet().checks] : [];
function itemRow(row) {
  const name = el("button", { type: "button", class: "item-name", "aria-expanded": "false", "data-item": row.code }, el("b", { text: row.name }), el("small", { "data-told": row.code, text: "" }));
  const nothing = button(say("nothing"), () => {
    const mine = placesOf(row), seen = R.draft.of(row.code);
    if (seen.length) for (const one of seen) R.draft.drop(row.code, one.place);
    else for (const place of mine) R.draft.put(row.code, place, { looked: true });
    refresh(row);
    opened[row.code] && fillItem(row);
    drawThumb();
  }, { "aria-pressed": "false", "data-nothing": row.code, "aria-label": say("item_nothing", { item: row.name }) });
  name.addEventListener("click", () => {
    const body = at(`item-${row.code}`);
    body.hidden = !body.hidden;
    opened[row.code] = !body.hidden;
    name.setAttribute("aria-expanded", String(!body.hidden));
    if (!body.hidden) fillItem(row);
  });
  const node = el("li", { class: "item" }, el("div", { class: "item-head" }, name, nothing), el("div", { id: `item-${row.code}`, class: "item-body", hidden: true }));
  setTimeout(() => refresh(row), 0);
  return node;
}
export function refresh(row) {
  const line = document.querySelector(`[data-told="${row.code}"]`);
  if (!line) return;
  const words = told(row), seen = R.draft.of(row.code);
  line.textContent = words || (row.share ? `${row.ring_words}, ${row.share}` : row.ring_words);
  line.parentNode.classList.toggle("has-find", seen.some((one) => one.evidence.length));
  const nothing = document.querySelector(`[data-nothing="${row.code}"]`);
  nothing.setAttribute("aria-pressed", String(seen.length > 0 && seen.every((one) => !one.evidence.length && !one.state)));
  const some = seen.some((one) => one.evidence.length || one.state);
  nothing.textContent = say(some ? "clear_this" : "nothing");
  nothing.setAttribute("aria-label", say(some ? "item_clear" : "item_nothing", { item: row.name }));
}
function fillItem(row) {
  const part = (title, text, more) => text ? el("div", {}, el("dt", { text: title }), el("dd", { text: text }, more || "")) : null;
  at(`item-${row.code}`).replaceChildren(
    el("dl", {}, part(say("at_look"), row.look), part(say("at_here"), row.near), part(say("at_counts"), row.evidence), part(say("at_usual"), row.treat), part(say("at_product"), row.product), part(say("at_care"), row.caution), part(say("at_last"), row.last), part(say("at_source"), row.confidence ? `${row.source} (${row.confidence})` : row.source)),
    ...placesOf(row).map((place) => findingForm(row, place)));
}
function findingForm(row, place) {
  const one = R.draft.at(row.code, place) || { evidence: [] };
  const put = (change) => { R.draft.put(row.code, place, change); refresh(row); drawThumb(); };
  const name = place ? `${row.name}, ${placeSaid(place)}` : row.name;
  const sign = ([value, text]) => button(text, () => {
    const now = R.draft.at(row.code, place) || { evidence: [] };
    put({ evidence: now.evidence.includes(value) ? now.evidence.filter((other) => other !== value) : [...now.evidence, value] });
    fillItem(row);
  }, { "aria-pressed": String(one.evidence.includes(value)), "data-sign": value });
  const state = ([value, text]) => button(text, () => { put({ state: (R.draft.at(row.code, place) || {}).state === value ? "" : value }); fillItem(row); }, { "aria-pressed": String(one.state === value), "data-state": value });
  const input = (label, attributes, change) => {
    const node = el("input", Object.assign({ type: "text", autocomplete: "off" }, attributes));
    node.addEventListener("change", () => change(node.value.trim()));
    return el("label", { class: "set" }, el("span", { text: label }), node);
  };
  const number = (text) => { const value = Number(text.replace(",", ".")); return text && Number.isFinite(value) ? value : undefined; };
  const stage = el("select", { "data-stage": row.code }, [["", say("stage_unsaid")], ...words().stages].map(([value, text]) => el("option", { value: value, text: text, selected: (one.stage || "") === value })));
  stage.addEventListener("change", () => put({ stage: stage.value }));
  const far = one.metres === undefined ? "" : inFeet() ? Math.round(one.metres / FOOT * 10) / 10 : one.metres;
  return el("fieldset", { "data-place-of": place }, el("legend", { text: place ? say("seen_at", { place: placeSaid(place) }) : say("seen_here") }),
    row.group === "check" ? el("div", { class: "seen", role: "group", "aria-label": say("state_of", { item: name }) }, statesOf(row.code).map(state)) : null,
    el("div", { class: "seen", role: "group", "aria-label": say("signs_at", { item: name }) }, words().evidence.map(sign)),
    one.evidence.length ? el("div", { class: "two" },
      input(say("counted"), { inputmode: "numeric", value: one.count === undefined ? "" : one.count, "data-count": row.code }, (text) => put({ count: number(text) === undefined ? undefined : Math.round(number(text)) })),
      el("label", { class: "set" }, el("span", { text: say("stage") }), stage),
      input(say(inFeet() ? "feet_from_bed" : "metres_from_bed"), { inputmode: "decimal", value: far, "data-far": row.code }, (text) => put({ metres: number(text) === undefined ? undefined : Math.round(number(text) * (inFeet() ? FOOT : 1) * 100) / 100 })),
      camera(row, one, put, name)) : null);
}

/* The camera of the phone, or a file: the name is known at once, the picture goes when there is a connection. */
function camera(row, one, put, name) {
  if (one.photo) return el("p", { class: "set", "data-photo": row.code }, el("span", { text: say("photograph_kept") }), button(say("photograph_drop"), () => { P.forget(one.photo).catch(() => {}); put({ photo: "" }); fillItem(row); }, { class: "quiet", "aria-label": say("photograph_drop_of", { item: name }) }));
  const node = el("input", { type: "file", accept: "image/*", capture: "environment", "data-camera": row.code });
  node.addEventListener("change", () => {
    if (node.files.length) P.take(node.files[0]).then((kept) => { put({ photo: kept }); fillItem(row); }, () => tell(say("photograph_not_kept")));
  });
  return el("label", { class: "act camera" }, say("photograph"), node);
}

/* A trap does not tear and a cover is not displaced. */
export const statesOf = (code) => words().states.filter(([value]) => value !== (code === "encasement" ? "displaced" : code === "interceptors" ? "torn" : ""));
