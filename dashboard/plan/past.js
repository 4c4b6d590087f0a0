/* Infested units through the weeks: the median as a line in its 50% and 90% bands, and the same in words;
   where it is asked for with a mark for a week and for what happened. */
import { at, el, svgEl } from "../web/elements.js";
import { speakMonth } from "../web/local.js";

const LEFT = 34, BELOW = 20, TOP = 8, RIGHT = 6;
const EVENTS = { f: ["find", "finds"], t: ["treatment", "treatments"], r: ["report", "reports"] };

function mark(letter, x, y, count) {
  const r = Math.min(3 + 0.7 * (count - 1), 5.5), shapes = {
    f: () => svgEl("circle", { cx: x, cy: y, r: r }),
    t: () => svgEl("path", { d: `M${x},${y - r}L${x + r},${y + r}H${x - r}Z` }),
    r: () => svgEl("path", { d: `M${x},${y - r}L${x + r},${y}L${x},${y + r}L${x - r},${y}Z` }),
  };
  const node = shapes[letter]();
  node.setAttribute("class", `event ${letter}`);
  return node;
}

export function drawPast(weeks, id, more) {
  const box = at(id || "past-chart");
  if (!box) return;
  box.replaceChildren();
  if (!weeks || weeks.length < 2) return;
  /* In its own pixels where it is shown in full width, so that letters keep their size. */
  const WIDE = more ? Math.max(300, box.clientWidth) : 560, HIGH = more ? 92 : 170;
  const lanes = more ? Object.keys(EVENTS) : [], lane = 12, deep = HIGH + lanes.length * lane;
  const most = Math.max(2, ...weeks.map((week) => week[5]));
  const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((one) => most / one <= (more ? 3 : 4)) || 1000;
  const top = Math.ceil(most / step) * step;
  const x = (index) => LEFT + ((WIDE - LEFT - RIGHT) * index) / (weeks.length - 1);
  const y = (units) => TOP + (HIGH - TOP - BELOW) * (1 - units / top);
  const line = (column) => weeks.map((week, index) => `${x(index).toFixed(1)},${y(week[column]).toFixed(1)}`);
  const band = (low, high, cls) => svgEl("polygon", { points: [...line(high), ...line(low).reverse()].join(" "), class: cls });
  const first = weeks[0], last = weeks[weeks.length - 1];
  const said = (week) => `about ${week[3]} units (90 percent band ${week[1]} to ${week[5]}) in ${speakMonth(week[0])}`;
  const counts = lanes.map((letter) => more.events.filter((one) => one[1] === letter).length);
  const happened = lanes.map((letter, at) => `${counts[at]} ${EVENTS[letter][counts[at] === 1 ? 0 : 1]}`).join(", ");
  const svg = svgEl("svg", { viewBox: `0 0 ${WIDE} ${deep}`, role: "img", class: "trail-svg past-svg", "aria-label": `Infested units: ${said(first)}, ${said(last)}.${more ? ` On record: ${happened}.` : ""}` });
  svg.append(band(1, 5, "band-90"), band(2, 4, "band-50"));
  for (let units = 0; units <= top; units += step) {
    svg.append(svgEl("line", { x1: LEFT, x2: WIDE - RIGHT, y1: y(units), y2: y(units), class: "grid" }),
      svgEl("text", { x: LEFT - 6, y: y(units) + 4, "text-anchor": "end", text: units }));
  }
  svg.append(svgEl("polyline", { points: line(3).join(" "), class: "line" }),
    svgEl("text", { x: LEFT, y: deep - 4, text: speakMonth(first[0]) }),
    svgEl("text", { x: WIDE - RIGHT, y: deep - 4, "text-anchor": "end", text: speakMonth(last[0]) }));
  const place = new Map(weeks.map((week, index) => [week[0], index]));
  lanes.forEach(function (letter, at) {
    const by = new Map();
    for (const [monday, one] of more.events) if (one === letter && place.has(monday)) by.set(monday, (by.get(monday) || 0) + 1);
    for (const [monday, count] of by) svg.append(mark(letter, x(place.get(monday)), HIGH - BELOW + 10 + at * lane, count));
  });
  let words = "Line: as likely more as fewer. Dark band: 50% sure; light band: 90% sure.";
  if (more) {
    const index = place.get(more.cursor);
    if (index !== undefined) svg.append(svgEl("line", { x1: x(index), x2: x(index), y1: TOP, y2: deep - BELOW, class: "cursor" }));
    const then = index === undefined ? "" : `About ${weeks[index][3]} units that week (90% sure: ${weeks[index][1]} to ${weeks[index][5]}). `;
    words = `${then}Bands: 50 and 90% sure. Marks, larger for more: ● finds, ▲ treatments, ◆ reports.`;
  }
  box.append(svg, el("p", { class: "soft", text: words }));
}
