/* Asks every second and a half whether something was recorded elsewhere, and whether the log's file has lost rows.
   A page that can ask its data anew does so; any other says that there is news. What was lost is said above
   everything, with the two ways out. */
import { el } from "./elements.js";
import { here } from "./root.js";

const EVERY = 1500;
/* What the page was drawn from: a row that came in before the first answer is news, too. */
const drawn = document.documentElement.dataset.version;
let version = drawn ? Number(drawn) : null, shown = "";

async function ask(address, more = {}) {
  const reply = await fetch(here(address), { headers: { Accept: "application/json" }, ...more });
  if (reply.ok) show(await reply.json());
}

function show(now) {
  if (version !== null && now.version !== version) {
    const news = new CustomEvent("spread-news", { cancelable: true });
    if (document.dispatchEvent(news)) say("news", "status", [el("span", { text: "The log or its figures have changed meanwhile. " }), el("a", { href: location.href, text: "Load this page again" })]);
  }
  version = now.version;
  const told = JSON.stringify([now.lines, now.words, now.twice]);
  if (told === shown) return;
  shown = told;
  const lines = [...now.lines, now.words].filter(Boolean);
  say("lost", "alert", lines.length ? [el("ul", {}, lines.map((line) => el("li", { text: line }))), now.choice ? choices() : ""] : []);
  const doors = el("ul", {}, now.twice.map((line) => el("li", { text: line })));
  say("twice", "status", now.twice.length > 1 ? [el("details", {}, el("summary", { text: `${now.twice.length} doors were answered more than once` }), doors)] : now.twice.length ? [doors] : []);
}

const choices = () => el("p", {},
  el("button", { type: "button", text: "Put the rows back into the file", click: () => choose("/guard/put-back") }), " ",
  el("button", { type: "button", class: "quiet", text: "Take the file as it is", click: (event) => sure(event.target) }));

/* Letting rows go is asked for twice. */
function sure(button) {
  if (button.dataset.sure) { choose("/guard/accept"); return; }
  button.dataset.sure = "yes";
  button.textContent = "Press again: the rows named above then count no longer";
}
const choose = (address) => ask(address, { method: "POST" });

function say(name, role, parts) {
  let bar = document.getElementById(`guard-${name}`);
  if (!parts.length) { if (bar) bar.remove(); return; }
  if (!bar) {
    bar = el("div", { id: `guard-${name}`, class: "guard", role });
    document.body.prepend(bar);
  }
  bar.replaceChildren(...parts);
}

async function round() {
  if (document.visibilityState === "visible") {
    try { await ask("/guard/now"); } catch { /* no connection: asked again */ }
  }
  setTimeout(round, EVERY);
}
round();
