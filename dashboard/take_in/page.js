/* The import page. It keeps the table and what was said; the server reads the table anew each time. */
import { at, el } from "../web/elements.js";
import { ask as asking } from "../web/ask.js";
import * as questions from "../web/questions.js";
import "../web/sign_again.js";

const now = { table: null, answers: {}, batch: "", busy: false, asked: null };

const say = (problems) => at("problems").replaceChildren(...problems.map((words) => el("p", { class: "form-error", text: words })));
const hide = (...ids) => { for (const id of ids) at(id).hidden = true; };
const reach = (id) => { at(id).focus(); at(id).scrollIntoView({ block: "start" }); };

async function ask(path, sent) {
  if (now.busy) return null;
  now.busy = true;
  at("said").textContent = "Being read …";
  try {
    return await asking(path, sent, "The file is too large for this page. Keep only the rows and columns that are needed.", "What you said is still here");
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
  questions.sheets(at("sheet"), reply, (sheet) => begin(Object.assign(now.table, { sheet })));
  if (!reply.questions.length) return result(reply);
  at("asked").hidden = false;
  now.asked = questions.ask(at("questions"), reply.questions, reply.columns);
  at("asked-title").textContent = `2. ${now.asked.title}`;
  reach("asked-title");
}

function begin(table) {
  now.table = Object.assign(table, { table: document.querySelector("input[name=sort]:checked").value });
  now.answers = {};
  hide("asked", "result", "done");
  return read();
}

at("on").addEventListener("click", () => {
  const open = now.asked.open();
  if (open) return say([open]);
  now.asked.answer(now.answers);
  return read();
});

function result(reply) {
  at("result").hidden = false;
  const more = reply.all_rows > reply.rows.length ? ` The first ${reply.rows.length} of ${reply.all_rows} are shown.` : "";
  at("counts").textContent = `${reply.new} rows will be taken in. ${reply.left_out}${more}`;
  at("repeats").replaceChildren(...reply.repeats.map((one) => el("li", { text: one })));
  at("take").hidden = !reply.new;
  at("rows").replaceChildren(...questions.read(reply.rows));
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
  return begin({ file: await questions.carried(file), file_name: file.name });
});
for (const sort of document.querySelectorAll("input[name=sort]")) sort.addEventListener("change", () => now.table && begin(now.table));
at("read").addEventListener("click", () => begin({ pasted: at("pasted").value }));
