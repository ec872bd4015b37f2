"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const values = require("../../themes/notebook/static/js/values.js");

test("a missing value is nothing, never a number", () => {
  for (const text of ["", "  ", undefined, null, "nan", "NaN", "Infinity", "x"]) assert.equal(values.toNumber(text), null, String(text));
});

test("zero is a value", () => {
  assert.equal(values.toNumber("0"), 0);
  assert.equal(values.toNumber("-0.5"), -0.5);
});

test("missing values come last whichever way is sorted", () => {
  const sorted = (direction) => [2, null, 1, null, 3].sort((a, b) => values.compare(a, b, direction));
  assert.deepEqual(sorted(1), [1, 2, 3, null, null]);
  assert.deepEqual(sorted(-1), [3, 2, 1, null, null]);
});

test("texts are sorted as people count", () => {
  assert.deepEqual(["X 10", "X 9", "a"].sort((a, b) => values.compare(a, b, 1)), ["a", "X 9", "X 10"]);
});
