"""A copy-edit cannot change a number: names, notes and messages are for readers alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib import import_module
from itertools import count
from typing import Any

import numpy as np
import pytest

from builder.archive.bench import Sensor, SoundSetup
from builder.archive.bundle import Run
from builder.archive.protocol import SpreadByKind
from builder.comparison import Basis, Standing, Tested, group_of, head_to_head, ranking
from builder.comparison.head_to_head import PointOf
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, BundleResult, Component, Figure, Quantity, RunResult, Settlement
from builder.logs import LogColumn, LogTable
from builder.reduction import RunInput, combine_runs, reduce_run
from tests.support.invented import Given, Shot, archive_of

SECONDS = 1200
WATTS = {"stock": 280.0, "power-80": 228.0, "power-60": 171.0}
PSI = {"slab": 0.13, "riffle": 0.15}
TESTERS = (
    Sensor(quantity=Quantity.CORE_TEMPERATURE, accuracy=0.5, accuracy_pct=1.0, resolution=0.1),
    Sensor(quantity=Quantity.AMBIENT_TEMPERATURE, accuracy=0.3, resolution=0.1),
    Sensor(quantity=Quantity.BOARD_POWER, accuracy_pct=1.5, resolution=0.1),
    Sensor(quantity=Quantity.SOUND_LEVEL, accuracy=0.7, resolution=0.1),
)


def reduced_archive() -> Tested:
    """Two coolers with sensors of every kind, two mounts each, and a sound level close to the background."""
    shot = Shot(values={"core_rise": [0.0, 0.0]})
    given = [Given(id=name, shots=dict.fromkeys(WATTS, shot)) for name in PSI]
    made = archive_of(given, spread=SpreadByKind(air=0.3), sensors=TESTERS)
    sound = SoundSetup(background_dba=30.0)
    benches = {key: b.model_copy(update={"sound": sound}) for key, b in made.catalogue.benches.items()}
    catalogue = made.catalogue.model_copy(update={"benches": benches})
    setups = {name: Tested(catalogue=catalogue, results=made.results).setup(name) for name in PSI}
    results = {}
    for name, setup in setups.items():
        runs: list[RunResult] = []
        for mount in (1, 2):
            for point, watts in WATTS.items():
                declared = setup.protocol.point(point)
                assert declared is not None
                runs.append(reduce_run(setup, run_input(mount, point, watts, PSI[name]), declared))
        results[name] = combine_runs(setup, runs)
    return Tested(catalogue=catalogue, results=results)


def run_input(mount: int, point: str, watts: float, psi: float) -> RunInput:
    rng = np.random.default_rng(mount)
    noise = rng.standard_normal((4, SECONDS))
    values = {
        Quantity.CORE_TEMPERATURE: 22 + psi * watts + 0.2 * mount + 0.15 * noise[0],
        Quantity.BOARD_POWER: watts + 2.0 * noise[1],
        Quantity.AMBIENT_TEMPERATURE: 22 + 0.05 * noise[2],
        Quantity.SOUND_LEVEL: 32 + 20 * psi + 0.2 * noise[3],
        Quantity.FRAME_RATE: 20 + watts / 4 + noise[3],
    }
    columns = {
        q: LogColumn(quantity=q, header=str(q), values=v.round(1), resolution=0.1, spelled_decimals=1)
        for q, v in values.items()
    }
    table = LogTable(
        file="x.csv",
        reader_id="plain",
        time_s=np.arange(SECONDS, dtype=float),
        start=None,
        columns=columns,
        repairs=(),
        lines=tuple(range(2, SECONDS + 2)),
    )
    return RunInput(mount=mount, run=Run(point=point, log="x.csv"), table=table)


def numbers(tested: Tested) -> Iterator[object]:
    """Every figure, change, line and verdict of an archive, and none of its words."""
    for bundle, result in tested.results.items():
        yield from ((bundle, *found) for found in numbers_of(result))
    a, b = (PointOf(bundle=name, point="stock") for name in PSI)
    group = group_of(tested, a.bundle, a.point)
    for basis in Basis:
        rows = head_to_head(tested, a, b, basis).rows
        yield [(row.kind, row.standing, row.p, digits(row.difference)) for row in rows]
        for kind in (row.kind for row in rows):
            order = ranking(tested, group, kind, basis)
            yield [(row.bundle, row.letters, digits(row.estimate), digits(row.behind)) for row in order.rows]


def numbers_of(result: BundleResult) -> Iterator[tuple[object, ...]]:
    for point in result.points:
        yield point.point, point.verdict
        yield from ((kind, digits(figure.estimate), figure.bound) for kind, figure in point.figures.items())
        yield from ((kind, digits(c.absolute), digits(c.percent)) for kind, c in point.changes.items())
    yield from ((kind, digits(line.slope), line.covariance, line.fits) for kind, line in result.lines.items())
    yield (result.sweep and digits(result.sweep.last_tenth),)


def digits(estimate: Estimate | None) -> tuple[float, float, float] | None:
    return (estimate.value, estimate.u, estimate.dof) if estimate else None


def reworded(monkeypatch: pytest.MonkeyPatch, made: type, *names: str) -> None:
    """Let every object of a type be made with other words in these fields, each time others."""
    plain: Callable[..., None] = made.__init__  # type: ignore[misc]
    turn = count()

    def init(self: object, **fields: Any) -> None:  # noqa: ANN401 - whatever the fields are
        words = {name: type(fields[name])() for name in names if not isinstance(fields.get(name, ""), str)}
        words |= {name: f"reworded {next(turn) * 7919 % 1000}" for name in names if name not in words}
        plain(self, **{**fields, **words})

    monkeypatch.setattr(made, "__init__", init)


def test_other_words_leave_every_figure_and_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    before = list(numbers(reduced_archive()))
    reworded(monkeypatch, Component, "name")
    reworded(monkeypatch, Figure, "note")
    reworded(monkeypatch, Settlement, "message", "notes")
    tested = reduced_archive()
    budgets = [c for r in tested.results.values() for p in r.points for f in p.figures.values() for c in f.budget]
    assert all(line.name.startswith("reworded") for line in budgets)
    assert list(numbers(tested)) == before


def test_other_names_of_figures_leave_every_figure_and_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    before = list(numbers(reduced_archive()))
    other = {kind: replace(known, name=f"X {i}", short=f"Y {i}") for i, (kind, known) in enumerate(FIGURES.items())}
    for module in ("comparison.head_to_head", "comparison.rankings", "comparison.families", "reduction.between_points"):
        monkeypatch.setattr(import_module(f"builder.{module}"), "FIGURES", other)
    assert list(numbers(reduced_archive())) == before


def test_the_archive_has_what_words_once_decided() -> None:
    tested = reduced_archive()
    stock = tested.results["slab"].points[0]
    roles = {line.role.value for figure in stock.figures.values() for line in figure.budget}
    assert roles == {"own", "instrument offset", "instrument gain", "instrument step", "mount"}
    slab, riffle = (PointOf(bundle=name, point="stock") for name in PSI)
    rows = {row.kind: row.standing for row in head_to_head(tested, slab, riffle).rows}
    assert rows["sound_level"] is Standing.NOT_JUDGED
    assert rows["core_rise"] is Standing.A_BETTER
