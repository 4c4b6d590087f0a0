/* Pages of the desk read and print without this script; it filters tables, sends forms, and offers printing. */
import { here } from "../web/root.js";
import "../web/guard.js";
import "../web/switch.js";

function filter(input) {
  const words = input.value.trim().toLowerCase().split(/\s+/).filter(Boolean);
  for (const row of document.querySelectorAll(`[data-row="${input.dataset.filter}"]`))
    row.hidden = !words.every((word) => row.dataset.words.includes(word));
}

document.addEventListener("input", (event) => {
  if (event.target.matches("[data-filter]")) filter(event.target);
});

document.addEventListener("click", (event) => {
  if (event.target.closest(".desk-print")) window.print();
});
