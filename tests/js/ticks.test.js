"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const { ticked, query, said } = require("../../themes/notebook/static/js/ticks.js");

const tick = (r, point = "stock") => ({ r, point, name: r.toUpperCase() });
const POINTS = new Map([["stock", "Stock"], ["idle", "Idle"]]);

test("ticks come and go", () => {
  const one = ticked([], tick("a"), true).ticks;
  const two = ticked(one, tick("b"), true).ticks;
  assert.deepEqual(two.map((t) => t.r), ["a", "b"]);
  assert.deepEqual(ticked(two, tick("a"), false).ticks.map((t) => t.r), ["b"]);
});

test("a fifth result is refused, another row of one of the four is not", () => {
  const four = ["a", "b", "c", "d"].map((r) => tick(r));
  assert.deepEqual(ticked(four, tick("e"), true), { ticks: four, full: true });
  assert.equal(ticked(four, tick("a", "idle"), true).full, false);
});

test("the address names every result once, at the test point of the first", () => {
  assert.equal(query([tick("a", "idle"), tick("b"), tick("a")]), "?r=a&r=b&point=idle");
});

test("one tick asks for a second, five say the limit, two test points which one is used", () => {
  assert.equal(said([tick("a")], POINTS, false), "Ticked: A. Tick a second result to compare it with.");
  assert.equal(said([tick("a"), tick("b")], POINTS, false), "Ticked: A, B.");
  assert.equal(said([tick("a"), tick("b")], POINTS, true), "Ticked: A, B. Four at most: untick one first.");
  assert.equal(
    said([tick("a", "idle"), tick("b")], POINTS, false),
    "Ticked: A, B. Rows of several test points are ticked; they are compared at Idle.",
  );
});
