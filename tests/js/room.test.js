"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const figures = require("../../themes/notebook/static/js/figures.js");
const room = require("../../themes/notebook/static/js/room.js");

const MODEL = { name: "Core temperature", intercept: 1, slope: 0.1, bend: 0, q1: 0, q0: 0, vq: 0, v0: 0.04, v1: -0.0002, v2: 0.000001, k: 2, low: 170.4, high: 317.6 };
const RESULT = { id: "slab-on-780", label: "Fenwick Slab, on Orrery 780", coolest: 18, warmest: 28, power: 285, low: 170.4, high: 317.6, known: true, models: [MODEL], without: [["Memory temperature", "not measured"]] };

test("digits follow the uncertainty", () => {
  // Source: Particle Data Group, 0.827 ± 0.119 and ± 0.367; JCGM 100:2008, 7.2.6, 10.47 rounds up to 11.
  assert.deepEqual(figures.roundToUncertainty(0.827, 0.119), { value: "0.83", u: "0.12" });
  assert.deepEqual(figures.roundToUncertainty(0.827, 0.367), { value: "0.8", u: "0.4" });
  assert.deepEqual(figures.roundToUncertainty(100, 10.47), { value: "100", u: "11" });
  assert.deepEqual(figures.roundToUncertainty(0.5, 0.0355), { value: "0.50", u: "0.04" });
  assert.deepEqual(figures.roundToUncertainty(1234.5, 47), { value: "1230", u: "50" });
});

test("a value that rounds to zero has no sign, others a true minus", () => {
  assert.equal(figures.roundToUncertainty(-0.01, 0.4).value, "0.0");
  assert.equal(figures.roundToUncertainty(-1.23, 0.4).value, "\u22121.2");
});

test("what is no uncertainty gives no figure", () => {
  for (const u of [0, -1, NaN, Infinity]) assert.equal(figures.format(1, u, "K"), "");
  assert.equal(figures.format(NaN, 1, "K"), "");
});

test("a temperature is the ambient plus the line, its range from all three terms", () => {
  // By hand: 22 + 1 + 0.1 · 300 = 53; 2 · √(0.04 - 0.0002 · 300 + 10⁻⁶ · 300²) = 2 · √0.07.
  const found = room.temperature(MODEL, 22, 300);
  assert.equal(found.value, 53);
  assert.ok(Math.abs(found.half - 2 * Math.sqrt(0.07)) < 1e-12);
});

test("a curve bends the temperature and widens its range by its own term", () => {
  // By hand: q = 300² - 470 · 300 + 53 000 = 2 000; 53 + 10⁻⁴ · 2 000 = 53.2; 2 · √(0.07 + (2·10⁻⁵ · 2 000)²) = 2 · √0.0716.
  const found = room.temperature({ ...MODEL, bend: 1e-4, q1: 470, q0: -53000, vq: 4e-10 }, 22, 300);
  assert.ok(Math.abs(found.value - 53.2) < 1e-9);
  assert.ok(Math.abs(found.half - 2 * Math.sqrt(0.0716)) < 1e-9);
});

test("each temperature that is left out says its own reason", () => {
  const hotspot = { ...MODEL, name: "Hotspot temperature", low: 230.2 };
  const both = { ...RESULT, models: [MODEL, hotspot] };
  assert.deepEqual(room.answer(both, 22, 200).unsaid, [
    ["Hotspot temperature", "tested from 231 to 317 W only"],
    ["Memory temperature", "not measured"],
  ]);
  assert.deepEqual(room.answer(both, 22, 300).unsaid, [["Memory temperature", "not measured"]]);
});

test("outside the tested range nothing is said, and the limits are rounded inwards", () => {
  assert.equal(room.temperature(MODEL, 22, 170), null);
  assert.equal(room.temperature(MODEL, 22, NaN), null);
  const { temperatures, said } = room.answer(RESULT, 22, 400);
  assert.deepEqual(temperatures, []);
  assert.equal(said, "Tested from 171 to 317 W. 400 W is outside that range, and a line says nothing about what happens there.");
});

test("a number that is missing is asked for", () => {
  assert.equal(room.answer(RESULT, null, 300).said, "Give an ambient temperature and a board power.");
});

test("a room outside those of the tests gets an answer and a caution, an impossible one a question", () => {
  assert.equal(room.answer(RESULT, 23, 300).said, "");
  assert.match(room.answer(RESULT, 31, 300).said, /^Tests are made in rooms of 18 to 28 °C\. /);
  assert.match(room.answer(RESULT, 31, 300, true).said, /^Tests are made in rooms of 64\.4 to 82\.4 °F\. /);
  assert.equal(room.answer(RESULT, 31, 300).temperatures.length, 1);
  const odd = room.answer(RESULT, 1e9, 300);
  assert.deepEqual(odd, { temperatures: [], unsaid: [], said: "Give an ambient temperature of \u221220 to 60 °C." });
});

test("both units say the same temperature", () => {
  assert.deepEqual(room.inDigits({ value: 50, half: 1 }, false), { value: "50.0", u: "1.0", unit: "°C" });
  assert.deepEqual(room.inDigits({ value: 50, half: 1 }, true), { value: "122.0", u: "1.8", unit: "°F" });
});

test("a state survives the way through the address", () => {
  const state = { result: "slab-on-780", ambient: "21.5", power: "300" };
  assert.deepEqual(room.readState(room.writeState(state), [RESULT]), { ...state, said: "" });
});

test("an unknown result is named, and the first one is shown", () => {
  const found = room.readState("?result=<script>", [RESULT]);
  assert.deepEqual({ ...found, said: "" }, { result: "slab-on-780", ambient: null, power: "285", said: "" });
  assert.equal(found.said, "There is no result “<script>” to work with: Fenwick Slab, on Orrery 780 is shown.");
});

test("spoilt figures are not worked with", () => {
  const whole = JSON.stringify([RESULT]);
  assert.deepEqual(room.readResults(whole), [RESULT]);
  const spoilt = ["", "5", "null", "[]", "[null]", whole.slice(0, 40), whole.replace('"slope":0.1', '"slope":null'), whole.replace('"models":[', '"models":[5,'), whole.replace('"without":[', '"without":[5,')];
  for (const text of spoilt) assert.equal(room.readResults(text), null, text);
});
