/* Questions about a table, each with what is suggested, and what becomes of its rows. Nothing is said for anybody:
   a find, a clear look and a unit take a press of their own; the others may be confirmed together. */
import { el } from "./elements.js";

const pressed = (row) => row.yes.getAttribute("aria-pressed") === "true";

function asked(one, place) {
  const select = el("select", { id: `choice-${place}` },
    one.suggestion ? null : el("option", { value: "", text: "Choose" }),
    ...one.choices.map((choice) => el("option", { value: choice.value, text: choice.words, selected: choice.value === one.suggestion })));
  const yes = el("button", { type: "button", class: "quiet", "aria-pressed": "false", "aria-label": `Yes, so: ${one.label}`, text: "Yes, so", click: () => {
    if (select.value) yes.setAttribute("aria-pressed", String(yes.getAttribute("aria-pressed") !== "true"));
  } });
  select.addEventListener("change", () => yes.setAttribute("aria-pressed", String(select.value !== "")));
  return Object.assign(el("div", { class: "question", "data-key": one.key },
    el("div", {}, el("label", { for: `choice-${place}`, text: one.label }),
      one.rows.length ? el("p", { class: "soft", text: `${one.times} ${one.times === 1 ? "row" : "rows"}${one.topic === "units" ? ". No unit of the plan" : ""}` }) : null,
      ...one.examples.map((text) => el("p", { class: "example", text }))),
    select, yes), { asked: one, select, yes });
}

/* Fill a part of the page with questions, of which none can be a look where `drawn` is true; `done` says whether all are answered, and puts the answers into `into`. */
export function ask(part, questions, columns, drawn = false) {
  const rows = questions.map(asked);
  const quiet = rows.filter((row) => row.asked.quiet);
  const alone = rows.filter((row) => !row.asked.quiet);
  const together = el("button", { type: "button", class: "quiet together", text: `Yes, so: all ${quiet.length} as they are chosen`, click: () => {
    for (const row of quiet) if (row.select.value) row.yes.setAttribute("aria-pressed", "true");
  } });
  part.replaceChildren(
    ...(quiet.length > 1 ? [el("div", { class: "question-group" },
      el("p", { class: "soft", text: columns || drawn ? "Read each, choose another where it is wrong, then confirm them together." : "None of these can be a find or a clear look: read each, then confirm them together." }),
      together)] : []),
    ...quiet,
    ...(quiet.length > 1 && alone.length ? [el("p", { class: "soft question-alone", text: "Each of these takes your own word." })] : []),
    ...alone);
  return {
    title: columns ? "What the columns mean" : `Questions (${questions.length})`,
    open() {
      const open = rows.filter((row) => !pressed(row));
      if (open.length) open[0].select.focus();
      return open.length ? `${open.length} of ${rows.length} questions are open: press “Yes, so” or choose another.` : "";
    },
    answer(into) {
      for (const row of rows) (into[row.asked.topic] ||= {})[row.asked.key] = row.select.value;
    },
  };
}

/* Show the sheets of a workbook where it has several; `chosen` is called with another one's name. */
export function sheets(part, reply, chosen) {
  part.hidden = (reply.sheets || []).length < 2;
  if (part.hidden) return;
  const select = el("select", {}, ...reply.sheets.map((name) => el("option", { value: name, text: name, selected: name === reply.sheet })));
  select.addEventListener("change", () => chosen(select.value));
  part.replaceChildren(el("label", { class: "field" }, "Sheet", select));
}

/* Rows of a table: as they stand there, and as what they are read. */
export const read = (rows) => rows.map((row) => el("tr", { class: row.out ? "out" : "" },
  el("td", { text: String(row.number) }), el("td", { text: row.original }), el("td", { text: row.as })));

/* A file as text that JSON carries. */
export async function carried(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let start = 0; start < bytes.length; start += 32768) text += String.fromCharCode(...bytes.subarray(start, start + 32768));
  return btoa(text);
}
