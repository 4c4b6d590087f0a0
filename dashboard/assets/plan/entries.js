/* What else may be recorded of a unit than a look: a treatment, a turnover, a refusal, a report, a note. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});

  function pick(id, words, options) {
    return S.el("label", { class: "field" }, S.el("span", { text: words }), S.el("select", { id: id }, ...options.map(([value, text]) => S.el("option", { value: value, text: text }))));
  }
  const save = (answer, text) => S.el("button", { type: "button", class: "entry", "data-answer": answer, text: text });
  const line = (...parts) => S.el("div", { class: "entry-line" }, ...parts);

  S.otherEntries = (words) => S.el("details", { class: "entries", id: "entries" }, S.el("summary", { text: "Record something else" }),
    S.el("p", { class: "soft", text: "The day and the note above go with it." }),
    line(pick("entry-treatment", "Treated with", words.treatments), save("treatment", "Save treatment")),
    line(pick("entry-report", "The resident reported", words.reports), save("report", "Save report")),
    line(pick("entry-turnover", "Turnover", words.turnovers), save("turnover", "Save turnover")),
    line(save("refused", "Entry was refused"), save("note", "Only the note")));

  /* The fields that go with an entry. */
  S.otherEntry = function (answer) {
    if (answer === "treatment" || answer === "turnover") return { method: S.at(`entry-${answer}`).value };
    return answer === "report" ? { said: S.at("entry-report").value } : {};
  };
})();
