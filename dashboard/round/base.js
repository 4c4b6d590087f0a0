/* What the phone pages share besides the modules of every page: clock, counts, and the day an answer is for. */
import { distance } from "../web/local.js";

/* A walk is told from one metre up. */
export const walk = (metres) => distance(Math.max(1, metres));
export const clock = (date) => date.toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });

const midnights = (date) => Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 864e5;
/* The day that an answer is for: the server's, moved on by the midnights since it was told.
   So a wrong clock on the phone does no harm, and an answer kept overnight keeps its day. */
export function day(day, live, got, now = new Date()) {
  if (!live) return day;
  const passed = Math.max(0, midnights(now) - midnights(new Date(got)));
  return new Date(Date.parse(day) + passed * 864e5).toISOString().slice(0, 10);
}
