/* What else may be recorded of a unit than a look: a treatment, a turnover, a refusal, a report, a note. */
import { at, el } from "../web/elements.js";

function pick(id, words, options) {
  return el("label", { class: "field" }, el("span", { text: words }), el("select", { id: id }, ...options.map(([value, text]) => el("option", { value: value, text: text }))));
}
const save = (answer, text) => el("button", { type: "button", class: "entry", "data-answer": answer, text: text });
const line = (...parts) => el("div", { class: "entry-line" }, ...parts);

export const otherEntries = (words) => el("details", { class: "entries", id: "entries" }, el("summary", { text: "Record something else" }),
  el("p", { class: "soft", text: "The day and the note above go with it." }),
  line(pick("entry-treatment", "Treated with", words.treatments), save("treatment", "Save treatment")),
  line(pick("entry-report", "The resident reported", words.reports), save("report", "Save report")),
  line(pick("entry-turnover", "Turnover", words.turnovers), save("turnover", "Save turnover")),
  line(save("refused", "Entry was refused"), save("note", "Only the note")));

/* The fields that go with an entry. */
export function otherEntry(answer) {
  if (answer === "treatment" || answer === "turnover") return { method: at(`entry-${answer}`).value };
  return answer === "report" ? { said: at("entry-report").value } : {};
}
