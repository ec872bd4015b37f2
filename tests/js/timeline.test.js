"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const timeline = require("../../themes/notebook/static/js/timeline.js");

const texts = (view, most) => timeline.ticks(view, most).map((tick) => tick.text);

test("a cell stands for the middle of its seconds", () => {
  assert.deepEqual(timeline.times({ step: 30, lines: [{ mean: [1, 2, 3] }] }), [0.25, 0.75, 1.25]);
});

test("a closer look keeps what it is about at its place", () => {
  assert.deepEqual(timeline.closer([0, 20], 0.5, 15), [7.5, 17.5]);
  assert.deepEqual(timeline.closer([7.5, 17.5], 2, 15), [0, 20]);
});

test("a look stays inside the run and is never too close", () => {
  assert.deepEqual(timeline.within([-5, 5], [0, 20], 1), [0, 10]);
  assert.deepEqual(timeline.within([15, 25], [0, 20], 1), [10, 20]);
  assert.deepEqual(timeline.within([5, 5.2], [0, 20], 2), [4.1, 6.1]);
  assert.deepEqual(timeline.within([-30, 70], [0, 20], 1), [0, 20]);
});

test("ticks are at round times, as many as there is room for", () => {
  assert.deepEqual(texts([0, 22], 5), ["0", "5", "10", "15", "20"]);
  assert.deepEqual(texts([12.1, 17.2], 5), ["13", "14", "15", "16", "17"]);
  assert.deepEqual(texts([10.05, 10.95], 5), ["10.2", "10.4", "10.6", "10.8"]);
  for (let length = 0.3; length < 300; length *= 1.3) {
    const count = texts([1.234, 1.234 + length], 5).length;
    assert.ok(count >= 1 && count <= 5, String(length));
  }
});

test("a line is cut at the edges of the look, on its way between two cells", () => {
  assert.deepEqual(timeline.pieces([0, 1, 2, 3], [0, 10, 20, 30], [0.5, 2.25]), [[[0.5, 5], [1, 10], [2, 20], [2.25, 22.5]]]);
});

test("a missing value parts a line, as in the picture without a script", () => {
  assert.deepEqual(timeline.pieces([0, 1, 2, 3, 4], [1, 1, null, 2, 2], [0, 4]), [[[0, 1], [1, 1]], [[3, 2], [4, 2]]]);
  assert.deepEqual(timeline.pieces([0, 1, 2], [null, 1, null], [0, 2]), []);
});

test("a path has one decimal", () => {
  assert.equal(timeline.path([[0.04, 1.26], [10, -2]]), "M0,1.3L10,-2");
});

test("only cells with a value inside the look are read", () => {
  const lines = [{ mean: [1, null, 3, 4] }, { mean: [1, null, null, 4] }];
  assert.deepEqual(timeline.filled([0, 1, 2, 3], lines, [0, 2.5]), [0, 2]);
  assert.equal(timeline.nearestCell([0, 1, 2, 3], [0, 2], 0.9), 0);
  assert.equal(timeline.nearestCell([0, 1, 2, 3], [0, 2], 1.1), 1);
  assert.equal(timeline.nearestCell([0, 1], [], 1), -1);
});

test("time is said in minutes and seconds", () => {
  assert.equal(timeline.clock(12 + 25 / 60), "12\u00a0min 25\u00a0s");
  assert.equal(timeline.clock(1.9999), "2\u00a0min 0\u00a0s");
});

test("temperatures follow the unit, power does not, and a minus is a true one", () => {
  const core = { unit: "°C", digits: [1, 1] };
  assert.equal(timeline.worded(65.44, core, false), "65.4\u00a0°C");
  assert.equal(timeline.worded(65.44, core, true), "149.8\u00a0°F");
  assert.equal(timeline.worded(284.4, { unit: "W", digits: [0, 0] }, true), "284\u00a0W");
  assert.equal(timeline.worded(-3.21, core, false), "\u22123.2\u00a0°C");
  assert.equal(timeline.worded(-0.04, core, false), "0.0\u00a0°C");
});

test("each unit has the decimals that its uncertainty leaves", () => {
  // By hand: an uncertainty of 2.0 °C keeps a decimal, its 3.6 in Fahrenheit degrees is rounded to 4 and keeps none.
  const core = { unit: "°C", digits: [1, 0] };
  assert.equal(timeline.worded(54.31, core, false), "54.3\u00a0°C");
  assert.equal(timeline.worded(54.31, core, true), "130\u00a0°F");
});

test("halves go to the even digit in both units, as in the pages", () => {
  // By hand: 54.25 °C is 129.65 °F, and 54.75 °C is 130.55 °F.
  const core = { unit: "°C", digits: [1, 1] };
  assert.deepEqual([54.25, 54.35, 54.75, -54.25].map((t) => timeline.worded(t, core, false)), ["54.2\u00a0°C", "54.4\u00a0°C", "54.8\u00a0°C", "\u221254.2\u00a0°C"]);
  assert.deepEqual([54.25, 54.75].map((t) => timeline.worded(t, core, true)), ["129.6\u00a0°F", "130.6\u00a0°F"]);
  assert.equal(timeline.worded(285.5, { unit: "W", digits: [0, 0] }, false), "286\u00a0W");
});
