import assert from "node:assert/strict";
import { test } from "node:test";

const table = { walk: "From {unit}: {distance} to walk", done: ["{number} door", "{number} doors"] };
globalThis.document = { getElementById: () => ({ textContent: JSON.stringify(table) }) };
const { fill, many, parts, say } = await import("../../dashboard/round/said.js");

test("values stand where their names do, and a name without a value stays to be seen", () => {
  assert.equal(say("walk", { unit: "A1", distance: "8 m" }), "From A1: 8 m to walk");
  assert.equal(fill("{a} {b}", { a: 0 }), "0 {b}");
});

test("one and more have their own form", () => {
  assert.equal(many("done", 1), "1 door");
  assert.equal(many("done", 0), "0 doors");
  assert.equal(many("done", 3), "3 doors");
});

test("elements stand in a text in the order of its language", () => {
  assert.deepEqual(parts("walk", { unit: "x", distance: "y" }), ["From ", "x", ": ", "y", " to walk"]);
});
