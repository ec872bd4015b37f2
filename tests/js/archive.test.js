"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const archive = require("../../themes/notebook/static/js/archive.js");

const START = { point: "stock", card: "", cooler: "", kind: "", protocol: "", year: "" };
const ROW = { point: "stock", card: "orrery-780", cooler: "slab", kind: "water-block", protocol: "soak-10", year: "2026" };

test("an address without a query is the start", () => {
  const state = archive.readState("", START);
  assert.equal(state.point, "stock");
  assert.equal(state.card, "");
  assert.equal(state.sort, "");
  assert.equal(archive.writeState(state, START), "");
});

test("a state survives the way through the address", () => {
  const state = { ...archive.readState("", START), point: "", card: "orrery-780", q: "a & b=é", sort: "core_rise", dir: "desc" };
  assert.deepEqual(archive.readState(archive.writeState(state, START), START), state);
});

test("only what differs from the start stands in the address", () => {
  const state = { ...archive.readState("", START), card: "orrery-780" };
  assert.equal(archive.writeState(state, START), "?card=orrery-780");
});

test("a direction that does not exist is ascending", () => {
  for (const dir of ["up", "", "__proto__", "constructor"]) assert.equal(archive.readState(`?dir=${dir}`, START).dir, "asc", dir);
});

test("a long search text is cut", () => {
  assert.equal(archive.readState(`?q=${"x".repeat(500)}`, START).q.length, 80);
});

test("a choice that the page does not offer goes back to the start", () => {
  const state = archive.readState("?card=<script>&point=none", START);
  const known = archive.withKnown(state, { card: ["", "orrery-780"], point: ["", "stock"] }, START);
  assert.equal(known.card, "");
  assert.equal(known.point, "stock");
});

test("a row fits when every choice and every word fits", () => {
  const state = archive.readState("", START);
  const text = "Fenwick Slab Orrery 780 settled";
  assert.ok(archive.fits(ROW, text, state));
  assert.ok(archive.fits(ROW, text, { ...state, q: "slab  SETTLED" }));
  assert.ok(!archive.fits(ROW, text, { ...state, q: "slab drifting" }));
  assert.ok(!archive.fits(ROW, text, { ...state, year: "2025" }));
  assert.ok(archive.fits(ROW, text, { ...state, point: "" }));
});

test("a heading sorts up first, then down, and another one starts anew", () => {
  const once = archive.withSort(archive.readState("", START), "core_rise");
  const twice = archive.withSort(once, "core_rise");
  assert.deepEqual([once.sort, once.dir], ["core_rise", "asc"]);
  assert.deepEqual([twice.sort, twice.dir], ["core_rise", "desc"]);
  assert.equal(archive.withSort(twice, "core_rise").dir, "asc");
  assert.equal(archive.withSort(twice, "board_power").dir, "asc");
});

test("CSV quotes commas, quotes and line ends", () => {
  // Source: RFC 4180, section 2.
  assert.equal(archive.toCsv([["a,b", 'c"d', "e\n f", "g"]]), '"a,b","c""d",e f,g\r\n');
});

test("CSV cells cannot start a formula, and numbers keep their sign", () => {
  assert.equal(archive.toCsv([["=1+1", "@x", "+cmd", "-cmd", "-3.5 ± 0.2", "+4"]]), "'=1+1,'@x,'+cmd,'-cmd,-3.5 ± 0.2,+4\r\n");
});

test("an empty cell stays empty in CSV", () => {
  assert.equal(archive.toCsv([["a", "", "b"]]), "a,,b\r\n");
});

test("a sum that starts like a number is no number", () => {
  assert.equal(archive.toCsv([["-1+cmd", "+2", "-2.5"]]), "'-1+cmd,+2,-2.5\r\n");
});

test("a cell of numbers gives value and uncertainty, a date its ISO form", () => {
  const cell = (parts, text = "") => ({ querySelector: (name) => parts[name] ?? null, textContent: text });
  const number = cell({ ".v": { textContent: "31.2" }, ".u": { textContent: " ±\u00a00.4" } });
  assert.deepEqual(archive.cellTexts(number, true), ["31.2", "0.4"]);
  assert.deepEqual(archive.cellTexts(cell({}, "not measured"), true), ["", ""]);
  assert.deepEqual(archive.cellTexts(cell({ time: { dateTime: "2026-04-18" } }, "18 Apr 2026"), false), ["2026-04-18"]);
  assert.deepEqual(archive.cellTexts(cell({}, "air"), false), ["air"]);
});

test("the count says whether anything is hidden", () => {
  assert.equal(archive.countText(3, 3), "All 3 rows");
  assert.equal(archive.countText(0, 3), "0 of 3 rows");
});
