// What the address of the side by side page asks for, with a sentence for everything in it that cannot be done.
(function (root) {
  "use strict";

  const MOST = 4;
  const NAMED = 3;
  const SHOWN = 60;

  /** Returns a text from an address as it can be repeated in a sentence: one line, cut to what one can read. */
  function quoted(text) {
    const letters = [...text.replace(/\s+/g, " ").trim()];
    return `“${letters.length > SHOWN ? `${letters.slice(0, SHOWN).join("")}…` : letters.join("")}”`;
  }

  /** Returns words as a list in a sentence, cut after a few. */
  function listed(words) {
    const few = words.length > NAMED + 1 ? [...words.slice(0, NAMED), `${words.length - NAMED} others`] : words;
    return few.length < 2 ? few.join("") : `${few.slice(0, -1).join(", ")} and ${few.at(-1)}`;
  }

  function sentences(found, labels) {
    const said = [];
    const { unknown, twice, surplus } = found;
    if (unknown.length === 1) said.push(`There is no result ${quoted(unknown[0])} here.`);
    if (unknown.length > 1) said.push(`There are no results ${listed(unknown.map(quoted))} here.`);
    if (twice.length) said.push(`${listed(twice.map((id) => labels.get(id)))}: named twice, and shown once.`);
    if (surplus.length) said.push(`Four results at most. Left out: ${listed(surplus.map((id) => labels.get(id)))}.`);
    return said;
  }

  /**
   * Returns what an address asks for: ids of results in its order, the test point's id (empty where it names none), and
   * sentences about what was wrong. `labels` is a Map of every result's id to its name.
   */
  function readState(search, labels) {
    const query = new URLSearchParams(search);
    const asked = query.getAll("r").filter((id) => id.trim() !== "");
    const known = asked.filter((id) => labels.has(id));
    const once = [...new Set(known)];
    const found = {
      unknown: [...new Set(asked.filter((id) => !labels.has(id)))],
      twice: once.filter((id) => known.indexOf(id) !== known.lastIndexOf(id)),
      surplus: once.slice(MOST),
    };
    return { ids: once.slice(0, MOST), point: query.get("point") ?? "", said: sentences(found, labels) };
  }

  /** Returns the query of a state; empty where there is nothing to pass on. */
  function writeState(state) {
    const query = new URLSearchParams();
    for (const id of state.ids) query.append("r", id);
    if (state.ids.length && state.point) query.set("point", state.point);
    const text = query.toString();
    return text ? `?${text}` : "";
  }

  /** Returns the test points of some cards, each [id, name] once; `points` is a Map of card to such pairs. */
  function pointsOf(cards, points) {
    return [...new Map(cards.flatMap((card) => points.get(card) ?? []).reverse()).entries()].reverse();
  }

  /** Returns the test point to show, and a sentence where it is not the one that was asked for. */
  function knownPoint(asked, offered) {
    const usual = offered.find(([id]) => id === "stock") ?? offered[0] ?? ["", ""];
    if (offered.some(([id]) => id === asked)) return { point: asked, said: [] };
    const said = asked ? [`There is no test point ${quoted(asked)} on this card: ${usual[1]} is shown.`] : [];
    return { point: usual[0], said };
  }

  /** Returns what is asked of the reader, or an empty text where there is enough to compare. */
  function wanting(ids, labels) {
    if (ids.length === 0) return "Choose two to four results.";
    return ids.length === 1 ? `Choose a second result to compare ${labels.get(ids[0])} with.` : "";
  }

  const api = { MOST, quoted, listed, readState, writeState, pointsOf, knownPoint, wanting };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookCompareState = api;
})(globalThis);
