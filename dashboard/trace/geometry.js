/* What the tracer works out by itself: codes, corners, scales. It knows nothing of the page. */
export const FOOT = 0.3048;

/* The code to propose next: the last two go on as they began, 101, 103: 105. */
export function nextCode(codes) {
  const parts = (code) => /^(.*?)(\d+)(\D*)$/.exec(code);
  const last = codes.length ? parts(codes[codes.length - 1]) : null;
  if (!last) return codes.length ? "" : "101";
  const before = codes.length > 1 ? parts(codes[codes.length - 2]) : null;
  const alike = before && before[1] === last[1] && before[3] === last[3];
  const gap = alike ? Number(last[2]) - Number(before[2]) : 1;
  const step = Math.abs(gap) > 0 && Math.abs(gap) <= 2 ? gap : 1;
  for (let value = Number(last[2]) + step; value >= 0; value += step) {
    const code = last[1] + String(value).padStart(last[2].length, "0") + last[3];
    if (!codes.includes(code)) return code;
  }
  return "";
}

/* The codes of a floor like this one; null where a code does not begin with the floor's name. */
export function copyCodes(codes, from, to) {
  const made = {};
  for (const code of codes) {
    const start = new RegExp(`^(\\D*)${from.replace(/[^A-Za-z0-9]/g, "\\$&")}(?=\\d)`).exec(code);
    if (!start) return null;
    made[code] = start[1] + to + code.slice(start[0].length);
  }
  return made;
}

export const ringsOf = (geometry) => (geometry.type === "Polygon" ? geometry.coordinates : geometry.coordinates.flat());
export const pathOf = (geometry) => ringsOf(geometry).map((ring) => `M${ring.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join("L")}Z`).join("");

export function areaOf(geometry) {
  const one = (ring) => ring.slice(1).reduce((sum, [x, y], k) => sum + ring[k][0] * y - x * ring[k][1], 0) / 2;
  const polygon = (rings) => rings.reduce((sum, ring, k) => sum + (k ? -1 : 1) * Math.abs(one(ring)), 0);
  return geometry.type === "Polygon" ? polygon(geometry.coordinates) : geometry.coordinates.reduce((sum, rings) => sum + polygon(rings), 0);
}

/* The corner nearest to a place, if one is near. */
export function nearestCorner(regions, at, reach) {
  let best = null;
  let far = reach;
  for (const region of regions) for (const ring of ringsOf(region.geometry)) for (const corner of ring) {
    const d = Math.hypot(corner[0] - at[0], corner[1] - at[1]);
    if (d <= far) { far = d; best = corner; }
  }
  return best;
}

/* A floor as it is traced alone: its scale may come from the two places that match those of the lowest floor. */
export function alone(floor, base) {
  const metres = base && base.length && base.match.length === 2 && floor.match.length === 2 && !floor.length
    ? distance(...base.match) / pixels(base.length) : 0;
  return metres ? { ...floor, copies: [], length: { from: floor.match[0], to: floor.match[1], metres } } : { ...floor, copies: [] };
}

export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
/* Pixels of a metre. */
export const pixels = (length) => distance(length.from, length.to) / (length.metres ?? length.feet * FOOT);
/* A written length: "12.5", "12,5" or 41' 6". */
export function lengthOf(text, feet) {
  const inches = /^\s*(\d+(?:[.,]\d+)?)\s*'\s*(?:(\d+(?:[.,]\d+)?)\s*"?)?\s*$/.exec(text);
  const plain = /^\s*(\d+(?:[.,]\d+)?)\s*$/.exec(text);
  const number = (one) => Number(one.replace(",", "."));
  if (inches) return { feet: number(inches[1]) + (inches[2] ? number(inches[2]) / 12 : 0) };
  if (!plain || !number(plain[1])) return null;
  return feet ? { feet: number(plain[1]) } : { metres: number(plain[1]) };
}

/* Texts of a drawing that may be codes of units, inside the outline. */
export function codesIn(texts, outline) {
  const seen = new Set();
  return texts.filter(({ text, at }) => /^[A-Za-z]{0,3}-?\d{1,4}[A-Za-z]?$/.test(text) && inside(at, outline) && !seen.has(text) && seen.add(text));
}

export function inside([x, y], ring) {
  let odd = false;
  ring.forEach(([ax, ay], k) => {
    const [bx, by] = ring[(k + 1) % ring.length];
    if ((ay > y) !== (by > y) && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) odd = !odd;
  });
  return odd;
}
