/* The plan page: hands the drawing functions to Dash's clientside callbacks. */
import { pages, tell } from "../web/dash.js";
import { at } from "../web/elements.js";
import "../web/guard.js";
import "../web/sign_again.js";
import "../web/switch.js";
import "./answer.js";
import { drawArrows } from "./arrows.js";
import { drawBed } from "./bed.js";
import "./choosing.js";
import { drawDoors, drawFloors } from "./doors.js";
import { drawPast } from "./past.js";
import "./peek.js";
import { drawPlan, redrawPlan } from "./plan.js";
import { openAsked } from "./show.js";
import { state } from "./state.js";
import { drawWeeks, freshPast, freshWeeks } from "./time.js";
import { drawTrail } from "./trail.js";

Object.assign(pages, {
  plan: (...all) => {
    drawPlan(...all);
    openAsked();
    freshWeeks();
  },
  floors: (lists, floor) => { drawFloors(lists, floor); },
  doors: (lists, selected) => { drawDoors(lists, selected); },
  trail: (trail) => { drawTrail(trail); },
  arrows: (arrows) => { state.arrows = arrows; drawArrows(); },
  bed: (bed) => { state.bed = bed; drawArrows(); drawBed(); },
  past: (weeks) => { state.past = weeks; drawPast(weeks); freshPast(); },
  weeks: (weeks) => { drawWeeks(weeks); },
});

/* Another measure: what is typed stays, and the words are asked for anew. */
document.addEventListener("spread-voice", function (event) {
  if (!at("plan")) return;
  event.preventDefault();
  redrawPlan();
  tell("voice", Date.now());
});
