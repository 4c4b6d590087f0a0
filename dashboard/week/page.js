/* The week's page works without this script; it only offers the browser's own printing. */
import "../web/guard.js";
import "../web/switch.js";

const button = document.getElementById("week-print");
if (button) button.addEventListener("click", () => window.print());
