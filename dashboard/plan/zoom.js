/* Larger, smaller and moved. The drawing lies in a box that scrolls, so it can never leave the box; zooming only
   changes how many pixels a metre has, between the whole plan and close up. Buttons, Ctrl and wheel, pinch and
   the keys + - 0; to move: drag, scroll, or Shift and the arrows. */
import { at, el } from "../web/elements.js";
import { GAP, STEP, alone, away, backTo, besideOf, between, fitOf, heldAt, keyed, mostOf, span, wheelFactor, zoomed } from "./measures.js";

export const zoom = {};
let scale = null; /* null: as large as shows the floor and reads well */
let whole = false;
let wasDragged = 0;

const box = () => document.querySelector(".plan-box");
const svgs = () => Array.from(document.querySelectorAll("#plan svg.floor"));
const now = (svg) => svg.getBoundingClientRect().width / svg.wide;

function fit() {
  const frame = box();
  return fitOf(svgs(), frame.clientWidth - 2, parseFloat(getComputedStyle(frame).maxHeight) - 6 || frame.clientHeight);
}
const beside = () => besideOf(svgs(), box().clientWidth - GAP - 1);

function apply() {
  for (const svg of svgs()) {
    if (scale === null && svgs().length === 1) {
      const { least, most } = alone(svg);
      svg.style.width = "";
      svg.style.minWidth = `${least}px`;
      svg.style.maxWidth = most;
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
  off("zoom-in", here >= mostOf(all[0]) * 0.99);
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
  const under = heldAt(held[1], px, py), old = now(held[0]);
  scale = zoomed(old, factor, fit(), mostOf(held[0]));
  whole = false;
  apply();
  const [right, down] = backTo(held[0].getBoundingClientRect(), under, px, py);
  frame.scrollLeft += right;
  frame.scrollTop += down;
  tell();
};

zoom.dragged = () => Date.now() - wasDragged < 120;

function listen() {
  const frame = box();
  if (!frame || frame.listens) return;
  frame.listens = true;
  at("wall").addEventListener("click", wall);
  frame.addEventListener("wheel", function (event) {
    if (!event.ctrlKey && !event.metaKey) return; /* a plain wheel scrolls, as everywhere */
    event.preventDefault();
    zoom.by(wheelFactor(event.deltaY), event.clientX, event.clientY);
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
  frame.addEventListener("touchstart", (event) => { apart = event.touches.length === 2 ? span(event.touches) : 0; }, { passive: true });
  frame.addEventListener("touchmove", function (event) {
    if (event.touches.length !== 2 || !apart) return;
    event.preventDefault();
    const next = span(event.touches);
    zoom.by(next / apart, ...between(event.touches));
    apart = next;
  }, { passive: false });
  frame.addEventListener("keydown", function (event) {
    const asked = keyed(event);
    if (!asked) return;
    if (asked.pan) frame.scrollBy(...asked.pan);
    else if (asked.by) zoom.by(asked.by);
    else zoom.whole();
    event.preventDefault();
    const active = document.activeElement;
    if (!asked.pan && active && active.closest("#plan .unit")) active.scrollIntoView({ block: "nearest", inline: "nearest" });
  });
  new ResizeObserver(function () { if (whole) { scale = fit(); apply(); } else tell(); }).observe(frame);
}

/* One page for the wall: the plan as it is shown, with its legend. */
function wall() {
  document.body.classList.add("wall");
  window.addEventListener("afterprint", () => document.body.classList.remove("wall"), { once: true });
  window.print();
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
