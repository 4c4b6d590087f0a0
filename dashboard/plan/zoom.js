/* Larger, smaller and moved. The drawing lies in a box that scrolls, so it can never leave the box; zooming only
   changes how many pixels a metre has, between the whole plan and close up. Buttons, Ctrl and wheel, pinch and
   the keys + - 0; to move: drag, scroll, or Shift and the arrows. */
import { at, el } from "../web/elements.js";

const STEP = 1.3, CLOSE = 64, GAP = 12, CAPTION = 26; /* CLOSE: pixels a metre */
export const zoom = {};
let scale = null; /* null: as large as shows the floor and reads well */
let whole = false;
let wasDragged = 0;

const box = () => document.querySelector(".plan-box");
const svgs = () => Array.from(document.querySelectorAll("#plan svg.floor"));
const now = (svg) => svg.getBoundingClientRect().width / svg.wide;

/* The largest scale at which everything is seen at once. */
function fit() {
  const all = svgs(), frame = box();
  const wide = frame.clientWidth - 2, high = parseFloat(getComputedStyle(frame).maxHeight) - 6 || frame.clientHeight;
  const w = Math.max(...all.map((svg) => svg.wide)), h = Math.max(...all.map((svg) => svg.high));
  if (all.length === 1) return Math.min(wide / w, high / h);
  let best = 0;
  for (let columns = 1; columns <= all.length; columns += 1) {
    const rows = Math.ceil(all.length / columns);
    best = Math.max(best, Math.min((wide - GAP * (columns + 1)) / (columns * w), (high - (GAP + CAPTION) * rows - GAP) / (rows * h)));
  }
  return Math.max(best, 0.5);
}

/* All floors: as many in a row as stay readable (small), and as large as fills the row. */
function beside() {
  const all = svgs(), wide = box().clientWidth - GAP - 1;
  const w = Math.max(...all.map((svg) => svg.wide)), least = 0.7 * Math.max(...all.map((svg) => svg.reads));
  const most = Math.max(1, Math.min(all.length, Math.floor(wide / (w * least + GAP))));
  const columns = Math.ceil(all.length / Math.ceil(all.length / most)); /* rows as even as can be */
  return Math.min(wide / columns - GAP, w * 26) / w;
}

const most = (svg) => Math.max(CLOSE, 2 * svg.reads);

function apply() {
  for (const svg of svgs()) {
    if (scale === null && svgs().length === 1) {
      /* Wide enough to read and hit; no larger than shows the whole floor, nor than 26 pixels a metre. */
      const least = Math.round(svg.wide * svg.reads);
      svg.style.width = "";
      svg.style.minWidth = `${least}px`;
      svg.style.maxWidth = `max(${least}px, min(${Math.round(svg.wide * 26)}px, calc(var(--plan-high) * ${(svg.wide / svg.high).toFixed(3)})))`;
    } else {
      const one = scale === null ? beside() : scale;
      svg.style.minWidth = "0";
      svg.style.maxWidth = "none";
      svg.style.width = `${(svg.wide * one).toFixed(1)}px`;
    }
  }
  tell();
}

function tell() {
  const all = svgs(), frame = box();
  if (!all.length) return;
  const here = now(all[0]), least = fit();
  const off = (id, yes) => { const node = at(id); if (node) node.setAttribute("aria-disabled", String(yes)); };
  off("zoom-out", here <= Math.min(least, all[0].reads) * 1.01);
  off("zoom-in", here >= most(all[0]) * 0.99);
  frame.classList.toggle("moves", frame.scrollWidth > frame.clientWidth + 1 || frame.scrollHeight > frame.clientHeight + 1);
}

zoom.scale = () => { const all = svgs(); return all.length ? now(all[0]) : 0; };
zoom.fresh = function () { if (whole) scale = fit(); apply(); };
zoom.auto = function () { scale = null; whole = false; apply(); };
zoom.whole = function () { scale = fit(); whole = true; apply(); const frame = box(); frame.scrollTo(0, 0); tell(); };

zoom.by = function (factor, x, y) {
  const all = svgs(), frame = box();
  if (!all.length) return;
  const area = frame.getBoundingClientRect();
  const px = x === undefined ? area.left + frame.clientWidth / 2 : x, py = y === undefined ? area.top + frame.clientHeight / 2 : y;
  const held = all.map((svg) => [svg, svg.getBoundingClientRect()]).sort((a, b) => away(a[1], px, py) - away(b[1], px, py))[0];
  const fx = (px - held[1].left) / held[1].width, fy = (py - held[1].top) / held[1].height;
  const old = now(held[0]);
  scale = Math.min(Math.max(old * factor, Math.min(fit(), old)), Math.max(most(held[0]), old));
  whole = false;
  apply();
  const there = held[0].getBoundingClientRect();
  frame.scrollLeft += there.left + fx * there.width - px;
  frame.scrollTop += there.top + fy * there.height - py;
  tell();
};
const away = (rect, x, y) => Math.max(rect.left - x, x - rect.right, 0) + Math.max(rect.top - y, y - rect.bottom, 0);

zoom.dragged = () => Date.now() - wasDragged < 120;

function listen() {
  const frame = box();
  if (!frame || frame.listens) return;
  frame.listens = true;
  frame.addEventListener("wheel", function (event) {
    if (!event.ctrlKey && !event.metaKey) return; /* a plain wheel scrolls, as everywhere */
    event.preventDefault();
    zoom.by(Math.exp(-Math.max(-60, Math.min(60, event.deltaY)) / 180), event.clientX, event.clientY);
  }, { passive: false });
  let from = null, moved = false;
  frame.addEventListener("pointerdown", function (event) {
    if (event.pointerType !== "mouse" || event.button !== 0) return;
    from = { x: event.clientX, y: event.clientY, left: frame.scrollLeft, top: frame.scrollTop };
    moved = false;
  });
  window.addEventListener("pointermove", function (event) {
    if (!from) return;
    const dx = event.clientX - from.x, dy = event.clientY - from.y;
    if (!moved && Math.hypot(dx, dy) < 5) return;
    moved = true;
    frame.classList.add("dragging");
    frame.scrollLeft = from.left - dx;
    frame.scrollTop = from.top - dy;
  });
  window.addEventListener("pointerup", function () {
    if (from && moved) wasDragged = Date.now();
    from = null;
    frame.classList.remove("dragging");
  });
  let apart = 0;
  const span = (touches) => Math.hypot(touches[0].clientX - touches[1].clientX, touches[0].clientY - touches[1].clientY);
  frame.addEventListener("touchstart", (event) => { apart = event.touches.length === 2 ? span(event.touches) : 0; }, { passive: true });
  frame.addEventListener("touchmove", function (event) {
    if (event.touches.length !== 2 || !apart) return;
    event.preventDefault();
    const next = span(event.touches), [a, b] = event.touches;
    zoom.by(next / apart, (a.clientX + b.clientX) / 2, (a.clientY + b.clientY) / 2);
    apart = next;
  }, { passive: false });
  frame.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const pan = event.shiftKey && { ArrowLeft: [-80, 0], ArrowRight: [80, 0], ArrowUp: [0, -80], ArrowDown: [0, 80] }[event.key];
    if (pan) frame.scrollBy(pan[0], pan[1]);
    else if (event.key === "+" || event.key === "=") zoom.by(STEP);
    else if (event.key === "-") zoom.by(1 / STEP);
    else if (event.key === "0") zoom.whole();
    else return;
    event.preventDefault();
    const active = document.activeElement;
    if (!pan && active && active.closest("#plan .unit")) active.scrollIntoView({ block: "nearest", inline: "nearest" });
  });
  new ResizeObserver(function () { if (whole) { scale = fit(); apply(); } else tell(); }).observe(frame);
}

zoom.tools = function () {
  listen();
  const button = (id, text, told, act) => {
    const node = el("button", { type: "button", id: id, class: "quiet", "aria-label": told, text: text });
    node.addEventListener("click", () => node.getAttribute("aria-disabled") !== "true" && act());
    return node;
  };
  return el("div", { class: "zoom-tools", role: "group", "aria-label": "Size of the plan" },
    button("zoom-out", "−", "Smaller", () => zoom.by(1 / STEP)), button("zoom-in", "+", "Larger", () => zoom.by(STEP)),
    button("zoom-whole", "Whole plan", null, zoom.whole));
};
