"""Results as text tables that fit a terminal at the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from builder.archive.catalogue import Catalogue, setting_of
from builder.comparison import ByPsi, Comparability, HeadToHead, NotComparable, Standing, Tested
from builder.core.quantity import SYMBOLS, Estimate, format_estimate, format_number, format_spread
from builder.core.results import FIGURES, BundleResult, Figure, RunResult, Verdict
from builder.logs import Inspection, inspection_rows

VERDICT_STYLE = {
    Verdict.SETTLED: "green",
    Verdict.DRIFTING: "bold red",
    Verdict.UNDECIDED: "yellow",
    Verdict.TOO_SHORT: "bold red",
}
_COLUMNS = ("core_rise", "core_temperature", "board_power", "core_psi", "frame_rate")
_SAID = {
    Standing.A_BETTER: "first",
    Standing.B_BETTER: "second",
    Standing.DIFFERENT: "differ",
    Standing.TOO_CLOSE: "tie",
    Standing.NOT_JUDGED: "-",
}
_MANY_DOF = 1000.0  # t is then that of the normal law to three digits
_WIDTHS = {"column": 24}
_HEADINGS = {
    "core_rise": "rise",
    "core_temperature": "core",
    "board_power": "power",
    "core_psi": "Ψ",
    "frame_rate": "rate",
}


def bundle_title(catalogue: Catalogue, bundle_id: str) -> str:
    """Return a bundle's name for a heading: cooler on card, with protocol and bench."""
    setting = setting_of(bundle_id, catalogue)
    protocol = f"{setting.protocol.name} version {setting.protocol.version}"
    return f"{setting.cooler.name} on {setting.card.name} ({protocol}, {setting.bench.name})"


def bundle_view(result: BundleResult, title: str) -> RenderableType:
    """Return a bundle's runs as a table of at most 80 columns, then what each run that is not settled lacks."""
    runs = sorted((run for point in result.points for run in point.runs), key=lambda run: run.mount)
    columns = _columns(runs)
    table = _table(("run", "verdict"))
    for kind in columns:  # a figure that is too wide goes on below: cut off, it would be another number
        table.add_column(_heading(kind), justify="right", overflow="fold")
    for mount, mine in groupby(runs, key=lambda run: run.mount):
        table.add_row(Text(f"m{mount}/", style="bold"))
        for run in mine:
            table.add_row(Text(f" {run.point}"), _verdict(run), *(_cell(run.figures, kind) for kind in columns))
    legend = Text("± is the 95 % interval of one run; sensor accuracy included, mounting not.", style="dim")
    return Group(
        _title(title), table, legend, *_remarks(runs), *_sweep(result), *(Text(text) for text in result.warnings)
    )


def _columns(runs: Sequence[RunResult]) -> list[str]:
    """Return the figures of the bench table; without a rise, the temperature itself stands in its place."""
    logged = [kind for kind in _COLUMNS if any(kind in run.figures for run in runs)]
    return [kind for kind in logged if kind != "core_temperature" or "core_rise" not in logged]


def _sweep(result: BundleResult) -> list[Text]:
    sweep = result.sweep
    if sweep is None:
        return []
    texts = [f"Most frames per joule: {sweep.best}, {format_estimate(sweep.best_efficiency)}."]
    if sweep.last_tenth:
        texts.append(f"Giving up a tenth of the highest frame rate saves {format_estimate(sweep.last_tenth)}.")
    return [Text(text) for text in texts]


def run_view(run: RunResult, title: str, *, budget: bool = False) -> RenderableType:
    """Return one run: its verdict in a sentence, every figure, and on request the uncertainty budgets."""
    table = _table(("figure", "value", "samples"))
    for kind, figure in run.figures.items():
        table.add_row(FIGURES[kind].name, format_estimate(figure.estimate), str(figure.samples))
        if figure.note:
            table.add_row(Text(f"  {figure.note}", style="dim"), "", "")
    parts: list[RenderableType] = [_title(title), table, *_remarks([run], every=True)]
    if budget:
        parts += [_budget(figure) for figure in run.figures.values() if figure.budget]
    return Group(*parts)


def compare_view(tested: Tested, found: HeadToHead) -> RenderableType:
    """Return two results side by side with what is said of each figure, or why they do not compare."""
    names = [f"{tested.label(p.bundle)}, {p.point}" for p in (found.a, found.b)]
    title = _title(f"{names[0]}  against  {names[1]}")
    if not found.rows:
        reasons = found.comparability.reasons if isinstance(found.comparability, NotComparable) else ()
        return Group(title, Text("Not compared:", style="bold"), *(Text(f"- {reason.text}") for reason in reasons))
    table = _table(("figure", "first", "second", "difference", "said"))
    said: dict[str, list[str]] = {}
    for row in found.rows:
        kind = FIGURES[row.kind]
        numbers = (_number(row.a), _number(row.b), _number(row.difference, sign=True))
        table.add_row(Text(f"{kind.short}, {SYMBOLS[kind.unit]}"), *numbers, _SAID[row.standing])
        if row.standing is not Standing.TOO_CLOSE or row.kind == "core_rise":
            said.setdefault(row.text, []).append(kind.short)
    sentences = [Text.assemble((f"{', '.join(kinds)}: ", "bold"), text) for text, kinds in said.items()]
    return Group(title, *_by_psi(found.comparability), table, Text(), *sentences)


def _by_psi(how: Comparability) -> list[Text]:
    if not isinstance(how, ByPsi):
        return []
    head = f"Compared by rise per watt only, at {format_number(how.watts, 0)} W, because:"
    return [Text(head, style="bold"), *(Text(f"- {reason.text}") for reason in how.reasons)]


def _number(estimate: Estimate | None, *, sign: bool = False) -> str:
    return format_estimate(estimate, sign=sign, unit=False) if estimate else "-"


def inspection_view(inspection: Inspection) -> RenderableType:
    """Return a log's columns with their range and what they probably are."""
    table = _table(("column", "probably", "unit", "readings", "missing", "from", "to"))
    for row in inspection_rows(inspection):
        unit = "timestamp" if "%" in row.unit else row.unit
        table.add_row(*(Text(t) for t in (row.column, row.guess, unit, row.readings, row.missing, row.low, row.high)))
    about = (
        f"{inspection.encoding}, {inspection.delimiter} between columns, decimal {inspection.decimal}, "
        f"header in line {inspection.header_line}, {inspection.rows} rows"
    )
    repairs = [Text(str(repair)) for repair in inspection.repairs]
    block = Text("\nPaste this under `readers:` in your bench file:", style="dim")
    return Group(_title(inspection.file), Text(about), table, *repairs, block)


def _title(text: str) -> Text:
    return Text(text, style="bold")


def _table(headings: Iterable[str]) -> Table:
    table = Table(box=SIMPLE_HEAD, pad_edge=False, padding=0, show_edge=False)
    for index, heading in enumerate(headings):
        wide = _WIDTHS.get(heading)
        table.add_column(heading, justify="right" if index > 1 else "left", no_wrap=heading != "column", min_width=wide)
    return table


def _heading(kind: str) -> str:
    figure = FIGURES[kind]
    return f"{_HEADINGS[kind]}, {SYMBOLS[figure.unit]}"


def _verdict(run: RunResult) -> Text:
    verdict = run.settlement.verdict
    return Text(str(verdict), style=VERDICT_STYLE[verdict])


def _cell(figures: Mapping[str, Figure], kind: str) -> Text:
    figure = figures.get(kind)
    return Text(format_estimate(figure.estimate, unit=False) if figure else "-")


def _remarks(runs: Sequence[RunResult], *, every: bool = False) -> list[Text]:
    """One line a message, the same message of several runs said once."""
    said: dict[str, list[str]] = {}
    for run in runs:
        settled = run.settlement.verdict is Verdict.SETTLED
        messages = [] if settled and not every else [run.settlement.message]
        notes = list(run.settlement.notes) if every or not settled else []
        for text in (*messages, *notes, *run.warnings, *run.repairs):
            said.setdefault(text, []).append(run.id)
    return [_remark(text, ids, total=len(runs)) for text, ids in said.items()]


def _remark(text: str, ids: Sequence[str], *, total: int) -> Text:
    if total == 1:
        return Text(text)
    who = "every run" if len(ids) == total else ", ".join(ids)
    return Text.assemble((f"{who}: ", "bold"), text)


def _budget(figure: Figure) -> RenderableType:
    kind = FIGURES[figure.kind]
    table = _table(("component", "type", f"u, {SYMBOLS[kind.unit]}", "dof"))
    for component in sorted(figure.budget, key=lambda c: -c.contribution):
        table.add_row(component.name, component.kind, format_spread(component.contribution), _dof(component.dof))
    estimate = figure.estimate
    table.add_row("combined (k = 1)", "", format_spread(estimate.u), _dof(estimate.dof))
    table.add_row("expanded (95 %)", "", format_spread(estimate.expanded()), "")
    return Group(Text(), _title(f"{kind.name}: where the uncertainty comes from"), table)


def _dof(dof: float) -> str:
    return format_number(dof, 0) if dof < _MANY_DOF else "∞"
