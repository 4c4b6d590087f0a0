/* Pages of the desk read and print without this script; it filters tables, sends forms, and offers printing. */
import { here } from "../web/root.js";
import { newId } from "../web/storage.js";
import "../web/guard.js";
import "../web/switch.js";

function filter(name) {
  const asked = [...document.querySelectorAll(`[data-filter="${name}"]`)].map((one) => one.value).join(" ");
  const words = asked.trim().toLowerCase().split(/\s+/).filter(Boolean);
  for (const row of document.querySelectorAll(`[data-row="${name}"]`))
    row.hidden = !words.every((word) => row.dataset.words.includes(word));
}

document.addEventListener("input", (event) => {
  if (event.target.matches("[data-filter]")) filter(event.target.dataset.filter);
});

/* The same press again, after no reply, is the same record: it keeps its id until something else is sent. */
let last = { key: "", id: "" };

async function send(address, body, problem) {
  const key = JSON.stringify([address, body]);
  if (last.key !== key) last = { key, id: newId() };
  let told;
  try {
    const reply = await fetch(here(`/${address}`), {
      method: "POST", headers: { "Content-Type": "application/json", Accept: "application/json" }, body: JSON.stringify({ id: last.id, ...body }),
    });
    told = await reply.json();
  } catch { told = { ok: false, words: "No reply; what you typed is still here. Press again and it will count once." }; }
  if (!told.ok) problem(told.words);
  return told;
}

function filledIn(form) {
  const body = {};
  for (const [name, value] of new FormData(form))
    if (form.querySelector(`[type="checkbox"][name="${CSS.escape(name)}"]`)) (body[name] ||= []).push(value);
    else body[name] = value;
  return body;
}

function shown(address, row) {
  const at = new URL(here(`/${address}`), location.origin);
  if (row) at.searchParams.set("after", row);
  if (at.href === location.href) location.reload(); else location.assign(at);
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.dataset.post) return;
  const presser = event.submitter;
  if (presser?.formAction && presser.hasAttribute("formaction")) return; /* it opens a page of its own */
  event.preventDefault();
  const error = form.querySelector("[role=alert]");
  error.textContent = "";
  const body = filledIn(form);
  if (presser?.name) body[presser.name] = presser.value;
  const told = await send(form.dataset.post, body, (words) => { error.textContent = words; });
  if (told.ok) shown(form.dataset.then, told.row);
});

document.addEventListener("change", (event) => {
  const field = event.target;
  if (field.dataset?.reload && field.value) location.assign(`${here(`/${field.dataset.reload}`)}?${field.name}=${field.value}`);
});

document.addEventListener("click", async (event) => {
  if (event.target.closest(".desk-print")) window.print();
  const all = event.target.closest("[data-all]");
  if (all) {
    const boxes = [...all.closest("form").querySelectorAll('[type="checkbox"]:not(:disabled)')];
    const on = boxes.some((box) => !box.checked);
    for (const box of boxes) box.checked = on;
  }
  const feed = event.target.closest("[data-feed]");
  if (feed) {
    const box = feed.closest("details"), told = await send(feed.dataset.feed, {}, (words) => { box.querySelector("[role=alert]").textContent = words; });
    if (!told.ok) return;
    last = { key: "", id: "" };
    const address = box.querySelector("#feed-address");
    address.value = location.origin + here(told.address);
    address.closest("label").hidden = false;
    address.select();
  }
  const press = event.target.closest("[data-press]");
  if (!press) return;
  if (press.dataset.sure && press.textContent !== press.dataset.sure) { press.textContent = press.dataset.sure; return; }
  const told = await send(press.dataset.press, JSON.parse(press.dataset.sends), (words) => { press.insertAdjacentText("afterend", ` ${words}`); });
  if (!told.ok) return;
  if (press.dataset.then) shown(press.dataset.then, ""); else location.reload();
});
