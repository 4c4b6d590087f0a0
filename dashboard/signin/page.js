/* Signing in and out. The forms work without this; it shows the pass phrase on request, says what waits on
   the phone, and after a sign-out clears the list of doors that the phone kept. */
const at = (id) => document.getElementById(id);
const said = JSON.parse(at("said").textContent);
const MARK = "spread.";
const keys = () => { try { return Object.keys(localStorage).filter((key) => key.startsWith(MARK)); } catch { return []; } };
const waiting = keys().filter((key) => key.match(/^spread\.(at\.[^.]+\.)?wait\./)).length;

if (at("see")) {
  at("see-part").hidden = false;
  at("see").addEventListener("change", () => { at("phrase").type = at("see").checked ? "text" : "password"; });
  /* The browser must not offer what was shown as a text that it knows. */
  document.querySelector("form").addEventListener("submit", () => { at("phrase").type = "password"; });
}
const out = new URLSearchParams(location.search).has("out");
if (out) {
  /* Answers and findings that wait are somebody's work and stay; what can be fetched again goes. */
  for (const key of keys()) if (/^spread\.(at\.[^.]+\.)?(doors|round|any-room|room|roomlast)\./.test(key)) localStorage.removeItem(key);
}

const words = [];
if (out) words.push(said.out);
if (new URLSearchParams(location.search).has("changed")) words.push(said.changed);
if (waiting) words.push(said.waiting[waiting === 1 ? 0 : 1].replace("{number}", waiting));
if (words.length && at("kept")) { at("kept").textContent = words.join(" "); at("kept").hidden = false; }

/* It stands alone, for nothing else answers before the sign-in. The language goes into the cookie of every page. */
for (const button of document.querySelectorAll("[data-language]")) {
  button.setAttribute("aria-pressed", String(button.dataset.language === document.documentElement.lang));
  button.addEventListener("click", () => {
    document.cookie = `spread-language=${button.dataset.language}; Path=/; Max-Age=31536000; SameSite=Lax${location.protocol === "https:" ? "; Secure" : ""}`;
    location.assign(location.pathname + location.search);
  });
}
