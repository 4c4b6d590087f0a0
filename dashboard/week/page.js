/* The week's page reads and prints without this script; it moves doors, records notices, and offers printing. */
import { here } from "../web/root.js";
import "../web/guard.js";
import "../web/switch.js";

const days = document.querySelector(".week-days"), said = document.getElementById("week-said");
const query = days ? days.dataset.query : "";

// What is chosen for a while in this tab; a browser that keeps nothing only forgets it.
const kept = (name) => { try { return JSON.parse(sessionStorage.getItem(`spread-week-${name}`)); } catch { return null; } };
const keep = (name, value) => { try { sessionStorage.setItem(`spread-week-${name}`, JSON.stringify(value)); } catch { /* forgotten */ } };

/* ``at``: where the hand is to be when the page has come anew, and not at its top. */
async function send(address, body, at) {
  const reply = await fetch(here(`${address}?${query}`), {
    method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify(body),
  });
  const told = await reply.json().catch(() => ({ ok: false, words: "The server did not answer; load the page again." }));
  if (told.ok) { keep("at", at); location.reload(); return true; }
  said.textContent = told.words;
  said.hidden = false;
  said.scrollIntoView({ block: "nearest" });
  return false;
}

// A phone has room for one day: the others, and the list, are folded. Paper has them all.
const narrow = matchMedia("(max-width: 560px)"), folds = [...document.querySelectorAll("details[data-folds]")];
const fold = (open) => { for (const one of folds) one.open = open; };
fold(!narrow.matches);
narrow.addEventListener("change", () => fold(!narrow.matches));
addEventListener("beforeprint", () => fold(true));
addEventListener("afterprint", () => fold(!narrow.matches));

if (kept("at")) document.querySelector(kept("at"))?.focus();
keep("at", "");

const move = (unit, day) => send("/week/move", { unit, day }, `[data-unit="${CSS.escape(unit)}"] .week-move`);

document.addEventListener("change", async (event) => {
  if (!event.target.matches(".week-move")) return;
  const stands = [...event.target.options].find((one) => one.defaultSelected);
  if (!(await move(event.target.closest("li").dataset.unit, event.target.value))) event.target.value = stands.value;
});

document.addEventListener("click", (event) => {
  const column = event.target.closest(".week-column"), at = column && `[data-day="${column.dataset.day}"] summary`;
  if (event.target.id === "week-print") window.print();
  else if (event.target.matches(".week-give")) {
    const { from, to } = event.target.form.elements;
    send("/week/notices", { day: column.dataset.day, units: event.target.dataset.units.split(" "), from: from.value, to: to.value }, at);
  }
  else if (event.target.matches(".week-back")) send("/week/notices", { day: column.dataset.day, back: true }, at);
});

// Whoever comes back from the printed notices goes on where they are marked as given.
document.addEventListener("submit", ({ target }) => {
  if (target.matches(".week-notices")) keep("at", `[data-day="${target.closest(".week-column").dataset.day}"] .week-give`);
});

// Hours that are chosen for the notices of one day stand at the other days too, until others are chosen there.
const fields = (name) => document.querySelectorAll(`.week-notices [name="${name}"]`);
const offer = () => { for (const [name, hour] of Object.entries(kept("hours") || {})) for (const one of fields(name)) one.value ||= hour; };
offer();
document.addEventListener("change", ({ target }) => {
  if (!target.matches(".week-notices input")) return;
  keep("hours", { ...kept("hours"), [target.name]: target.value });
  offer();
});

// By keyboard a day is one stop of the Tab key: up and down go from door to door, left and right to the days beside it.
const columns = [...document.querySelectorAll(".week-column")], doors = (column) => [...column.querySelectorAll(".week-stops > li")];
function rove(door) {
  for (const one of doors(door.closest(".week-column"))) for (const part of one.querySelectorAll("a, select")) part.tabIndex = one === door ? 0 : -1;
}
for (const [first] of columns.map(doors)) if (first) rove(first);
document.addEventListener("focusin", ({ target }) => { const door = target.closest(".week-stops > li"); if (door) rove(door); });
document.addEventListener("keydown", (event) => {
  if (!event.target.matches(".week-unit") || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
  const column = event.target.closest(".week-column"), all = doors(column), at = all.indexOf(event.target.closest("li"));
  const days = columns.filter((one) => doors(one).length && one.querySelector("details").open), day = days.indexOf(column);
  const along = (beside) => beside?.querySelector('.week-unit[tabindex="0"]').closest("li");
  const ways = {
    ArrowUp: () => all[at - 1], ArrowDown: () => all[at + 1], Home: () => all[0], End: () => all.at(-1),
    ArrowLeft: () => along(days[day - 1]), ArrowRight: () => along(days[day + 1]),
  };
  if (!ways[event.key]) return;
  event.preventDefault();
  ways[event.key]()?.querySelector(".week-unit").focus();
});

let carried = null;
document.addEventListener("dragstart", (event) => {
  const door = event.target.closest?.("[data-unit]");
  if (!door) return;
  carried = door.dataset.unit;
  event.dataTransfer.setData("text/plain", carried);
  event.dataTransfer.effectAllowed = "move";
});
document.addEventListener("dragend", () => { carried = null; mark(null); });
document.addEventListener("dragover", (event) => {
  const column = event.target.closest?.(".week-column");
  mark(carried ? column : null);
  if (carried && column) event.preventDefault();
});
document.addEventListener("drop", (event) => {
  const column = event.target.closest?.(".week-column");
  if (!carried || !column) return;
  event.preventDefault();
  const unit = carried;
  if (!column.querySelector(`[data-unit="${CSS.escape(unit)}"]`)) move(unit, column.dataset.day);
});

function mark(column) {
  for (const one of document.querySelectorAll(".week-column")) one.classList.toggle("over", one === column);
}
