"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const charts = require("../../themes/notebook/static/js/charts.js");

const box = (left, top, right, bottom) => ({ left, top, right, bottom });

test("arrow keys begin at an end and stop at the other", () => {
  assert.equal(charts.moved("ArrowRight", -1, 5), 0);
  assert.equal(charts.moved("ArrowLeft", -1, 5), 4);
  assert.equal(charts.moved("ArrowDown", 3, 5), 4);
  assert.equal(charts.moved("ArrowRight", 4, 5), 4);
  assert.equal(charts.moved("ArrowUp", 0, 5), 0);
});

test("page keys go by ten, Home and End to the ends", () => {
  assert.equal(charts.moved("PageDown", 3, 50), 13);
  assert.equal(charts.moved("PageUp", 3, 50), 0);
  assert.equal(charts.moved("PageDown", -1, 50), 0);
  for (const place of [-1, 7]) {
    assert.equal(charts.moved("Home", place, 50), 0);
    assert.equal(charts.moved("End", place, 50), 49);
  }
});

test("other keys and an empty chart move nowhere", () => {
  for (const key of ["a", "Tab", "constructor", "__proto__"]) assert.equal(charts.moved(key, 1, 5), -1, key);
  assert.equal(charts.moved("ArrowRight", -1, 0), -1);
});

test("the nearest box within reach is found", () => {
  const boxes = [box(0, 0, 10, 10), box(30, 0, 40, 10)];
  assert.equal(charts.nearest(boxes, 5, 5, 24), 0);
  assert.equal(charts.nearest(boxes, 21, 5, 24), 1);
  assert.equal(charts.nearest(boxes, 5, 40, 24), -1);
  assert.equal(charts.nearest([], 5, 5, 24), -1);
});

test("inside a long bar the distance is nothing, wherever it is", () => {
  assert.equal(charts.nearest([box(0, 0, 300, 10), box(280, 12, 290, 22)], 285, 9, 24), 0);
});

test("a tip stands above its mark, or below where there is no room, inside the width", () => {
  const tip = { width: 100, height: 30 };
  assert.deepEqual(charts.beside({ x: 200, y: 100 }, tip, 400), { left: 150, top: 58 });
  assert.deepEqual(charts.beside({ x: 10, y: 20 }, tip, 400), { left: 0, top: 32 });
  assert.equal(charts.beside({ x: 395, y: 100 }, tip, 400).left, 300);
  assert.equal(charts.beside({ x: 50, y: 100 }, { width: 100, height: 30 }, 60).left, 0);
});

test("a tip beside a crosshair changes sides at the edge", () => {
  const tip = { width: 100, height: 30 };
  assert.deepEqual(charts.beside({ x: 200, y: 40, aside: true }, tip, 400), { left: 212, top: 40 });
  assert.deepEqual(charts.beside({ x: 350, y: 40, aside: true }, tip, 400), { left: 238, top: 40 });
});

test("a chart without data for scripts brings nothing", () => {
  assert.deepEqual(charts.dataOf({ querySelector: () => null }), {});
  assert.deepEqual(charts.dataOf({ querySelector: () => ({ textContent: '{"trace": null}' }) }), { trace: null });
});
