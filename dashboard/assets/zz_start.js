/* Loaded last: hands the drawing functions to Dash's clientside callbacks. */
(function () {
  "use strict";
  const S = window.Spread;
  let last = [];
  S.redrawPlan = () => S.drawPlan(...last);
  Object.assign(window.dash_clientside.spread, {
    plan: (...all) => {
      last = all;
      S.drawPlan(...all);
      S.openAsked();
      S.freshWeeks();
    },
    floors: (lists, floor) => { S.drawFloors(lists, floor); },
    doors: (lists, selected) => { S.drawDoors(lists, selected); },
    trail: (trail) => { S.drawTrail(trail); },
    arrows: (arrows) => { S.now.arrows = arrows; S.drawArrows(); },
    bed: (bed) => { S.now.bed = bed; S.drawArrows(); S.drawBed(); },
    past: (weeks) => { S.now.past = weeks; S.drawPast(weeks); },
    weeks: (weeks) => { S.drawWeeks(weeks); },
  });
})();
