// The rows of a table as CSV, as they are shown.
(function (root) {
  "use strict";

  // The first characters that the program's own tables guard (tables.py); space is gone by then.
  const RISKY = /^[=+\-@|%\uFF1D\uFF0B\uFF0D\uFF20]/;
  const NUMBER = /^[+-]?\d[\d.]*( |$)/;

  /** Returns a text on one line that no spreadsheet takes for a formula: an apostrophe goes before what could start one. */
  function harmless(text) {
    const flat = text.replace(/\s+/g, " ").trim();
    return RISKY.test(flat) && !NUMBER.test(flat) ? `'${flat}` : flat;
  }

  /** Returns CSV (RFC 4180) of rows of texts. */
  function toCsv(rows) {
    const quoted = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
    return rows.map((row) => `${row.map(harmless).map(quoted).join(",")}\r\n`).join("");
  }

  /** Returns a cell's words without the box that ticks its row. */
  function words(cell) {
    return [...cell.childNodes].filter((node) => !node.classList?.contains("tick")).map((node) => node.textContent).join("");
  }

  /** Returns what a cell holds, as texts: value, a bound as one, and uncertainty where it is of a column of numbers, dates as ISO 8601. */
  function cellTexts(cell, numeric) {
    const bound = cell.querySelector(".bound")?.textContent ?? "";
    if (numeric) return [bound + (cell.querySelector(".v")?.textContent ?? ""), cell.querySelector(".u")?.textContent.replace("±", "").trim() ?? ""];
    const time = cell.querySelector("time");
    return [time ? time.dateTime : words(cell)];
  }

  /** Returns rows of texts, headings first, of table rows that each have the name of their test point. */
  function csvRows(heads, rows) {
    const numeric = heads.map((head) => head.classList.contains("n"));
    const names = heads.flatMap((head, i) => (numeric[i] ? [head.textContent, `${head.textContent}: ±, 95 %`] : [head.textContent]));
    const body = rows.map(({ node, title }) => [title, ...[...node.cells].flatMap((cell, i) => cellTexts(cell, numeric[i]))]);
    return [["Test point", ...names], ...body];
  }

  /** Offers a text as a file to save. */
  function save(text, name, scope) {
    const link = scope.createElement("a");
    link.href = URL.createObjectURL(new Blob(["\ufeff", text], { type: "text/csv;charset=utf-8" }));
    link.download = name;
    link.click();
    URL.revokeObjectURL(link.href);
  }

  const api = { harmless, toCsv, words, cellTexts, csvRows, save };
  if (typeof module === "object" && module.exports) module.exports = api;
  else root.SoakbookArchiveCsv = api;
})(globalThis);
