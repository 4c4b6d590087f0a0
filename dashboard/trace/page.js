/* The tracer. The browser keeps pictures and clicks; the server traces what is sent and keeps nothing. */
import { at, el, svgEl } from "../web/elements.js";
import { ask as asking } from "../web/ask.js";
import { inFeet, number } from "../web/local.js";
import "../web/sign_again.js";
import "../web/switch.js";
import { FOOT, alone, areaOf, codesIn, copyCodes, lengthOf, nearestCorner, nextCode, pathOf, pixels, ringsOf } from "./geometry.js";
import { forget, keepNow, kept } from "./kept.js";

const LARGEST_SENT = 5500000;
const TOOLS = [
  ["corners", "Sheet corners", "For a photograph at an angle: click the sheet's corners, upper left, upper right, lower right, lower left. It is straightened at the fourth."],
  ["outline", "Outline", "Click the corners of the floor's outer wall in turn, once round."],
  ["length", "One length", "Click both ends of something whose length you know, the longer the better, and write the length."],
  ["hallway", "Hallway", "Click once in each hallway."],
  ["unit", "Units", "Click once inside each unit; a second click with the same code joins a room to it."],
  ["common", "Common rooms", "Click in each laundry, lounge or store."],
  ["stair", "Stairs", "Click in each stair or lift."],
  ["left-out", "Left out", "Click in shafts, courtyards and whatever is no home and no hallway."],
  ["corner", "Move corners", "Click a corner of a region, then where it belongs."],
  ["match", "Places to match", "Click two places that are on every floor, such as two corners of a stair; the same two on each."],
];
const newFloor = (name) => ({ floor: name, picture: "", wide: 0, high: 0, source: null, opening: {}, outline: [], length: null, ends: [], clicks: [], moved: [], match: [], copied: "", dark: 0.7, thin: 1, layers: [], texts: [], pages: 1, order: [] });
let state = { floors: [newFloor("1")], at: 0, tool: "outline", name: "", slug: "" };
let regions = null;
let corners = [];
let held = null;
let mark = null;
let turn = 0;
let wait = 0;

const floor = () => state.floors[state.at];
const units = (one) => [...new Set(one.clicks.filter((click) => click.kind === "unit").map((click) => click.code))];
const say = (problems) => at("problems").replaceChildren(...problems.map((words) => el("p", { class: "form-error", text: words })));

const ask = (path, sent) => asking(path, sent, "The file is too large for this page. Use the command spread trace, or save the floor plan alone.", "What you clicked is still here");

async function keepAll() {
  if (!(await keepNow(state))) at("said").textContent = "The browser has no room to keep this; do not close the page.";
}

/* Files */
async function base64(blob) {
  const url = await new Promise((done) => { const reader = new FileReader(); reader.onload = () => done(reader.result); reader.readAsDataURL(blob); });
  return url.slice(url.indexOf(",") + 1);
}

async function smaller(file) {
  if (file.size <= LARGEST_SENT || !file.type.startsWith("image/")) return file;
  const whole = await createImageBitmap(file);
  const scale = Math.min(1, 3200 / Math.max(whole.width, whole.height));
  const canvas = el("canvas", { width: Math.round(whole.width * scale), height: Math.round(whole.height * scale) });
  canvas.getContext("2d").drawImage(whole, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.9); });
}

async function choose(file) {
  const blob = await smaller(file).catch(() => file);
  at("file").value = "";
  if (blob.size > LARGEST_SENT) return say([`${file.name}: it is larger than the 5.5 MB that this page sends. Use the command spread trace, or save the floor plan alone.`]);
  const one = floor();
  return open(one, { file_name: file.name, file: await base64(blob) }, {});
}

async function open(one, source, opening) {
  at("said").textContent = "The drawing is being read …";
  const reply = await ask("/trace/open", { ...source, ...opening });
  at("said").textContent = "";
  if (!reply.ok) return say(reply.problems);
  say([]);
  const fresh = newFloor(one.floor);
  Object.assign(one, fresh, { copied: one.copied, dark: one.dark, thin: one.thin, source, opening, picture: reply.picture, wide: reply.wide, high: reply.high, pages: reply.pages, layers: reply.layers, texts: reply.texts });
  if (reply.metre) {
    one.ends = [[40, reply.high - 20], [Math.round(reply.wide - 40), reply.high - 20]];
    one.length = { from: one.ends[0], to: one.ends[1], metres: (one.ends[1][0] - 40) / reply.metre };
    one.match = reply.match;
  }
  state.tool = "outline";
  corners = [];
  regions = null;
  await keepAll();
  return show();
}

/* Clicks */
function click(place) {
  const one = floor();
  if (!one.picture) return;
  const [x, y] = place.map((value) => Math.round(value * 10) / 10);
  const spot = [x, y];
  if (state.tool === "corners") {
    corners.push(spot);
    if (corners.length === 4) {
      const four = corners;
      corners = [];
      open(one, one.source, { ...one.opening, corners: four, proportion: undefined, ...sheet() }).then(paint);
      return;
    }
    paint();
    return;
  }
  if (state.tool === "corner") {
    if (!held) { held = regions && nearestCorner(regions.regions, spot, one.wide / 40); paint(); return; }
    one.moved.push({ from: held, to: spot });
    one.order.push("moved");
    held = null;
  } else if (state.tool === "outline") { one.outline.push(spot); one.order.push("outline"); }
  else if (state.tool === "match") { if (one.match.length < 2) { one.match.push(spot); one.order.push("match"); } }
  else if (state.tool === "length") {
    if (one.ends.length === 2) one.ends = [];
    one.ends.push(spot);
    one.length = null;
    if (one.ends.length === 2) { known(); at("length").focus(); }
  } else {
    const made = { kind: state.tool, at: spot };
    if (state.tool === "unit") {
      made.code = at("code").value.trim();
      if (!made.code) { say(["Write the code of the unit first."]); at("code").focus(); return; }
    }
    if (["stair", "common"].includes(state.tool)) made.code = `${state.tool} ${one.clicks.filter((c) => c.kind === state.tool).length + 1}`;
    one.clicks.push(made);
    one.order.push("clicks");
    if (state.tool === "unit") at("code").value = nextCode(units(one));
  }
  changed();
}

const sheet = () => (Number(at("sheet").value) ? { proportion: Number(at("sheet").value) } : {});

function known() {
  const one = floor();
  const length = lengthOf(at("length").value, inFeet());
  one.length = length && one.ends.length === 2 ? { from: one.ends[0], to: one.ends[1], ...length } : null;
}

function undo() {
  const one = floor();
  if (held) held = null;
  else if (state.tool === "corners" && corners.length) corners.pop();
  else if (state.tool === "length" && one.ends.length) { one.ends.pop(); one.length = null; }
  else if (one.order.length) one[one.order.pop()].pop();
  changed();
}

function clear() {
  const one = floor();
  const part = { outline: "outline", match: "match", corner: "moved" }[state.tool];
  if (part) { one[part] = []; one.order = one.order.filter((name) => name !== part); }
  else if (state.tool === "length") { one.ends = []; one.length = null; }
  else if (state.tool === "corners") corners = [];
  else {
    one.clicks = one.clicks.filter((made) => made.kind !== state.tool);
    one.order = [...one.order.filter((name) => name !== "clicks"), ...one.clicks.map(() => "clicks")];
  }
  changed();
}

/* Tracing */
function described(one) {
  const { floor: name, opening, outline, length, clicks, moved, match, dark, thin } = one;
  return { floor: name, ...opening, outline, clicks, moved, match: match.length === 2 ? match : [], dark, thin, ...(length ? { length } : {}), copies: copiesOf(one) ?? [] };
}

function copiesOf(one) {
  const names = one.copied.split(/[,;\s]+/).filter(Boolean);
  const copies = names.map((name) => ({ floor: name, codes: copyCodes(units(one), one.floor, name) }));
  return copies.every((copy) => copy.codes) ? copies : null;
}

function ready(one) {
  const scaled = one.length || (state.at > 0 && one.match.length === 2 && state.floors[0].match.length === 2);
  return one.picture && one.outline.length > 2 && scaled && units(one).length > 0;
}

async function changed() {
  keepAll();
  show();
  clearTimeout(wait);
  wait = setTimeout(look, 500);
}

async function look() {
  const one = floor();
  turn += 1;
  const mine = turn;
  if (!ready(one)) { regions = null; paint(); return; }
  at("said").textContent = "Being traced …";
  const sent = alone(described(one), state.at ? state.floors[0] : null);
  const reply = await ask("/trace/see", { floors: [sent], pictures: [one.picture] });
  if (mine !== turn) return; /* a later click is on its way */
  at("said").textContent = "";
  say(reply.ok ? [] : reply.problems);
  regions = reply.ok ? reply : null;
  if (reply.ok) {
    const put = reply.doors.filter((door) => !door.seen).length;
    at("said").textContent = `${units(one).length} units traced. ${reply.doors.length} doors${put ? `, ${put} of them put into the middle of a wall without a gap` : ""}.${reply.lost.length ? ` ${reply.lost.length} moved corners were not found again.` : ""}`;
  }
  paint();
}

async function create() {
  if (at("create").getAttribute("aria-disabled") === "true") return;
  const odd = state.floors.find((one) => copiesOf(one) === null);
  if (odd) return say([`A code on floor ${odd.floor} does not begin with that floor, so the codes of its copies are not known. Trace those floors by themselves.`]);
  at("create").setAttribute("aria-disabled", "true");
  at("created").textContent = "Being made …";
  const reply = await ask("/trace/create", { name: state.name, slug: state.slug, floors: state.floors.map(described), pictures: state.floors.map((one) => one.picture) });
  at("create").removeAttribute("aria-disabled");
  at("created").textContent = "";
  if (!reply.ok) { say(reply.problems); at("problems").scrollIntoView({ block: "nearest" }); return; }
  say([]);
  await forget();
  if (reply.open) { at("created").textContent = "Created. Opening it …"; location.assign(reply.open); return; }
  at("created").textContent = `Created. ${reply.trouble ? `${reply.trouble} ` : ""}Open it with: ${reply.command}`;
  at("checks").replaceChildren(...reply.checks.map((words) => el("li", { text: words })));
}

/* What is seen */
let shownPicture = "";
let imageUrl = "";
function imageOf(one) {
  if (shownPicture !== one.picture) {
    if (imageUrl) URL.revokeObjectURL(imageUrl);
    const bytes = Uint8Array.from(atob(one.picture), (letter) => letter.charCodeAt(0));
    imageUrl = URL.createObjectURL(new Blob([bytes], { type: bytes[0] === 0x89 ? "image/png" : "image/jpeg" }));
    shownPicture = one.picture;
  }
  return imageUrl;
}

const points = (list) => list.map((place) => place.join(",")).join(" ");
const dot = (kind, [x, y], r) => svgEl("circle", { class: kind, cx: x, cy: y, r });

function paint() {
  const one = floor();
  if (!one.picture) { at("drawing").replaceChildren(el("p", { class: "soft", text: "Choose a drawing of the lowest floor first." })); return; }
  const r = 5 * Math.max(one.wide / (at("drawing").clientWidth || 900), one.high / (0.82 * innerHeight)); /* 5 pixels of the screen */
  const square = regions ? (inFeet() ? (regions.metre * FOOT) ** 2 : regions.metre ** 2) : 1;
  const unitWords = inFeet() ? "ft²" : "m²";
  const drawn = (regions ? regions.regions : []).map((region) => svgEl("path", { class: `region ${region.kind}`, d: pathOf(region.geometry), "fill-rule": "evenodd" }));
  const labels = (regions ? regions.regions : []).filter((region) => region.kind === "unit").map((region) => {
    const first = one.clicks.find((made) => made.code === region.id) || { at: [0, 0] };
    return svgEl("text", { class: "label", x: first.at[0], y: first.at[1] - 2 * r, "font-size": 3 * r },
      svgEl("tspan", { text: region.id }), svgEl("tspan", { x: first.at[0], dy: "2.2em", "font-size": 2.2 * r, text: `${number(areaOf(region.geometry) / square, 0)} ${unitWords}` }));
  });
  const corner = state.tool === "corner" && regions ? regions.regions.flatMap((region) => ringsOf(region.geometry).flat()).map((place) => dot(held && place === held ? "corner held" : "corner", place, r)) : [];
  const ends = one.ends.length === 2 ? [svgEl("line", { class: "known", x1: one.ends[0][0], y1: one.ends[0][1], x2: one.ends[1][0], y2: one.ends[1][1] })] : [];
  const cross = mark ? [svgEl("path", { class: "mark", d: `M${mark[0] - 4 * r},${mark[1]}h${8 * r}M${mark[0]},${mark[1] - 4 * r}v${8 * r}` })] : [];
  at("drawing").replaceChildren(svgEl("svg", { viewBox: `0 0 ${one.wide} ${one.high}`, role: "img", "aria-label": `Floor ${one.floor}: ${units(one).length} units clicked` },
    svgEl("image", { href: imageOf(one), width: one.wide, height: one.high }), ...drawn,
    svgEl(one.outline.length > 2 ? "polygon" : "polyline", { class: "outline", points: points(one.outline) }), ...ends,
    ...(regions ? regions.doors.map((door) => dot(door.seen ? "door" : "door put", door.at, 1.6 * r)) : []),
    ...[...corners, ...one.outline, ...one.ends, ...one.match, ...one.clicks.map((made) => made.at)].map((place) => dot("click", place, r)),
    ...labels, ...corner, ...cross));
}

function show() {
  const one = floor();
  const counts = { outline: one.outline.length, length: one.length ? 1 : 0, corner: one.moved.length, match: one.match.length };
  const count = (tool) => counts[tool] ?? (tool === "unit" ? units(one).length : one.clicks.filter((made) => made.kind === tool).length);
  at("floors").replaceChildren(...state.floors.map((other, place) => el("button", { type: "button", class: "quiet", "aria-pressed": String(place === state.at), text: `Floor ${other.floor}`, click: () => go(place) })));
  at("tools").replaceChildren(...TOOLS.map(([tool, words]) => el("button", { type: "button", class: "quiet", id: `tool-${tool}`, "aria-pressed": String(tool === state.tool), text: count(tool) ? `${words} (${count(tool)})` : words, click: () => { state.tool = tool; held = null; keepAll(); show(); at(`tool-${tool}`).focus(); } })));
  at("how").textContent = TOOLS.find(([tool]) => tool === state.tool)[2];
  at("code-part").hidden = state.tool !== "unit";
  if (state.tool === "unit" && !at("code").value) at("code").value = nextCode(units(one));
  at("length-part").hidden = state.tool !== "length";
  at("length-words").textContent = inFeet() ? "How long it is, in feet (41' 6\" or 41.5)" : "How long it is, in metres";
  at("page-part").hidden = one.pages < 2;
  at("page-number").value = one.opening.page || 1;
  at("sheet-part").hidden = !one.picture || one.layers.length > 0;
  at("layers-part").hidden = !one.layers.length;
  at("layers").replaceChildren(...one.layers.map((layer) => el("label", {}, el("input", { type: "checkbox", value: layer.name, checked: !one.opening.layers || one.opening.layers.includes(layer.name) }), `${layer.name} (${layer.lines})`)));
  const found = codesIn(one.texts, one.outline);
  at("texts").hidden = !found.length;
  at("texts").textContent = `Take ${found.length} codes written in the drawing as clicks`;
  at("file-said").textContent = one.source ? `Read: ${one.source.file_name}` : "";
  for (const [id, value] of [["floor", one.floor], ["copies", one.copied], ["dark", one.dark], ["thin", one.thin], ["name", state.name], ["slug", state.slug]]) if (at(id) !== document.activeElement) at(id).value = value;
  at("drop-floor").hidden = state.floors.length < 2;
  paint();
}

function go(place) {
  state.at = place;
  regions = null;
  held = null;
  corners = [];
  at("code").value = "";
  const length = floor().length;
  at("length").value = length ? String(length.metres ?? length.feet) : "";
  changed();
}

/* Listening */
const drawing = at("drawing");
drawing.addEventListener("click", (event) => {
  const picture = drawing.querySelector("svg");
  if (!picture) return;
  const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(picture.getScreenCTM().inverse());
  if (place.x >= 0 && place.y >= 0 && place.x <= floor().wide && place.y <= floor().high) click([place.x, place.y]);
});
drawing.addEventListener("keydown", (event) => {
  const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  const one = floor();
  if (!one.picture || (!step && event.key !== "Enter")) return;
  event.preventDefault();
  mark = mark || [one.wide / 2, one.high / 2];
  if (!step) { click(mark); return; }
  const far = one.wide / (event.shiftKey ? 400 : 50);
  mark = [Math.min(Math.max(mark[0] + far * step[0], 0), one.wide), Math.min(Math.max(mark[1] + far * step[1], 0), one.high)];
  paint();
});
at("file").addEventListener("change", () => at("file").files[0] && choose(at("file").files[0]));
at("page-number").addEventListener("change", () => open(floor(), floor().source, { page: Number(at("page-number").value) || 1 }));
at("layers").addEventListener("change", () => open(floor(), floor().source, { layers: [...at("layers").querySelectorAll(":checked")].map((box) => box.value) }));
at("sheet").addEventListener("change", () => { const one = floor(); if (one.opening.corners) open(one, one.source, { page: one.opening.page, corners: one.opening.corners, ...sheet() }); });
at("texts").addEventListener("click", () => {
  const one = floor();
  for (const { text, at: place } of codesIn(one.texts, one.outline)) { one.clicks.push({ kind: "unit", code: text, at: place }); one.order.push("clicks"); }
  changed();
});
at("undo").addEventListener("click", undo);
at("clear").addEventListener("click", clear);
at("length").addEventListener("input", () => { known(); changed(); });
at("dark").addEventListener("input", () => { floor().dark = Number(at("dark").value); changed(); });
at("thin").addEventListener("change", () => { floor().thin = Number(at("thin").value); changed(); });
at("floor").addEventListener("change", () => { floor().floor = at("floor").value.trim() || floor().floor; changed(); });
at("copies").addEventListener("change", () => { floor().copied = at("copies").value; keepAll(); });
at("add-floor").addEventListener("click", () => {
  const taken = state.floors.flatMap((one) => [one.floor, ...one.copied.split(/[,;\s]+/)]);
  state.floors.push(newFloor(nextCode(taken.filter(Boolean)) || String(state.floors.length + 1)));
  go(state.floors.length - 1);
});
at("drop-floor").addEventListener("click", () => { state.floors.splice(state.at, 1); go(0); });
at("name").addEventListener("input", () => {
  state.name = at("name").value;
  state.slug = state.name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40);
  at("slug").value = state.slug;
  keepAll();
});
at("slug").addEventListener("input", () => { state.slug = at("slug").value; keepAll(); });
at("create").addEventListener("click", create);
at("anew").addEventListener("click", async () => { await forget(); location.reload(); });
document.addEventListener("spread-voice", (event) => { event.preventDefault(); show(); });

kept().then((before) => {
  if (before) { state = before; go(state.at); } else show();
  document.documentElement.dataset.ready = "yes";
});
