/* Infested units through the weeks: the median as a line in its 50 % and 90 % bands, and the same in words. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  const WIDE = 560, HIGH = 170, LEFT = 34, BELOW = 20, TOP = 8, RIGHT = 6;

  S.drawPast = function (weeks) {
    const box = S.at("past-chart");
    if (!box) return;
    box.replaceChildren();
    if (!weeks || weeks.length < 2) return;
    const most = Math.max(2, ...weeks.map((week) => week[5]));
    const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((one) => most / one <= 4) || 1000;
    const top = Math.ceil(most / step) * step;
    const x = (index) => LEFT + ((WIDE - LEFT - RIGHT) * index) / (weeks.length - 1);
    const y = (units) => TOP + (HIGH - TOP - BELOW) * (1 - units / top);
    const line = (column) => weeks.map((week, index) => `${x(index).toFixed(1)},${y(week[column]).toFixed(1)}`);
    const band = (low, high, cls) => S.svg("polygon", { points: [...line(high), ...line(low).reverse()].join(" "), class: cls });
    const first = weeks[0], last = weeks[weeks.length - 1];
    const said = (week) => `about ${week[3]} units (90 percent band ${week[1]} to ${week[5]}) in ${S.speakMonth(week[0])}`;
    const svg = S.svg("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", class: "trail-svg past-svg", "aria-label": `Infested units: ${said(first)}, ${said(last)}.` });
    svg.append(band(1, 5, "band-90"), band(2, 4, "band-50"));
    for (let units = 0; units <= top; units += step) {
      svg.append(S.svg("line", { x1: LEFT, x2: WIDE - RIGHT, y1: y(units), y2: y(units), class: "grid" }),
        S.svg("text", { x: LEFT - 6, y: y(units) + 4, "text-anchor": "end", text: units }));
    }
    svg.append(S.svg("polyline", { points: line(3).join(" "), class: "line" }),
      S.svg("text", { x: LEFT, y: HIGH - 4, text: S.speakMonth(first[0]) }),
      S.svg("text", { x: WIDE - RIGHT, y: HIGH - 4, "text-anchor": "end", text: S.speakMonth(last[0]) }));
    box.append(svg, S.el("p", { class: "soft", text: "Line: as likely more as fewer. Dark band: 50 % sure; light band: 90 % sure." }));
  };
})();
