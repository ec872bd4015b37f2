"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const states = require("../../themes/notebook/static/js/archive-state.js");
const kept = require("../../themes/notebook/static/js/archive-rows.js");
const csv = require("../../themes/notebook/static/js/archive-csv.js");
const charts = require("../../themes/notebook/static/js/archive-chart.js");

const OFFERED = {
  options: {
    point: ["stock", "idle"],
    card: ["orrery-740", "orrery-780"],
    cooler: ["fold", "slab", "twin"],
    kind: ["air", "water-block"],
    protocol: ["soak-10"],
    year: ["2026", "2025"],
    state: ["logged", "by-hand"],
  },
  start: { point: ["stock"] },
  labels: { point: "Test point", card: "Card", cooler: "Cooler", kind: "Kind", protocol: "Protocol", year: "Year", state: "Figures" },
  columns: ["name", "card", "core_rise"],
  charts: ["core_rise", "memory_rise"],
};
const START = states.startState(OFFERED);
const read = (search) => states.readState(search, OFFERED);
const chosen = (more) => ({ ...START, chosen: { ...START.chosen, ...more } });

// --- the address -------------------------------------------------------------------------------------------------

test("an address without a query is the start", () => {
  assert.deepEqual(read(""), { state: START, said: "" });
  assert.equal(states.writeState(START, OFFERED), "");
});

test("every view survives the way through the address", () => {
  const views = [
    chosen({ card: ["orrery-740", "orrery-780"], year: ["2025"] }),
    chosen({ point: [] }),
    chosen({ point: ["stock", "idle"] }),
    { ...START, settled: true, q: 'a & b=é "q" <i> 🔥 مبرد', sort: "core_rise", dir: "desc", chart: "memory_rise" },
  ];
  for (const view of views) assert.deepEqual(read(states.writeState(view, OFFERED)), { state: view, said: "" });
});

test("only what differs from the start stands in the address", () => {
  assert.equal(states.writeState(chosen({ card: ["orrery-780"] }), OFFERED), "?card=orrery-780");
  assert.equal(states.writeState(chosen({ point: [] }), OFFERED), "?point=");
});

test("addresses that were passed on before several values could be chosen still work", () => {
  const { state, said } = read("?card=orrery-780&point=idle&q=slab&sort=core_rise&dir=desc");
  assert.deepEqual([state.chosen.card, state.chosen.point, state.q, state.sort, state.dir], [["orrery-780"], ["idle"], "slab", "core_rise", "desc"]);
  assert.equal(said, "");
});

test("a value that does not exist is named and ignored, and the known ones beside it stay", () => {
  const { state, said } = read("?card=orrery-780&card=%3Cscript%3E&cooler=__proto__");
  assert.deepEqual(state.chosen.card, ["orrery-780"]);
  assert.deepEqual(state.chosen.cooler, []);
  assert.equal(said, "The address asks for what the archive does not have, which is ignored: Card “<script>” and Cooler “__proto__”.");
});

test("a filter of which nothing exists is as at the start", () => {
  assert.deepEqual(read("?point=none").state.chosen.point, ["stock"]);
});

test("orders, directions, charts and switches that do not exist are named too", () => {
  const { state, said } = read("?sort=constructor&dir=up&chart=x&settled=perhaps");
  assert.deepEqual(state, START);
  assert.equal(said, "The address asks for what the archive does not have, which is ignored: settled “perhaps”, order by “constructor”, direction “up” and 1 more.");
});

test("a hundred unknown values are one sentence, and a long one is cut", () => {
  const many = read(`?${Array.from({ length: 100 }, (_, i) => `card=x${i}`).join("&")}`).said;
  assert.ok(many.endsWith("Card “x0”, Card “x1”, Card “x2” and 97 more."), many);
  assert.ok(read(`?card=${"y".repeat(5000)}`).said.length < 200);
});

test("the same value twice is one value, in the order of the page", () => {
  assert.deepEqual(read("?card=orrery-780&card=orrery-740&card=orrery-780").state.chosen.card, ["orrery-740", "orrery-780"]);
});

test("words are cut between letters, never inside one", () => {
  assert.equal(read(`?q=${"🔥".repeat(100)}`).state.q, "🔥".repeat(80));
});

test("an address with broken escapes is read as far as it goes", () => {
  assert.equal(read("?q=%E0%A4%A&card=%").state.q.includes("\ufffd"), true);
});

test("a heading sorts up first, then down, and another one starts anew", () => {
  const once = states.withSort(START, "core_rise");
  const twice = states.withSort(once, "core_rise");
  assert.deepEqual([once.dir, twice.dir, states.withSort(twice, "core_rise").dir], ["asc", "desc", "asc"]);
  assert.equal(states.withSort(twice, "card").dir, "asc");
});

test("one value is taken out of many", () => {
  const view = chosen({ card: ["orrery-740", "orrery-780"] });
  assert.deepEqual(states.without(view, "card", "orrery-740").chosen.card, ["orrery-780"]);
});

// --- filtering and counting --------------------------------------------------------------------------------------

const row = (cooler, card, point, year, settled, kind = "air") => ({
  data: { cooler, card, point, year, settled, kind, protocol: "soak-10" },
  text: `${cooler}  ${card} ${settled === "yes" ? "settled" : "drifting"} Ünïcode \u00b5 🔥 مبرد "<b>"`,
});
const ROWS = [
  row("slab", "orrery-780", "stock", "2026", "yes", "water-block"),
  row("twin", "orrery-780", "stock", "2025", "yes"),
  row("fold", "orrery-740", "stock", "2025", "no"),
  row("slab", "orrery-780", "idle", "2026", "yes", "water-block"),
];
const INDEX = kept.indexed(ROWS, OFFERED.options);
const fits = (state) => [...kept.filtered(INDEX, state).fits];

/** The count beside every option, worked out the slow way: how many rows there are with it and all the other filters. */
function slowTally(state, key, value) {
  const without = { ...state, chosen: { ...state.chosen, [key]: [value] } };
  return ROWS.filter((_, i) => kept.filtered(INDEX, without).fits[i]).length;
}

test("values of one filter are alternatives, filters hold together", () => {
  assert.deepEqual(fits(START), [1, 1, 1, 0]);
  assert.deepEqual(fits(chosen({ cooler: ["slab", "fold"] })), [1, 0, 1, 0]);
  assert.deepEqual(fits(chosen({ cooler: ["slab", "fold"], year: ["2026"], point: [] })), [1, 0, 0, 1]);
  assert.deepEqual(fits({ ...START, settled: true }), [1, 1, 0, 0]);
});

test("every word must occur, whatever its case, script or quotes", () => {
  const words = (q) => kept.filtered(INDEX, { ...chosen({ point: [] }), q }).total;
  assert.deepEqual(["SLAB  Settled", "drifting", "slab drifting", "ünïcode", "🔥", "مبرد", '"<b>"', "   ", "\u03bc"].map(words), [2, 1, 0, 4, 4, 4, 4, 4, 4]);
});

test("counts follow the other filters and not their own", () => {
  const states_ = [START, chosen({ cooler: ["slab"] }), chosen({ cooler: ["slab"], year: ["2025"] }), { ...START, settled: true, q: "orrery" }];
  for (const state of states_) {
    const { tallies } = kept.filtered(INDEX, state);
    for (const key of states.CHOICES) {
      assert.deepEqual(tallies[key], OFFERED.options[key].map((value) => slowTally(state, key, value)), key);
    }
  }
});

test("the count beside settled only is of the rows that would stay", () => {
  assert.equal(kept.filtered(INDEX, START).settled, 2);
  assert.equal(kept.filtered(INDEX, { ...START, settled: true }).settled, 2);
});

test("a row with a value that no option has is counted nowhere and lost nowhere", () => {
  const index = kept.indexed([{ data: { cooler: "__proto__" }, text: "" }], OFFERED.options);
  const found = kept.filtered(index, chosen({ point: [] }));
  assert.equal(found.total, 1);
  assert.equal(found.tallies.cooler.reduce((a, b) => a + b), 0);
});

test("rows are sorted inside their test point, missing values last both ways", () => {
  const groups = [0, 0, 0, 1, 1];
  const column = [3, null, 1, 2, 9];
  assert.deepEqual(kept.ordered(groups, null, "asc"), [0, 1, 2, 3, 4]);
  assert.deepEqual(kept.ordered(groups, column, "asc"), [2, 0, 1, 3, 4]);
  assert.deepEqual(kept.ordered(groups, column, "desc"), [0, 2, 1, 4, 3]);
});

test("the count says whether anything is hidden", () => {
  assert.equal(kept.countText(3, 3), "All 3 rows");
  assert.equal(kept.countText(0, 3), "0 of 3 rows");
});

// --- CSV ---------------------------------------------------------------------------------------------------------

test("CSV quotes commas, quotes and line ends", () => {
  // Source: RFC 4180, section 2.
  assert.equal(csv.toCsv([["a,b", 'c"d', "e\n f", "g"]]), '"a,b","c""d",e f,g\r\n');
});

test("CSV cells cannot start a formula, and numbers keep their sign", () => {
  assert.equal(csv.toCsv([["=1+1", "@x", "+cmd", "-cmd", "-3.5 ± 0.2", "+4"]]), "'=1+1,'@x,'+cmd,'-cmd,-3.5 ± 0.2,+4\r\n");
});

test("an empty cell stays empty in CSV", () => {
  assert.equal(csv.toCsv([["a", "", "b"]]), "a,,b\r\n");
});

test("a sum that starts like a number is no number", () => {
  assert.equal(csv.toCsv([["-1+cmd", "+2", "-2.5"]]), "'-1+cmd,+2,-2.5\r\n");
});

test("a cell of numbers gives value and uncertainty, a date its ISO form, a name no box", () => {
  const cell = (parts, ...children) => ({ querySelector: (name) => parts[name] ?? null, childNodes: children });
  const box = { classList: { contains: (name) => name === "tick" }, textContent: "Compare air" };
  const number = cell({ ".v": { textContent: "31.2" }, ".u": { textContent: " ±\u00a00.4" } });
  assert.deepEqual(csv.cellTexts(number, true), ["31.2", "0.4"]);
  const bound = cell({ ".bound": { textContent: "at least " }, ".v": { textContent: "21.7" } });
  assert.deepEqual(csv.cellTexts(bound, true), ["at least 21.7", ""]);
  assert.deepEqual(csv.cellTexts(cell({}, { textContent: "not measured" }), true), ["", ""]);
  assert.deepEqual(csv.cellTexts(cell({ time: { dateTime: "2026-04-18" } }), false), ["2026-04-18"]);
  assert.deepEqual(csv.cellTexts(cell({}, box, { textContent: "air" }), false), ["air"]);
});

// --- the picture -------------------------------------------------------------------------------------------------

const item = (value, more = {}) => ({ label: "x", text: "", value, u: 0.5, settled: true, group: "Stock", ...more });

const chosenOf = (items) => charts.chosen(items, (row) => row.value);

test("an axis has round steps and reaches over all that is drawn", () => {
  assert.deepEqual(charts.niceTicks(31.2, 47.9), [30, 35, 40, 45, 50]);
  assert.deepEqual(charts.niceTicks(0.1076, 0.1215), [0.105, 0.11, 0.115, 0.12, 0.125]);
  assert.deepEqual(charts.niceTicks(-3, 4), [-4, -2, 0, 2, 4]);
  for (const [low, high] of [[5, 5], [0, 0], [-7, -7], [1e-9, 2e-9], [1e6, 3e6]]) {
    const ticks = charts.niceTicks(low, high);
    assert.ok(ticks.length > 1 && ticks[0] <= low && ticks.at(-1) >= high, `${low} to ${high}: ${ticks}`);
  }
});

test("the numbers of an axis have as many decimals each", () => {
  assert.deepEqual(charts.tickTexts([0.1, 0.15, 0.2]), ["0.10", "0.15", "0.20"]);
  assert.deepEqual(charts.tickTexts([-5, 0, 5]), ["\u22125", "0", "5"]);
});

test("no more than forty rows are drawn, and it is said how many are left out", () => {
  const found = chosenOf([...Array.from({ length: 43 }, () => item(1)), item(null)]);
  assert.deepEqual([found.drawn.length, found.left, found.missing], [40, 3, 1]);
  assert.equal(
    charts.said(found),
    "The first 40 are drawn, 3 further rows left out: narrow the choice to see them. 1 row without this figure. The lines are 95 % intervals. The table has the same figures.",
  );
});

test("rows without the figure leave no picture but a sentence", () => {
  assert.equal(charts.said(chosenOf([item(null)])), "None of these rows has this figure.");
});

test("a hollow dot is explained where there is one", () => {
  assert.match(charts.said(chosenOf([item(1, { settled: false })])), /A hollow dot had not settled\./);
});

test("every interval lies inside the picture, also on a phone", () => {
  const drawn = [item(31), item(48, { u: 3 }), item(29, { group: "Idle" })];
  for (const width of [240, 328, 1200]) {
    const at = charts.layout(drawn, width, true);
    for (const { value, u } of drawn) {
      assert.ok(at.x(value - u) >= at.left - 1e-9 && at.x(value + u) <= at.right + 1e-9, String(width));
    }
    assert.deepEqual(at.places.map((place) => place.heading), ["Stock", "", "Idle"]);
  }
});

test("a name is cut between letters as people count them", () => {
  assert.equal(charts.shortened("abcdef", 6), "abcdef");
  assert.equal(charts.shortened("abcdefg", 6), "abcde…");
  assert.equal(charts.shortened("👩‍🔬".repeat(4), 3), `${"👩‍🔬".repeat(2)}…`);
});
