/* A floor that the server drew: put into the page, in the person's measure. */
import { inFeet, number } from "./local.js";

export const FOOT = 0.3048;

export function paint(part, svg) {
  /* Parsed apart, so that nothing in it could run, though our own server made and escaped it. */
  const parsed = new DOMParser().parseFromString(svg || "", "text/html");
  part.replaceChildren(...parsed.body.childNodes);
  if (!inFeet()) return;
  for (const text of part.querySelectorAll("text")) {
    const scale = /^(\d+) m$/.exec(text.textContent.trim());
    if (scale) text.textContent = `${number(Number(scale[1]) / FOOT, 1)} ft`;
  }
}

/* Metres of a written length, in the person's measure; not a number where it is none. */
export const metresOf = (text) => Number(text.replace(",", ".")) * (inFeet() ? FOOT : 1);
