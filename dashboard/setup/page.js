/* The set-up page. It keeps what was typed and the corrections; the server draws and checks them. */
import { at, el } from "../web/elements.js";
import { ask as asking } from "../web/ask.js";
import { inFeet } from "../web/local.js";
import { metresOf, paint } from "../web/drawn.js";
import * as questions from "../web/questions.js";
import "../web/sign_again.js";
import "../web/switch.js";

const LARGEST_SENT = 5500000;
const now = { list: "", plan: null, notes: [], edits: [], floor: "", drawn: null, fileName: "", roll: null, pending: null, asked: null };

function say(problems) {
  at("problems").replaceChildren(...problems.map((words) => el("p", { class: "form-error", text: words })));
  if (problems.length) at("problems").scrollIntoView({ block: "nearest" });
}

const ask = (path, sent) => asking(path, sent, "The file is too large for this page. Keep only the columns of the units.", "What you typed is still here");

const described = () => ({ list: now.list, file_name: now.fileName, layout: at("layout").value, name: at("name").value, edits: now.edits, ...(now.plan || {}) });

async function draw(more) {
  const reply = await ask("/setup/draw", Object.assign(described(), more));
  if (!reply.ok) {
    say(reply.problems);
    return false;
  }
  say([]);
  const source = Object.assign({ answers: {} }, more, { file_name: now.fileName });
  at("asked").hidden = !reply.questions?.length;
  now.pending = reply.questions?.length ? source : null;
  if (reply.sheets) questions.sheets(at("sheet"), reply, (sheet) => draw(Object.assign(source, { sheet, answers: {} })));
  else if (source.file || source.list || source.form) at("sheet").hidden = true;
  if (now.pending) {
    now.asked = questions.ask(at("questions"), reply.questions, reply.columns, reply.outlines);
    at("asked-title").textContent = now.asked.title;
    at("asked-title").focus();
    at("asked-title").scrollIntoView({ block: "start" });
    return true;
  }
  if (source.file || source.list || source.form) now.roll = reply.moves ? source : null;
  if (reply.moves) moved(reply);
  if (source.file) at("file-said").textContent = `Read: ${now.fileName}`;
  at("moves").hidden = !now.roll;
  if (reply.plan) {
    now.plan = { plan: reply.plan, plan_floors: reply.floors, answers: source.answers };
    now.notes = reply.notes;
  }
  now.list = reply.list;
  at("list").value = reply.list;
  now.drawn = reply;
  if (!reply.floors.includes(now.floor)) now.floor = reply.floors[0];
  show();
  return true;
}

function show() {
  const drawn = now.drawn;
  at("drawn").textContent = `${drawn.units} units on ${drawn.floors.length} floor${drawn.floors.length === 1 ? "" : "s"}. ${[drawn.why, ...now.notes].join(" ")} Choose a wall, a door or a riser in the plan to correct it.`;
  at("floors").replaceChildren(...drawn.floors.map((floor) => el("button", {
    type: "button", class: "quiet", "aria-pressed": String(floor === now.floor), text: `Floor ${floor}`,
    click: () => { now.floor = floor; choose(null); show(); },
  })));
  paint(at("drawing"), drawn.drawings[now.floor]);
  at("undo").hidden = !now.edits.length;
  const checks = drawn.checks.map((check) => el("li", {},
    el("span", { class: `check-number ${check.stops ? "stops" : "warns"}`, text: String(check.number) }),
    el("span", { text: `${check.stops ? "Must be mended: " : ""}${check.words}` }),
    ...(check.floor && check.floor !== now.floor ? [el("button", { type: "button", class: "quiet", text: `See floor ${check.floor}`, click: () => { now.floor = check.floor; show(); } })] : [])));
  at("checks").replaceChildren(
    el("h3", { text: checks.length ? `Checks of the plan (${checks.length})` : "Checks of the plan" }),
    checks.length ? el("ol", { class: "check-list" }, ...checks) : el("p", { text: "Every check of the plan is passed." }));
}

function moved(reply) {
  const moves = reply.moves;
  at("moves-said").textContent = `Who moved in or out: ${moves.new} first records`;
  at("roll-said").textContent = `${reply.roll} Of the moves: ${moves.left_out}`;
  at("move-rows").replaceChildren(...questions.read(moves.rows));
}

async function correct(edit) {
  now.edits.push(edit);
  const kept = await draw({});
  if (!kept) now.edits.pop();
  else choose(null);
}

function choose(grip) {
  for (const other of document.querySelectorAll(".grip.chosen")) other.classList.remove("chosen");
  const tool = at("tool");
  tool.hidden = !grip;
  if (!grip) return;
  grip.classList.add("chosen");
  const data = grip.dataset;
  const feet = inFeet();
  const metres = el("input", { id: "metres", inputmode: "decimal", value: feet ? "1.5" : "0.5" });
  const far = (sign) => sign * metresOf(metres.value);
  const field = el("label", { class: "field" }, feet ? "Feet" : "Metres", metres);
  const move = function (edit) {
    const asked = Math.abs(edit.metres);
    if (feet && !(asked >= 0.01 && asked <= 10)) return say([`“${metres.value}” is no length to move it by: write 0.1 to 32 feet, as in 1.5.`]);
    return correct(edit);
  };
  const title = el("h3", { text: grip.getAttribute("aria-label"), tabindex: "-1" });
  if (data.step === "wall") {
    const every = el("input", { type: "checkbox", id: "every-floor", checked: "" });
    const go = (sign) => move({ step: "wall", a: data.a, b: data.b, floor: data.floor, metres: far(sign), every_floor: every.checked });
    tool.replaceChildren(title, el("div", { class: "tool-row" }, field,
      el("button", { type: "button", id: "to-b", text: `Towards ${data.b}`, click: () => go(1) }),
      el("button", { type: "button", id: "to-a", text: `Towards ${data.a}`, click: () => go(-1) }),
      el("label", { class: "tick" }, every, "On every floor of these stacks")));
  } else if (data.step === "door") {
    const go = (sign) => move({ step: "door", door: data.door, metres: far(sign) });
    tool.replaceChildren(title, el("div", { class: "tool-row" }, field,
      el("button", { type: "button", id: "back", text: "Left or down", click: () => go(-1) }),
      el("button", { type: "button", id: "on", text: "Right or up", click: () => go(1) })));
  } else {
    const name = el("input", { id: "riser-name", type: "text", value: data.riser });
    tool.replaceChildren(title, el("div", { class: "tool-row" }, el("label", { class: "field" }, "Name", name),
      el("button", { type: "button", id: "rename", text: "Give it this name", click: () => correct({ step: "riser", riser: data.riser, name: name.value }) })));
  }
  tool.scrollIntoView({ block: "nearest" });
  title.focus({ preventScroll: true });
}

async function take(file) {
  if (file.size > LARGEST_SENT) return say([`${file.name}: it is larger than the 5.5 MB that this page sends. Use the command spread draw, or keep only what is needed.`]);
  const text = await questions.carried(file);
  at("file").value = "";
  if (!file.size) {
    at("file-said").textContent = "";
    return say([`${file.name}: it is empty; choose a list with a line for each unit.`]);
  }
  const before = { edits: now.edits, plan: now.plan, notes: now.notes };
  Object.assign(now, { edits: [], plan: null, notes: [] });
  now.fileName = file.name;
  const drawn = await draw({ file: text });
  if (!drawn) Object.assign(now, before);
  at("file-said").textContent = !drawn ? `Not read: ${file.name}` : now.pending ? `Asked about: ${file.name}` : `Read: ${file.name}`;
}

function addRecord() {
  const number = document.querySelectorAll(".first-record").length + 1;
  const unit = el("input", { class: "rec-unit", type: "text", autocomplete: "off" });
  const when = el("input", { class: "rec-when", type: "date" });
  const what = el("select", { class: "rec-what" },
    el("option", { value: "report", text: "Somebody reported bugs" }),
    el("option", { value: "found", text: "Looked, and found bugs" }),
    el("option", { value: "clear", text: "Looked, and found nothing" }));
  const row = el("fieldset", { class: "first-record setup-form" }, el("legend", { text: `Record ${number}` }),
    el("label", { class: "field" }, "Unit", unit), el("label", { class: "field" }, "Day", when), el("label", { class: "field" }, "What", what),
    el("button", { type: "button", class: "quiet", text: "Take out", click: () => row.remove() }));
  at("records").append(row);
  unit.focus();
}

function records() {
  return [...document.querySelectorAll(".first-record")].map((row) => {
    const what = row.querySelector(".rec-what").value;
    const fields = { unit: row.querySelector(".rec-unit").value, when: row.querySelector(".rec-when").value };
    if (what === "report") return Object.assign(fields, { kind: "report" });
    return Object.assign(fields, { kind: "inspection", method: "brief-visual", found: what === "found" ? "yes" : "no" });
  });
}

async function create() {
  if (at("create").getAttribute("aria-disabled") === "true") return;
  if (now.pending) return say(["Questions about the list are open: answer them, then create the building."]);
  at("create").setAttribute("aria-disabled", "true");
  at("created").textContent = "Being made …";
  const reply = await ask("/setup/create", Object.assign(described(), { roll: now.roll, slug: at("slug").value, rules: at("rules").value, hour: at("hour").value, records: records() }));
  at("create").removeAttribute("aria-disabled");
  at("created").textContent = "";
  if (!reply.ok) return say(reply.problems);
  say([]);
  if (reply.open) {
    at("created").textContent = "Created. Opening it …";
    location.assign(reply.open);
    return;
  }
  at("created").textContent = `Created. ${reply.trouble ? `${reply.trouble} ` : ""}Open it with: ${reply.command}`;
  at("created").scrollIntoView({ block: "nearest" });
}

at("file").addEventListener("change", () => at("file").files[0] && take(at("file").files[0]));
const drop = at("drop");
for (const name of ["dragover", "dragenter"]) drop.addEventListener(name, (event) => { event.preventDefault(); drop.classList.add("over"); });
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  if (event.dataTransfer.files[0]) take(event.dataTransfer.files[0]);
});
at("from-form").addEventListener("click", () => {
  Object.assign(now, { edits: [], plan: null, notes: [], fileName: "" });
  draw({ form: { floors: at("form-floors").value, on_floor: at("form-on-floor").value, first: at("form-first").value } });
});
at("draw").addEventListener("click", () => {
  const changed = at("list").value !== now.list;
  if (changed) Object.assign(now, { edits: [], plan: null, notes: [] });
  now.list = at("list").value;
  draw(changed ? { list: now.list } : {});
});
at("answered").addEventListener("click", () => {
  const open = now.asked.open();
  if (open) return say([open]);
  now.asked.answer(now.pending.answers);
  return draw(now.pending);
});
const rule = () => { at("rule-words").textContent = at("rules").selectedOptions[0].textContent; };
at("rules").addEventListener("change", rule);
rule();
/* What was typed and corrected lives in this page only: it is drawn again, not loaded again. */
document.addEventListener("spread-voice", (event) => { event.preventDefault(); choose(null); if (now.drawn) show(); });
at("layout").addEventListener("change", () => { if (now.list) { now.edits = []; draw({}); } });
at("undo").addEventListener("click", () => { now.edits.pop(); choose(null); draw({}); });
at("name").addEventListener("input", () => {
  if (!at("slug").dataset.typed) at("slug").value = at("name").value.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40);
});
at("slug").addEventListener("input", () => { at("slug").dataset.typed = "yes"; });
at("add-record").addEventListener("click", addRecord);
at("create").addEventListener("click", create);
at("drawing").addEventListener("click", (event) => choose(event.target.closest(".grip")));
at("drawing").addEventListener("keydown", (event) => {
  if ((event.key === "Enter" || event.key === " ") && event.target.closest(".grip")) {
    event.preventDefault();
    choose(event.target.closest(".grip"));
  }
});
