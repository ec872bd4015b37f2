"""One run reduced: awkward logs give a message and sensible figures or none, never a number that is none."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from builder.archive import parse_yaml
from builder.archive.bench import Bench
from builder.archive.bundle import Bundle, Run
from builder.archive.catalogue import Card, Cooler, Setup
from builder.archive.loading import assumed_accuracies
from builder.archive.protocol import Protocol
from builder.core.errors import Problems
from builder.core.files import content_dir
from builder.core.quantity import FloatArray
from builder.core.results import Bound, Quantity, RunResult, Verdict
from builder.logs import FrameTable, LogColumn, LogTable
from builder.reduction import RunInput, reduce_run
from builder.reduction.inputs import channel

SECONDS = 1200
POINT = "stock"
CORE = {"quantity": "core_temperature", "unit": "degC"}
Columns = dict[Quantity, FloatArray]


def setup_with(**sensors: float) -> Setup:
    """Return a card with an air cooler on a bench whose sensors have the given accuracy."""
    text = (content_dir() / "protocols/brief-5.yaml").read_bytes()
    doc = parse_yaml(text, file="brief-5.yaml", problems=Problems())
    assert doc is not None
    protocol = Protocol.model_validate(doc.data, strict=False)
    bench = Bench.model_validate(
        {
            "name": "Bench",
            "readers": [
                {"id": "r", "match": ["t"], "columns": {"c": {"quantity": "core_temperature", "unit": "degC"}}}
            ],
            "sensors": [{"quantity": q, "accuracy": a} for q, a in sensors.items()],
        },
        strict=False,
    )
    mounts = [{"runs": [{"point": POINT, "log": "x.csv"}]}]
    bundle = {"card": "c", "cooler": "k", "bench": "b", "protocol": "brief-5", "tested": "2026-01-01", "mounts": mounts}
    return Setup(
        id="k-on-c",
        bundle=Bundle.model_validate(bundle, strict=False),
        card=Card(name="Card", board_power_w=320.0),
        cooler=Cooler.model_validate({"name": "Cooler", "kind": "air"}, strict=False),
        bench=bench,
        protocol=protocol,
    )


def columns(
    seed: int = 1, *, core: float = 64.0, watts: float = 317.0, ambient: float = 22.0
) -> dict[Quantity, FloatArray]:
    """Return a good run: settled, with noise."""
    rng = np.random.default_rng(seed)
    noise = rng.standard_normal((3, SECONDS))
    return {
        Quantity.CORE_TEMPERATURE: np.round(core + 0.15 * noise[0], 1),
        Quantity.BOARD_POWER: np.round(watts + 2.0 * noise[1], 1),
        Quantity.AMBIENT_TEMPERATURE: np.round(ambient + 0.05 * noise[2], 1),
    }


def given(
    values: dict[Quantity, FloatArray], *, frames: FloatArray | None = None, by_hand: float | None = None
) -> RunInput:
    """Return a run input around columns of one sample a second."""
    n = len(next(iter(values.values())))
    time = np.arange(n, dtype=float)
    made = {
        q: LogColumn(quantity=q, header=str(q), values=v, resolution=0.1, spelled_decimals=1) for q, v in values.items()
    }
    table = LogTable(
        file="x.csv", reader_id="r", time_s=time, start=None, columns=made, repairs=(), lines=tuple(range(2, n + 2))
    )
    found = FrameTable(file="f.csv", frame_ms=frames, repairs=()) if frames is not None else None
    return RunInput(mount=1, run=Run(point=POINT, log="x.csv", ambient_c=by_hand), table=table, frames=found)


def reduced(run: RunInput, where: Setup | None = None) -> RunResult:
    """Return the run reduced without a workload loop; every figure is a finite number."""
    one = where or setup_with()
    point = one.protocol.point(POINT)
    assert point is not None
    result = reduce_run(one, run, point.model_copy(update={"loop_s": None}))
    for figure in result.figures.values():
        assert math.isfinite(figure.estimate.value)
        assert math.isfinite(figure.estimate.u)
    return result


def test_a_good_run_is_settled_with_every_figure() -> None:
    result = reduced(given(columns()))
    assert result.settlement.verdict is Verdict.SETTLED
    # 64 °C in a room of 22 °C is 42 K; over 317 W it is 0.1325 K/W. Common practice, no source.
    assert result.figures["core_rise"].estimate.value == pytest.approx(42.0, abs=0.05)
    assert result.figures["core_psi"].estimate.value == pytest.approx(0.1325, abs=0.0005)
    assert result.ambient_in_band


def test_a_run_of_320_w_at_99_percent_of_its_limit_reads_about_317_w() -> None:
    # Common practice, no source.
    values = columns(watts=317.0) | {Quantity.POWER_LIMIT: np.full(SECONDS, 320.0)}
    share = reduced(given(values)).figures["power_limit_share"].estimate
    assert share.value == pytest.approx(99.0, abs=0.2)


def test_sensor_accuracy_is_kept_in_an_absolute_temperature() -> None:
    plain = reduced(given(columns())).figures["core_temperature"].estimate.u
    stated = reduced(given(columns()), setup_with(core_temperature=1.0)).figures["core_temperature"].estimate.u
    # JCGM 100:2008, 4.3.7: half-width over root three.
    assert stated == pytest.approx(math.hypot(plain, 1 / math.sqrt(3)), rel=1e-3)


def test_an_ambient_read_by_hand_gives_a_rise_with_its_uncertainty() -> None:
    values = columns()
    del values[Quantity.AMBIENT_TEMPERATURE]
    result = reduced(given(values, by_hand=22.0))
    assert result.figures["core_rise"].estimate.value == pytest.approx(42.0, abs=0.05)
    assert result.figures["core_rise"].estimate.u > 0.25


def test_no_ambient_means_no_rise_and_says_so() -> None:
    values = columns()
    del values[Quantity.AMBIENT_TEMPERATURE]
    result = reduced(given(values))
    assert "core_rise" not in result.figures
    assert "core_psi" not in result.figures
    assert any("No ambient temperature" in w for w in result.warnings)


def test_an_ambient_outside_the_band_is_said() -> None:
    result = reduced(given(columns(core=72.0, ambient=31.0)))
    assert result.ambient_in_band is False
    assert any("outside the protocol's band of 18 to 28 °C" in w for w in result.warnings)


AWKWARD = {
    "constant core": {Quantity.CORE_TEMPERATURE: np.full(SECONDS, 64.0)},
    "all core missing": {Quantity.CORE_TEMPERATURE: np.full(SECONDS, np.nan)},
    "two core samples": {Quantity.CORE_TEMPERATURE: np.where(np.isin(np.arange(SECONDS), [1000, 1100]), 64.0, np.nan)},
    "power zero": {Quantity.BOARD_POWER: np.zeros(SECONDS)},
    "power negative": {Quantity.BOARD_POWER: np.full(SECONDS, -20.0)},
    "ambient hotter than the core": {Quantity.AMBIENT_TEMPERATURE: np.full(SECONDS, 80.0)},
    "infinite power": {Quantity.BOARD_POWER: np.full(SECONDS, np.inf)},
    "enormous core": {Quantity.CORE_TEMPERATURE: np.full(SECONDS, 1e308)},
    "wild core": {Quantity.CORE_TEMPERATURE: np.where(np.arange(SECONDS) % 2 == 0, 20.0, 200.0)},
}


@pytest.mark.parametrize("changed", list(AWKWARD.values()), ids=list(AWKWARD))
def test_an_awkward_column_gives_a_message_and_no_number_that_is_none(changed: dict[Quantity, FloatArray]) -> None:
    result = reduced(given(columns() | changed))
    assert result.settlement.message


def test_a_stuck_core_reading_is_not_called_settled() -> None:
    result = reduced(given(columns() | {Quantity.CORE_TEMPERATURE: np.full(SECONDS, 64.0)}))
    assert result.settlement.verdict is Verdict.UNDECIDED


@pytest.mark.parametrize("watts", [0.0, -20.0])
def test_no_positive_power_means_no_rise_per_watt(watts: float) -> None:
    result = reduced(given(columns() | {Quantity.BOARD_POWER: np.full(SECONDS, watts)}))
    assert "core_psi" not in result.figures
    assert "frames_per_joule" not in result.figures


def test_frames_longer_than_the_log_are_questioned() -> None:
    frames = np.full(130_000, 10.0)  # 1300 s against 1200 s
    result = reduced(given(columns(), frames=frames))
    assert "The frame file holds 1300 s of frames, the log only 1199 s: are they one run?" in result.warnings


def test_frames_of_a_part_of_the_run_say_of_which() -> None:
    result = reduced(given(columns(), frames=np.full(15_000, 10.0)))
    assert result.figures["frame_rate"].note == "frames captured over 150 s of the run's 1199 s"


def test_frames_per_joule_is_the_ratio_with_its_uncertainty() -> None:
    rng = np.random.default_rng(3)
    result = reduced(given(columns(), frames=rng.gamma(400, 0.025, 100_000)))
    rate, power = result.figures["frame_rate"].estimate, result.figures["board_power"].estimate
    efficiency = result.figures["frames_per_joule"].estimate
    assert efficiency.value == pytest.approx(rate.value / power.value)
    assert efficiency.u / efficiency.value == pytest.approx(math.hypot(rate.u / rate.value, power.u / power.value))


def test_a_run_too_short_for_the_rule_has_means_but_is_called_too_short() -> None:
    short = {q: v[:210] for q, v in columns().items()}
    result = reduced(given(short))
    assert result.settlement.verdict is Verdict.TOO_SHORT
    assert result.settlement.window is None
    assert result.figures["board_power"].samples == 105


def test_an_input_is_not_changed_by_reducing_it() -> None:
    values = columns()
    before = {q: v.copy() for q, v in values.items()}
    reduced(given(values))
    assert all(np.array_equal(before[q], values[q]) for q in values)


def test_a_fan_step_in_the_log_reaches_the_verdict() -> None:
    values = columns() | {Quantity.FAN_SPEED: np.where(np.arange(SECONDS) < 1050, 1500.0, 1680.0)}
    settlement = reduced(given(values)).settlement
    assert settlement.verdict is not Verdict.SETTLED
    assert "fan steps from 1500 to 1680 r/min at 1052 s" in settlement.notes


def test_the_sensors_of_a_card_are_judged_together_and_each_has_its_rise() -> None:
    values = columns()
    noise = np.random.default_rng(5).standard_normal((2, SECONDS))
    values[Quantity.HOTSPOT_TEMPERATURE] = np.round(75.0 + 0.15 * noise[0], 1)
    values[Quantity.MEMORY_TEMPERATURE] = np.round(70.0 + 0.15 * noise[1], 1)
    figures = reduced(given(values)).figures
    for kind, rise in (("core_rise", 42.0), ("hotspot_rise", 53.0), ("memory_rise", 48.0)):
        assert figures[kind].estimate.value == pytest.approx(rise, abs=0.1)


def test_a_drifting_run_has_the_rise_of_its_window_as_a_bound() -> None:
    values = columns()
    time = np.arange(float(SECONDS))
    values[Quantity.CORE_TEMPERATURE] = np.round(82.0 - 40 * np.exp(-time / 500), 1)
    result = reduced(given(values))
    rise = result.figures["core_rise"]
    assert result.settlement.verdict is Verdict.DRIFTING
    # By hand: 60 K at rest; the window from 900 s on lacks 40 * 500 / 300 * (e^-1.8 - e^-2.4) = 4.97 K of it.
    assert rise.estimate.value == pytest.approx(55.03, abs=0.1)
    assert rise.bound is Bound.LOWER
    assert rise.text().startswith("at least 5")
    assert 53 < rise.estimate.value - rise.estimate.expanded() < 55.03
    assert rise.note == "mean of the window, not at rest: at rest the figure is higher"


def steps_of(resolution: float, declared: float | None) -> tuple[float, tuple[str, ...]]:
    sensor = {"quantity": "core_temperature"} | ({"resolution": declared} if declared else {})
    one = setup_with()
    bench = Bench.model_validate(one.bench.model_dump(mode="json", by_alias=True) | {"sensors": [sensor]}, strict=False)
    run = given(columns())
    core = replace(run.table.columns[Quantity.CORE_TEMPERATURE], resolution=resolution)
    table = replace(run.table, columns={**run.table.columns, Quantity.CORE_TEMPERATURE: core})
    where = replace(one, bench=bench)
    found = channel(where, replace(run, table=table), Quantity.CORE_TEMPERATURE)
    assert found is not None
    return found.resolution, reduced(replace(run, table=table), where).warnings


@pytest.mark.parametrize(
    ("seen", "declared", "used"), [(0.1, 1.0, 1.0), (1.0, 0.1, 1.0), (0.1, None, 0.1)], ids=["declared", "seen", "none"]
)
def test_the_coarser_of_declared_and_seen_resolution_counts(seen: float, declared: float | None, used: float) -> None:
    resolution, warnings = steps_of(seen, declared)
    assert resolution == used
    said = [w for w in warnings if "as declared" in w]
    assert said == (
        ["Core temperature moves in steps of 1 K, not of 0.1 K as declared."] if declared and seen > declared else []
    )


@pytest.mark.parametrize(("averaging", "warned"), [("instant", True), ("averaged", False)], ids=str)
def test_instant_readings_of_a_swinging_power_are_warned_of(averaging: str, warned: bool) -> None:
    one = setup_with()
    sensor = {"quantity": "board_power", "averaging": averaging}
    bench = Bench.model_validate(one.bench.model_dump(mode="json", by_alias=True) | {"sensors": [sensor]}, strict=False)
    swinging = {Quantity.BOARD_POWER: np.where(np.arange(SECONDS) % 3 == 0, 120.0, 400.0)}
    result = reduced(given(columns() | swinging), replace(one, bench=bench))
    assert any("log an averaged reading" in w for w in result.warnings) is warned


def test_an_accuracy_that_no_bench_states_is_assumed_and_marked() -> None:
    # Without a line for the meter the figure once had the scatter of its samples alone.
    bare = reduced(given(columns())).figures["board_power"]
    assumed = reduced(given(columns()), replace(setup_with(), assumed=assumed_accuracies())).figures["board_power"]
    assert bare.estimate.expanded() < 0.5
    assert assumed.estimate.u == pytest.approx(math.hypot(bare.estimate.u, 0.05 * 317 / math.sqrt(3)), rel=1e-3)
    assert [c.name for c in assumed.budget if c.of_instrument] == ["sensor accuracy, assumed"]


def test_what_a_bench_states_is_not_assumed() -> None:
    one = replace(setup_with(ambient_temperature=0.3), assumed=assumed_accuracies())
    assert not one.accuracy(Quantity.AMBIENT_TEMPERATURE).assumed
    assert one.accuracy(Quantity.BOARD_POWER).assumed


def test_each_assumed_accuracy_says_where_it_comes_from() -> None:
    for line in assumed_accuracies():
        assert line.accuracy or line.accuracy_pct
        assert line.reason.endswith(("(common practice, no source)", "(value from memory)"))
