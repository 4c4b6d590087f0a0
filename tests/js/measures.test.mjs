import assert from "node:assert/strict";
import { test } from "node:test";
import { CLOSE, STEP, alone, away, backTo, besideOf, between, fitOf, heldAt, keyed, mostOf, span, wheelFactor, zoomed } from "../../dashboard/plan/measures.js";

const floor = (wide, high, reads = 12) => ({ wide, high, reads });
const near = (a, b) => assert.ok(Math.abs(a - b) < 1e-9, `${a} is not ${b}`);

test("one floor fits by the side that is short of room", () => {
  near(fitOf([floor(40, 10)], 800, 600), 20);
  near(fitOf([floor(40, 10)], 800, 100), 10);
});

test("floors that fit together are all seen in rows and columns, and never shrink to nothing", () => {
  for (const count of [2, 3, 5, 10]) {
    const floors = Array.from({ length: count }, () => floor(42, 18)), scale = fitOf(floors, 1000, 700);
    const seen = [];
    for (let columns = 1; columns <= count; columns += 1) {
      const rows = Math.ceil(count / columns);
      seen.push(columns * (42 * scale + 12) + 12 <= 1000 + 1e-6 && rows * (18 * scale + 12 + 26) + 12 <= 700 + 1e-6);
    }
    assert.ok(seen.some(Boolean), `${count} floors at ${scale}`);
  }
  near(fitOf(Array.from({ length: 40 }, () => floor(400, 400)), 390, 300), 0.5);
});

test("floors side by side fill the row, stay readable, and are no larger than one alone", () => {
  const three = [floor(40, 18), floor(40, 18), floor(40, 18)];
  near(besideOf(three, 3 * (40 * 8.4 + 12)) * 40, 40 * 8.4); /* 0.7 of what reads: just three in a row */
  assert.ok(besideOf(three, 390) * 40 <= 390);
  near(besideOf([floor(10, 5)], 5000), 26);
});

test("a floor alone is at least as wide as reads and keeps its shape", () => {
  assert.deepEqual(alone(floor(40, 20)), { least: 480, most: "max(480px, min(1040px, calc(var(--plan-high) * 2.000)))" });
});

test("zooming stops at the whole plan and close up, and one that is past a limit does not jump back to it", () => {
  near(zoomed(20, STEP, 10, 64), 26);
  near(zoomed(60, STEP, 10, 64), 64);
  near(zoomed(12, 1 / STEP, 10, 64), 10);
  near(zoomed(8, 1 / STEP, 10, 64), 8);
  near(zoomed(70, STEP, 10, 64), 70);
  near(zoomed(8, STEP, 10, 64), 10.4);
  near(mostOf(floor(40, 18, 12)), CLOSE);
  near(mostOf(floor(40, 18, 50)), 100);
});

test("what lies under the pointer is there again after zooming", () => {
  const before = { left: 10, top: 20, width: 400, height: 200 }, after = { left: 10, top: 20, width: 520, height: 260 };
  const [right, down] = backTo(after, heldAt(before, 210, 70), 210, 70);
  near(right, 60);
  near(down, 15);
  assert.deepEqual(backTo(before, heldAt(before, 33, 44), 33, 44).map((one) => Math.abs(one) < 1e-9), [true, true]);
});

test("a wheel turned up makes larger, down smaller by as much, and a jump counts as one notch", () => {
  assert.ok(wheelFactor(-30) > 1 && wheelFactor(30) < 1);
  near(wheelFactor(-30) * wheelFactor(30), 1);
  near(wheelFactor(-5000), wheelFactor(-60));
  near(wheelFactor(0), 1);
});

test("two fingers: how far apart, and the point between them", () => {
  const two = [{ clientX: 100, clientY: 100 }, { clientX: 130, clientY: 140 }];
  near(span(two), 50);
  assert.deepEqual(between(two), [115, 120]);
});

test("a point outside of a floor is as far away as its edge, one inside not at all", () => {
  const rect = { left: 0, top: 0, right: 100, bottom: 50 };
  near(away(rect, 50, 25), 0);
  near(away(rect, 130, 60), 40);
  near(away(rect, -5, 25), 5);
});

test("keys ask for one thing each, and those of the browser are left alone", () => {
  near(keyed({ key: "+" }).by * keyed({ key: "-" }).by, 1);
  assert.deepEqual(keyed({ key: "=" }), { by: STEP });
  assert.deepEqual(keyed({ key: "0" }), { whole: true });
  assert.deepEqual(keyed({ key: "ArrowUp", shiftKey: true }), { pan: [0, -80] });
  assert.equal(keyed({ key: "ArrowUp" }), null);
  assert.equal(keyed({ key: "+", ctrlKey: true }), null);
  assert.equal(keyed({ key: "a" }), null);
});
