"""Results as text tables that fit a terminal at the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from builder.figures import FIGURES, BundleResult, Figure, RunResult, Verdict
from builder.quantity import SYMBOLS, format_estimate, format_number

VERDICT_STYLE = {
    Verdict.SETTLED: "green",
    Verdict.DRIFTING: "bold red",
    Verdict.UNDECIDED: "yellow",
    Verdict.TOO_SHORT: "bold red",
}
_COLUMNS = ("core_rise", "core_temperature", "board_power", "core_psi", "frame_rate")
_MAX_COLUMNS = 4


def bundle_view(result: BundleResult, title: str) -> RenderableType:
    """Return a bundle's runs as a table of at most 80 columns, then what each run that is not settled lacks."""
    runs = [run for point in result.points for run in point.runs]
    runs.sort(key=lambda run: run.mount)
    columns = _columns(runs)
    table = _table(title, ("run", "verdict", *(_heading(kind) for kind in columns)))
    for run in runs:
        cells = [Text(run.id), _verdict(run), *(_cell(run.figures, kind) for kind in columns)]
        table.add_row(*cells)
    legend = Text("± is the 95 % interval of one run; mounts and sensors come on top on the page.", style="dim")
    return Group(table, legend, *_remarks(runs), *_lines("", result.warnings))


def run_view(run: RunResult, title: str, *, budget: bool = False) -> RenderableType:
    """Return one run: its verdict in a sentence, every figure, and on request the uncertainty budgets."""
    table = _table(title, ("figure", "value", "samples"))
    for kind, figure in run.figures.items():
        table.add_row(FIGURES[kind].name, format_estimate(figure.estimate), str(figure.samples))
        if figure.note:
            table.add_row(Text(f"  {figure.note}", style="dim"), "", "")
    parts: list[RenderableType] = [table, *_remarks([run], every=True)]
    if budget:
        parts += [_budget(figure) for figure in run.figures.values() if figure.budget]
    return Group(*parts)


def _columns(runs: Sequence[RunResult]) -> list[str]:
    present = [kind for kind in _COLUMNS if any(kind in run.figures for run in runs)]
    if "core_rise" in present and len(present) > _MAX_COLUMNS:
        present.remove("core_temperature")
    return present[:_MAX_COLUMNS]


def _table(title: str, headings: Iterable[str]) -> Table:
    table = Table(title=title, title_justify="left", box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    for index, heading in enumerate(headings):
        table.add_column(heading, justify="left" if index < 2 else "right", no_wrap=True)  # noqa: PLR2004
    return table


def _heading(kind: str) -> str:
    figure = FIGURES[kind]
    return f"{figure.short}, {SYMBOLS[figure.unit]}"


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


def _lines(prefix: str, texts: Iterable[str]) -> list[Text]:
    return [Text(f"{prefix}{text}") for text in texts]


def _budget(figure: Figure) -> Table:
    kind = FIGURES[figure.kind]
    unit = SYMBOLS[kind.unit]
    table = _table(f"{kind.name}: uncertainty budget", ("component", "type", f"u, {unit}", "dof"))
    for component in sorted(figure.budget, key=lambda c: -c.contribution):
        dof = "∞" if component.dof == float("inf") else format_number(component.dof, 0)
        table.add_row(component.name, component.kind, f"{component.contribution:.2g}", dof)
    estimate = figure.estimate
    table.add_row("combined (k = 1)", "", f"{estimate.u:.2g}", _dof(estimate.dof))
    table.add_row("expanded (95 %)", "", f"{estimate.expanded():.2g}", "")
    return table


def _dof(dof: float) -> str:
    return "∞" if dof == float("inf") else format_number(dof, 0)
