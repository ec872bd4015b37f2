// The verdicts that came with the site: every pair of one card at one test point, and how they are read.
(function (root) {
  "use strict";

  const FORMAT = 2;
  const BOUNDS = { ">": "at least", "<": "at most" };

  /** Raised where a file of data does not hold what it should. */
  class Unreadable extends Error {}

  function must(right) {
    if (!right) throw new Unreadable("not the data of this page");
  }

  function at(list, index) {
    must(Array.isArray(list) && Number.isInteger(index) && index >= 0 && index < list.length);
    return list[index];
  }

  function text(value) {
    must(typeof value === "string");
    return value;
  }

  function list(value) {
    must(Array.isArray(value));
    return value;
  }

  /**
   * Returns digits as {bound, value, u, other, otherU}; `other` are those in °F, null where readers never switch.
   *
   * `bound` says that the value is all that is known of one side: "at least", "at most", or empty.
   */
  function readDigits(packed, kind, difference) {
    const bound = BOUNDS[text(packed)[0]] ?? "";
    const parts = packed.slice(bound ? 1 : 0).split(" ");
    const switched = (difference ? kind.apartF : kind.unitF) !== "";
    must(parts.every((part) => /^[+\u2212]?\d+(\.\d+)?$/.test(part)) && parts.length <= (switched ? 4 : 2));
    const half = switched ? parts.length / 2 : parts.length;
    must(Number.isInteger(half));
    const [value, u = ""] = parts.slice(0, half);
    const [other = null, otherU = ""] = parts.slice(half);
    const unit = difference ? kind.apart : kind.unit;
    must(!bound || (!difference && u === ""));
    return { bound, value, u, unit, other, otherU, otherUnit: difference ? kind.apartF : kind.unitF };
  }

  function readKind(packed) {
    const [id, name, unit, unitF, apart, apartF, lower, higher, better] = list(packed).slice(0, 9).map(text);
    const order = packed[9];
    must(Number.isInteger(order));
    return { id, name, unit, unitF, apart, apartF, lower, higher, better, order };
  }

  function readResult(packed, data, card) {
    const reasons = list(packed.reasons).map((i) => text(at(data.texts, i)));
    const figures = new Map(
      list(packed.figures).map(([kind, digits]) => [at(data.kinds, kind).id, readDigits(digits, at(data.kinds, kind), false)]),
    );
    const words = ["id", "label", "cooler", "sample", "tested", "verdict"].map((key) => [key, text(packed[key])]);
    return { ...Object.fromEntries(words), card, cardName: data.card, reasons, figures };
  }

  function readRow(packed, data, byPsi) {
    const [index, first, second, template] = list(packed);
    const kind = at(data.kinds, index);
    const judged = typeof first === "string";
    const values = packed.slice(judged ? 4 : 2).map((digits) => readDigits(digits, kind, false));
    must(!byPsi || values.length === 2);
    if (!judged) return { kind, difference: null, said: text(at(data.texts, first)), values };
    must(["a", "b", "=", "+", "-"].includes(second));
    return { kind, difference: readDigits(first, kind, true), standing: second, template: text(at(data.templates, template)), values };
  }

  function readPair(packed, data) {
    const [a, b, rows, reasons, back, watts] = list(packed);
    const ids = [at(data.results, a).id, at(data.results, b).id];
    const words = (indices) => list(indices ?? []).map((i) => text(at(data.texts, i)));
    const byPsi = Boolean(watts);
    const read = list(rows).map((row) => readRow(row, data, byPsi));
    const how = reasons === undefined ? "direct" : byPsi ? "psi" : "none";
    return { ids, how, rows: read, reasons: words(reasons), back: words(back), watts: watts ?? "" };
  }

  /** Returns the data of a card at a test point, read and checked. Throws Unreadable. */
  function readData(given, card) {
    try {
      must(given && given.format === FORMAT);
      const data = { texts: list(given.texts), templates: list(given.templates), kinds: list(given.kinds).map(readKind), card: text(given.card) };
      data.point = text(given.point);
      data.results = list(given.results).map((result) => readResult(result, data, card));
      const pairs = list(given.pairs).map((pair) => readPair(pair, data));
      return {
        ...data,
        results: new Map(data.results.map((result) => [result.id, result])),
        pairs: new Map(pairs.map((pair) => [pair.ids.join(" "), pair])),
      };
    } catch {
      throw new Unreadable("not the data of this page");
    }
  }

  /** Returns the data of a card on which a test point was never run; `results` are [id, name] of those asked for. */
  function notRun(results, card, cardName, point) {
    const made = results.map(([id, label]) => {
      const reasons = [`${label} was not run at ${point}.`];
      return [id, { id, label, cooler: label, sample: "", tested: "", verdict: "not run", card, cardName, reasons, figures: new Map() }];
    });
    return { point, kinds: [], results: new Map(made), pairs: new Map() };
  }

  // Which way a verdict reads, and which way a difference counts, once both results have changed places.
  const TURNED = { a: "b", b: "a", "=": "=", "+": "-", "-": "+" };

  function turnedDigits(digits) {
    if (digits === "" || digits === null || !/[1-9]/.test(digits)) return digits;
    if (digits.startsWith("\u2212")) return `+${digits.slice(1)}`;
    return `\u2212${digits.replace("+", "")}`;
  }

  function turnedRow(row) {
    const values = [...row.values].reverse();
    if (!row.difference) return { ...row, values };
    const { value, other } = row.difference;
    const difference = { ...row.difference, value: turnedDigits(value), other: turnedDigits(other) };
    return { ...row, difference, standing: TURNED[row.standing], turned: !row.turned, values };
  }

  function turned(pair) {
    return { ...pair, ids: [...pair.ids].reverse(), rows: pair.rows.map(turnedRow), reasons: pair.back, back: pair.reasons };
  }

  function apart(a, b) {
    if (a.card !== b.card) return [`They were tested on different cards, ${a.cardName} and ${b.cardName}.`];
    return a.sample === b.sample || !a.sample || !b.sample ? [] : [`They were tested on different samples (${a.sample} and ${b.sample}) of the ${a.cardName}.`];
  }

  /**
   * Returns how two results compare: {how, rows, reasons, watts}; `how` is "direct", "psi" or "none".
   *
   * Results on two card samples, and runs that do not compare at all, are ruled out as the program does it; every other
   * pair stands in the data, one way round.
   */
  function pairOf(data, a, b) {
    const reasons = [...apart(a, b), ...a.reasons, ...b.reasons];
    if (reasons.length) return { ids: [a.id, b.id], how: "none", rows: [], reasons, watts: "" };
    const found = data.get(a.card)?.pairs ?? new Map();
    const there = found.get(`${a.id} ${b.id}`);
    const back = found.get(`${b.id} ${a.id}`);
    must(there || back);
    return there ?? turned(back);
  }

  /** Returns a difference's sentence as parts: texts, {name: "a" or "b"} and {size}. */
  function sentence(row) {
    if (!row.difference) return [row.said];
    const swap = row.turned ? { a: "b", b: "a" } : { a: "a", b: "b" };
    return row.template.split(/(\{[abd]\})/).filter(Boolean).map((part) => {
      if (part === "{d}") return { size: unsigned(row.difference) };
      return /^\{[ab]\}$/.test(part) ? { name: swap[part[1]] } : part;
    });
  }

  function unsigned(digits) {
    const bare = (d) => (d === null ? null : d.replace(/^[+\u2212]/, ""));
    return { ...digits, value: bare(digits.value), other: bare(digits.other) };
  }

  /** Returns digits on one line, in °C and K. */
  function inWords(digits) {
    const value = digits.bound ? `${digits.bound} ${digits.value}` : digits.value;
    return [value, ...(digits.u ? ["±", digits.u] : []), ...(digits.unit ? [digits.unit] : [])].join("\u00a0");
  }

  /** Returns a difference's sentence as one text. */
  function plainSentence(row, nameA, nameB) {
    const names = { a: nameA, b: nameB };
    return sentence(row).map((part) => (typeof part === "string" ? part : part.name ? names[part.name] : inWords(part.size))).join("");
  }

  /** Returns what is said of the first result against the second in one or two words: "warmer", "too close to call". */
  function word(row) {
    if (!row.difference) return "not judged";
    if (row.standing === "=") return "too close to call";
    const { lower, higher, better } = row.kind;
    const isLower = row.standing === "-" || (row.standing === "a") === (better === "lower");
    return row.standing !== "+" && isLower ? lower : higher;
  }

  const api = { FORMAT, Unreadable, readData, readDigits, notRun, pairOf, sentence, plainSentence, inWords, word };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookCompareData = api;
})(globalThis);
