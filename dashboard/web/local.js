/* Days, numbers and lengths that scripts show on their own, in the voice of the page: the language of <html lang>
   and the measure of <html data-measure>. The rules are those of `spread.words.voice.Voice`. */
const METRES_A_FOOT = 0.3048;
const NAMES = { en: "en-US", es: "es" };

export function localOf(language, measure) {
  const locale = NAMES[language] || language;
  const parts = (form, ...order) => {
    const made = new Intl.DateTimeFormat(locale, form);
    return (day) => {
      const told = Object.fromEntries(made.formatToParts(new Date(`${day}T12:00:00`)).map((part) => [part.type, part.value]));
      return order.map((name) => told[name]).join(" ");
    };
  };
  const SHORT = { weekday: "short", day: "numeric", month: "short", year: "numeric" };
  /* From its digits, as the server rounds it: a half goes to the even neighbour. */
  const fixed = (value, digits) => new Intl.NumberFormat(locale, {
    minimumFractionDigits: digits, maximumFractionDigits: digits, roundingMode: "halfEven", useGrouping: "always",
  }).format(String(value));
  return {
    language: language,
    measure: measure,
    speakDay: parts(SHORT, "weekday", "day", "month", "year"),
    speakShort: parts(SHORT, "day", "month"),
    speakMonth: parts(SHORT, "month", "year"),
    number: (value, digits) => new Intl.NumberFormat(locale, { maximumFractionDigits: digits }).format(value),
    distance(metres, digits = 0) {
      if (measure !== "feet") return `${fixed(metres, digits)} m`;
      return `${fixed(metres / METRES_A_FOOT, metres < 3 ? Math.min(digits, 1) : 0)} ft`;
    },
  };
}

const told = () => { const root = globalThis.document && document.documentElement; return [(root && root.lang) || "en", (root && root.dataset.measure) || "metres"]; };
let here = localOf(...told());
/* The measure can change while a page is open. */
export function voice() {
  const [language, measure] = told();
  if (here.language !== language || here.measure !== measure) here = localOf(language, measure);
  return here;
}
export const inFeet = () => voice().measure === "feet";
export const speakDay = (day) => voice().speakDay(day);
export const speakMonth = (day) => voice().speakMonth(day);
export const number = (value, digits) => voice().number(value, digits);
export const distance = (metres, digits) => voice().distance(metres, digits);
/* A label of the plan: "@2026-11-28" is a day. */
export const spoken = (label) => (label.startsWith("@") ? voice().speakShort(label.slice(1)) : label);
