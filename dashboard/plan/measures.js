/* The arithmetic of larger and smaller, apart from the page: what a floor needs, how far zooming goes, and what a
   wheel, two fingers and a key mean. A floor here is `wide` and `high` in metres and `reads` in pixels a metre. */
export const STEP = 1.3;
export const CLOSE = 64; /* pixels a metre */
export const GAP = 12;
const CAPTION = 26;
const FULL = 26; /* pixels a metre that a floor alone is drawn with at most */

const widest = (floors) => Math.max(...floors.map((one) => one.wide));

/* The largest scale at which everything is seen at once in a frame of so many pixels. */
export function fitOf(floors, wide, high) {
  const w = widest(floors), h = Math.max(...floors.map((one) => one.high));
  if (floors.length === 1) return Math.min(wide / w, high / h);
  let best = 0;
  for (let columns = 1; columns <= floors.length; columns += 1) {
    const rows = Math.ceil(floors.length / columns);
    best = Math.max(best, Math.min((wide - GAP * (columns + 1)) / (columns * w), (high - (GAP + CAPTION) * rows - GAP) / (rows * h)));
  }
  return Math.max(best, 0.5);
}

/* All floors: as many in a row as stay readable (small), and as large as fills the row. */
export function besideOf(floors, wide) {
  const w = widest(floors), least = 0.7 * Math.max(...floors.map((one) => one.reads));
  const most = Math.max(1, Math.min(floors.length, Math.floor(wide / (w * least + GAP))));
  const columns = Math.ceil(floors.length / Math.ceil(floors.length / most)); /* rows as even as can be */
  return Math.min(wide / columns - GAP, w * FULL) / w;
}

/* One floor: wide enough to read and hit; no larger than shows the whole floor, nor than 26 pixels a metre. */
export function alone(floor) {
  const least = Math.round(floor.wide * floor.reads);
  return { least, most: `max(${least}px, min(${Math.round(floor.wide * FULL)}px, calc(var(--plan-high) * ${(floor.wide / floor.high).toFixed(3)})))` };
}

export const mostOf = (floor) => Math.max(CLOSE, 2 * floor.reads);

/* The scale after zooming: never under what shows all, never over close up; where it is past either, it stays. */
export const zoomed = (old, factor, fit, most) => Math.min(Math.max(old * factor, Math.min(fit, old)), Math.max(most, old));

/* What is held under the pointer: how far along a rectangle, and how far to scroll so that it is there again. */
export const heldAt = (rect, x, y) => [(x - rect.left) / rect.width, (y - rect.top) / rect.height];
export const backTo = (rect, [along, down], x, y) => [rect.left + along * rect.width - x, rect.top + down * rect.height - y];
export const away = (rect, x, y) => Math.max(rect.left - x, x - rect.right, 0) + Math.max(rect.top - y, y - rect.bottom, 0);

/* A wheel's turn; a mouse that jumps by hundreds counts as one notch. */
export const wheelFactor = (turn) => Math.exp(-Math.max(-60, Math.min(60, turn)) / 180);
export const span = (touches) => Math.hypot(touches[0].clientX - touches[1].clientX, touches[0].clientY - touches[1].clientY);
export const between = ([a, b]) => [(a.clientX + b.clientX) / 2, (a.clientY + b.clientY) / 2];

/* What a key asks for: { pan: [x, y] }, { by: factor }, { whole: true }, or null where it is none of ours. */
export function keyed(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return null;
  const pan = event.shiftKey && { ArrowLeft: [-80, 0], ArrowRight: [80, 0], ArrowUp: [0, -80], ArrowDown: [0, 80] }[event.key];
  if (pan) return { pan };
  if (event.key === "+" || event.key === "=") return { by: STEP };
  if (event.key === "-") return { by: 1 / STEP };
  return event.key === "0" ? { whole: true } : null;
}
