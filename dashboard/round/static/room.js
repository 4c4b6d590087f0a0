/* The room page: the sheet item by item, what was found, the treatment, the traps, and what clearance lacks.
   Everything is answered through the same queue as the round, so it works without a connection. */
(function () {
  "use strict";
  const F = window.Field, Q = F.queue, el = F.el, keep = F.keep;
  const unit = decodeURIComponent(location.pathname.replace(/^\/room\//, "").replace(/\/$/, ""));
  const given = new URLSearchParams(location.search).get("from") || "";
  const FOOT = 0.3048;
  let data = null, room = null, D = null, last = null, opened = {}, built = "", way = "thorough-visual";

  const key = (name) => `${name}.${Q.building ? Q.building.key : ""}`;
  const say = (words) => { F.at("tell").textContent = words; F.at("tell").hidden = !words; if (words) F.at("main").scrollTop = 0; };
  const button = (text, act, attributes) => { const node = el("button", Object.assign({ type: "button", text: text }, attributes)); node.addEventListener("click", () => act(node)); return node; };
  const words = () => (room || data).words;
  const sheet = () => (room || data).sheet;
  const today = () => { const told = keep.get(key("day"), null); return told ? F.day(told.day, told.live, told.got) : ""; };

  Q.want = function () {
    const want = { room: unit };
    if (D) Object.assign(want, { places: D.places.join(", "), items: D.items(), from: D.from });
    return want;
  };

  function load() {
    data = keep.get(key("any-room"), null);
    const kept = keep.get(key(`room.${unit}`), null);
    room = kept || null;
    D = F.findings(unit, Q.building ? Q.building.key : "");
    D.onFull = () => say("This phone has no room to keep what is entered. Free some space before you go on.");
    if (Q.building) D.begin(today(), given);
    last = keep.get(key(`roomlast.${unit}`), null);
  }

  /* -- where the unit stands -- */
  function drawState() {
    F.at("unit").replaceChildren(el("small", { text: "Unit " }), unit);
    document.title = `${unit} · room sheet`;
    F.at("building").textContent = Q.building ? Q.building.name : "";
    const ready = !!(room || data);
    F.at("wait").hidden = ready;
    if (!ready) F.at("wait").textContent = Q.online ? "Getting the room …" : "No connection, and this phone has no room sheet yet. Open this page once with a connection.";
    for (const name of ["look", "treat", "traps", "follow"]) F.at(`part-${name}`).hidden = !ready;
    if (!room) { F.at("state").replaceChildren(ready ? el("p", { class: "soft", text: "What is known of this unit comes with the connection. The sheet is here." }) : ""); return; }
    F.at("floor").textContent = room.floor;
    F.at("state").replaceChildren(
      el("p", { class: "tags" }, el("span", { class: `chance c${room.class}` }, el("b", { text: room.percent }), el("span", { text: `${room.chance_words} chance` })),
        el("span", { class: "tag stand", text: room.followup.title })),
      el("ul", { class: "known" }, shortly().map((one) => el("li", { text: F.local(one) }))));
  }

  /* Where it stands and when to come; what clearance lacks is told in full under follow-up. */
  function shortly() {
    const one = room.followup;
    if (one.state === "looked-for") return [room.why];
    const said = [one.words[0]];
    if (one.lacks.length) said.push(`Clearance still lacks ${F.many(one.lacks.length, "thing", "things")}: see follow-up.`);
    if (one.visit) said.push(one.words[one.words.length - 1]);
    return said;
  }

  /* -- look -- */
  function drawPlaces() {
    const kinds = D.places.length ? D.places : sheet().places.map((place) => place.kind);
    const change = (more) => { D.setPlaces(more); built = ""; drawLook(); Q.send(); };
    return el("div", { class: "places" }, el("span", { class: "soft", text: "People sleep on" }),
      kinds.map((kind, i) => button(`${placeNames(kinds)[i]} ×`, () => change(kinds.filter((_, other) => other !== i)), { "aria-label": `Take away ${placeNames(kinds)[i]}`, disabled: kinds.length === 1, "data-place": kind })),
      button("+ bed", () => change([...kinds, "bed"]), { class: "quiet", "data-more": "bed" }), button("+ sofa", () => change([...kinds, "sofa"]), { class: "quiet", "data-more": "sofa" }));
  }
  function placeNames(kinds) {
    const many = (kind) => kinds.filter((one) => one === kind).length > 1;
    return kinds.map((kind, i) => many(kind) ? `${kind} ${kinds.slice(0, i + 1).filter((one) => one === kind).length}` : kind);
  }
  /* An item of one place is written without it; of several, each is its own finding. */
  function placesOf(row) {
    const all = placeNames(D.places.length ? D.places : sheet().places.map((place) => place.kind));
    const group = row.group === "bed" ? "bed" : row.group === "seating" ? "sofa" : "";
    const mine = row.group === "home" ? [] : all.filter((name) => !group || name.startsWith(group));
    return mine.length > 1 ? mine : [""];
  }
  function told(row) {
    const found = D.of(row.code);
    if (!found.length) return "";
    return found.map((one) => [one.place, one.evidence.map((sign) => (words().evidence.find(([value]) => value === sign) || [sign, sign])[1].toLowerCase()).join(" + "), one.count ? String(one.count) : "", one.state || "", !one.evidence.length && !one.state ? "nothing seen" : ""].filter(Boolean).join(", ")).join("; ");
  }
  function drawLook() {
    if (!sheet()) return;
    const names = (D.places.length ? D.places : sheet().places.map((place) => place.kind)).join();
    const now = `${names}|${room ? room.sheet.rows.map((row) => row.code).join() : "any"}`;
    if (built === now) { for (const row of rows()) refresh(row); return; }
    built = now;
    const known = room ? sheet().known : [];
    F.at("look").replaceChildren(
      known.length ? el("ul", { class: "known" }, known.map((one) => el("li", { text: F.local(one) }))) : "",
      drawPlaces(),
      el("p", { class: "soft", text: "Likeliest first. Press Nothing where you looked and saw nothing, or the name to read on and write down what was seen." }),
      el("ol", { class: "items" }, sheet().rows.map(itemRow)),
      el("h2", { text: "Traps and covers" }), el("ol", { class: "items" }, sheet().checks.map(itemRow)),
      el("details", {}, el("summary", { text: "What holds for the whole room" }), el("ul", { class: "known" }, sheet().notes.map((note) => el("li", {}, F.local(note.text), el("small", { class: "soft", text: ` ${note.source}` }))))));
  }
  const rows = () => sheet() ? [...sheet().rows, ...sheet().checks] : [];
  function itemRow(row) {
    const name = el("button", { type: "button", class: "item-name", "aria-expanded": "false", "data-item": row.code }, el("b", { text: row.name }), el("small", { "data-told": row.code, text: "" }));
    const nothing = button("Nothing", () => {
      const mine = placesOf(row), seen = D.of(row.code);
      if (seen.length) for (const one of seen) D.drop(row.code, one.place);
      else for (const place of mine) D.put(row.code, place, { looked: true });
      refresh(row);
      opened[row.code] && fillItem(row);
      drawThumb();
    }, { "aria-pressed": "false", "data-nothing": row.code, "aria-label": `${row.name}: nothing seen` });
    name.addEventListener("click", () => {
      const body = F.at(`item-${row.code}`);
      body.hidden = !body.hidden;
      opened[row.code] = !body.hidden;
      name.setAttribute("aria-expanded", String(!body.hidden));
      if (!body.hidden) fillItem(row);
    });
    const node = el("li", { class: "item" }, el("div", { class: "item-head" }, name, nothing), el("div", { id: `item-${row.code}`, class: "item-body", hidden: true }));
    setTimeout(() => refresh(row), 0);
    return node;
  }
  function refresh(row) {
    const line = document.querySelector(`[data-told="${row.code}"]`);
    if (!line) return;
    const words = told(row), seen = D.of(row.code);
    line.textContent = words || row.ring_words;
    line.parentNode.classList.toggle("has-find", seen.some((one) => one.evidence.length));
    const nothing = document.querySelector(`[data-nothing="${row.code}"]`);
    nothing.setAttribute("aria-pressed", String(seen.length > 0 && seen.every((one) => !one.evidence.length && !one.state)));
    nothing.textContent = seen.some((one) => one.evidence.length || one.state) ? "Clear this" : "Nothing";
    nothing.setAttribute("aria-label", nothing.textContent === "Nothing" ? `${row.name}: nothing seen` : `${row.name}: take back what was written`);
  }
  function fillItem(row) {
    const part = (title, text, more) => text ? el("div", {}, el("dt", { text: title }), el("dd", { text: F.local(text) }, more || "")) : null;
    F.at(`item-${row.code}`).replaceChildren(
      el("dl", {}, part("Look", row.look), part("Counts", row.evidence), part("Usual", row.treat), part("Product", row.product), part("Care", row.caution), part("Last", row.last), part("Source", row.confidence ? `${row.source} (${row.confidence})` : row.source)),
      ...placesOf(row).map((place) => findingForm(row, place)));
  }
  function findingForm(row, place) {
    const one = D.at(row.code, place) || { evidence: [] };
    const put = (change) => { D.put(row.code, place, change); refresh(row); drawThumb(); };
    const name = place ? `${row.name}, ${place}` : row.name;
    const sign = ([value, text]) => button(text, () => {
      const now = D.at(row.code, place) || { evidence: [] };
      put({ evidence: now.evidence.includes(value) ? now.evidence.filter((other) => other !== value) : [...now.evidence, value] });
      fillItem(row);
    }, { "aria-pressed": String(one.evidence.includes(value)), "data-sign": value });
    const state = ([value, text]) => button(text, () => { put({ state: (D.at(row.code, place) || {}).state === value ? "" : value }); fillItem(row); }, { "aria-pressed": String(one.state === value), "data-state": value });
    const input = (label, attributes, change) => {
      const node = el("input", Object.assign({ type: "text", autocomplete: "off" }, attributes));
      node.addEventListener("change", () => change(node.value.trim()));
      return el("label", { class: "set" }, el("span", { text: label }), node);
    };
    const number = (text) => { const value = Number(text.replace(",", ".")); return text && Number.isFinite(value) ? value : undefined; };
    const stage = el("select", { "data-stage": row.code }, [["", "not said"], ...words().stages].map(([value, text]) => el("option", { value: value, text: text, selected: (one.stage || "") === value })));
    stage.addEventListener("change", () => put({ stage: stage.value }));
    const far = one.metres === undefined ? "" : F.feet ? Math.round(one.metres / FOOT * 10) / 10 : one.metres;
    return el("fieldset", { "data-place-of": place }, el("legend", { text: place ? `Seen at ${place}` : "Seen here" }),
      row.group === "check" ? el("div", { class: "seen", role: "group", "aria-label": `State of ${name}` }, statesOf(row.code).map(state)) : null,
      el("div", { class: "seen", role: "group", "aria-label": `Signs at ${name}` }, words().evidence.map(sign)),
      one.evidence.length ? el("div", { class: "two" },
        input("Counted", { inputmode: "numeric", value: one.count === undefined ? "" : one.count, "data-count": row.code }, (text) => put({ count: number(text) === undefined ? undefined : Math.round(number(text)) })),
        el("label", { class: "set" }, el("span", { text: "Stage" }), stage),
        input(F.feet ? "Feet from the bed" : "Metres from the bed", { inputmode: "decimal", value: far, "data-far": row.code }, (text) => put({ metres: number(text) === undefined ? undefined : Math.round(number(text) * (F.feet ? FOOT : 1) * 100) / 100 })),
        input("Photo file", { value: one.photo || "", placeholder: "photos/IMG_1.jpg", "data-photo": row.code }, (text) => put({ photo: text }))) : null);
  }

  /* A trap does not tear and a cover is not displaced. */
  const statesOf = (code) => words().states.filter(([value]) => value !== (code === "encasement" ? "displaced" : code === "interceptors" ? "torn" : ""));

  /* -- saving what was found -- */
  function drawThumb() {
    const looked = new Set(D ? D.items().map((one) => one.item) : []).size, all = rows().length;
    const looking = F.at("part-look").open && looked > 0 && (D.changed || !D.saved);
    F.at("save").hidden = !looking;
    F.at("save").textContent = `${D && D.saved ? "Save again" : "Save findings"}: ${looked} of ${all} items`;
    F.at("last").hidden = !last;
    if (last) { F.at("last-words").textContent = last.words; F.at("undo").setAttribute("aria-label", `Undo: ${last.words}`); }
    F.at("thumb").hidden = F.at("save").hidden && F.at("last").hidden;
  }
  function openJudge() {
    room && delete room.proposal;
    way = (D.items().length && way) || "thorough-visual";
    drawJudge();
    F.at("judge").showModal();
    F.at("judge-title").focus();
    Q.send();
  }
  function drawJudge() {
    const proposal = room && room.proposal, W = words(), untouched = rows().filter((row) => row.group !== "check" && !D.of(row.code).length);
    const nothing = D.items().every((one) => !one.evidence.length);
    F.at("proposal").textContent = !Q.online ? "No connection. Saved as proposed, the level is worked out when it is sent; or choose one yourself."
      : !proposal ? "Asking what it amounts to …" : proposal.wrong || proposal.words;
    F.at("proposal").className = proposal && proposal.wrong ? "wrong-words" : "";
    F.at("rest").replaceChildren(untouched.length ? button(`I looked at the other ${F.many(untouched.length, "item", "items")} too: nothing seen`, () => {
      for (const row of untouched) for (const place of placesOf(row)) D.put(row.code, place, { looked: true });
      room && delete room.proposal;
      for (const row of untouched) refresh(row);
      drawJudge();
      drawThumb();
      Q.send();
    }, { class: "quiet wide", id: "rest-nothing" }) : "");
    F.at("how").replaceChildren(...W.looks.map(([value, text]) => button(text, () => { way = value; drawJudge(); }, { "aria-pressed": String(way === value), "data-way": value })));
    const asProposed = !proposal ? "As proposed" : proposal.found === "no" ? "As proposed: nothing found" : proposal.level ? `As proposed: ${proposal.level_words.toLowerCase()}` : proposal.found === "yes" ? "As proposed: signs, no level" : "As proposed: not sure";
    F.at("levels").replaceChildren(
      button(asProposed, () => saveFindings("proposed", proposal ? asProposed.slice(13) : "level as proposed"), { class: "wide main-answer", "data-level": "proposed" }),
      ...W.levels.map(([value, text, hint]) => { const node = button("", () => saveFindings(value, text.toLowerCase()), { "data-level": value }); node.append(el("b", { text: text }), el("small", { text: hint })); return node; }),
      button("Signs, no level", () => saveFindings("signs", "signs found, no level"), { "data-level": "signs", disabled: nothing }),
      button("Not sure", () => saveFindings("unsure", "not sure"), { "data-level": "unsure" }),
      nothing ? button("Nothing found", () => saveFindings("nothing", "nothing found"), { class: "wide", "data-level": "nothing" }) : "");
  }
  function give(body, text, kind) {
    const when = today();
    if (!when) { say("The day is not known yet: open this page once with a connection."); return ""; }
    let id = "";
    try { id = Q.add(Object.assign({ unit: unit, when: when }, body), `${unit}: ${text}`); } catch {
      say("This phone has no room to keep that. It was not kept: free some space, or write it down.");
      return "";
    }
    say("");
    last = { id: id, words: `${unit}: ${text}`, kind: kind };
    keep.try(key(`roomlast.${unit}`), last);
    F.at("heard").textContent = `Kept. ${last.words}`;
    return id;
  }
  function saveFindings(level, text) {
    const id = give({ answer: "room", method: way, level: level, items: D.items(), from: D.from }, `room sheet, ${text}`, "room");
    F.at("judge").close();
    if (!id) return;
    D.wasSaved(id, today());
    F.at("part-look").open = false;
    draw();
    Q.send();
  }
  function undo() {
    if (!last) return;
    if (!Q.undoRefused(last.id)) {
      try { Q.add({ unit: unit, answer: "undo", undoes: last.id, when: today() }, `${unit}: taken back`); } catch { say("This phone has no room to keep that. Nothing was taken back."); return; }
    }
    if (last.kind === "room") D.unsave();
    last = null;
    keep.drop(key(`roomlast.${unit}`));
    draw();
    Q.send();
  }

  /* -- treat -- */
  const list = (title, lines, open) => lines.length ? el("details", { open: open }, el("summary", { text: title }), el("ul", { class: "known" }, lines.map((line) => el("li", { text: F.local(line) })))) : null;
  function drawTreat() {
    const plan = room && room.plan, W = words();
    const method = keepChoice("treat-method", W.treatments);
    const parts = [];
    if (!room) parts.push(el("p", { class: "soft", text: "The plan comes with the connection." }));
    else if (plan.none) parts.push(el("p", { text: plan.none }));
    else parts.push(
      el("p", {}, el("b", { text: `${plan.level} level` }), ` (${plan.basis}). About ${plan.minutes} minutes (${plan.minutes_span}).`),
      ...plan.notes.map((note) => el("p", { class: "soft", text: note })),
      el("p", { class: "tell-soft", text: plan.cautions[0] }),
      el("ol", { class: "steps" }, plan.steps.map((step) => el("li", {}, el("b", { text: step.place ? `${step.name}, ${step.place}` : step.name }), el("p", { class: "soft", text: F.local(step.why) }), el("p", { text: F.local(step.do) }),
        step.product ? el("p", {}, el("span", { class: "soft", text: "Product: " }), step.product) : null, step.caution ? el("p", {}, el("span", { class: "soft", text: "Care: " }), F.local(step.caution)) : null))),
      el("p", { text: plan.product }),
      list("Bring", [...plan.materials.map(([name, count, more]) => `${name}${count === null ? "" : `: ${count}`} (${more})`), ...plan.tools]),
      list("The resident prepares", plan.prepare), list("The resident must not", plan.must_not), list("Cautions", plan.cautions.slice(1)));
    parts.push(el("h2", { text: "Done?" }), el("label", { class: "set" }, el("span", { text: "Treated by" }), method),
      button("Treatment done: record it", () => {
        const text = W.treatments.find(([value]) => value === method.value)[1].toLowerCase();
        if (give({ answer: "treated", method: method.value }, `treated, ${text}`, "treated")) { F.at("part-treat").open = false; draw(); Q.send(); }
      }, { class: "wide strong", id: "treated" }));
    F.at("treat").replaceChildren(...parts.filter(Boolean));
  }
  const chosen = {};
  function keepChoice(id, options) {
    const node = el("select", { id: id }, options.map(([value, text]) => el("option", { value: value, text: text, selected: chosen[id] === value })));
    node.addEventListener("change", () => { chosen[id] = node.value; });
    return node;
  }

  /* -- traps -- */
  const traps = { days: "14", caught: "0", states: {} };
  function drawTraps() {
    const W = words(), method = keepChoice("trap-method", W.traps);
    const field = (label, id, value, change) => { const node = el("input", { id: id, type: "text", inputmode: "numeric", autocomplete: "off", value: value }); node.addEventListener("input", () => change(node.value.trim())); return el("label", { class: "set" }, el("span", { text: label }), node); };
    const record = button("", () => saveTraps(method.value), { class: "wide strong", id: "traps-save" });
    const name = () => { record.textContent = Number(traps.caught) > 0 ? `Record: ${traps.caught} caught` : "Record: a clean period"; };
    name();
    const state = (code, title, place) => el("div", {}, el("p", { class: "soft", text: place ? `${title}, ${place}` : title }),
      el("div", { class: "seen", role: "group", "aria-label": place ? `${title}, ${place}` : title }, statesOf(code).map(([value, text]) => button(text, (node) => {
        const id = `${code}|${place}`;
        traps.states[id] = traps.states[id] === value ? "" : value;
        for (const other of node.parentNode.children) other.setAttribute("aria-pressed", String(other.dataset.trapState === traps.states[id]));
      }, { "aria-pressed": String(traps.states[`${code}|${place}`] === value), "data-trap-state": value, "data-code": code }))));
    const beds = placeNames(D.places.length ? D.places : sheet().places.map((one) => one.kind)).filter((one) => one.startsWith("bed"));
    F.at("traps").replaceChildren(
      el("label", { class: "set" }, el("span", { text: "Which traps" }), method),
      el("div", { class: "two" }, field("Days they stood", "trap-days", traps.days, (text) => { traps.days = text; }), field("Bugs caught", "trap-caught", traps.caught, (text) => { traps.caught = text; name(); })),
      state("interceptors", "Traps found", ""), ...(beds.length > 1 ? beds : [""]).map((place) => state("encasement", "Encasements found", place)),
      el("p", { class: "soft", text: "A period counts towards clearance only with its days, and with the traps where they were put." }),
      record);
  }
  function saveTraps(method) {
    const days = Number(traps.days), caught = Number(traps.caught);
    if (!Number.isInteger(days) || days < 1) { say("Write the days that the traps stood as a whole number, such as 14."); return; }
    if (!Number.isInteger(caught) || caught < 0) { say("Write the bugs caught as a whole number; 0 if none."); return; }
    const items = Object.entries(traps.states).filter(([, value]) => value).map(([id, value]) => { const [item, place] = id.split("|"); return Object.assign({ item: item, evidence: [], state: value }, place ? { place: place } : {}); });
    if (!give({ answer: "traps", method: method, days: days, caught: caught, items: items }, caught ? `traps read, ${caught} caught` : "traps read, a clean period", "traps")) return;
    traps.states = {};
    traps.caught = "0";
    F.at("part-traps").open = false;
    draw();
    Q.send();
  }

  /* -- follow-up -- */
  function drawFollow() {
    if (!room) { F.at("follow").replaceChildren(el("p", { class: "soft", text: "It comes with the connection." })); return; }
    const one = room.followup;
    F.at("follow").replaceChildren(
      el("p", {}, el("b", { class: "stand", text: one.title })),
      el("ul", { class: "known" }, one.words.map((line) => el("li", { text: F.local(line) }))),
      one.lacks.length ? el("div", {}, el("h2", { text: "Clearance still lacks" }), el("ul", { class: "known", id: "lacks" }, one.lacks.map((lack) => el("li", { "data-lack": lack.code, text: lack.words })))) : "",
      one.visit ? el("div", {}, el("h2", { text: "Next visit" }), el("p", { id: "visit", text: `${one.visit.earliest} to ${one.visit.latest}, best ${one.visit.target}` })) : "",
      one.notes.length ? el("div", {}, el("h2", { text: "Not counted" }), el("ul", { class: "known" }, one.notes.map((line) => el("li", { text: line })))) : "",
      el("p", { class: "soft", text: room.never }));
  }

  function draw() {
    drawState();
    if (room || data) { drawLook(); drawTreat(); if (!F.at("traps").contains(document.activeElement)) drawTraps(); drawFollow(); drawThumb(); }
    Q.show();
  }

  Q.onReply = function (reply) {
    keep.try(key("day"), { day: reply.day, live: reply.live, got: Date.now() });
    if (!D || !reply.room) { if (!D) load(); }
    if (reply.room) {
      const first = !room;
      if (!keep.get(key("any-room"), null)) fetchAny();
      if (!D.begun) { load(); D.begun = true; }
      room = reply.room;
      const kept = Object.assign({}, room);
      delete kept.proposal;
      keep.try(key(`room.${unit}`), kept);
      if (room.places_wrong) say(room.places_wrong);
      if (first) openFirst();
      if (F.at("judge").open) drawJudge();
    } else if (reply.version !== undefined && !room) {
      say(`This building has no unit ${unit}. Go back to the round and choose a door.`);
    }
    if (reply.busy) setTimeout(Q.send, 4000);
  };
  Q.onChange = function () { if (F.at("judge").open) { drawJudge(); Q.show(); } else draw(); };
  function fetchAny() {
    fetch("/room/sheet.json").then((reply) => reply.json()).then((any) => keep.try(`any-room.${any.building.key}`, any)).catch(() => {});
  }
  function openFirst() {
    const status = given || !room ? "look" : room.status === "treat" ? "treat" : room.status === "revisit" ? "traps" : "look";
    if (!document.querySelector("main > details[open]")) F.at(`part-${status}`).open = true;
  }

  for (const name of ["look", "treat", "traps", "follow"]) F.at(`part-${name}`).addEventListener("toggle", drawThumb);
  document.addEventListener("click", function (event) {
    if (event.target.closest("#save")) openJudge();
    if (event.target.closest("#judge-close")) F.at("judge").close();
    if (event.target.closest("#undo")) undo();
  });

  load();
  if (!F.storageWorks()) say("This browser keeps nothing (private window?): an answer could not wait here, so none is taken. Open it in an ordinary window.");
  draw();
  if (room || data) openFirst();
  Q.send();
})();
