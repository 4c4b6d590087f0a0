/* Looking back: the plan of an earlier week, as it is now believed to have been, or as far as it was on record
   by then; and the number of infested units through the weeks with what happened. */
import { tell } from "../web/dash.js";
import { at, el } from "../web/elements.js";
import { speakDay } from "../web/local.js";
import { drawPast } from "./past.js";
import { paintPlan } from "./plan.js";
import { state } from "./state.js";
import { zoom } from "./zoom.js";

const KNOWN = { f: [5, "found"], t: [4, "treated", "r"], r: [3, "reported"], a: [2, "hint"], n: [2, "no entry"], c: [1, "looked"], "": [0, "–"] };
const CALM = window.matchMedia("(prefers-reduced-motion: reduce)");
let week = null, mode = "believed", timer = null, byUnit = null;

const data = () => state.weeks;
const chance = (percent) => (percent <= 0 ? "<1%" : percent >= 100 ? ">99%" : `${percent}%`);

/* What was last known of a unit by a week: a find stands until it is treated, a report until somebody looked. */
function known(events, upTo) {
  let state = "";
  for (const [at, letter] of events) {
    if (at > upTo) break;
    if (letter === "f") state = "f";
    else if (letter === "t") state = "t";
    else if (letter === "c") state = state === "f" || state === "t" ? state : "c";
    else if (letter === "r" || letter === "a") state = state === "f" || state === "t" ? state : letter;
    else if (letter === "n" && state === "") state = "n";
  }
  return KNOWN[state];
}

function then() {
  const told = data(), units = {}, words = state.words;
  if (mode === "believed") {
    for (const [unit, row] of Object.entries(told.chances)) {
      const percent = row[week];
      units[unit] = [words.floors.filter((low) => percent >= low).length - 1, chance(percent), ""];
    }
    return { key: `believed-${week}`, say: "chance in that week", classes: words.views.chance.classes, units: units, legend: "believed" };
  }
  for (const unit of Object.keys(told.chances)) {
    const [cls, label, mark] = known(byUnit[unit] || [], week);
    units[unit] = [cls, label, mark || ""];
  }
  return { key: `known-${week}`, say: "on record by then:", classes: words.known, units: units, legend: "known" };
}

function paint() {
  const last = data().weeks.length - 1;
  state.then = then();
  const words = `Week of ${speakDay(data().weeks[week])}`;
  const slider = at("week");
  slider.value = week;
  slider.setAttribute("aria-valuetext", words);
  at("week-words").textContent = week === last ? `${words} (this week)` : words;
  paintPlan();
  drawPast(state.past, "time-chart", { cursor: data().weeks[week], events: marks() });
}

const marks = () => data().events.filter((one) => "ftr".includes(one[2])).map(([at, , letter]) => [data().weeks[at], letter]);

function stop() {
  clearInterval(timer);
  timer = null;
  if (at("play")) at("play").textContent = "Play";
}

function play() {
  if (timer) { stop(); return; }
  if (week >= data().weeks.length - 1) week = 0;
  at("play").textContent = "Pause";
  timer = setInterval(function () {
    week += 1;
    paint();
    if (week >= data().weeks.length - 1) stop();
  }, CALM.matches ? 1500 : 300);
}

function tools() {
  const box = at("time-bar");
  if (box.firstChild) return;
  const slider = el("input", { id: "week", class: "week-slide", type: "range", min: 0, max: data().weeks.length - 1, step: 1, "aria-label": "Week" });
  const button = (id, text, act) => { const node = el("button", { type: "button", id: id, class: "quiet", text: text }); node.addEventListener("click", act); return node; };
  slider.addEventListener("input", () => { stop(); week = Number(slider.value); paint(); });
  const way = (value, text) => el("label", { class: "tick" }, el("input", { type: "radio", name: "then", value: value, checked: value === mode }), el("span", { text: text }));
  const ways = el("div", { class: "ways", role: "radiogroup", "aria-label": "What of that week" }, way("believed", "as now believed"), way("known", "as on record by then"));
  ways.addEventListener("change", function (event) { mode = event.target.value; says(); paint(); });
  box.append(
    el("div", { class: "time-line" }, button("play", "Play", play), el("output", { id: "week-words" }), button("today", "Back to today", () => lookBack(false)), ways),
    el("p", { id: "time-says", class: "soft" }), slider, el("div", { id: "time-chart", class: "trail" }));
}

function says() {
  at("time-says").textContent = mode === "believed"
    ? "Today’s fit looking back: it uses everything recorded since, so it is not what the figures were in that week."
    : "Rows dated up to that week, as the log stands now. No figures: nothing is fitted again for that week.";
}

/* The curve may come after the weeks. */
export function freshPast() {
  if (at("time-bar") && !at("time-bar").hidden && at("time-chart") && data()) paint();
}

export function lookBack(on) {
  const bar = at("time-bar");
  if (!bar) return;
  stop();
  bar.hidden = !on;
  document.body.classList.toggle("looking-back", on);
  at("look-back").setAttribute("aria-expanded", String(on));
  if (on) {
    if (data() && data().version === state.paint.version) start();
    else tell("time-asked", Date.now());
  } else {
    state.then = null;
    paintPlan();
    at("look-back").focus();
  }
  zoom.fresh();
}

function start() {
  tools();
  const last = data().weeks.length - 1;
  at("week").max = last;
  if (week === null || week > last) week = last;
  byUnit = {};
  for (const [at, unit, letter] of data().events) (byUnit[unit] = byUnit[unit] || []).push([at, letter]);
  says();
  paint();
  const bar = at("time-bar");
  if (document.querySelector(".plan-box").getBoundingClientRect().bottom > window.innerHeight) bar.scrollIntoView({ block: "start" });
}

export function drawWeeks(weeks) {
  if (!weeks) return;
  state.weeks = weeks;
  if (at("time-bar") && !at("time-bar").hidden) start();
}

/* After a new record the weeks are asked for again, if they are looked at. */
export function freshWeeks() {
  const bar = at("time-bar");
  if (bar && !bar.hidden && data() && data().version !== state.paint.version) tell("time-asked", Date.now());
}
