/* Days and lengths as scripts say them. That they are those of the server is tested from Python, for many lengths. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { localOf } from "../../dashboard/web/local.js";

test("eight metres are 26 feet, on the desk and on the phone", () => {
  assert.equal(localOf("en", "feet").distance(8), "26 ft");
  assert.equal(localOf("en", "metres").distance(8), "8 m");
});

test("short lengths have a digit in feet where metres have one; a half goes to the even neighbour", () => {
  assert.equal(localOf("en", "feet").distance(2.5, 1), "8.2 ft");
  assert.equal(localOf("en", "feet").distance(3, 1), "10 ft");
  assert.equal(localOf("en", "metres").distance(2.5), "2 m");
  assert.equal(localOf("es", "metres").distance(6.2, 1), "6,2 m");
});

test("a day is said in one form", () => {
  assert.equal(localOf("en", "metres").speakDay("2026-11-25"), "Wed 25 Nov 2026");
  assert.equal(localOf("es", "metres").speakDay("2026-11-25"), "mié 25 nov 2026");
  assert.equal(localOf("en", "metres").speakMonth("2026-11-25"), "Nov 2026");
  assert.equal(localOf("en", "metres").speakShort("2026-11-05"), "5 Nov");
});
