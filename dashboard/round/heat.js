/* Whether a heat job may be ended, by the readings so far: `spread.trade.probes` once more, for a phone without a
   connection. Every number is the server's (`rules`), and `tests/test_heat_live.py` holds the two against each
   other over thousands of logs. A probe is [place, readings], a reading [minute, degrees C]. */
export const celsiusOf = (degrees) => Math.round((degrees - 32) * 5 / 9 * 1e6) / 1e6;
export const fahrenheitOf = (celsius) => celsius * 9 / 5 + 32;
const steps = (readings) => readings.slice(1).map(([minute, degrees], i) => [minute, minute - readings[i][0], degrees - readings[i][1]]);
const doubt = (kind, more) => Object.assign({ kind: kind, probe: "", minute: 0, value: 0, limit: 0, other: "" }, more);

/* The longest unbroken time at or above a temperature, and the one that runs at the last reading; null for none. */
export function holds(readings, celsius, rules, least = rules.in_a_row) {
  let longest = null, running = null, began = 0, last = 0, count = 0;
  for (const [minute, degrees] of readings) {
    if (degrees < celsius) { count = 0; running = null; continue; }
    if (!count || minute - last > rules.gap) { began = minute; count = 0; running = null; }
    last = minute;
    count += 1;
    if (count >= least) { running = minute - began; longest = Math.max(longest || 0, running); }
  }
  return { longest: longest, running: running };
}
export const met = (readings, rules) => rules.rows.some(([celsius, minutes]) => {
  const { longest } = holds(readings, celsius, rules);
  return longest !== null && longest >= minutes;
});
export const needed = (rooms, rules) => rules.first_room + rules.each_room * (Math.max(1, rooms) - 1);
export const inTheAir = (place, rules) => new RegExp(`(?<![\\p{L}\\p{N}_])(?:${rules.air.join("|")})(?![\\p{L}\\p{N}_])`, "iu").test(place.replaceAll("_", " "));

function untilLast(readings, celsius) {
  let last = readings.length - 1;
  for (let i = readings.length - 1; i >= 0; i -= 1) if (readings[i][1] >= celsius) { last = i; break; }
  return readings.slice(0, last + 1);
}
function fast(name, readings, rules) {
  let before = 0;
  for (const [minute, degrees] of readings) {
    while (minute - readings[before][0] > rules.rise_minutes && readings[before + 1][0] <= minute - rules.rise_minutes) before += 1;
    const [began, start] = readings[before];
    if (degrees - start > rules.step + rules.rise * (minute - began)) return [doubt("fast", { probe: name, minute: minute, value: (degrees - start) / (minute - began), limit: rules.rise })];
  }
  return [];
}
function flat(name, readings, rules) {
  const moves = steps(readings).map((step) => Math.abs(step[2])).filter((move) => move !== 0);
  const coarse = (moves.length ? Math.min(...moves) : 0) >= rules.coarse_step;
  let [began, value] = readings[0], same = 1;
  for (const [minute, degrees] of readings.slice(1)) {
    if (degrees !== value) { began = minute; value = degrees; same = 1; continue; }
    same += 1;
    const limit = coarse || same < rules.flat_readings ? rules.flat_coarse : rules.flat_minutes;
    if (minute - began >= limit) return [doubt("flat", { probe: name, minute: began, value: minute - began, limit: limit })];
  }
  return [];
}
function ofProbe(name, readings, rules) {
  const [minute, start] = readings[0], found = [], told = (kind, more) => found.push(doubt(kind, Object.assign({ probe: name }, more)));
  if (readings.length < rules.fewest) told("few-readings", { minute: minute, value: readings.length, limit: rules.fewest });
  if (start > rules.hottest_start) told("hot-start", { minute: minute, value: start, limit: rules.hottest_start });
  const hottest = readings.reduce((most, one) => (one[1] > most[1] ? one : most));
  if (hottest[1] > rules.hottest_room) told("too-hot", { minute: hottest[0], value: hottest[1], limit: rules.hottest_room });
  const end = readings[readings.length - 1][0];
  if (end - minute > rules.longest_job) told("long", { minute: end, value: end - minute, limit: rules.longest_job });
  const all = steps(readings), gap = all.find(([, minutes]) => minutes > rules.gap);
  if (gap) told("gap", { minute: gap[0], value: gap[1], limit: rules.gap });
  const jump = all.find(([, minutes, degrees]) => Math.abs(degrees) > rules.step + rules.rise * minutes);
  if (jump) told("jump", { minute: jump[0], value: jump[2], limit: rules.step + rules.rise * jump[1] });
  found.push(...fast(name, readings, rules), ...flat(name, readings, rules));
  const turns = all.slice(1).map((_, i) => i).filter((i) => all[i][2] * all[i + 1][2] < 0 && Math.min(Math.abs(all[i][2]), Math.abs(all[i + 1][2])) >= rules.zigzag);
  if (turns.length > Math.max(2, Math.floor(all.length / 5))) told("zigzag", { minute: all[turns[0]][0], value: turns.length, limit: rules.zigzag });
  return found;
}
function alike(one, other, rules) {
  const known = new Map(one), apart = other.filter(([minute]) => known.has(minute)).map(([minute, degrees]) => degrees - known.get(minute));
  return apart.length >= rules.fewest && Math.max(...apart) - Math.min(...apart) < rules.alike;
}
/* Everything for which a log is not believed. */
export function doubtsOf(probes, rules, rooms) {
  const hot = probes.map(([name, readings]) => [name, untilLast(readings, rules.least)]), found = [];
  const first = Math.min(...hot.map(([, readings]) => readings[0][0]));
  for (const [name, readings] of hot) {
    found.push(...ofProbe(name, readings, rules));
    const late = readings[0][0] - first;
    if (late > rules.gap) found.push(doubt("late", { probe: name, minute: readings[0][0], value: late, limit: rules.gap }));
  }
  hot.forEach(([name, readings], i) => {
    for (const [other, theirs] of hot.slice(i + 1)) if (alike(readings, theirs, rules)) found.push(doubt("same", { probe: name, other: other }));
  });
  const placed = probes.filter(([name]) => !inTheAir(name, rules)).length;
  if (placed < needed(rooms, rules)) found.push(doubt("few-probes", { value: placed, limit: needed(rooms, rules) }));
  return found;
}
/* May it be ended? Only where every probe met a published row and nothing of the log is doubted. */
export function judged(probes, rules, rooms) {
  const read = probes.filter(([, readings]) => readings.length);
  const short = probes.filter(([, readings]) => !readings.length || !met(readings, rules)).map(([name]) => name);
  const doubts = read.length ? doubtsOf(read, rules, rooms) : [];
  return { given: probes.length > 0 && !short.length && !doubts.length, short: short, doubts: doubts };
}
/* Minutes until every probe meets a row if it stays where it is; null where one is too cool yet. */
export function earliest(probes, rules) {
  let wait = 0;
  for (const [, readings] of probes) {
    if (readings.length && met(readings, rules)) continue;
    const [, now] = readings[readings.length - 1] || [0, -Infinity];
    const left = rules.rows.filter(([celsius]) => now >= celsius).map(([celsius, minutes]) => minutes - (holds(readings, celsius, rules, 1).running || 0));
    if (!left.length) return null;
    wait = Math.max(wait, Math.min(...left));
  }
  return Math.max(0, wait);
}

/* -- readings as they are typed or pasted -- */
const LINE = /^(?:(\d{4})-(\d\d)-(\d\d)[ T,;]+)?(?:(\d{1,2}):(\d\d)(?::(\d\d))?|(\d+(?:\.\d+)?))[\s;,]+(-?\d+(?:[.,]\d+)?)\s*(?:°?\s*[CF])?$/i;
export const degreesOf = (text, fahrenheit) => {
  if (!/^-?\d+(?:[.,]\d+)?$/.test(text.trim())) return null;
  const value = Number(text.trim().replace(",", "."));
  return fahrenheit ? celsiusOf(value) : Math.round(value * 1e6) / 1e6;
};
const to = (minute) => Math.round(minute * 100) / 100;
/* Lines of a clock time or a minute and the degrees; one that is not understood spoils all, so that none is lost
   unseen. `began` is when the job began (ms; 0 if it did not) and `now` the time; returns `began` and `readings`,
   or in `wrong` the number of the line. */
export function readLines(text, fahrenheit, began, now) {
  const readings = [];
  let since = began;
  const lines = text.split(/\r?\n/);
  for (let i = 0; i < lines.length; i += 1) {
    if (!lines[i].trim()) continue;
    const found = LINE.exec(lines[i].trim()), degrees = found && degreesOf(found[8], fahrenheit);
    if (!found || degrees === null) return { wrong: i + 1 };
    let minute = Number(found[7]);
    if (found[4] !== undefined) {
      const at = found[1] ? new Date(Number(found[1]), Number(found[2]) - 1, Number(found[3])) : new Date(now);
      if (Number(found[4]) > 23 || Number(found[5]) > 59 || Number(found[6] || 0) > 59) return { wrong: i + 1 };
      at.setHours(Number(found[4]), Number(found[5]), Number(found[6] || 0), 0);
      if (!found[1] && at.getTime() > now + 6e4) at.setDate(at.getDate() - 1); /* before midnight */
      since = since || at.getTime();
      minute = (at.getTime() - since) / 6e4;
    }
    if (minute < 0 || (readings.length && to(minute) <= readings[readings.length - 1][0])) return { wrong: i + 1 };
    readings.push([to(minute), degrees]);
  }
  const last = readings.length ? readings[readings.length - 1][0] : 0;
  return { began: since || now - last * 6e4, readings: readings };
}
