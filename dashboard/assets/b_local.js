/* Days, numbers and measures as the reader writes them: days and numbers by the browser's language, metres or
   feet by the region of that language, or by a switch that is kept in this browser. Sentences come from the server in metres; where feet are chosen
   the figures in them are written anew, and back. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  const KEY = "spread-measures";
  const keep = { get: () => { try { return localStorage.getItem(KEY); } catch (error) { return null; } }, set: (value) => { try { localStorage.setItem(KEY, value); } catch (error) { /* not kept */ } } };
  const usual = /-(US|LR|MM)$/i.test(navigator.language || "") ? "feet" : "metres";
  S.measures = ["feet", "metres"].includes(keep.get()) ? keep.get() : usual;

  const noon = (day) => new Date(`${day}T12:00:00`);
  const dates = (form) => { const made = new Intl.DateTimeFormat(undefined, form); return (day) => made.format(noon(day)); };
  S.speakDay = dates({ weekday: "short", day: "numeric", month: "short", year: "numeric" });
  S.speakMonth = dates({ month: "short", year: "numeric" });
  S.speakShort = dates({ day: "numeric", month: "short" });
  S.number = (value, digits) => new Intl.NumberFormat(undefined, { maximumFractionDigits: digits }).format(value);
  /* A label of the plan: "@2026-11-28" is a day. */
  S.spoken = (label) => (label.startsWith("@") ? S.speakShort(label.slice(1)) : label);

  const METRES = /(\d+(?:\.\d+)?) m(?![\w²])/g;
  const point = S.number(1.5, 1) === "1.5";
  S.measured = (text) => text.replace(METRES, function (whole, figure) {
    const value = Number(figure), digits = figure.includes(".") ? 1 : 0;
    return S.measures === "feet" ? `${S.number(value / 0.3048, value < 3 ? 1 : 0)} ft` : `${S.number(value, digits)} m`;
  });

  /* "Wed 25 Nov 2026" in a sentence is written as the reader's language writes it, like the days apart. */
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const DATES = new RegExp(`\\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (\\d{1,2}) (${MONTHS.join("|")}) (\\d{4})\\b`, "g");
  const otherDays = S.speakDay("2026-11-25") !== "Wed 25 Nov 2026";
  S.dated = (text) => (otherDays ? text.replace(DATES, (whole, day, month, year) =>
    S.speakDay(`${year}-${String(MONTHS.indexOf(month) + 1).padStart(2, "0")}-${day.padStart(2, "0")}`)) : text);

  const written = new WeakMap(); /* text node: [as it came, as we wrote it] */
  function rewrite(root) {
    const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const before = written.get(node), came = before && before[1] === node.nodeValue ? before[0] : node.nodeValue;
      if (!before && came.search(METRES) < 0 && came.search(DATES) < 0) continue;
      const text = S.dated(S.measured(came));
      written.set(node, [came, text]);
      if (node.nodeValue !== text) node.nodeValue = text;
    }
  }
  function days(root) {
    for (const node of root.querySelectorAll("time[datetime]:not([data-spoken])")) {
      node.dataset.spoken = node.textContent;
      node.textContent = S.speakDay(node.getAttribute("datetime"));
    }
  }

  let waiting = false, needed = S.measures === "feet" || !point || otherDays;
  const places = () => document.querySelectorAll("#panel, #doors, #taught, [data-measured]");
  function settle() {
    waiting = false;
    days(document.body);
    if (needed) for (const place of places()) rewrite(place);
  }
  new MutationObserver(function () {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(settle);
  }).observe(document.documentElement, { childList: true, subtree: true, characterData: true });

  function press() {
    for (const button of document.querySelectorAll("[data-measures]")) button.setAttribute("aria-pressed", String(button.dataset.measures === S.measures));
  }
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-measures]");
    if (!button) return;
    S.measures = button.dataset.measures;
    keep.set(S.measures);
    needed = true;
    press();
    settle();
    if (S.redrawPlan) S.redrawPlan();
  });
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", press);
  else press();
})();
