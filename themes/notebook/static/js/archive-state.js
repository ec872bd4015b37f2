// The archive's view as the page's address spells it: chosen values, words, order and chart.
(function (root) {
  "use strict";

  const CHOICES = ["point", "card", "cooler", "kind", "protocol", "year", "state"];
  const DIRECTIONS = ["asc", "desc"];
  const WORDS_LENGTH = 80;
  const SHOWN = 40;
  const NAMED = 3;

  function cut(text, length) {
    const letters = [...text];
    return letters.length > length ? letters.slice(0, length).join("") : text;
  }

  /** Returns the view that a page opens with: what is chosen at the start, and nothing else. */
  function startState(offered) {
    const chosen = Object.fromEntries(CHOICES.map((key) => [key, [...(offered.start[key] ?? [])]]));
    return { chosen, settled: false, q: "", sort: "", dir: "asc", chart: "" };
  }

  function quoted(text) {
    const flat = text.replace(/\s+/g, " ").trim();
    const short = cut(flat, SHOWN);
    return `“${short}${short === flat ? "" : "…"}”`;
  }

  function unknownSaid(unknown) {
    if (!unknown.length) return "";
    const few = unknown.slice(0, NAMED).map(({ label, value }) => `${label} ${quoted(value)}`);
    if (unknown.length > NAMED) few.push(`${unknown.length - NAMED} more`);
    const words = few.length < 2 ? few.join("") : `${few.slice(0, -1).join(", ")} and ${few.at(-1)}`;
    return `The address asks for what the archive does not have, which is ignored: ${words}.`;
  }

  function readChosen(query, key, offered, unknown) {
    if (!query.has(key)) return [...(offered.start[key] ?? [])];
    const asked = [...new Set(query.getAll(key))].filter((value) => value.trim() !== "");
    const options = offered.options[key] ?? [];
    for (const value of asked) if (!options.includes(value)) unknown.push({ label: offered.labels[key] ?? key, value });
    const known = options.filter((value) => asked.includes(value));
    // Where nothing of what was asked for exists, the start is a better answer than everything.
    return asked.length && !known.length ? [...(offered.start[key] ?? [])] : known;
  }

  function oneOf(query, key, known, label, unknown) {
    const asked = query.get(key) ?? "";
    if (asked === "" || known.includes(asked)) return asked;
    unknown.push({ label, value: asked });
    return "";
  }

  /**
   * Returns {state, said}: the view that an address asks for, and a sentence on what in it does not exist (or nothing).
   *
   * `offered` is what the page has: options and start by filter, their labels, columns and kinds of charts.
   */
  function readState(search, offered) {
    const query = new URLSearchParams(search);
    const unknown = [];
    const chosen = Object.fromEntries(CHOICES.map((key) => [key, readChosen(query, key, offered, unknown)]));
    const settled = oneOf(query, "settled", ["yes", "no"], "settled", unknown) === "yes";
    const sort = oneOf(query, "sort", offered.columns, "order by", unknown);
    const dir = oneOf(query, "dir", DIRECTIONS, "direction", unknown) || "asc";
    const chart = oneOf(query, "chart", offered.charts, "chart of", unknown);
    const q = cut(query.get("q") ?? "", WORDS_LENGTH);
    return { state: { chosen, settled, q, sort, dir: sort ? dir : "asc", chart }, said: unknownSaid(unknown) };
  }

  /** Returns the query of a view, with only what differs from the start; empty where nothing does. */
  function writeState(state, offered) {
    const query = new URLSearchParams();
    for (const key of CHOICES) {
      const start = offered.start[key] ?? [];
      const values = state.chosen[key];
      if (values.length === start.length && values.every((value) => start.includes(value))) continue;
      for (const value of values.length ? values : [""]) query.append(key, value);
    }
    if (state.settled) query.set("settled", "yes");
    if (state.q.trim()) query.set("q", state.q);
    if (state.sort) {
      query.set("sort", state.sort);
      query.set("dir", state.dir);
    }
    if (state.chart) query.set("chart", state.chart);
    const text = query.toString();
    return text ? `?${text}` : "";
  }

  /** Returns the view after a click on a column's heading: ascending first, then descending. */
  function withSort(state, key) {
    const again = state.sort === key && state.dir === "asc";
    return { ...state, sort: key, dir: again ? "desc" : "asc" };
  }

  /** Returns the view without one chosen value. */
  function without(state, key, value) {
    return { ...state, chosen: { ...state.chosen, [key]: state.chosen[key].filter((v) => v !== value) } };
  }

  /** Returns the words of a free text, as rows are searched by them. */
  function wordsOf(q) {
    return q.normalize("NFKC").toLowerCase().split(/\s+/).filter(Boolean);
  }

  const api = { CHOICES, startState, readState, writeState, withSort, without, wordsOf, cut };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookArchiveState = api;
})(globalThis);
