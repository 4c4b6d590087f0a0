/* Phones on a bad line, each with the real queue of the round page: storage and page are stood in for, the network is
   real and loses what it is told to lose. Told by its environment; says at the end what each phone gave. */
import { randomUUID } from "node:crypto";
import { Worker, isMainThread, parentPort, workerData } from "node:worker_threads";

const { PORT, PHONES, ANSWERS, LOSS, SEED, UNITS, QUEUE, DAY } = process.env;

if (isMainThread) {
  const told = [];
  let open = Number(PHONES);
  for (let n = 0; n < open; n += 1) {
    const worker = new Worker(new URL(import.meta.url), { workerData: n });
    worker.on("message", (one) => told.push(one));
    worker.on("error", (error) => { console.error(error); process.exit(1); });
    worker.on("exit", () => { open -= 1; if (!open) console.log(JSON.stringify(told)); });
  }
} else await phone(workerData);

/* A small generator of chance by a seed (a linear congruence), so that a run can be had again. */
function chanceOf(seed) {
  let state = (seed * 2654435761 + 12345) >>> 0;
  return () => { state = (Math.imul(state, 1664525) + 1013904223) >>> 0; return state / 4294967296; };
}

async function phone(number) {
  const chance = chanceOf(Number(SEED) * 1000 + number), kept = new Map(), texts = { refused_silent: "silent", answered_code: "{status}" };
  globalThis.localStorage = {
    get length() { return kept.size; },
    key: (i) => [...kept.keys()][i],
    getItem: (name) => (kept.has(name) ? kept.get(name) : null),
    setItem: (name, value) => { kept.set(name, value); },
    removeItem: (name) => { kept.delete(name); },
  };
  globalThis.document = { getElementById: (id) => (id === "said" ? { textContent: JSON.stringify(texts) } : null) };
  globalThis.location = { pathname: "/round", search: "" };
  const real = globalThis.fetch, counts = { sent: 0, lost: 0, unsent: 0 };
  globalThis.fetch = async (path, request) => {
    counts.sent += 1;
    if (chance() < Number(LOSS) / 3) { counts.unsent += 1; throw new TypeError("The request is lost"); }
    const reply = await real(`http://127.0.0.1:${PORT}${path}`, request);
    const text = await reply.text();
    if (chance() < Number(LOSS)) { counts.lost += 1; throw new TypeError("The reply is lost"); }
    return { status: reply.status, json: async () => JSON.parse(text) };
  };
  const { Q } = await import(QUEUE);
  await Q.now();
  while (!Q.building) await Q.now();
  const units = JSON.parse(UNITS), given = [];
  const rest = (ms) => new Promise((done) => setTimeout(done, ms));
  for (let n = 0; n < Number(ANSWERS); n += 1) {
    const unit = units[Math.floor(chance() * units.length)], kinds = ["clear", "nobody", "found", "refused"];
    const last = given[given.length - 1];
    if (last && last.answer !== "undo" && chance() < 0.1) given.push({ answer: "undo", id: Q.add({ unit: last.unit, answer: "undo", undoes: last.id, when: DAY }, "undo"), unit: last.unit });
    else {
      const answer = kinds[Math.floor(chance() * kinds.length)];
      const more = answer === "found" ? { level: "low", evidence: ["live"] } : {};
      given.push({ answer: answer, unit: unit, id: Q.add({ unit: unit, answer: answer, method: "brief-visual", when: DAY, note: `phone ${number} ${randomUUID()}`, ...more }, "said") });
    }
    Q.send();
    if (chance() < 0.5) await rest(5);
  }
  const until = Date.now() + 240000;
  while (Q.waiting().length && Date.now() < until) { await Q.now(); await rest(2); }
  parentPort.postMessage({ number: number, given: given, waiting: Q.waiting().length, refused: Q.refused().map((one) => one.refused), ...counts });
  process.exit(0);
}
