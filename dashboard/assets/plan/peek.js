/* On a phone a unit's panel covers the plan. This lays the panel aside while its unit stays chosen, so that the
   arrows of its sources and the reach of its bed can be seen, and brings it back. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  const NEAR = 18; /* pixels a metre at which the reach of a bed can be seen */

  function back() {
    let button = S.at("peek-back");
    if (!button) {
      button = S.el("button", { type: "button", id: "peek-back" });
      S.at("page").append(button);
    }
    button.textContent = `Back to unit ${S.now.selected}`;
  }

  document.addEventListener("click", function (event) {
    if (event.target.closest("#peek")) {
      back();
      S.peek(true);
      const node = S.unitOnPlan(S.now.selected);
      if (!node) return;
      if (S.zoom.scale() < NEAR) S.zoom.by(NEAR / S.zoom.scale());
      node.scrollIntoView({ block: "center", inline: "center" });
      node.focus({ preventScroll: true });
    }
    if (event.target.closest("#peek-back")) {
      S.peek(false);
      S.at("peek").focus();
    }
  });
})();
