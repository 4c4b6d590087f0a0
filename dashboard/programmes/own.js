// Programmes of one's own on the programme page: the list to choose from, and the form that makes them.
import { at as found } from "../web/elements.js";

const at = (id) => found(`programmes-own${id}`);
const made = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);
let listed = "";

function put(fields, one) {
  if (one.type === "checkbox") one.checked = fields[one.name] === "yes";
  else if (one.name in fields) one.value = fields[one.name];
}

function shut() {
  for (const part of at("-form").querySelectorAll("fieldset[data-part]")) {
    const open = part.querySelector("legend input").checked;
    for (const row of part.querySelectorAll(".programmes-price")) row.hidden = !open;
  }
}

function tell(bad) {
  for (const one of at("-form").elements) {
    const said = document.getElementById(`own-bad-${one.name}`);
    if (!said) continue;
    said.textContent = bad[one.name] || "";
    if (bad[one.name]) one.setAttribute("aria-invalid", "true");
    else one.removeAttribute("aria-invalid");
  }
  at("-form").querySelector("[aria-invalid]")?.focus();
}

/* The form as it is for a new programme; a hidden field is not reset with the others. */
function fresh() {
  at("-form").reset();
  at("-form").elements.key.value = "";
  at("-remove").hidden = true;
  tell({});
  shut();
}

function edit(programme) {
  const form = at("-form");
  fresh();
  for (const one of form.elements) if (one.name) put({ ...programme.fields, key: programme.key }, one);
  shut();
  at("-remove").hidden = false;
  at("-said").textContent = "";
  at("-box").open = true;
  form.elements.name.focus();
}

/* Drawn again only where it has changed, so that what is ticked stays ticked. */
export function listOwn(programmes, tick = "") {
  const text = JSON.stringify(programmes);
  if (text === listed && !tick) return;
  listed = text;
  const ticked = new Set([...at("").querySelectorAll("input:checked")].map((one) => one.value).concat((at("").dataset.chosen || "").split(" ")));
  at("").dataset.chosen = "";  // what is being compared is ticked at first, and then what somebody ticks
  at("").replaceChildren(...programmes.map((programme) => {
    const row = made("div", "", { className: "programmes-own-row" });
    const label = made("label", "", { className: "programmes-pick" });
    const box = made("input", "", { type: "checkbox", name: "programme", value: programme.key });
    box.checked = ticked.has(programme.key) || programme.key === tick;
    const words = document.createElement("span");
    words.append(made("b", programme.name), made("br", ""), "Your own");
    label.append(box, words);
    const change = made("button", "Change", { type: "button", className: "quiet" });
    change.setAttribute("aria-label", `Change ${programme.name}`);
    change.addEventListener("click", () => edit(programme));
    row.append(label, change);
    return row;
  }));
}

export function beginOwn(send) {
  const form = at("-form");
  const typed = () => Object.fromEntries([...form.elements].filter((one) => one.name && (one.type !== "checkbox" || one.checked)).map((one) => [one.name, one.value]));
  async function ask(body, done) {
    try {
      const reply = await send(body);
      tell(reply.bad);
      const wrong = reply.problem || (Object.keys(reply.bad).length ? "Not kept yet: see the fields marked." : "");
      at("-said").textContent = wrong || done;
      if (wrong) return;
      listOwn(reply.own, reply.key);
      fresh();
    } catch (error) {
      at("-said").textContent = error.message;
    }
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask(typed(), "Kept with the building; choose it above.");
  });
  at("-new").addEventListener("click", () => {
    fresh();
    at("-said").textContent = "";
  });
  at("-remove").addEventListener("click", () => ask({ key: form.elements.key.value, remove: "yes" }, "Removed."));
  form.addEventListener("change", shut);
  shut();
}
