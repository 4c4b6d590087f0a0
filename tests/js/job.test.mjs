import assert from "node:assert/strict";
import { test } from "node:test";

const shelf = new Map();
globalThis.localStorage = { getItem: (key) => (shelf.has(key) ? shelf.get(key) : null), setItem: (key, value) => shelf.set(key, value), removeItem: (key) => shelf.delete(key), key: (i) => [...shelf.keys()][i], get length() { return shelf.size; } };
const { job } = await import("../../dashboard/round/job.js");

const steps = [{ item: "mattress", place: "bed 1" }, { item: "mattress", place: "bed 2" }, { item: "sofa", place: "" }];

test("nothing is ticked beforehand, and what is sent parts the plan into done and left", () => {
  const one = job("101", "b");
  assert.equal(one.begun(), false);
  assert.deepEqual(one.told(steps), { done: [], left: [{ item: "mattress", place: "bed 1" }, { item: "mattress", place: "bed 2" }, { item: "sofa" }], products: [] });
  assert.equal(one.tick(steps[1]), true);
  one.put("prepared", "partly");
  assert.deepEqual(one.told(steps).done, [{ item: "mattress", place: "bed 2" }]);
  assert.equal(one.told(steps).prepared, "partly");
  assert.equal("pets" in one.told(steps), false);
});

test("a draft outlives a closed page, is one unit's alone, and goes when it is dropped", () => {
  assert.equal(job("101", "b").ticked(steps[1]), true);
  assert.equal(job("102", "b").begun(), false);
  assert.equal(job("101", "c").begun(), false);
  job("101", "b").drop();
  assert.equal(job("101", "b").begun(), false);
});

test("products that have no name are not sent, and there is always one line more", () => {
  const one = job("103", "b");
  assert.equal(one.lines(), 1);
  one.putProduct(0, { name: "Plain Dust" });
  one.putProduct(1, { registration: "1" });
  assert.equal(one.lines(), 2);
  assert.deepEqual(one.told(steps).products, [{ name: "Plain Dust", registration: "" }]);
});
