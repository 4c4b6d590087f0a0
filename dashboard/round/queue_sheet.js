/* What the phone pages show of the queue: a button with the count, and a sheet with the answers that wait; and when
   to try again. */
import { at, el } from "../web/elements.js";
import { speakDay } from "../web/local.js";
import { here } from "../web/root.js";
import { MARK } from "../web/storage.js";
import { Q } from "./queue.js";
import { many, say } from "./said.js";

window.addEventListener("online", Q.now);
window.addEventListener("offline", () => { Q.online = false; Q.changed(); });
window.addEventListener("storage", (event) => { if (event.key && event.key.startsWith(`${MARK}wait.`)) Q.changed(); });
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") Q.send(); });

/* -- what the pages show of it: a button with the count, and a sheet with the answers -- */
Q.show = function () {
  const button = at("line"), waiting = Q.waiting().length, refused = Q.refused().length, other = Q.elsewhere().length;
  const parts = [];
  if (refused) parts.push(many("count_refused", refused));
  if (waiting) parts.push(many("count_waiting", waiting));
  if (Q.signIn) parts.push(say("sign_in_to_send"));
  else if (!Q.online) parts.push(say("no_connection"));
  if (!parts.length) parts.push(other ? many("count_elsewhere", other) : say("all_sent"));
  button.textContent = parts.join(", ");
  button.className = refused ? "line wrong" : waiting || !Q.online || other ? "line open" : "line";
  button.hidden = false;
  if (at("sheet").open) fill();
};

function row(one, ...buttons) {
  return el("li", {}, el("p", {}, el("b", { text: one.words })), one.refused ? el("p", { class: "wrong-words", text: one.refused }) : null,
    buttons.length ? el("p", { class: "pair" }, buttons) : null);
}
function refusedRow(one) {
  const shown = row(one, press(say("send_again"), () => Q.again(one)), throwAway(one));
  if (one.body.answer !== "undo") shown.append(mend(one));
  return shown;
}
function press(text, act, kind) {
  const button = el("button", { type: "button", class: kind || "quiet", text: text });
  button.addEventListener("click", act);
  return button;
}
function throwAway(one) {
  /* Two presses: nothing that was found in a room goes by a slip of the thumb. */
  const button = press(say("throw_away"), () => { if (button.dataset.sure) Q.forget(one); else { button.dataset.sure = "1"; button.textContent = say("throw_away_sure"); } });
  return button;
}
/* What was refused, to be mended: the door and the day; what was found stays as it was given. */
function mend(one) {
  const unit = el("input", { type: "text", value: one.body.unit, autocomplete: "off", autocapitalize: "characters" });
  const when = el("input", { type: "date", value: one.body.when || "" });
  const set = (text, input) => el("label", { class: "set" }, el("span", { text: text }), input);
  const save = press(say("mend_send"), () => {
    const to = { unit: unit.value.trim(), when: when.value };
    Q.mend(one, to, say("mended", { what: one.words, unit: to.unit, day: to.when ? speakDay(to.when) : "" }));
  });
  return el("details", {}, el("summary", { text: say("mend") }), set(say("unit"), unit), set(say("day"), when), el("p", { class: "pair" }, save));
}
function fill() {
  if (at("sheet-body").contains(document.activeElement) && document.activeElement.matches("input")) return; /* somebody is mending */
  const waiting = Q.waiting(), refused = Q.refused(), other = Q.elsewhere();
  const part = (title, words, rows) => rows.length ? el("section", {}, el("h3", { text: title }), words ? el("p", { class: "soft", text: words }) : null, el("ul", { class: "kept" }, rows)) : null;
  const state = Q.signIn ? say("state_sign_in") : Q.online ? (waiting.length ? say("state_sending") : say("state_kept"))
    : Q.trouble || say("state_offline");
  at("sheet-body").replaceChildren(
    el("p", { id: "sheet-state", text: state }),
    Q.signIn ? el("p", { class: "pair" }, el("a", { class: "act", id: "sign-in-again", href: Q.signIn, text: say("sign_in_again") })) : "",
    ...[part(say("part_waiting"), "", waiting.map((one) => row(one))),
      part(say("part_refused"), say("part_refused_more"), refused.map((one) => refusedRow(one))),
      part(say("part_elsewhere"), say("part_elsewhere_more"), other.map((one) => row(Object.assign(one, { words: `${one.building.name}${one.building.who ? `, ${one.building.who}` : ""}: ${one.words}` }), Q.building ? press(say("send_here"), () => Q.adopt(one)) : null, throwAway(one)))),
    ].filter(Boolean));
  at("try-now").hidden = Q.online && !waiting.length;
}
document.addEventListener("click", function (event) {
  if (event.target.closest("#line")) { fill(); at("sheet").showModal(); }
  if (event.target.closest("#sheet-close")) at("sheet").close();
  if (event.target.closest("#try-now")) Q.now()
});

/* Service workers exist on https and on the machine itself (loopback) only: elsewhere the page works while it is
   open, also without a connection, but cannot be opened without one. */
window.addEventListener("load", function () {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) return;
  for (const scope of ["/round", "/room/"]) navigator.serviceWorker.register(here("/round/worker.js"), { scope: here(scope) }).catch(() => {});
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
});
