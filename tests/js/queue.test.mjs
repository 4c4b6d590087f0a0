/* The queue of answers without a phone: storage, network and page are stood in for, the queue is ours. */
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

const kept = new Map();
globalThis.localStorage = {
  get length() { return kept.size; },
  key: (i) => [...kept.keys()][i],
  getItem: (key) => (kept.has(key) ? kept.get(key) : null),
  setItem: (key, value) => { kept.set(key, value); },
  removeItem: (key) => { kept.delete(key); },
};
const texts = { refused_silent: "silent", answered_code: "{status}" };
globalThis.document = { getElementById: (id) => (id === "said" ? { textContent: JSON.stringify(texts) } : null), addEventListener: () => {}, visibilityState: "visible" };
globalThis.location = { pathname: "/round", search: "" };
kept.set("spread.building", JSON.stringify({ key: "b1", name: "House", who: "" }));
const { Q } = await import("../../dashboard/round/queue.js");

let sent = [];
const answered = (replies, more = {}) => ({ status: 200, json: async () => ({ building: Q.building, replies: replies, ...more }) });
const all = (body) => body.answers.map((one) => ({ id: one.id, ok: true }));
function serve(reply) {
  sent = [];
  globalThis.fetch = async (_, request) => { const body = JSON.parse(request.body); sent.push(body.answers.map((one) => one.unit)); return reply(body); };
}
beforeEach(() => { for (const key of [...kept.keys()]) if (key.startsWith("spread.wait.")) kept.delete(key); });

test("answers go in the order they were given, ten at once, and are forgotten when they are kept", async () => {
  const ids = Array.from({ length: 12 }, (_, i) => Q.add({ unit: `u${i}`, answer: "clear" }, "said"));
  assert.equal(new Set(ids).size, 12);
  serve((body) => answered(all(body)));
  await Q.send();
  assert.deepEqual(sent[0], Array.from({ length: 10 }, (_, i) => `u${i}`));
  assert.deepEqual(sent[1], ["u10", "u11"]);
  assert.equal(Q.all().length, 0);
});

test("without a connection an answer waits, and is sent again under the same id", async () => {
  const id = Q.add({ unit: "u1", answer: "clear" }, "said");
  globalThis.fetch = async () => { throw new TypeError("The network is gone"); };
  await Q.send();
  assert.equal(Q.online, false);
  assert.equal(Q.trouble, "", "what a browser says is no word for a person");
  assert.deepEqual(Q.waiting().map((one) => one.id), [id]);
  const seen = [];
  serve((body) => { seen.push(...body.answers.map((one) => one.id)); return answered(all(body)); });
  await Q.send();
  assert.deepEqual(seen, [id]);
  assert.equal(Q.waiting().length, 0);
});

test("what the server says in its own words is shown", async () => {
  Q.add({ unit: "u1", answer: "clear" }, "said");
  globalThis.fetch = async () => ({ status: 503, json: async () => ({ words: "Busy." }) });
  await Q.send();
  assert.equal(Q.trouble, "Busy.");
});

test("what is refused stays with its sentence, does not hold up the others, and goes with its undo", async () => {
  const bad = Q.add({ unit: "bad", answer: "clear" }, "said");
  Q.add({ unit: "good", answer: "clear" }, "said");
  serve((body) => answered(body.answers.map((one) => ({ id: one.id, ok: one.unit === "good", words: "No such day." }))));
  await Q.send();
  assert.deepEqual(Q.refused().map((one) => [one.id, one.refused]), [[bad, "No such day."]]);
  assert.equal(Q.waiting().length, 0);
  assert.equal(Q.undoRefused(bad), true);
  assert.equal(Q.all().length, 0);
});

test("a batch that is too large shrinks until it passes, and one that never will holds up no other", async () => {
  const sizes = [10, 30, 30, 90, 30, 10];
  sizes.forEach((size, i) => Q.add({ unit: `u${i}`, answer: "room", size: size }, "said"));
  const kept = [];
  serve((body) => {
    if (body.answers.reduce((sum, one) => sum + one.size, 0) > 64) return { status: 413, json: async () => ({ words: "Too large." }) };
    kept.push(...body.answers.map((one) => one.unit));
    return answered(all(body));
  });
  await Q.send();
  assert.deepEqual(kept, ["u0", "u1", "u2", "u4", "u5"]);
  assert.deepEqual(Q.refused().map((one) => [one.body.unit, one.refused]), [["u3", "Too large."]]);
  assert.equal(Q.waiting().length, 0);
  assert.equal(Q.online, true);
});

test("answers of another building are kept apart and go only when a person says so", async () => {
  const id = Q.add({ unit: "u1", answer: "clear" }, "said");
  const home = Q.building;
  Q.building = { key: "b2", name: "Other", who: "" };
  assert.equal(Q.waiting().length, 0);
  assert.deepEqual(Q.elsewhere().map((one) => one.id), [id]);
  serve((body) => answered(all(body)));
  Q.adopt(Q.elsewhere()[0]);
  await new Promise((done) => setTimeout(done, 20));
  assert.deepEqual(sent[0], ["u1"]);
  Q.building = home;
});

const broken = (status) => ({ status: status, json: async () => ({ words: "It failed." }) });

test("an answer that trips the server holds up no other, and waits with what leans on it", async () => {
  const bad = Q.add({ unit: "bad", answer: "clear" }, "said");
  Q.add({ unit: "u1", answer: "clear" }, "said");
  Q.add({ unit: "bad", answer: "undo", undoes: bad }, "said");
  Q.add({ unit: "bad", answer: "room", from: bad }, "said");
  Q.add({ unit: "u2", answer: "clear" }, "said");
  const kept = [];
  let mended = false;
  serve((body) => {
    if (!mended && body.answers.some((one) => one.id === bad)) return broken(500);
    kept.push(...body.answers.map((one) => one.unit + one.answer));
    return answered(all(body));
  });
  await Q.send();
  assert.deepEqual(kept, ["u1clear", "u2clear"]);
  assert.equal(Q.refused().length, 0, "nobody has refused it");
  assert.equal(Q.waiting().length, 3);
  assert.equal(Q.trouble, "It failed.");
  mended = true;
  await Q.now();
  assert.deepEqual(kept.slice(2), ["badclear", "badundo", "badroom"]);
  assert.equal(Q.all().length, 0);
});

test("a server that fails at everything is left alone after a few tries, and nothing is lost", async () => {
  for (let n = 0; n < 9; n += 1) Q.add({ unit: `u${n}`, answer: "clear" }, "said");
  serve(() => broken(500));
  await Q.send();
  assert.ok(sent.length <= 9, `${sent.length} requests`);
  assert.equal(Q.waiting().length, 9);
  serve((body) => answered(all(body)));
  await Q.now();
  assert.equal(Q.waiting().length, 0);
});

test("what was lost on the line goes in smaller pieces, and in larger ones again when it passes", async () => {
  for (let n = 0; n < 20; n += 1) Q.add({ unit: `u${n}`, answer: "clear" }, "said");
  for (let n = 0; n < 5; n += 1) { /* ten, or what the last test left, down to one */
    globalThis.fetch = async () => { throw new TypeError("The network is gone"); };
    await Q.now();
  }
  serve((body) => answered(all(body)));
  await Q.now();
  assert.deepEqual(sent.map((one) => one.length), [1, 2, 4, 8, 5]);
});

test("a refused answer is mended under its own id and sent again", async () => {
  const id = Q.add({ unit: "3O4", answer: "clear", when: "2026-11-20" }, "3O4: nothing found");
  const seen = [];
  serve((body) => { seen.push(...body.answers); return answered(body.answers.map((one) => ({ id: one.id, ok: one.unit === "304", words: "No unit '3O4'." }))); });
  await Q.now();
  const [one] = Q.refused();
  Q.mend(one, { unit: "304" }, "304: nothing found");
  await Q.now();
  assert.equal(Q.all().length, 0);
  assert.deepEqual(seen.map((body) => [body.id, body.unit, body.when]), [[id, "3O4", "2026-11-20"], [id, "304", "2026-11-20"]]);
});

test("an answer of which the server says nothing stays and is asked about once", async () => {
  const silent = Q.add({ unit: "u1", answer: "clear" }, "said");
  Q.add({ unit: "u2", answer: "clear" }, "said");
  serve((body) => answered(all(body).filter((one) => one.id !== silent)));
  await Q.now();
  assert.deepEqual(Q.waiting().map((one) => one.id), [silent]);
  assert.equal(sent.length, 1);
  serve((body) => answered(all(body)));
  await Q.now();
  assert.equal(Q.waiting().length, 0);
});
