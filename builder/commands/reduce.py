"""`soakbook reduce`: the answer at the bench, which is the verdicts and figures of one bundle or one run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from builder.archive import load_archive, why_not
from builder.archive.catalogue import Setup
from builder.commands.reduce_archive import LogReader, find_run, named_runs, problems_about
from builder.commands.terminal import heading, table
from builder.core.errors import Problem, Problems, SoakbookError
from builder.core.quantity import SYMBOLS, format_estimate, format_number, format_spread
from builder.core.results import BENCH_FIGURES, FIGURES, BundleResult, Figure, RunResult, Verdict
from builder.reduction import reduce_bundle
from builder.site.records import Record, bundle_record

VERDICT_STYLE = {
    Verdict.SETTLED: "green",
    Verdict.DRIFTING: "bold red",
    Verdict.UNDECIDED: "yellow",
    Verdict.TOO_SHORT: "bold red",
    Verdict.BY_HAND: "yellow",
}
MANY_DOF = 1000.0  # t is then that of the normal law to three digits


@dataclass(frozen=True, kw_only=True)
class BenchAnswer:
    """A bundle's figures, or those of the one run that was asked for, with what was found on the way."""

    title: str
    result: BundleResult
    one_run: bool
    problems: tuple[Problem, ...]

    def record(self, *, budget: bool) -> Record:
        """Return what `--json` prints."""
        return bundle_record(self.result, budget=budget)

    def view(self, *, budget: bool) -> RenderableType:
        """Return the bench table; each run by itself where one was asked for, or budgets are."""
        if not self.one_run and not budget:
            return bundle_view(self.result, self.title)
        runs = [run for point in self.result.points for run in point.runs]
        return Group(*(run_view(run, f"{self.title}, {run.id}", budget=budget) for run in runs))


def reduce_one(root: Path, bundle_id: str, *, only: str | None = None) -> BenchAnswer:
    """Return one bundle's figures; `only` keeps one run, as `m1/stock`.

    Raises SoakbookError where the archive or the bundle's logs have errors, or the bundle or run does not exist.
    """
    problems = Problems()
    loaded = load_archive(root, problems)
    if loaded is None:
        raise SoakbookError(problems)
    if bundle_id not in loaded.catalogue.bundles:
        raise SoakbookError(why_not(loaded, bundle_id, problems))
    runs = named_runs(loaded, bundle_id) if only is None else (find_run(loaded, bundle_id, only),)
    inputs = LogReader(root=root, loaded=loaded).runs(bundle_id, runs, problems)
    about = problems_about([bundle_id], problems)
    if about.has_errors:
        raise SoakbookError(about)
    setup = loaded.catalogue.setup(bundle_id)
    return BenchAnswer(
        title=_title(setup),
        result=reduce_bundle(setup, inputs),
        one_run=only is not None,
        problems=tuple(about),
    )


def _title(setup: Setup) -> str:
    protocol = f"{setup.protocol.name} version {setup.protocol.version}"
    return f"{setup.cooler.name} on {setup.card.name} ({protocol}, {setup.bench.name})"


# --- the bench table -----------------------------------------------------------------------------------------------


def bundle_view(result: BundleResult, title: str) -> RenderableType:
    """Return a bundle's runs as a table of at most 80 columns, then what each run that is not settled lacks."""
    runs = sorted((run for point in result.points for run in point.runs), key=lambda run: run.mount)
    kinds = _bench_kinds(runs)
    rows = table(("run", "verdict"))
    for kind in kinds:  # a figure that is too wide goes on below: cut off, it would be another number
        rows.add_column(f"{FIGURES[kind].heading}, {SYMBOLS[FIGURES[kind].unit]}", justify="right", overflow="fold")
    for mount, mine in groupby(runs, key=lambda run: run.mount):
        rows.add_row(Text(f"m{mount}/", style="bold"))
        for run in mine:
            rows.add_row(Text(f" {run.point}"), _verdict(run), *(_value(run, kind) for kind in kinds))
    legend = Text("± is the 95 % interval of one run; sensor accuracy included, mounting not.", style="dim")
    sentences = (*_sweep(result), *(Text(text) for text in result.warnings))
    return Group(heading(title), rows, legend, *_remarks(runs), *sentences)


def _bench_kinds(runs: Sequence[RunResult]) -> list[str]:
    """Return the figures of the bench table; without a rise, the temperature itself stands in its place."""
    measured = [kind for kind in BENCH_FIGURES if any(kind in run.figures for run in runs)]
    return [kind for kind in measured if kind != "core_temperature" or "core_rise" not in measured]


def _verdict(run: RunResult) -> Text:
    verdict = run.settlement.verdict
    return Text(str(verdict), style=VERDICT_STYLE[verdict])


def _value(run: RunResult, kind: str) -> Text:
    figure = run.figures.get(kind)
    return Text(figure.text(unit=False) if figure else "-")


def _sweep(result: BundleResult) -> list[Text]:
    sweep = result.sweep
    if sweep is None:
        return []
    texts = [f"Most frames per joule: {sweep.best}, {format_estimate(sweep.best_efficiency)}."]
    if sweep.last_tenth:
        texts.append(f"Giving up a tenth of stock's frame rate saves {format_estimate(sweep.last_tenth)}.")
    return [Text(text) for text in texts]


def _remarks(runs: Sequence[RunResult], *, settled_too: bool = False) -> list[Text]:
    """Return what is to be said of runs, one line a message; a message of several runs names them all."""
    runs_by_text: dict[str, list[str]] = {}
    for run in runs:
        tell = settled_too or run.settlement.verdict is not Verdict.SETTLED
        of_settling = (run.settlement.message, *run.settlement.notes) if tell else ()
        for text in (*of_settling, *run.warnings, *run.repairs):
            runs_by_text.setdefault(text, []).append(run.id)
    if len(runs) == 1:
        return [Text(text) for text in runs_by_text]
    return [
        Text.assemble((f"{'every run' if len(ids) == len(runs) else ', '.join(ids)}: ", "bold"), text)
        for text, ids in runs_by_text.items()
    ]


# --- one run -------------------------------------------------------------------------------------------------------


def run_view(run: RunResult, title: str, *, budget: bool = False) -> RenderableType:
    """Return one run: its verdict in a sentence, every figure, and on request the uncertainty budgets."""
    rows = table(("figure", "value", "samples"))
    for kind, figure in run.figures.items():
        rows.add_row(FIGURES[kind].name, figure.text(), str(figure.samples))
        if figure.note:
            rows.add_row(Text(f"  {figure.note}", style="dim"), "", "")
    budgets = [_budget(figure) for figure in run.figures.values() if budget and figure.budget]
    return Group(heading(title), rows, *_remarks([run], settled_too=True), *budgets)


def _budget(figure: Figure) -> RenderableType:
    kind, total = FIGURES[figure.kind], figure.estimate
    rows = table(("component", "type", f"u, {SYMBOLS[kind.unit]}", "dof"))
    for component in sorted(figure.budget, key=lambda c: -c.contribution):
        rows.add_row(component.name, component.kind, format_spread(component.contribution), _dof(component.dof))
    rows.add_row("combined (k = 1)", "", format_spread(total.u), _dof(total.dof))
    rows.add_row("expanded (95 %)", "", format_spread(total.expanded()), "")
    return Group(Text(), heading(f"{kind.name}: where the uncertainty comes from"), rows)


def _dof(dof: float) -> str:
    return format_number(dof, 0) if dof < MANY_DOF else "∞"
