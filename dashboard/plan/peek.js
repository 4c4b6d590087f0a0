/* On a phone a unit's panel covers the plan. This lays the panel aside while its unit stays chosen, so that the
   arrows of its sources and the reach of its bed can be seen, and brings it back. */
import { at, el } from "../web/elements.js";
import { peek } from "./choosing.js";
import { unitOnPlan } from "./plan.js";
import { state } from "./state.js";
import { zoom } from "./zoom.js";

const NEAR = 18; /* pixels a metre at which the reach of a bed can be seen */

function back() {
  let button = at("peek-back");
  if (!button) {
    button = el("button", { type: "button", id: "peek-back" });
    at("page").append(button);
  }
  button.textContent = `Back to unit ${state.selected}`;
}

document.addEventListener("click", function (event) {
  if (event.target.closest("#peek")) {
    back();
    peek(true);
    const node = unitOnPlan(state.selected);
    if (!node) return;
    if (zoom.scale() < NEAR) zoom.by(NEAR / zoom.scale());
    node.scrollIntoView({ block: "center", inline: "center" });
    node.focus({ preventScroll: true });
  }
  if (event.target.closest("#peek-back")) {
    peek(false);
    at("peek").focus();
  }
});
