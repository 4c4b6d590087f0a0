/* The chance through the weeks as a small line with a mark for every record, and its figures in words for those
   who cannot see it. */
import { at, el, svgEl } from "../web/elements.js";
import { speakMonth } from "../web/local.js";

const WIDE = 320, HIGH = 112, LEFT = 44, BELOW = 34, TOP = 8;
const MARKS = { inspection: "●", monitor: "●", treatment: "▲", report: "◆", "no-access": "×", turnover: "↔", note: "–" };
const WORDS = { "●": "look or monitor", "▲": "treatment", "◆": "report", "×": "no access", "↔": "turnover", "–": "note" };
const speak = (day) => speakMonth(day);
const percent = (chance) => (chance < 0.005 ? "<1%" : chance >= 0.995 ? ">99%" : `${Math.round(chance * 100)}%`);

export function drawTrail(told) {
  const part = at("trail-part"), box = at("trail-chart");
  if (!part) return;
  const trail = (told && told.weeks) || [];
  part.hidden = trail.length < 2;
  box.replaceChildren();
  if (part.hidden) return;
  const top = Math.max(0.1, ...trail.map((point) => point[1])) > 0.5 ? 1 : Math.max(...trail.map((point) => point[1])) > 0.2 ? 0.5 : 0.2;
  const x = (index) => LEFT + ((WIDE - LEFT - 6) * index) / (trail.length - 1);
  const y = (chance) => TOP + (HIGH - TOP - BELOW) * (1 - Math.min(chance / top, 1));
  const points = trail.map((point, index) => `${x(index).toFixed(1)},${y(point[1]).toFixed(1)}`);
  const last = trail[trail.length - 1], first = trail[0];
  const words = `Chance from ${percent(first[1])} in ${speak(first[0])} to ${percent(last[1])} in ${speak(last[0])}; highest ${percent(Math.max(...trail.map((p) => p[1])))}.`;
  const svg = svgEl("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": words, class: "trail-svg" });
  for (const level of [0, top / 2, top]) {
    svg.append(svgEl("line", { x1: LEFT, x2: WIDE - 6, y1: y(level), y2: y(level), class: "grid" }),
      svgEl("text", { x: LEFT - 5, y: y(level) + 4, "text-anchor": "end", text: level ? `${Math.round(level * 100)}%` : "0" }));
  }
  svg.append(svgEl("polygon", { points: `${LEFT},${y(0)} ${points.join(" ")} ${x(trail.length - 1)},${y(0)}`, class: "area" }),
    svgEl("polyline", { points: points.join(" "), class: "line" }),
    svgEl("circle", { cx: x(trail.length - 1), cy: y(last[1]), r: 3.5, class: "dot" }),
    svgEl("text", { x: LEFT, y: HIGH - 3, text: speak(first[0]) }),
    svgEl("text", { x: WIDE - 6, y: HIGH - 3, "text-anchor": "end", text: speak(last[0]) }));
  const used = new Set();
  for (const [day, kind] of told.events) {
    let index = trail.findIndex((point) => point[0] > day) - 1;
    if (index === -2) index = trail.length - 1;
    if (index < 0) continue; /* before the window */
    used.add(MARKS[kind] || "–");
    svg.append(svgEl("text", { x: x(index), y: HIGH - BELOW + 15, "text-anchor": "middle", class: "mark", text: MARKS[kind] || "–" }));
  }
  box.append(svg);
  if (used.size) box.append(el("p", { class: "soft", text: Array.from(used, (mark) => `${mark} ${WORDS[mark]}`).join("  ") }));
}
