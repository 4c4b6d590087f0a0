/* The lists, the tools above them and the floor buttons, from the lists' JSON. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});

  function row(door, apart) {
    const top = S.el("span", { class: "row-top" },
      S.el("span", { class: "row-unit", text: door.u }), S.el("span", { class: "row-floor", text: door.f }),
      S.el("span", { class: "row-word", text: door.w }), S.el("span", { class: `pill c${door.c}`, text: door.p }));
    const foot = S.el("span", { class: "row-foot" },
      door.visit ? S.el("span", { class: "row-visit", text: door.visit }) : null,
      apart ? null : S.el("span", { title: door.worth, text: `find ${door.find}, ${door.saves}` }),
      door.rule ? S.el("span", { class: "tag", text: `ring: ${door.rule}` }) : null,
      door.duty ? S.el("span", { class: "tag", text: `duty: ${door.duty}` }) : null);
    return S.el("li", {},
      S.el("button", { type: "button", class: "row", "data-unit": door.u, "aria-pressed": String(door.u === S.now.selected) },
        S.el("span", { class: "row-rank", text: door.r }),
        S.el("span", { class: "row-middle" }, top, S.el("span", { class: "row-why", text: door.why }), foot.firstChild ? foot : null)));
  }

  function ask(change) {
    S.now.ask = Object.assign({ method: S.now.lists.method, limit: S.now.lists.limit, floor: S.now.lists.floor, only: S.now.lists.only }, change);
    S.tell("ask", S.now.ask);
  }
  S.askLists = ask;

  function tools() {
    const box = S.at("doors-tools");
    if (box.firstChild || !S.now.words) return;
    const method = S.el("select", { id: "method" }, ...S.now.words.methods.map(([value, words]) => S.el("option", { value: value, text: words })));
    const here = S.el("input", { type: "checkbox", id: "only-here" });
    method.addEventListener("change", () => ask({ method: method.value }));
    here.addEventListener("change", () => ask({ floor: here.checked ? S.now.floor : "" }));
    box.append(
      S.el("label", { class: "field" }, S.el("span", { text: "Looking with" }), method),
      S.el("label", { class: "tick" }, here, S.el("span", { text: "This floor only" })));
  }

  S.followFloor = function () {
    const here = S.at("only-here");
    if (here && here.checked && S.now.lists && S.now.lists.floor !== S.now.floor) ask({ floor: S.now.floor });
  };

  function part(title, hint, doors, apart) {
    const list = S.el("ol", { class: "rows" }, ...doors.map((door) => row(door, apart === true)));
    return S.el("section", { class: apart ? "apart" : "main-list" }, title ? S.el("h3", { text: `${title} (${doors.length})` }) : null, S.el("p", { class: "soft", text: hint }), list);
  }

  S.nextDoor = () => ((S.now.lists && S.now.lists.next) || []).find((door) => door.u !== S.now.selected);

  S.drawDoors = function (lists, selected) {
    const box = S.at("doors");
    if (!box || !lists) return;
    S.now.selected = selected || null;
    if (S.now.lists === lists && box.firstChild) {
      for (const node of box.querySelectorAll("[data-unit]")) node.setAttribute("aria-pressed", String(node.dataset.unit === selected));
      return;
    }
    S.now.lists = lists;
    const next = S.nextDoor();
    S.at("next-door").textContent = next ? `Next door: ${next.u}` : "No next door";
    tools();
    const active = document.activeElement;
    const held = active && box.contains(active) ? active.dataset.unit || active.id : null;
    const where = lists.floor ? " on this floor" : "";
    const parts = [];
    if (lists.next.length) {
      const first = part("", `Ranked by ${lists.by}${where}.`, lists.next, false);
      if (lists.more) {
        const more = S.el("button", { type: "button", id: "more", class: "quiet", text: `Show more (${lists.more} left)` });
        more.addEventListener("click", () => ask({ limit: lists.limit + 25 }));
        first.append(more);
      }
      parts.push(first);
    } else parts.push(S.el("p", { class: "soft", text: lists.only ? "No door to look at among the units that are shown. Choose “All units” over the plan." : `No door to look at${where}.` }));
    if (lists.asked.length) parts.push(part("Asked for", "Lower in the list, but the ring rule or a duty asks for them.", lists.asked, "asked"));
    if (lists.treat.length) parts.push(part("Treat", "Known infested and not treated since: no need to look, treat.", lists.treat, true));
    if (lists.revisit.length) parts.push(part("Revisit", "Treated and not yet cleared, or a visit of the watch; by the day it is due.", lists.revisit, true));
    box.replaceChildren(...parts);
    if (held) {
      const again = held === "more" ? S.at("more") : box.querySelector(`[data-unit="${CSS.escape(held)}"]`);
      if (again) again.focus({ preventScroll: true });
    }
  };

  S.drawFloors = function (lists, floor) {
    const box = S.at("floors");
    if (!box || !lists) return;
    S.now.floor = floor;
    if (!box.firstChild) {
      box.append(...lists.floors.map((one) => S.el("button", { type: "button", class: "floor-button", "data-floor": one.name },
        S.el("b", { text: one.title }), S.el("span", { class: "floor-class" }), S.el("span", { class: "floor-due" }))));
      if (lists.floors.length > 7) { /* a tower: shorter buttons, the whole name still said */
        box.classList.add("many");
        lists.floors.forEach((one, index) => { box.children[index].querySelector("b").textContent = one.name; });
      }
      if (lists.floors.length === 1) box.classList.add("only-one");
    }
    lists.floors.forEach(function (one, index) {
      const button = box.children[index];
      button.setAttribute("aria-pressed", String(one.name === floor));
      button.querySelector(".floor-class").className = `floor-class c${one.c}`;
      button.querySelector(".floor-class").textContent = one.words;
      button.querySelector(".floor-due").textContent = box.classList.contains("many") ? one.doors.replace("no doors", "none").replace(/ doors?/, "") : one.doors;
      button.setAttribute("aria-label", `${one.title}: highest chance ${one.words}, ${one.doors}`);
    });
    const chosen = box.querySelector('[aria-pressed="true"]');
    if (chosen && box.scrollWidth > box.clientWidth) box.scrollLeft = chosen.offsetLeft - box.clientWidth / 2 + chosen.offsetWidth / 2;
    S.followFloor();
  };
})();
