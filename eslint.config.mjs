/* Rules for the pages' scripts: `npx eslint@9 dashboard tests/js` (no other package is needed). */
const browser = ["window", "document", "navigator", "location", "localStorage", "sessionStorage", "console", "fetch", "crypto", "caches", "performance",
  "getComputedStyle", "setTimeout", "clearTimeout", "setInterval", "clearInterval", "requestAnimationFrame", "innerHeight", "CSS", "CustomEvent", "Event", "URL", "URLSearchParams",
  "DOMParser", "MutationObserver", "ResizeObserver", "AbortController", "Request", "Response", "btoa", "globalThis", "self"];

export default [{
  files: ["**/*.js", "**/*.mjs"],
  languageOptions: { ecmaVersion: 2022, sourceType: "module", globals: Object.fromEntries([...browser, "process"].map((name) => [name, "readonly"])) },
  rules: {
    "no-undef": "error", "no-unused-vars": "error", "no-const-assign": "error", "no-import-assign": "error", "no-dupe-keys": "error", "no-redeclare": "error",
    "no-unreachable": "error", "no-var": "error", "prefer-const": "error", "eqeqeq": "error", "no-eval": "error", "no-implied-eval": "error",
    "no-restricted-properties": ["error", { property: "innerHTML", message: "Text enters through textContent." }, { property: "outerHTML" }, { property: "insertAdjacentHTML" }],
    "no-use-before-define": "off", "no-shadow-restricted-names": "error", "no-self-compare": "error", "no-fallthrough": "error",
  },
}];
