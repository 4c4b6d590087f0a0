/* What the parts of the room page share: the unit, what is known of it, the draft of findings, and keeping an
   answer. The parts put what they draw on the same object, `Field.room`. */
(function () {
  "use strict";
  const F = window.Field, Q = F.queue, el = F.el, keep = F.keep;
  const unit = decodeURIComponent(location.pathname.replace(/^\/room\//, "").replace(/\/$/, ""));
  /* any: the sheet that all rooms share; room: the server's word on this one; last: what may be taken back. */
  const R = (F.room = { unit: unit, given: new URLSearchParams(location.search).get("from") || "", any: null, room: null, draft: null, last: null });

  R.key = (name) => `${name}.${Q.building ? Q.building.key : ""}`;
  R.say = (words) => { F.at("tell").textContent = words; F.at("tell").hidden = !words; if (words) F.at("main").scrollTop = 0; };
  R.button = (text, act, attributes) => { const node = el("button", Object.assign({ type: "button", text: text }, attributes)); node.addEventListener("click", () => act(node)); return node; };
  R.words = () => (R.room || R.any).words;
  R.sheet = () => (R.room || R.any).sheet;
  R.today = () => { const told = keep.get(R.key("day"), null); return told ? F.day(told.day, told.live, told.got) : ""; };

  Q.want = function () {
    const want = { room: unit };
    if (R.draft) Object.assign(want, { places: R.draft.places.join(", "), items: R.draft.items(), from: R.draft.from });
    return want;
  };

  R.load = function () {
    R.any = keep.get(R.key("any-room"), null);
    const kept = keep.get(R.key(`room.${unit}`), null);
    R.room = kept || null;
    R.draft = F.findings(unit, Q.building ? Q.building.key : "");
    R.draft.onFull = () => R.say("This phone has no room to keep what is entered. Free some space before you go on.");
    if (Q.building) R.draft.begin(R.today(), R.given);
    R.last = keep.get(R.key(`roomlast.${unit}`), null);
  };

  /* Keep an answer; returns its id, or nothing when the phone could not. */
  R.give = function (body, text, kind) {
    const when = R.today();
    if (!when) { R.say("The day is not known yet: open this page once with a connection."); return ""; }
    let id = "";
    try { id = Q.add(Object.assign({ unit: unit, when: when }, body), `${unit}: ${text}`); } catch {
      R.say("This phone has no room to keep that. It was not kept: free some space, or write it down.");
      return "";
    }
    R.say("");
    R.last = { id: id, words: `${unit}: ${text}`, kind: kind };
    keep.try(R.key(`roomlast.${unit}`), R.last);
    F.at("heard").textContent = `Kept. ${R.last.words}`;
    return id;
  };
})();
