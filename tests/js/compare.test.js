"use strict";

const assert = require("node:assert/strict");
const test = require("node:test");

const states = require("../../themes/notebook/static/js/compare-state.js");
const data = require("../../themes/notebook/static/js/compare-data.js");

const LABELS = new Map([
  ["slab", "Fenwick Slab"],
  ["twin", "Gritstone Twin"],
  ["fold", "Gritstone Fold"],
  ["loop", "Lapwing Loop"],
  ["riffle", "Moorhen Riffle"],
]);
const read = (search) => states.readState(search, LABELS);

// --- the address -------------------------------------------------------------------------------------------------

test("a comparison survives the way through the address", () => {
  const state = { ids: ["slab", "twin", "fold", "loop"], point: "power-80" };
  assert.deepEqual(read(states.writeState(state)), { ...state, said: [] });
});

test("an empty address asks for nothing, and nothing gives an empty address", () => {
  assert.deepEqual(read(""), { ids: [], point: "", said: [] });
  assert.equal(states.writeState({ ids: [], point: "stock" }), "");
});

test("a result that does not exist is named, and the others stay", () => {
  assert.deepEqual(read("?r=slab&r=nothing").said, ["There is no result “nothing” here."]);
  assert.deepEqual(read("?r=slab&r=nothing").ids, ["slab"]);
});

test("names from the language and markup are results that do not exist", () => {
  const found = read('?r=__proto__&r=constructor&r=<img src=x onerror="alert(1)">');
  assert.deepEqual(found.ids, []);
  assert.deepEqual(found.said, ['There are no results “__proto__”, “constructor” and “<img src=x onerror="alert(1)">” here.']);
});

test("the same result twice is shown once and said", () => {
  assert.deepEqual(read("?r=slab&r=twin&r=slab"), { ids: ["slab", "twin"], point: "", said: ["Fenwick Slab: named twice, and shown once."] });
});

test("of more than four, the first four are shown and the others named", () => {
  const found = read("?r=slab&r=twin&r=fold&r=loop&r=riffle");
  assert.deepEqual(found.ids, ["slab", "twin", "fold", "loop"]);
  assert.deepEqual(found.said, ["Four results at most. Left out: Moorhen Riffle."]);
});

test("everything that is wrong is said at once", () => {
  assert.equal(read("?r=slab&r=slab&r=twin&r=fold&r=loop&r=riffle&r=x").said.length, 3);
});

test("a thousand unknown results are one short sentence", () => {
  const { said } = read(`?${Array.from({ length: 1000 }, (_, i) => `r=${"y".repeat(200)}${i}`).join("&")}`);
  assert.equal(said.length, 1);
  assert.ok(said[0].length < 300, said[0]);
  assert.ok(said[0].endsWith("and 997 others here."), said[0]);
});

test("empty values are no results", () => {
  assert.deepEqual(read("?r=&r=%20&r=slab&point="), { ids: ["slab"], point: "", said: [] });
});

test("broken escapes and line breaks do no harm", () => {
  assert.deepEqual(read("?r=%E0%A4%A&r=a%0Ab").said, ["There are no results “\ufffd%A” and “a b” here."]);
});

test("one result asks for a second, none for two", () => {
  assert.equal(states.wanting(["slab"], LABELS), "Choose a second result to compare Fenwick Slab with.");
  assert.equal(states.wanting([], LABELS), "Choose two to four results.");
  assert.equal(states.wanting(["slab", "twin"], LABELS), "");
});

test("test points of several cards are offered once, in the order of the first", () => {
  const points = new Map([
    ["one", [["idle", "Idle"], ["stock", "Stock"]]],
    ["two", [["stock", "Stock"], ["over", "Overclock"]]],
  ]);
  assert.deepEqual(states.pointsOf(["one", "two"], points), [["idle", "Idle"], ["stock", "Stock"], ["over", "Overclock"]]);
});

test("a test point that does not exist is named and stock shown", () => {
  const offered = [["idle", "Idle"], ["stock", "Stock"]];
  assert.deepEqual(states.knownPoint("idle", offered), { point: "idle", said: [] });
  assert.deepEqual(states.knownPoint("", offered), { point: "stock", said: [] });
  assert.deepEqual(states.knownPoint("<b>", offered), { point: "stock", said: ["There is no test point “<b>” on this card: Stock is shown."] });
  assert.equal(states.knownPoint("x", [["idle", "Idle"]]).point, "idle");
});

// --- the data ----------------------------------------------------------------------------------------------------

/** A file's data of three results: slab better than twin by K, both too close to fold, twin and fold by Ψ only. */
function given() {
  const figures = [[0, "31.2 0.4 56.2 0.7"], [1, "285.0 2.9"]];
  const result = (id, label) => ({ id, label, cooler: label, sample: "a", tested: "18 Apr 2026", verdict: "settled", reasons: [], figures });
  return {
    format: 2,
    card: "Orrery 780",
    point: "Stock",
    results: [result("slab", "Fenwick Slab"), result("twin", "Gritstone Twin"), result("fold", "Fold")],
    kinds: [
      ["core_rise", "Core over ambient", "K", "°F", "K", "°F", "cooler", "warmer", "lower", 0],
      ["board_power", "Board power", "W", "", "W", "", "lower", "higher", "", 10],
    ],
    texts: ["Not judged.", "Their test points are not equivalent: A and B.", "Their test points are not equivalent: B and A."],
    templates: ["{a} is {d} cooler than {b}.", "Too close to call: {d}.", "{b} is {d} higher than {a}."],
    pairs: [
      [0, 1, [[0, "\u22123.0 0.5 \u22125.4 0.9", "a", 0], [1, "\u22125 3", "-", 2]]],
      [0, 2, [[0, "0.0 0.5 0.0 0.9", "=", 1], [1, 0]]],
      [1, 2, [[0, "+0.4 0.3 +0.7 0.5", "b", 0, "31.2 0.4 56.2 0.7", "30.8 0.4 55.4 0.7"]], [1], [2], "254\u00a0W"],
    ],
  };
}

const plain = (text) => text.replaceAll("\u00a0", " ");
const card = () => new Map([["orrery-780", data.readData(given(), "orrery-780")]]);
const pair = (a, b) => {
  const cards = card();
  const [one, two] = [a, b].map((id) => cards.get("orrery-780").results.get(id));
  return { ...data.pairOf(cards, one, two), names: [one.label, two.label] };
};
const said = (found) => found.rows.map((row) => plain(data.plainSentence(row, ...found.names)));

test("a pair is read as it was written", () => {
  const found = pair("slab", "twin");
  assert.equal(found.how, "direct");
  assert.deepEqual(said(found), ["Fenwick Slab is 3.0 ± 0.5 K cooler than Gritstone Twin.", "Gritstone Twin is 5 ± 3 W higher than Fenwick Slab."]);
  assert.deepEqual(found.rows.map(data.word), ["cooler", "lower"]);
});

test("the other way round differences change sign, sentences stay, words turn", () => {
  const found = pair("twin", "slab");
  assert.deepEqual(said(found), said(pair("slab", "twin")));
  assert.deepEqual(found.rows.map((row) => row.difference.value), ["+3.0", "+5"]);
  assert.equal(found.rows[0].difference.other, "+5.4");
  assert.deepEqual(found.rows.map(data.word), ["warmer", "higher"]);
});

test("a difference of zero has no sign either way", () => {
  assert.equal(pair("fold", "slab").rows[0].difference.value, "0.0");
  assert.deepEqual(pair("fold", "slab").rows.map(data.word), ["too close to call", "not judged"]);
});

test("a pair by Ψ has the reason and the values of its own order", () => {
  const [there, back] = [pair("twin", "fold"), pair("fold", "twin")];
  assert.deepEqual([there.how, plain(there.watts)], ["psi", "254 W"]);
  assert.deepEqual([there.reasons, back.reasons], [["Their test points are not equivalent: A and B."], ["Their test points are not equivalent: B and A."]]);
  assert.deepEqual(there.rows[0].values.map((v) => v.value), ["31.2", "30.8"]);
  assert.deepEqual(back.rows[0].values.map((v) => v.value), ["30.8", "31.2"]);
});

test("a card on which the test point was never run has results without figures and says so", () => {
  const cards = card().set("tarn-x9", data.notRun([["x", "Loop, 1 May 2026"]], "tarn-x9", "Tarn X9", "Stock"));
  const found = data.pairOf(cards, cards.get("orrery-780").results.get("slab"), cards.get("tarn-x9").results.get("x"));
  assert.deepEqual(found.reasons, ["They were tested on different cards, Orrery 780 and Tarn X9.", "Loop, 1 May 2026 was not run at Stock."]);
});

/** Every way of spoiling one place of the data: gone, of another kind, out of range. */
function* spoiltData() {
  const junk = [undefined, null, 0, -1, 99, "", "x", "<b>", [], {}, true, NaN];
  const paths = function* (value, path = []) {
    yield path;
    if (value && typeof value === "object") for (const key of Object.keys(value)) yield* paths(value[key], [...path, key]);
  };
  for (const path of paths(given())) {
    for (const wrong of junk) {
      const whole = { root: given() };
      let at = whole;
      for (const key of ["root", ...path].slice(0, -1)) at = at[key];
      at[["root", ...path].at(-1)] = wrong;
      yield { path: path.join("."), wrong, value: whole.root };
    }
  }
}

test("spoilt data is either read whole or declined, and declined by one kind of error", () => {
  let declined = 0;
  for (const { path, wrong, value } of spoiltData()) {
    try {
      const cards = new Map([["orrery-780", data.readData(value, "orrery-780")]]);
      const results = [...cards.get("orrery-780").results.values()];
      for (const a of results) for (const b of results) if (a !== b) data.pairOf(cards, a, b).rows.map((row) => data.plainSentence(row, a.label, b.label));
    } catch (problem) {
      assert.ok(problem instanceof data.Unreadable, `${path} = ${String(wrong)}: ${problem.stack}`);
      declined += 1;
    }
  }
  assert.ok(declined > 500, String(declined));
});

test("data of another format is declined", () => {
  assert.throws(() => data.readData({ ...given(), format: 1 }, "orrery-780"), data.Unreadable);
  assert.throws(() => data.readData(undefined, "orrery-780"), data.Unreadable);
});

test("a bound is read and said as one", () => {
  const kind = { unit: "K", unitF: "°F", apart: "K", apartF: "°F" };
  const least = data.readDigits(">21.7 39.1", kind, false);
  assert.deepEqual(least, { bound: "at least", value: "21.7", u: "", unit: "K", other: "39.1", otherU: "", otherUnit: "°F" });
  assert.equal(data.inWords(least), "at least 21.7\u00a0K");
  assert.equal(data.inWords(data.readDigits("<21.7 39.1", kind, false)), "at most 21.7\u00a0K");
});

test("digits that are none are declined", () => {
  const kind = { unit: "K", unitF: "°F", apart: "K", apartF: "°F" };
  for (const packed of ["", "x", "1e5", "NaN 1", "1 2 3", "1 2 3 4 5", "1.", "--1 2 3 4", "-1 2 3 4"]) {
    assert.throws(() => data.readDigits(packed, kind, false), data.Unreadable, packed);
  }
  for (const packed of [">", "> 21.7", ">21.7 0.4 39.1 0.7", "=21.7"]) assert.throws(() => data.readDigits(packed, kind, false), data.Unreadable, packed);
  assert.throws(() => data.readDigits(">21.7 39.1", kind, true), data.Unreadable); // of a bound no difference is known
  assert.deepEqual(data.readDigits("22 71.6", kind, false), { bound: "", value: "22", u: "", unit: "K", other: "71.6", otherU: "", otherUnit: "°F" });
});
