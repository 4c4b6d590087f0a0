/* The switches of a person's voice: `data-measures` and `data-language`. The choice goes into a cookie, so that the
   server speaks so from then on. A page that can ask anew without losing what is typed listens for `spread-voice`
   and prevents its default; any other is loaded again. */
const YEAR = 365 * 86400;
const root = document.documentElement;

function press() {
  for (const button of document.querySelectorAll("[data-measures]")) button.setAttribute("aria-pressed", String(button.dataset.measures === root.dataset.measure));
  for (const button of document.querySelectorAll("[data-language]")) button.setAttribute("aria-pressed", String(button.dataset.language === root.lang));
}

function keep(name, value) {
  document.cookie = `spread-${name}=${value}; Path=/; Max-Age=${YEAR}; SameSite=Lax${location.protocol === "https:" ? "; Secure" : ""}`;
}

/* What was chosen in this browser; empty if nothing was. */
export const chosen = (name) => (document.cookie.split("; ").find((one) => one.startsWith(`spread-${name}=`)) || "").split("=")[1] || "";

document.addEventListener("click", function (event) {
  const button = event.target.closest("[data-measures], [data-language]");
  if (!button) return;
  const { measures, language } = button.dataset;
  if (measures) { keep("measures", measures); root.dataset.measure = measures; }
  else { keep("language", language); root.lang = language; }
  press();
  if (document.dispatchEvent(new CustomEvent("spread-voice", { cancelable: true }))) location.reload();
});
/* A page that a phone kept may be older than the choice. */
if (["metres", "feet"].includes(chosen("measures"))) root.dataset.measure = chosen("measures");
press();
