// Filters and sorts the archive's table. The state stands in the page's address, so a view can be passed on.
(function (root) {
  "use strict";

  const values = typeof module === "object" && module.exports ? require("./values.js") : root.SoakbookValues;

  const CHOICES = ["point", "card", "cooler", "kind", "protocol", "year"];
  const DIRECTIONS = { asc: 1, desc: -1 };

  /** Returns the state that an address asks for; what it does not mention is as at the start. */
  function readState(search, start) {
    const query = new URLSearchParams(search);
    const state = { q: (query.get("q") ?? "").slice(0, 80), sort: query.get("sort") ?? "", dir: query.get("dir") ?? "asc" };
    if (!Object.hasOwn(DIRECTIONS, state.dir)) state.dir = "asc";
    for (const key of CHOICES) state[key] = query.get(key) ?? start[key] ?? "";
    return state;
  }

  /** Returns the query of a state, with only what differs from the start; empty where nothing does. */
  function writeState(state, start) {
    const query = new URLSearchParams();
    for (const key of CHOICES) if (state[key] !== (start[key] ?? "")) query.set(key, state[key]);
    if (state.q) query.set("q", state.q);
    if (state.sort) {
      query.set("sort", state.sort);
      query.set("dir", state.dir);
    }
    const text = query.toString();
    return text ? `?${text}` : "";
  }

  /** Returns whether a row, given as its data and its text, fits the state; every word must occur. */
  function fits(data, text, state) {
    if (!CHOICES.every((key) => !state[key] || data[key] === state[key])) return false;
    const shown = text.toLowerCase();
    return state.q.toLowerCase().split(/\s+/).every((word) => shown.includes(word));
  }

  /** Returns the state with an unknown choice put back to the start. */
  function withKnown(state, options, start) {
    const known = { ...state };
    for (const key of CHOICES) if (known[key] && !options[key]?.includes(known[key])) known[key] = start[key] ?? "";
    return known;
  }

  /** Returns the state after a click on a column's heading: ascending first, then descending. */
  function withSort(state, key) {
    const again = state.sort === key && state.dir === "asc";
    return { ...state, sort: key, dir: again ? "desc" : "asc" };
  }

  /** Returns CSV (RFC 4180) of rows of texts; a cell that a spreadsheet would run as a formula is quoted by an apostrophe. */
  function toCsv(rows) {
    const cell = (text) => {
      const flat = text.replace(/\s+/g, " ").trim();
      const safe = /^[=+\-@\t]/.test(flat) && !/^[+-]?\d[\d.]*( |$)/.test(flat) ? `'${flat}` : flat;
      return /[",\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
    };
    return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
  }

  /** Returns the sentence above the table. */
  function countText(shown, total) {
    return shown === total ? `All ${total} rows` : `${shown} of ${total} rows`;
  }

  function readRow(row) {
    const cells = [...row.cells];
    const sortable = cells.map((cell) => {
      if (cell.dataset.v !== undefined) return values.toNumber(cell.dataset.v);
      return cell.querySelector("time")?.dateTime ?? cell.textContent.trim();
    });
    const text = cells.map((cell) => cell.textContent).join(" ");
    return { node: row, data: row.dataset, sortable, text };
  }

  function readGroup(body) {
    return { body, rows: [...body.rows].filter((row) => !row.classList.contains("group")).map(readRow) };
  }

  function showGroup(group, state, column) {
    const direction = DIRECTIONS[state.dir];
    const order = column < 0 ? group.rows : [...group.rows].sort((a, b) => values.compare(a.sortable[column], b.sortable[column], direction));
    let shown = 0;
    for (const row of order) {
      row.node.hidden = !fits(row.data, row.text, state);
      if (!row.node.hidden) shown += 1;
      group.body.append(row.node);
    }
    group.body.hidden = shown === 0;
    return shown;
  }

  /** Returns what a cell holds, as texts: value and uncertainty where it is of a column of numbers, dates as ISO 8601. */
  function cellTexts(cell, numeric) {
    if (numeric) return [cell.querySelector(".v")?.textContent ?? "", cell.querySelector(".u")?.textContent.replace("±", "").trim() ?? ""];
    const time = cell.querySelector("time");
    return [time ? time.dateTime : cell.textContent];
  }

  function csvRows(table, groups) {
    const heads = [...table.tHead.rows[0].cells];
    const numeric = heads.map((head) => head.classList.contains("n"));
    const names = heads.flatMap((head, i) => (numeric[i] ? [head.textContent, `${head.textContent}: ±, 95 %`] : [head.textContent]));
    const rows = groups.flatMap((group) =>
      [...group.body.rows]
        .filter((row) => !row.hidden && !row.classList.contains("group"))
        .map((row) => [group.body.rows[0].textContent, ...[...row.cells].flatMap((cell, i) => cellTexts(cell, numeric[i]))]),
    );
    return [["Test point", ...names], ...rows];
  }

  function save(text, scope) {
    const link = scope.createElement("a");
    link.href = URL.createObjectURL(new Blob(["\ufeff", text], { type: "text/csv;charset=utf-8" }));
    link.download = "archive.csv";
    link.click();
    URL.revokeObjectURL(link.href);
  }

  function addSortButtons(table, scope, onSort) {
    for (const head of table.tHead.rows[0].cells) {
      const button = scope.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      button.addEventListener("click", () => onSort(head.dataset.key));
      head.append(button);
    }
  }

  function markSort(table, state) {
    const names = { asc: "ascending", desc: "descending" };
    for (const head of table.tHead.rows[0].cells) {
      if (head.dataset.key === state.sort) head.setAttribute("aria-sort", names[state.dir]);
      else head.removeAttribute("aria-sort");
    }
  }

  function mount(scope) {
    const box = scope.querySelector("[data-archive]");
    const table = box?.querySelector("table");
    if (!table) return;
    const form = box.querySelector("form");
    const groups = [...table.tBodies].map(readGroup);
    const total = groups.reduce((sum, group) => sum + group.rows.length, 0);
    const keys = [...table.tHead.rows[0].cells].map((head) => head.dataset.key);
    const start = Object.fromEntries(CHOICES.map((key) => [key, form.elements[key].dataset.start]));
    const options = Object.fromEntries(CHOICES.map((key) => [key, [...form.elements[key].options].map((option) => option.value)]));
    let state = withKnown(readState(root.location.search, start), options, start);

    const show = () => {
      const column = keys.indexOf(state.sort);
      const shown = groups.reduce((sum, group) => sum + showGroup(group, state, column), 0);
      markSort(table, state);
      box.querySelector("[data-count]").textContent = countText(shown, total);
      box.querySelector("[data-none]").hidden = shown > 0;
    };
    const fill = () => {
      for (const key of [...CHOICES, "q"]) form.elements[key].value = state[key];
    };
    const change = (next) => {
      state = next;
      show();
      try {
        root.history.replaceState(null, "", root.location.pathname + writeState(state, start));
      } catch {
        // Some browsers forbid it for files on disk; the table still works.
      }
    };

    addSortButtons(table, scope, (key) => change(withSort(state, key)));
    form.addEventListener("input", (event) => change({ ...state, [event.target.name]: event.target.value }));
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", (event) => {
      event.preventDefault();
      change(readState("", start));
      fill();
    });
    box.querySelector("[data-csv]").addEventListener("click", () => save(toCsv(csvRows(table, groups)), scope));
    fill();
    show();
    form.hidden = false;
  }

  const api = { readState, writeState, fits, withKnown, withSort, toCsv, cellTexts, countText, mount };
  if (typeof module === "object" && module.exports) module.exports = api;
  else mount(root.document);
})(globalThis);
