/* The answer form. What was typed stays until it is kept; one press is one record, however often it is sent. */
(function () {
  "use strict";
  const S = (window.Spread = window.Spread || {});
  S.patience = 10000; /* ms until we say that no reply came */
  const SAME_PRESS_MS = 2500;
  let sent = null; /* {key, id, at, done} of the last press */
  let timer = null;
  let lastMethod = null;

  function newId() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  const chosen = (name) => { const one = document.querySelector(`#form input[name="${name}"]:checked`); return one ? one.value : ""; };

  function choice(type, name, value, words, hint, checked) {
    return S.el("label", { class: "choice" }, S.el("input", { type: type, name: name, value: value, checked: checked }),
      S.el("span", {}, S.el("b", { text: words }), hint ? S.el("small", { text: hint }) : null));
  }

  S.startForm = function (unit) {
    const words = S.now.words, box = S.at("form");
    if (!words || !box) return;
    clearTimeout(timer);
    const ranking = S.at("method") ? S.at("method").value : words.methods[0][0];
    const method = S.el("select", { id: "answer-method" }, ...words.methods.map(([value, text]) => S.el("option", { value: value, text: text })));
    method.value = lastMethod || ranking;
    const days = S.el("label", { class: "field", id: "days-field" }, S.el("span", { text: "Days the monitors stood" }), S.el("input", { id: "answer-days", type: "number", min: 1, max: 120, value: 14, inputmode: "numeric" }));
    const note = S.el("input", { id: "answer-note", type: "text", maxlength: 500, autocomplete: "off" });
    const big = (value, text, hint) => S.el("button", { type: "button", class: `answer ${value}`, "data-answer": value }, S.el("b", { text: text }), S.el("small", { text: hint }));
    const found = big("open-found", "Signs found", "then how heavy");
    found.setAttribute("aria-expanded", "false");
    found.setAttribute("aria-controls", "found-part");
    const details = S.el("div", { id: "found-part", class: "found-part", hidden: true },
      S.el("fieldset", {}, S.el("legend", { text: "How heavy" }), S.el("div", { class: "choices" },
        ...words.levels.map(([value, text, hint]) => choice("radio", "level", value, text, hint, false)), choice("radio", "level", "", "Not judged", "", true))),
      S.el("fieldset", {}, S.el("legend", { text: "What was seen" }), S.el("div", { class: "choices" },
        ...words.evidence.map(([value, text]) => choice("checkbox", "evidence", value, text, "", false)))),
      S.el("button", { type: "button", class: "answer save-found", "data-answer": "found" }, S.el("b", { text: `Save: signs found in ${unit}` })));
    const monitor = () => { days.hidden = !words.monitors.includes(method.value); };
    method.addEventListener("change", () => { lastMethod = method.value; monitor(); });
    box.replaceChildren(S.el("div", { class: "answer-form", role: "group", "aria-labelledby": "form-title" },
      S.el("h3", { id: "form-title", text: "Record an answer" }),
      S.el("div", { class: "form-fields" },
        S.el("label", { class: "field" }, S.el("span", { text: "Looked with" }), method), days,
        S.el("label", { class: "field" }, S.el("span", { text: "Day" }), S.el("input", { id: "answer-day", type: "date", value: words.today, max: words.today })),
        S.el("label", { class: "field wide" }, S.el("span", { text: "Note (optional)" }), note)),
      S.el("div", { class: "answers" }, found, big("clear", "Nothing found", "saved at once"), big("nobody", "Nobody home", "saved at once")),
      details, S.otherEntries(words), S.el("p", { id: "form-error", role: "alert", class: "form-error" })));
    monitor();
    sent = sent && sent.done ? sent : null;
  };

  function toggleFound() {
    const part = S.at("found-part"), button = document.querySelector('[data-answer="open-found"]');
    part.hidden = !part.hidden;
    button.setAttribute("aria-expanded", String(!part.hidden));
    if (!part.hidden) { part.querySelector("input").focus({ preventScroll: true }); part.scrollIntoView({ block: "nearest" }); }
  }

  function busy(on) {
    for (const button of document.querySelectorAll("#form [data-answer]")) button.setAttribute("aria-disabled", String(on));
  }

  S.sendAnswer = send;
  function send(body) {
    const key = JSON.stringify(body);
    const now = Date.now();
    /* The same press again: while waiting, after no reply, or a slow double click, it is the same record. */
    if (sent && sent.key === key) {
      if (!sent.done && sent.waiting) return;
      if (sent.done && now - sent.at < SAME_PRESS_MS) return;
    }
    const id = sent && sent.key === key && !sent.done ? sent.id : newId();
    sent = { key: key, id: id, at: now, done: false, waiting: true };
    busy(true);
    const error = S.at("form-error");
    if (error) error.textContent = "";
    clearTimeout(timer);
    timer = setTimeout(function () {
      sent.waiting = false;
      busy(false);
      problem("No reply yet. What you typed is still here; press again and it will count once.");
    }, S.patience);
    S.tell("answer", Object.assign({ id: id, sent: now }, body));
  }

  function problem(words) {
    const error = S.at("form-error");
    if (error && S.now.selected) error.textContent = words;
    else say(words, null);
  }

  function say(words, reply) {
    const bar = S.at("said-bar");
    bar.classList.remove("quiet-bar");
    S.at("said").textContent = words;
    const undo = S.at("undo");
    undo.hidden = !(reply && reply.undo);
    undo.dataset.undoes = (reply && reply.undo) || "";
    undo.dataset.unit = (reply && reply.unit) || "";
    S.at("next-door").hidden = !reply;
  }

  S.pages.words = function (words) { S.now.words = words; };

  S.pages.reply = function (reply) {
    if (!reply || !sent || reply.id !== sent.id) return;
    clearTimeout(timer);
    busy(false);
    sent.waiting = false;
    if (!reply.ok) { problem(reply.words); return; }
    sent.done = true;
    sent.at = Date.now();
    say(reply.words, reply);
    if (S.now.selected === reply.unit) {
      const again = S.el("button", { type: "button", class: "quiet", id: "another", text: `Record another answer for ${reply.unit}` });
      again.addEventListener("click", () => { S.startForm(reply.unit); S.at("answer-method").focus(); });
      const held = S.at("form").contains(document.activeElement);
      S.at("form").replaceChildren(S.el("p", { class: "kept", text: reply.undo ? "Answer kept." : "Kept." }), again);
      if (held) S.at("panel-title").focus({ preventScroll: true });
    }
  };

  document.addEventListener("click", function (event) {
    const button = event.target.closest("#form [data-answer]");
    if (button && button.getAttribute("aria-disabled") !== "true") {
      const answer = button.dataset.answer;
      if (answer === "open-found") { toggleFound(); return; }
      const body = { unit: S.now.selected, answer: answer, note: S.at("answer-note").value };
      const day = S.at("answer-day").value;
      if (!day && S.at("answer-day").validity.badInput) { problem("The day could not be read; choose it again."); return; }
      if (day && day !== S.now.words.today) body.day = day;
      if (answer === "found" || answer === "clear") body.method = S.at("answer-method").value;
      else Object.assign(body, S.otherEntry(answer));
      if (body.method && !S.at("days-field").hidden) body.days = S.at("answer-days").value;
      if (answer === "found") {
        body.level = chosen("level");
        body.evidence = Array.from(document.querySelectorAll('#form input[name="evidence"]:checked'), (one) => one.value);
      }
      send(body);
    }
    const undo = event.target.closest("#undo");
    const back = event.target.closest("#panel-history [data-undoes]");
    if (back && !back.dataset.sure) { /* asked twice: a row that was taken back stays so */
      back.dataset.sure = "yes";
      back.textContent = "Take back: press again";
      setTimeout(() => { if (back.isConnected) { delete back.dataset.sure; back.textContent = "Take back"; } }, 5000);
    } else if (back) send({ unit: S.now.selected, answer: "undo", undoes: back.dataset.undoes });
    if (undo) { undo.hidden = true; send({ unit: undo.dataset.unit, answer: "undo", undoes: undo.dataset.undoes }); }
    if (event.target.closest("#hide-said")) S.at("said-bar").classList.add("quiet-bar");
    if (event.target.closest("#next-door")) {
      S.at("said-bar").classList.add("quiet-bar");
      const next = S.nextDoor();
      if (next) S.pick(next.u);
    }
  });
})();
