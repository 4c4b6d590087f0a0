/* The answer form. What was typed stays until it is kept; one press is one record, however often it is sent. */
import { pages, tell } from "../web/dash.js";
import { at, el } from "../web/elements.js";
import { newId } from "../web/storage.js";
import { pick } from "./choosing.js";
import { nextDoor } from "./doors.js";
import { otherEntries, otherEntry } from "./entries.js";
import { state } from "./state.js";

const SAME_PRESS_MS = 2500;
let sent = null; /* {key, id, at, done} of the last press */
let timer = null;
let lastMethod = null;

const chosen = (name) => { const one = document.querySelector(`#form input[name="${name}"]:checked`); return one ? one.value : ""; };

function choice(type, name, value, words, hint, checked) {
  return el("label", { class: "choice" }, el("input", { type: type, name: name, value: value, checked: checked }),
    el("span", {}, el("b", { text: words }), hint ? el("small", { text: hint }) : null));
}

export function startForm(unit) {
  const words = state.words, box = at("form");
  if (!words || !box) return;
  clearTimeout(timer);
  const ranking = at("method") ? at("method").value : words.methods[0][0];
  const method = el("select", { id: "answer-method" }, ...words.methods.map(([value, text]) => el("option", { value: value, text: text })));
  method.value = lastMethod || ranking;
  const days = el("label", { class: "field", id: "days-field" }, el("span", { text: "Days the monitors stood" }), el("input", { id: "answer-days", type: "number", min: 1, max: 120, value: 14, inputmode: "numeric" }));
  const note = el("input", { id: "answer-note", type: "text", maxlength: 500, autocomplete: "off" });
  const big = (value, text, hint) => el("button", { type: "button", class: `answer ${value}`, "data-answer": value }, el("b", { text: text }), el("small", { text: hint }));
  const found = big("open-found", "Signs found", "then how heavy");
  found.setAttribute("aria-expanded", "false");
  found.setAttribute("aria-controls", "found-part");
  const details = el("div", { id: "found-part", class: "found-part", hidden: true },
    el("fieldset", {}, el("legend", { text: "How heavy" }), el("div", { class: "choices" },
      ...words.levels.map(([value, text, hint]) => choice("radio", "level", value, text, hint, false)), choice("radio", "level", "", "Not judged", "", true))),
    el("fieldset", {}, el("legend", { text: "What was seen" }), el("div", { class: "choices" },
      ...words.evidence.map(([value, text]) => choice("checkbox", "evidence", value, text, "", false)))),
    el("button", { type: "button", class: "answer save-found", "data-answer": "found" }, el("b", { text: `Save: signs found in ${unit}` })));
  const monitor = () => { days.hidden = !words.monitors.includes(method.value); };
  method.addEventListener("change", () => { lastMethod = method.value; monitor(); });
  box.replaceChildren(el("div", { class: "answer-form", role: "group", "aria-labelledby": "form-title" },
    el("h3", { id: "form-title", text: "Record an answer" }),
    el("div", { class: "form-fields" },
      el("label", { class: "field" }, el("span", { text: "Looked with" }), method), days,
      el("label", { class: "field" }, el("span", { text: "Day" }), el("input", { id: "answer-day", type: "date", value: words.today, max: words.today })),
      el("label", { class: "field wide" }, el("span", { text: "Note (optional)" }), note)),
    el("div", { class: "answers" }, found, big("clear", "Nothing found", "saved at once"), big("nobody", "Nobody home", "saved at once")),
    details, otherEntries(words), el("p", { id: "form-error", role: "alert", class: "form-error" })));
  monitor();
  sent = sent && sent.done ? sent : null;
}

function toggleFound() {
  const part = at("found-part"), button = document.querySelector('[data-answer="open-found"]');
  part.hidden = !part.hidden;
  button.setAttribute("aria-expanded", String(!part.hidden));
  if (!part.hidden) { part.querySelector("input").focus({ preventScroll: true }); part.scrollIntoView({ block: "nearest" }); }
}

function busy(on) {
  for (const button of document.querySelectorAll("#form [data-answer]")) button.setAttribute("aria-disabled", String(on));
}

function send(body) {
  const key = JSON.stringify(body);
  const now = Date.now();
  /* The same press again: while waiting, after no reply, or a slow double click, it is the same record. */
  if (sent && sent.key === key) {
    if (!sent.done && sent.waiting) return;
    if (sent.done && now - sent.at < SAME_PRESS_MS) return;
  }
  const id = sent && sent.key === key && !sent.done ? sent.id : newId();
  sent = { key: key, id: id, at: now, done: false, waiting: true };
  busy(true);
  const error = at("form-error");
  if (error) error.textContent = "";
  clearTimeout(timer);
  timer = setTimeout(function () {
    sent.waiting = false;
    busy(false);
    problem("No reply yet. What you typed is still here; press again and it will count once.");
  }, state.patience);
  tell("answer", Object.assign({ id: id, sent: now }, body));
}

function problem(words) {
  const error = at("form-error");
  if (error && state.selected) error.textContent = words;
  else say(words, null);
}

function say(words, reply) {
  const bar = at("said-bar");
  bar.classList.remove("quiet-bar");
  at("said").textContent = words;
  const undo = at("undo");
  undo.hidden = !(reply && reply.undo);
  undo.dataset.undoes = (reply && reply.undo) || "";
  undo.dataset.unit = (reply && reply.unit) || "";
  at("next-door").hidden = !reply;
}

pages.words = function (words) { state.words = words; };

pages.reply = function (reply) {
  if (!reply || !sent || reply.id !== sent.id) return;
  clearTimeout(timer);
  busy(false);
  sent.waiting = false;
  if (!reply.ok) { problem(reply.words); return; }
  sent.done = true;
  sent.at = Date.now();
  say(reply.words, reply);
  if (state.selected === reply.unit) {
    const again = el("button", { type: "button", class: "quiet", id: "another", text: `Record another answer for ${reply.unit}` });
    again.addEventListener("click", () => { startForm(reply.unit); at("answer-method").focus(); });
    const held = at("form").contains(document.activeElement);
    at("form").replaceChildren(el("p", { class: "kept", text: reply.undo ? "Answer kept." : "Kept." }), again);
    if (held) at("panel-title").focus({ preventScroll: true });
  }
};

document.addEventListener("click", function (event) {
  const button = event.target.closest("#form [data-answer]");
  if (button && button.getAttribute("aria-disabled") !== "true") {
    const answer = button.dataset.answer;
    if (answer === "open-found") { toggleFound(); return; }
    const body = { unit: state.selected, answer: answer, note: at("answer-note").value };
    const day = at("answer-day").value;
    if (!day && at("answer-day").validity.badInput) { problem("The day could not be read; choose it again."); return; }
    if (day && day !== state.words.today) body.day = day;
    if (answer === "found" || answer === "clear") body.method = at("answer-method").value;
    else Object.assign(body, otherEntry(answer));
    if (body.method && !at("days-field").hidden) body.days = at("answer-days").value;
    if (answer === "found") {
      body.level = chosen("level");
      body.evidence = Array.from(document.querySelectorAll('#form input[name="evidence"]:checked'), (one) => one.value);
    }
    send(body);
  }
  const undo = event.target.closest("#undo");
  const back = event.target.closest("#panel-history [data-undoes]");
  if (back && !back.dataset.sure) { /* asked twice: a row that was taken back stays so */
    back.dataset.sure = "yes";
    back.textContent = "Take back: press again";
    setTimeout(() => { if (back.isConnected) { delete back.dataset.sure; back.textContent = "Take back"; } }, 5000);
  } else if (back) send({ unit: state.selected, answer: "undo", undoes: back.dataset.undoes });
  if (undo) { undo.hidden = true; send({ unit: undo.dataset.unit, answer: "undo", undoes: undo.dataset.undoes }); }
  if (event.target.closest("#hide-said")) at("said-bar").classList.add("quiet-bar");
  if (event.target.closest("#next-door")) {
    at("said-bar").classList.add("quiet-bar");
    const next = nextDoor();
    if (next) pick(next.u);
  }
});
