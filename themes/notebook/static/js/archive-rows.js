// Which rows fit a view, how many each further choice would leave, and in which order they stand.
(function (root) {
  "use strict";

  const inNode = typeof module === "object" && module.exports;
  const values = inNode ? require("./values.js") : root.SoakbookValues;
  const { CHOICES, wordsOf } = inNode ? require("./archive-state.js") : root.SoakbookArchiveState;

  const NONE = 0xffff;

  /** Returns a text as it is searched. */
  function searchable(text) {
    return text.normalize("NFKC").toLowerCase().replace(/\s+/g, " ");
  }

  /** Returns rows, each {data, text}, as numbers: for every filter the place of a row's value among its options. */
  function indexed(rows, options) {
    const codes = CHOICES.map((key) => {
      const places = new Map((options[key] ?? []).map((value, i) => [value, i]));
      return Uint16Array.from(rows, (row) => places.get(row.data[key]) ?? NONE);
    });
    return {
      size: rows.length,
      codes,
      counts: CHOICES.map((key) => (options[key] ?? []).length),
      options,
      settled: Uint8Array.from(rows, (row) => (row.data.settled === "yes" ? 1 : 0)),
      texts: rows.map((row) => searchable(row.text)),
    };
  }

  function wantedMasks(index, state) {
    return CHOICES.map((key, k) => {
      const chosen = state.chosen[key];
      if (!chosen.length) return null;
      return Uint8Array.from({ length: index.counts[k] }, (_, i) => (chosen.includes(index.options[key][i]) ? 1 : 0));
    });
  }

  /**
   * Returns {fits, total, tallies, settled}: whether each row fits a view, how many do, for every filter how many rows
   * each of its options has among those that fit all the other filters, and how many of the fitting rows are settled.
   */
  function filtered(index, state) {
    const masks = wantedMasks(index, state);
    const words = wordsOf(state.q);
    const tallies = index.counts.map((count) => new Uint32Array(count + 1));
    const fits = new Uint8Array(index.size);
    const filters = masks.length;
    let total = 0;
    let settled = 0;
    for (let row = 0; row < index.size; row += 1) {
      if (state.settled && !index.settled[row]) continue;
      let failed = 0;
      let only = -1;
      for (let k = 0; k < filters && failed < 2; k += 1) {
        if (masks[k] === null || masks[k][index.codes[k][row]]) continue;
        failed += 1;
        only = k;
      }
      if (failed > 1 || !words.every((word) => index.texts[row].includes(word))) continue;
      if (failed === 1) {
        tallies[only][Math.min(index.codes[only][row], index.counts[only])] += 1;
        continue;
      }
      fits[row] = 1;
      total += 1;
      settled += index.settled[row];
      for (let k = 0; k < filters; k += 1) tallies[k][Math.min(index.codes[k][row], index.counts[k])] += 1;
    }
    const named = CHOICES.map((key, k) => [key, [...tallies[k].subarray(0, index.counts[k])]]);
    return { fits, total, tallies: Object.fromEntries(named), settled };
  }

  /** Returns the places of rows in order: by group, then by a column's values (numbers or texts, null goes last). */
  function ordered(groups, column, dir) {
    const places = [...groups.keys()];
    if (!column) return places;
    const direction = dir === "desc" ? -1 : 1;
    const parts = new Map();
    for (const place of places) {
      if (!parts.has(groups[place])) parts.set(groups[place], []);
      parts.get(groups[place]).push(place);
    }
    const inOrder = [...parts].sort(([a], [b]) => a - b);
    return inOrder.flatMap(([, part]) => part.sort((a, b) => values.compare(column[a], column[b], direction) || a - b));
  }

  /** Returns the sentence above the table. */
  function countText(shown, total) {
    return shown === total ? `All ${total} rows` : `${shown} of ${total} rows`;
  }

  const api = { searchable, indexed, filtered, ordered, countText };
  if (inNode) module.exports = api;
  else root.SoakbookArchiveRows = api;
})(globalThis);
