/* The import page. It keeps the table and what was said; the server reads the table anew each time. */
import { at, el } from "../web/elements.js";
import { here } from "../web/root.js";
import "../web/sign_again.js";

const now = { table: null, answers: {}, batch: "", busy: false };

const say = (problems) => at("problems").replaceChildren(...problems.map((words) => el("p", { class: "form-error", text: words })));
const hide = (...ids) => { for (const id of ids) at(id).hidden = true; };
const reach = (id) => { at(id).focus(); at(id).scrollIntoView({ block: "start" }); };

async function ask(path, sent) {
  if (now.busy) return null;
  now.busy = true;
  at("said").textContent = "Being read …";
  try {
    const reply = await fetch(here(path), { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(sent) });
    if (reply.status === 413) return { ok: false, problems: ["The file is too large for this page. Keep only the rows and columns that are needed."] };
    return await reply.json();
  } catch {
    return { ok: false, problems: ["The server did not answer. What you said is still here; try again."] };
  } finally {
    now.busy = false;
    at("said").textContent = "";
  }
}

const described = () => Object.assign({ answers: now.answers, batch: now.batch }, now.table);

async function read() {
  const reply = await ask("/import/read", described());
  if (!reply) return;
  say(reply.ok ? [] : reply.problems);
  if (!reply.ok) return;
  now.batch = reply.batch;
  hide("asked", "result", "done");
  if (reply.questions.length) questions(reply);
  else result(reply);
}

function begin(table) {
  now.table = table;
  now.answers = {};
  hide("asked", "result", "done");
  return read();
}

function questions(reply) {
  at("asked").hidden = false;
  at("asked-title").textContent = reply.columns ? "2. What the columns mean" : `2. Questions (${reply.open})`;
  at("questions").replaceChildren(...reply.questions.map((one, place) => {
    const select = el("select", { id: `choice-${place}` },
      one.suggestion ? null : el("option", { value: "", text: "Choose" }),
      ...one.choices.map((choice) => el("option", { value: choice.value, text: choice.words, selected: choice.value === one.suggestion })));
    const yes = el("button", { type: "button", class: "quiet", "aria-pressed": "false", "aria-label": `Yes, so: ${one.key}`, text: "Yes, so", click: () => {
      if (!select.value) return;
      yes.setAttribute("aria-pressed", String(yes.getAttribute("aria-pressed") !== "true"));
    } });
    select.addEventListener("change", () => yes.setAttribute("aria-pressed", String(select.value !== "")));
    return Object.assign(el("div", { class: "question" },
      el("div", {}, el("label", { for: `choice-${place}`, text: one.key }),
        el("p", { class: "soft", text: `${one.times} ${one.times === 1 ? "row" : "rows"}${one.topic === "units" ? ". No unit of the plan" : ""}` }),
        ...one.examples.map((text) => el("p", { class: "example", text }))),
      select, yes), { asked: one, select, yes });
  }));
  reach("asked-title");
}

at("on").addEventListener("click", () => {
  const rows = [...at("questions").children];
  const open = rows.filter((row) => row.yes.getAttribute("aria-pressed") !== "true");
  if (open.length) {
    say([`${open.length} of ${rows.length} questions are open: press “Yes, so” or choose another.`]);
    return open[0].select.focus();
  }
  for (const row of rows) (now.answers[row.asked.topic] ||= {})[row.asked.key] = row.select.value;
  return read();
});

function result(reply) {
  at("result").hidden = false;
  const more = reply.all_rows > reply.rows.length ? ` The first ${reply.rows.length} of ${reply.all_rows} are shown.` : "";
  at("counts").textContent = `${reply.new} rows will be taken in. ${reply.left_out}${more}`;
  at("repeats").replaceChildren(...reply.repeats.map((one) => el("li", { text: one })));
  at("take").hidden = !reply.new;
  at("rows").replaceChildren(...reply.rows.map((row) => el("tr", { class: row.out ? "out" : "" },
    el("td", { text: String(row.number) }), el("td", { text: row.original }), el("td", { text: row.as }))));
  reach("result-title");
}

at("take").addEventListener("click", async () => {
  const reply = await ask("/import/take", described());
  if (!reply) return;
  say(reply.ok ? [] : reply.problems);
  if (!reply.ok) return;
  now.batch = reply.batch;
  hide("asked", "result");
  at("done").hidden = false;
  at("back").hidden = false;
  at("done-words").textContent = `${reply.rows} rows are in the log. What you said is kept for the next file.`;
  reach("done-title");
});

at("back").addEventListener("click", async () => {
  const reply = await ask("/import/back", { batch: now.batch });
  if (!reply) return;
  say(reply.ok ? [] : reply.problems);
  if (!reply.ok) return;
  at("back").hidden = true;
  at("done-words").textContent = `${reply.rows} rows are taken back; they stay in the log and count no more.`;
  reach("done-title");
});

at("file").addEventListener("change", async () => {
  const file = at("file").files[0];
  if (!file) return;
  if (file.size > 2800000) return say(["The file is larger than 2.8 MB. Keep only the rows and columns that are needed."]);
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let start = 0; start < bytes.length; start += 32768) text += String.fromCharCode(...bytes.subarray(start, start + 32768));
  return begin({ file: btoa(text), file_name: file.name });
});
at("read").addEventListener("click", () => begin({ pasted: at("pasted").value }));
