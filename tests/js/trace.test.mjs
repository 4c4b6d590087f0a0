/* What the tracer works out by itself. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { alone, areaOf, codesIn, copyCodes, lengthOf, nearestCorner, nextCode, pathOf, pixels } from "../../dashboard/trace/geometry.js";

const SQUARE = { type: "Polygon", coordinates: [[[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]], [[2, 2], [4, 2], [4, 4], [2, 4], [2, 2]]] };

test("the next code goes on as the last two began, and never repeats one", () => {
  assert.equal(nextCode([]), "101");
  assert.equal(nextCode(["101"]), "102");
  assert.equal(nextCode(["101", "103"]), "105");
  assert.equal(nextCode(["110", "108"]), "106");
  assert.equal(nextCode(["A09"]), "A10");
  assert.equal(nextCode(["102", "101"]), "100");
  assert.equal(nextCode(["101", "115"]), "116");
  assert.equal(nextCode(["Rear"]), "");
});

test("a copied floor has its own codes, or none where the floor is not in them", () => {
  assert.deepEqual(copyCodes(["101", "A112"], "1", "2"), { 101: "201", A112: "A212" });
  assert.deepEqual(copyCodes(["1101"], "11", "12"), { 1101: "1201" });
  assert.equal(copyCodes(["101", "B2"], "1", "2"), null);
  assert.equal(copyCodes(["201"], "1", "2"), null);
});

test("areas leave holes out, and paths hold every ring", () => {
  assert.equal(areaOf(SQUARE), 96);
  assert.equal(pathOf(SQUARE).split("Z").length, 3);
});

test("a corner is taken hold of only when it is near", () => {
  const regions = [{ geometry: SQUARE }];
  assert.deepEqual(nearestCorner(regions, [9, 9], 3), [10, 10]);
  assert.equal(nearestCorner(regions, [7, 7], 1), null);
});

test("lengths are read in metres, feet, and feet and inches", () => {
  assert.deepEqual(lengthOf("12,5", false), { metres: 12.5 });
  assert.deepEqual(lengthOf("41.5", true), { feet: 41.5 });
  assert.deepEqual(lengthOf("41' 6\"", false), { feet: 41.5 });
  assert.equal(lengthOf("0", false), null);
  assert.equal(lengthOf("wide", true), null);
});

test("a floor above takes its scale from the two places", () => {
  const base = { length: { from: [0, 0], to: [100, 0], metres: 10 }, match: [[0, 0], [0, 50]] };
  const made = alone({ match: [[5, 5], [5, 30]], length: null }, base);
  assert.equal(pixels(made.length), 5);
  assert.equal(pixels({ from: [0, 0], to: [3.048, 0], feet: 10 }), 1);
});

test("room texts that look like codes and lie inside propose the clicks, each once", () => {
  const ring = [[0, 0], [10, 0], [10, 10], [0, 10]];
  const texts = [{ text: "101", at: [1, 1] }, { text: "101", at: [2, 2] }, { text: "KITCHEN", at: [3, 3] }, { text: "A-12", at: [4, 4] }, { text: "103", at: [30, 3] }];
  assert.deepEqual(codesIn(texts, ring).map((one) => one.text), ["101", "A-12"]);
});
