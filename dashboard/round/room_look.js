/* The room sheet item by item: where people sleep, where to look, and what was seen at each item and place. */
import { at, el } from "../web/elements.js";
import { inFeet } from "../web/local.js";
import { local } from "./base.js";
import { Q } from "./queue.js";
import { drawThumb } from "./room.js";
import { R, button, sheet, words } from "./room_state.js";

const FOOT = 0.3048;
const opened = {};
let built = "";

function drawPlaces() {
  const kinds = R.draft.places.length ? R.draft.places : sheet().places.map((place) => place.kind);
  const change = (more) => { R.draft.setPlaces(more); built = ""; drawLook(); Q.send(); };
  return el("div", { class: "places" }, el("p", { class: "soft", text: "People sleep on" }),
    kinds.map((kind, i) => button(`${placeNames(kinds)[i]} ×`, () => change(kinds.filter((_, other) => other !== i)), { "aria-label": `Take away ${placeNames(kinds)[i]}`, disabled: kinds.length === 1, "data-place": kind })),
    button("+ bed", () => change([...kinds, "bed"]), { class: "quiet", "data-more": "bed" }), button("+ sofa", () => change([...kinds, "sofa"]), { class: "quiet", "data-more": "sofa" }));
}
export function placeNames(kinds) {
  const many = (kind) => kinds.filter((one) => one === kind).length > 1;
  return kinds.map((kind, i) => many(kind) ? `${kind} ${kinds.slice(0, i + 1).filter((one) => one === kind).length}` : kind);
}
/* An item of one place is written without it; of several, each is its own finding. */
export function placesOf(row) {
  const all = placeNames(R.draft.places.length ? R.draft.places : sheet().places.map((place) => place.kind));
  const group = row.group === "bed" ? "bed" : row.group === "seating" ? "sofa" : "";
  const mine = row.group === "home" ? [] : all.filter((name) => !group || name.startsWith(group));
  return mine.length > 1 ? mine : [""];
}
function told(row) {
  const found = R.draft.of(row.code);
  if (!found.length) return "";
  return found.map((one) => [one.place, one.evidence.map((sign) => (words().evidence.find(([value]) => value === sign) || [sign, sign])[1].toLowerCase()).join(" + "), one.count ? String(one.count) : "", one.state || "", !one.evidence.length && !one.state ? "nothing seen" : ""].filter(Boolean).join(", ")).join("; ");
}
export function drawLook() {
  if (!sheet()) return;
  const names = (R.draft.places.length ? R.draft.places : sheet().places.map((place) => place.kind)).join();
  const now = `${names}|${R.room ? R.room.sheet.rows.map((row) => row.code).join() : "any"}`;
  if (built === now) { for (const row of rows()) refresh(row); return; }
  built = now;
  const known = R.room ? sheet().known : [];
  at("look").replaceChildren(
    known.length ? el("ul", { class: "known" }, known.map((one) => el("li", { text: local(one) }))) : "",
    drawPlaces(),
    el("p", { class: "soft", text: "Likeliest first. Press Nothing where you looked and saw nothing, or the name to read on and write down what was seen." }),
    el("ol", { class: "items" }, sheet().rows.map(itemRow)),
    el("h2", { text: "Traps and covers" }), el("ol", { class: "items" }, sheet().checks.map(itemRow)),
    el("details", {}, el("summary", { text: "What holds for the whole room" }), el("ul", { class: "known" }, sheet().notes.map((note) => el("li", {}, local(note.text), el("small", { class: "soft", text: ` ${note.source}` }))))));
}
export const rows = () => sheet() ? [...sheet().rows, ...sheet().checks] : [];
function itemRow(row) {
  const name = el("button", { type: "button", class: "item-name", "aria-expanded": "false", "data-item": row.code }, el("b", { text: row.name }), el("small", { "data-told": row.code, text: "" }));
  const nothing = button("Nothing", () => {
    const mine = placesOf(row), seen = R.draft.of(row.code);
    if (seen.length) for (const one of seen) R.draft.drop(row.code, one.place);
    else for (const place of mine) R.draft.put(row.code, place, { looked: true });
    refresh(row);
    opened[row.code] && fillItem(row);
    drawThumb();
  }, { "aria-pressed": "false", "data-nothing": row.code, "aria-label": `${row.name}: nothing seen` });
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
  line.textContent = words || row.ring_words;
  line.parentNode.classList.toggle("has-find", seen.some((one) => one.evidence.length));
  const nothing = document.querySelector(`[data-nothing="${row.code}"]`);
  nothing.setAttribute("aria-pressed", String(seen.length > 0 && seen.every((one) => !one.evidence.length && !one.state)));
  nothing.textContent = seen.some((one) => one.evidence.length || one.state) ? "Clear this" : "Nothing";
  nothing.setAttribute("aria-label", nothing.textContent === "Nothing" ? `${row.name}: nothing seen` : `${row.name}: take back what was written`);
}
function fillItem(row) {
  const part = (title, text, more) => text ? el("div", {}, el("dt", { text: title }), el("dd", { text: local(text) }, more || "")) : null;
  at(`item-${row.code}`).replaceChildren(
    el("dl", {}, part("Look", row.look), part("Here", row.near), part("Counts", row.evidence), part("Usual", row.treat), part("Product", row.product), part("Care", row.caution), part("Last", row.last), part("Source", row.confidence ? `${row.source} (${row.confidence})` : row.source)),
    ...placesOf(row).map((place) => findingForm(row, place)));
}
function findingForm(row, place) {
  const one = R.draft.at(row.code, place) || { evidence: [] };
  const put = (change) => { R.draft.put(row.code, place, change); refresh(row); drawThumb(); };
  const name = place ? `${row.name}, ${place}` : row.name;
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
  const stage = el("select", { "data-stage": row.code }, [["", "not said"], ...words().stages].map(([value, text]) => el("option", { value: value, text: text, selected: (one.stage || "") === value })));
  stage.addEventListener("change", () => put({ stage: stage.value }));
  const far = one.metres === undefined ? "" : inFeet() ? Math.round(one.metres / FOOT * 10) / 10 : one.metres;
  return el("fieldset", { "data-place-of": place }, el("legend", { text: place ? `Seen at ${place}` : "Seen here" }),
    row.group === "check" ? el("div", { class: "seen", role: "group", "aria-label": `State of ${name}` }, statesOf(row.code).map(state)) : null,
    el("div", { class: "seen", role: "group", "aria-label": `Signs at ${name}` }, words().evidence.map(sign)),
    one.evidence.length ? el("div", { class: "two" },
      input("Counted", { inputmode: "numeric", value: one.count === undefined ? "" : one.count, "data-count": row.code }, (text) => put({ count: number(text) === undefined ? undefined : Math.round(number(text)) })),
      el("label", { class: "set" }, el("span", { text: "Stage" }), stage),
      input(inFeet() ? "Feet from the bed" : "Metres from the bed", { inputmode: "decimal", value: far, "data-far": row.code }, (text) => put({ metres: number(text) === undefined ? undefined : Math.round(number(text) * (inFeet() ? FOOT : 1) * 100) / 100 })),
      input("Photo file", { value: one.photo || "", placeholder: "photos/IMG_1.jpg", "data-photo": row.code }, (text) => put({ photo: text }))) : null);
}

/* A trap does not tear and a cover is not displaced. */
export const statesOf = (code) => words().states.filter(([value]) => value !== (code === "encasement" ? "displaced" : code === "interceptors" ? "torn" : ""));
