/* Loaded last: hands the drawing functions to Dash's clientside callbacks. */
(function () {
  "use strict";
  const S = window.Spread;
  Object.assign(window.dash_clientside.spread, {
    plan: (geometry, floor, paint, selected) => { S.drawPlan(geometry, floor, paint, selected); },
    floors: (lists, floor) => { S.drawFloors(lists, floor); },
    doors: (lists, selected) => { S.drawDoors(lists, selected); },
    trail: (trail) => { S.drawTrail(trail); },
    arrows: (arrows) => { S.now.arrows = arrows; S.drawArrows(); },
    past: (weeks) => { S.drawPast(weeks); },
  });
})();
