// The programme page: starts, watches and stops a comparison, and prices what is done.
import "../web/guard.js";
import "../web/sign_again.js";
import "../web/switch.js";
import { fill as show } from "../web/dash.js";
import { here } from "../web/root.js";
import { at as found } from "../web/elements.js";
import { beginOwn, listOwn } from "./own.js";

const at = (id) => found(`programmes-${id}`);
let form, priced;
const KEPT = "spread-programme-prices";
const LARGEST_FILE = 50000;
let timer = 0;
let verdict = "";
let asked = 0;

async function send(what, body) {
  let reply;
  try {
    reply = await fetch(here(`/programmes/${what}`), { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  } catch {
    throw new Error("The server cannot be reached; see whether it still runs, then load the page again.");
  }
  if (!reply.ok) throw new Error("The server did not answer as it should; load the page again.");
  return reply.json();
}
const fields = () => [...priced.querySelectorAll("input[name], select[name], textarea[name]")];
const ticks = (one) => one.type === "checkbox";
const typed = (one) => (ticks(one) ? (one.checked ? "yes" : "no") : one.value);
/* A choice and a tick always say something; they count as changed only where they differ from the page's own. */
const changedHere = (one) => (ticks(one) ? one.checked !== one.defaultChecked : one.tagName === "SELECT" ? !one.selectedOptions[0].defaultSelected : one.value.trim() !== one.defaultValue.trim());
const prices = () => Object.fromEntries(fields().filter((one) => typed(one).trim()).map((one) => [one.name, typed(one)]));
const made = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);

function table(id, head, rows) {
  const top = document.createElement("tr");
  top.append(made("td", head[0]), ...head.slice(1).map((name) => made("th", name, { scope: "col" })));
  at(id).replaceChildren(top, ...rows.map(([label, ...cells]) => {
    const row = document.createElement("tr");
    row.append(made("th", label, { scope: "row" }), ...cells.map((cell, place) => {
      const [middle, ...rest] = cell;
      const one = made("td", "");
      const both = document.createElement("span");
      both.append(made("b", middle), ...rest.map((part) => made("small", part)));
      one.append(both);
      one.dataset.name = head[place + 1];
      return one;
    }));
    return row;
  }));
}

/* A graph is drawn again only where it has changed: a new price leaves the curves alone. */
const drawn = {};
function figures(told) {
  for (const [id, props] of Object.entries(told)) {
    const text = JSON.stringify(props);
    if (drawn[id] === text) continue;
    drawn[id] = text;
    show(id, props);
  }
}

function driven(now) {
  const { running, share, problem, figures: told } = now.drivers;
  const before = at("driven").value;
  at("driven").replaceChildren(...now.shown.keys.slice(1).map((key, place) => made("option", now.shown.names[place + 1], { value: key })));
  if (now.shown.keys.slice(1).includes(before)) at("driven").value = before;
  at("drivers-start").textContent = running ? "Stop it" : "Work it out";
  at("drivers-start").disabled = now.running;
  at("drivers-start").dataset.running = running || "";
  at("drivers-said").textContent = problem || (running ? `${Math.min(99, Math.round(100 * share))}% of the cases done.` : told ? "Done." : "");
  at("drivers-box").hidden = !told;
  if (told) figures(told);
}

function duels(shown) {
  at("duels").replaceChildren(...shown.duels.map(([title, bugs, cost]) => {
    const one = document.createElement("article");
    const list = document.createElement("dl");
    list.append(made("dt", "Bugs"), made("dd", bugs), made("dt", "Cost"), made("dd", cost));
    one.append(made("h4", title), list);
    return one;
  }));
}

let offered = "";
function choices(shown) {
  const before = at("choose").value;
  const options = shown.keys.map((key, place) => made("option", shown.names[place], { value: key }));
  at("choose").replaceChildren(...options);
  // The verdict's programme stands there until somebody chooses another.
  const own = shown.keys.includes(before) && before !== offered;
  at("choose").value = own ? before : shown.chosen || shown.keys[0];
  if (!own) offered = at("choose").value;
}

function links() {
  const query = new URLSearchParams(prices());
  at("keep").href = here(`/programmes/prices.toml?${query}`);
  at("offer-keep").href = here(`/programmes/offer.toml?${query}`);
  if (at("choose").value !== verdict) query.set("choose", at("choose").value);
  query.set("language", at("language").value);
  query.set("paper", at("paper").value);
  at("residents").href = here(`/programmes/residents.pdf?${query}`);
  if (at("board").checked) query.set("board", "yes");
  at("pdf").href = here(`/programmes/proposal.pdf?${query}`);
  at("html").href = here(`/programmes/proposal?${query}`);
}

function faults(now) {
  for (const one of fields()) {
    const bad = now.bad[one.name] || "";
    const said = document.getElementById(`bad-${one.name}`);
    if (said && said.textContent !== bad) said.textContent = bad;
    if (bad) one.setAttribute("aria-invalid", "true");
    else one.removeAttribute("aria-invalid");
  }
  for (const group of priced.querySelectorAll("details")) {
    const own = [...group.querySelectorAll("[name]")].filter(changedHere).length;
    group.querySelector(".programmes-changed").textContent = own ? `(${own} changed)` : "";
    if (group.querySelector("[aria-invalid]")) group.open = true;
  }
  for (const mark of priced.querySelectorAll("[data-mark]")) {
    const own = now.own?.includes(mark.closest(".programmes-price").querySelector("input").name);
    mark.textContent = own ? "your own" : `${mark.dataset.mark}${mark.dataset.source}`;
  }
  if (now.survey) priced.querySelector("[name=survey]").placeholder = now.survey;
  const currency = now.shown?.currency;
  if (currency) for (const unit of priced.querySelectorAll(".programmes-money")) unit.textContent = currency;
}

function words(now) {
  if (now.running) return now.done ? `${now.done} of ${now.asked} runs of each programme done.` : "Getting ready.";
  if (now.done) return now.done < now.asked ? `Stopped: ${now.done} of ${now.asked} runs of each programme done, and kept.` : `Done: ${now.done} runs of each programme.`;
  return now.simulations ? "Stopped before any run was done." : "Choose programmes and press Start. Curves build as runs are done, and a stop keeps them.";
}

function accepted({ lines, renewing, problem }) {
  at("accepted").hidden = !lines.length;
  if (at("accepted-lines").textContent !== lines.join("")) at("accepted-lines").replaceChildren(...lines.map((line) => made("li", line)));
  at("renew-said").textContent = problem || (renewing ? "The new forecast is being made." : "");
  if (at("renew")) at("renew").disabled = renewing;
}

/* What is accepted stays on record, so that it asks for two presses. */
function acceptButton() {
  const button = at("accept");
  if (!button) return;
  const usual = button.textContent;
  let armed = "";
  button.addEventListener("click", async () => {
    const choose = at("choose").value;
    if (armed !== choose) {
      armed = choose;
      button.textContent = `Press again: ${at("choose").selectedOptions[0]?.textContent ?? ""} is kept as accepted, and stays on record`;
      return;
    }
    armed = "";
    button.textContent = usual;
    try {
      const reply = await send("accept", { ...prices(), choose });
      at("accept-said").textContent = reply.problem || "Kept as accepted, with this forecast.";
      await look();
    } catch (error) {
      at("accept-said").textContent = error.message;
    }
  });
  at("choose").addEventListener("change", () => { armed = ""; button.textContent = usual; });
}

function paint(now) {
  if (now.made) listOwn(now.made);
  accepted(now.accepted);
  at("problem").textContent = now.problem;
  at("bar").value = now.asked ? (100 * now.done) / now.asked : 0;
  const said = words(now);
  if (at("said").textContent !== said) at("said").textContent = said;
  at("start").textContent = now.running ? "Running" : now.simulations ? "Start again" : "Start";
  at("start").disabled = now.running;
  at("stop").disabled = !now.running;
  at("old").hidden = !now.old;
  faults(now);
  if (!now.shown) {
    at("out").hidden = !now.done;
    if (!now.done) at("costs").replaceChildren();
    return;
  }
  const shown = now.shown;
  at("out").hidden = false;
  [...at("curves").children].forEach((box, place) => { box.hidden = place >= shown.names.length; });
  figures(shown.figures);
  driven(now);
  verdict = shown.chosen;
  at("verdict").replaceChildren(...shown.verdict.map((line) => made("li", line)));
  at("turns").replaceChildren(...shown.turns.map((line) => made("li", line)));
  at("turns-title").hidden = !shown.turns.length;
  at("holding").textContent = now.running ? "The verdict stands here when the runs are done." : now.holding ? "Held against doing nothing, against waiting and against what may be otherwise; that takes some seconds." : "";
  at("basis").textContent = shown.basis;
  table("table", ["", ...shown.names], shown.rows);
  table("regrets", ["", "Infested unit-weeks", "Fewest bugs in", `Money, ${shown.currency}`, "Cheapest in"], shown.regrets);
  duels(shown);
  at("evens").replaceChildren(...shown.evens.map((line) => made("li", line)));
  at("costs").replaceChildren(...shown.costs.map((line) => made("li", line)));
  at("note").textContent = shown.note;
  choices(shown);
  links();
}

async function look() {
  clearTimeout(timer);
  const mine = ++asked;
  const began = performance.now();
  try {
    const now = await send("now", prices());
    if (mine !== asked) return;
    paint(now);
    // Figures cost the server time that the runs need: the longer they take, the rarer they are asked for.
    if (now.running || now.holding || now.drivers.running || now.accepted.renewing) timer = setTimeout(look, Math.max(500, 2 * (performance.now() - began)));
  } catch (error) {
    at("problem").textContent = error.message;
  }
}

function changed() {
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(prices()));
  } catch {
    // A browser that keeps nothing: what is typed lives as long as the page.
  }
  links();
  clearTimeout(timer);
  timer = setTimeout(look, 150);
}

function put(one, value) {
  if (ticks(one)) one.checked = value === "yes";
  else one.value = value;
}

function fill(values) {
  for (const one of fields()) if (one.name in values) put(one, values[one.name]);
  changed();
}

function begin() {
  beginOwn((body) => send("own", body));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const keys = [...form.querySelectorAll("[name=programme]:checked")].map((one) => one.value);
    at("wrong").textContent = "";
    try {
      const reply = await send("start", { programmes: keys, runs: Number(at("runs").value), weeks: Number(at("weeks").value), prices: prices() });
      if (!reply.ok) at("wrong").textContent = reply.problem;
      else {
        await look();
        if (at("title").getBoundingClientRect().top > innerHeight) at("title").scrollIntoView({ block: "start" });
      }
    } catch (error) {
      at("wrong").textContent = error.message;
    }
  });
  at("stop").addEventListener("click", () => send("stop", {}).then(look, (error) => { at("problem").textContent = error.message; }));
  acceptButton();
  at("renew")?.addEventListener("click", async () => {
    try {
      const reply = await send("renew", {});
      if (reply.problem) at("renew-said").textContent = reply.problem;
      else await look();
    } catch (error) {
      at("renew-said").textContent = error.message;
    }
  });
  priced.addEventListener("input", changed);
  priced.addEventListener("submit", (event) => event.preventDefault());
  for (const one of ["choose", "language", "paper", "board"]) at(one).addEventListener("change", links);
  at("drivers-start").addEventListener("click", async () => {
    const stop = Boolean(at("drivers-start").dataset.running);
    try {
      const reply = await send("drivers", { key: stop ? "" : at("driven").value, prices: prices() });
      if (reply.problem) at("drivers-said").textContent = reply.problem;
      else await look();
    } catch (error) {
      at("drivers-said").textContent = error.message;
    }
  });
  at("reset").addEventListener("click", () => {
    priced.reset();
    at("file-said").textContent = "";
    changed();
  });
  at("file").addEventListener("change", async () => {
    const [file] = at("file").files;
    if (!file) return;
    at("file").value = "";
    try {
      if (file.size > LARGEST_FILE) throw new Error(`${file.name}: it is larger than 50 kB; choose a small TOML file of prices.`);
      const reply = await send("prices", { name: file.name, text: await file.text() });
      if (reply.problem) throw new Error(reply.problem);
      const count = Object.keys(reply.values).length;
      at("file-said").className = "soft";
      at("file-said").textContent = `${file.name}: ${count} ${count === 1 ? "price" : "prices"} taken over.`;
      fill(reply.values);
    } catch (error) {
      at("file-said").className = "form-error";
      at("file-said").textContent = error.message;
    }
  });
  try {
    const kept = JSON.parse(sessionStorage.getItem(KEPT) || "{}");
    for (const one of fields()) if (one.name in kept) put(one, kept[one.name]);
  } catch {
    // Nothing kept, or nothing that can be read.
  }
  look();
}

/* Dash lays the page out after our modules have run; then the pieces of the template go into their places. */
function arrive() {
  if (!at("out")) { setTimeout(arrive, 20); return; }
  for (const piece of document.querySelectorAll("template[data-into]")) at(`at-${piece.dataset.into}`).append(piece.content.cloneNode(true));
  form = at("form");
  priced = at("price-form");
  begin();
}
arrive();
