// The one rule for missing values: an empty text or nothing is missing, is no number, and sorts last both ways.
(function (root) {
  "use strict";

  /** Returns the number that a data attribute holds, or null where it is missing or not finite. */
  function toNumber(text) {
    if (text === undefined || text === null || text.trim() === "") return null;
    const number = Number(text);
    return Number.isFinite(number) ? number : null;
  }

  // One for all comparisons, made when it is first needed: making one takes longer than many comparisons.
  let collator = null;

  /** Compares two numbers or texts; `direction` is 1 or -1, null goes last in both. */
  function compare(a, b, direction) {
    if (typeof a === "number" && typeof b === "number") return Math.sign(a - b) * direction;
    if (a === null || b === null) return (a === null) - (b === null);
    collator ??= new Intl.Collator("en", { numeric: true });
    const order = collator.compare(String(a), String(b));
    return Math.sign(order) * direction;
  }

  const api = { toNumber, compare };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookValues = api;
})(globalThis);
