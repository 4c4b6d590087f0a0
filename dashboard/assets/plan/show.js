/* The tools over the plan: its shape, what the colours tell, which units are meant, and the search. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});

  S.viewShown = () => { const views = (S.now.words || {}).views || {}; return views[(S.now.paint || {}).show || "chance"] || { say: "chance", classes: [] }; };

  function select(id, words, options, act) {
    const node = S.el("select", { id: id }, ...options.map(([value, text]) => S.el("option", { value: value, text: text })));
    node.addEventListener("change", () => act(node.value));
    return S.el("label", { class: "field" }, S.el("span", { text: words }), node);
  }

  S.show = function (change) {
    S.now.show = Object.assign({ show: "chance", only: "" }, S.now.show, change);
    S.tell("show", S.now.show);
    if ("only" in change) S.askLists({ only: change.only });
  };

  function shapes() {
    const names = [["one", "One floor"], ["all", "All floors"], ["section", "Section"]];
    if (S.now.geometry.floors.length === 1) names.splice(1, 1);
    const group = S.el("div", { class: "shapes", role: "group", "aria-label": "What is drawn" },
      ...names.map(([value, text]) => S.el("button", { type: "button", class: "shape", "data-shape": value, "aria-pressed": "false", text: text })));
    group.addEventListener("click", function (event) {
      const button = event.target.closest("[data-shape]");
      if (button) S.tell("shape", button.dataset.shape);
    });
    return group;
  }

  function search() {
    const units = Object.keys(S.now.geometry.titles);
    const input = S.el("input", { id: "find", type: "text", list: "find-codes", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", enterkeyhint: "go" });
    const told = S.el("p", { id: "find-told", class: "form-error", role: "alert" });
    const form = S.el("form", { role: "search", class: "find" },
      S.el("label", { class: "field" }, S.el("span", { text: "Find a unit" }), input), told,
      S.el("datalist", { id: "find-codes" }, ...units.map((unit) => S.el("option", { value: unit }))));
    const find = function () {
      const wanted = input.value.trim().toUpperCase();
      if (!wanted) return;
      const begin = units.filter((unit) => unit.toUpperCase().startsWith(wanted));
      const hit = units.find((unit) => unit.toUpperCase() === wanted) || (begin.length === 1 ? begin[0] : null);
      if (!hit) {
        told.textContent = begin.length ? `${begin.length} units begin so; type more of the code.` : `No unit ${input.value.trim()} here; the codes look like ${units[0]}.`;
        return;
      }
      told.textContent = "";
      S.cameFromPlan = true;
      S.revealNext = true;
      S.pick(hit);
    };
    form.addEventListener("submit", (event) => { event.preventDefault(); find(); });
    input.addEventListener("input", () => { told.textContent = ""; });
    return form;
  }

  S.drawTools = function () {
    const box = S.at("plan-tools");
    if (!box || !S.now.words || !S.now.geometry) return;
    if (!box.firstChild) {
      S.at("find-place").append(search());
      const views = Object.entries(S.now.words.views).map(([key, view]) => [key, view.name]);
      const back = S.el("button", { type: "button", id: "look-back", class: "quiet", "aria-expanded": "false", "aria-controls": "time-bar", text: "Look back" });
      back.addEventListener("click", () => S.lookBack(S.at("time-bar").hidden));
      box.append(shapes(), select("view", "Colours tell", views, (value) => S.show({ show: value })),
        select("only", "Only show", S.now.words.only, (value) => S.show({ only: value })), S.zoom.tools(), back);
    }
    for (const button of box.querySelectorAll("[data-shape]")) button.setAttribute("aria-pressed", String(button.dataset.shape === S.now.shape));
    S.at("floors").hidden = S.now.shape !== "one";
  };

  /* The legend of the view that is painted, and what a filter left over. */
  S.drawLegend = function () {
    const shown = S.now.then ? S.now.then.legend : (S.now.paint || {}).show || "chance";
    for (const part of document.querySelectorAll("#legend [data-legend]")) part.hidden = part.dataset.legend !== shown;
    const words = S.at("only-words"), paint = S.now.paint;
    if (!words) return;
    const on = paint.kept && !S.now.then, name = on ? (S.now.words.only.find((one) => one[0] === paint.only) || ["", ""])[1] : "";
    const some = on && paint.kept.length, floors = some ? [...new Set(paint.kept.map(S.floorsOf))] : [];
    const where = some && floors.length <= 4 ? `, on ${floors.map((floor) => floor[0].toLowerCase() + floor.slice(1)).join(", ")}` : "";
    const told = !on ? "" : some ? `${name}: ${paint.kept.length} of ${Object.keys(paint.units).length} units${where}; the others are drawn pale.` : `${name}: no unit. Choose “All units” to see the others.`;
    if (words.textContent !== told) words.textContent = told;
  };

  /* A link from another page may name a unit: /?unit=203 */
  S.openAsked = function () {
    if (S.askedOnce) return;
    S.askedOnce = true;
    const unit = new URLSearchParams(window.location.search).get("unit");
    if (unit && S.floorsOf(unit)) { S.revealNext = true; S.pick(unit); }
  };
})();
