"""The power sweep by hand, and air density against the standard atmosphere."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from builder.archive.protocol import Protocol
from builder.core.quantity import Estimate
from builder.core.results import Component, Figure, NoLine, PointResult, PowerLine, Quantity, Verdict
from builder.reduction.between_points import power_lines, power_sweep
from builder.reduction.bundle import air_density, altitude_note
from builder.uncertainty import Instrument, estimate_from_budget, instrument_lines, line_value

LIMITS = {"tau_s": 150.0, "window_s": 300.0, "soak_s": 600.0}
PROTOCOL = Protocol.model_validate_json(
    """{"name": "P", "version": 1,
    "air": {"tau_s": 150, "window_s": 300, "soak_s": 600}, "liquid": {"tau_s": 600, "window_s": 600, "soak_s": 1200},
    "points": [{"id": "stock", "name": "Stock", "role": "stock"},
               {"id": "power-80", "name": "80", "role": "power limit"},
               {"id": "power-60", "name": "60", "role": "power limit"},
               {"id": "overclock", "name": "OC", "role": "overclock"}]}"""
)


def figure(kind: str, value: float, unit: str, u: float, gain: float = 0.0) -> Figure:
    budget = (
        Component(name="scatter of the samples", kind="A", u=u, unit=unit, dof=math.inf),
        *instrument_lines("meter", Instrument(offset=0.0, gain=gain * value, sensor=Quantity.BOARD_POWER), unit),
    )
    return Figure(kind=kind, estimate=estimate_from_budget(value, unit, budget), samples=300, budget=budget)


def point(name: str, rate: float, watts: float, *, u_rate: float = 0.0, u_watts: float = 0.0) -> PointResult:
    figures = {
        "frame_rate": figure("frame_rate", rate, "1/s", u_rate),
        "board_power": figure("board_power", watts, "W", u_watts),
        "frames_per_joule": figure("frames_per_joule", rate / watts, "1/J", 1e-4),
    }
    return PointResult(
        point=name, name=name, runs=(), figures=figures, changes={}, verdict=Verdict.SETTLED, mount_note=""
    )


def metered(result: PointResult) -> PointResult:
    watts = result.figures["board_power"].estimate.value
    return replace(result, figures={**result.figures, "board_power": figure("board_power", watts, "W", 0.0, 0.02)})


def test_the_most_efficient_point_and_the_cost_of_the_last_tenth_by_hand() -> None:
    # 90 of 100 frames lies half way from (80, 160 W) to (100, 300 W): 230 W, so the last tenth costs 70 W.
    points = [point("stock", 100, 300), point("power-80", 80, 160), point("power-60", 60, 140)]
    sweep = power_sweep(points, PROTOCOL)
    assert sweep is not None
    assert sweep.best == "power-80"
    assert sweep.last_tenth is not None
    assert sweep.last_tenth.value == pytest.approx(70.0)


def test_the_uncertainty_of_the_last_tenth_is_propagated_by_hand() -> None:
    # Share 0.5, slope 7 W per frame/s; power: (1 - .5) 2 and .5 * 2; rate: stock's own enters twice, 7 (.9 - .5) .1,
    # the other's is 7 (.5 * .1).
    points = [point("stock", 100, 300, u_rate=0.1, u_watts=2.0), point("power-80", 80, 160, u_rate=0.1, u_watts=2.0)]
    sweep = power_sweep(points, PROTOCOL)
    assert sweep is not None
    assert sweep.last_tenth is not None
    expected = math.hypot(1.0, 1.0, 7 * math.hypot(0.04, 0.05))
    assert sweep.last_tenth.u == pytest.approx(expected)


def test_the_tenth_is_one_of_stocks_rate_and_not_of_the_fastest_points() -> None:
    # A raised limit is faster than stock: 90 of stock's 100 is still half way from 80 to 100.
    points = [point("stock", 100, 300), point("power-80", 80, 160), point("power-60", 110, 380)]
    sweep = power_sweep(points, PROTOCOL)
    assert sweep is not None
    assert sweep.top == "power-60"
    assert sweep.last_tenth is not None
    assert sweep.last_tenth.value == pytest.approx(70.0)


def test_a_sweep_without_frames_at_stock_saves_nothing_known() -> None:
    sweep = power_sweep([point("power-80", 80, 160), point("power-60", 60, 140)], PROTOCOL)
    assert sweep is not None
    assert sweep.last_tenth is None


def test_the_meters_gain_leaves_its_share_of_what_is_saved() -> None:
    # 2 % of 70 W over root 3: 0.808 W.
    points = [metered(point("stock", 100, 300)), metered(point("power-80", 80, 160))]
    sweep = power_sweep(points, PROTOCOL)
    assert sweep is not None
    assert sweep.last_tenth is not None
    assert sweep.last_tenth.u == pytest.approx(0.02 * 70 / math.sqrt(3))


def test_nine_tenths_out_of_reach_is_not_extrapolated() -> None:
    sweep = power_sweep([point("stock", 100, 300), point("power-80", 95, 240)], PROTOCOL)
    assert sweep is not None
    assert sweep.last_tenth is None
    assert sweep.lowest_share == pytest.approx(0.95)


def test_overclocks_are_no_part_of_the_sweep() -> None:
    sweep = power_sweep([point("stock", 100, 300), point("power-80", 80, 160), point("overclock", 110, 400)], PROTOCOL)
    assert sweep is not None
    assert "overclock" not in sweep.points


def test_one_point_is_no_sweep() -> None:
    assert power_sweep([point("stock", 100, 300)], PROTOCOL) is None


# ISO 2533:1975, table 1.
@pytest.mark.parametrize(("metres", "density"), [(0.0, 1.225), (1000.0, 1.111643), (2000.0, 1.00649)])
def test_air_density_is_that_of_the_standard_atmosphere(metres: float, density: float) -> None:
    assert air_density(metres) == pytest.approx(density, abs=2e-4)
    assert air_density(metres) == pytest.approx(ATMOSPHERE_1976(metres).rho, rel=3e-4)


def test_thin_air_is_worth_a_sentence_only_where_it_matters() -> None:
    assert altitude_note(120.0) == ""
    assert altitude_note(1000.0).startswith("The bench stands at 1000 m, where air is 9 % thinner")


def test_efficiency_of_the_best_point_is_an_estimate() -> None:
    sweep = power_sweep([point("stock", 100, 300), point("power-80", 80, 160)], PROTOCOL)
    assert sweep is not None
    assert isinstance(sweep.best_efficiency, Estimate)


def rise_points(off_k: float) -> list[PointResult]:
    """Return three points on 2 K + 0.14 K/W, the middle one off by so much."""
    found = []
    for name, watts, off in (("power-60", 180.0, 0.0), ("power-80", 240.0, off_k), ("stock", 300.0, 0.0)):
        figures = {
            "board_power": figure("board_power", watts, "W", 0.1),
            "core_rise": figure("core_rise", 2 + 0.14 * watts + off, "K", 0.02),
        }
        found.append(replace(point(name, 100, watts), figures=figures))
    return found


def fitted(points: list[PointResult], protocol: Protocol = PROTOCOL) -> PowerLine:
    line = power_lines(points, protocol)["core_rise"]
    assert isinstance(line, PowerLine)
    return line


def test_a_tenth_of_a_kelvin_off_the_line_widens_its_band_and_refuses_no_answer() -> None:
    straight, bent = (fitted(rise_points(off)) for off in (0.0, 0.15))
    assert straight.lack_of_fit == 0
    assert bent.fits is True  # a plain truth value: data files hold it
    assert bent.lack_of_fit == pytest.approx(0.15 * math.sqrt(2 / 3), rel=1e-2)
    truth = 2 + 0.14 * 240 + 0.15
    at = line_value(bent.intercept, bent.slope, bent.covariance, 240.0)
    assert abs(at.value - truth) < at.expanded()


def test_points_far_off_a_line_are_no_lines() -> None:
    assert not fitted(rise_points(6.0)).fits


SWEPT = PROTOCOL.model_copy(
    update={
        "points": (
            *PROTOCOL.points,
            *(PROTOCOL.points[1].model_copy(update={"id": f"power-{n}", "name": str(n)}) for n in (70, 90)),
        )
    }
)


def curved_points(*shares: int) -> list[PointResult]:
    """Return points on 42 K (P / 300 W)^1.4, stock at 300 W and limits in percent of it."""
    found = []
    for share in (100, *shares):
        watts = 3.0 * share
        rise = figure("core_rise", 42 * (share / 100) ** 1.4, "K", 0.03)
        figures = {"board_power": figure("board_power", watts, "W", 0.1), "core_rise": rise}
        found.append(replace(point("stock" if share == 100 else f"power-{share}", 100, watts), figures=figures))
    return found


def test_a_curve_comes_before_a_refusal_and_answers_between_its_points() -> None:
    curve = fitted(curved_points(90, 80, 70, 60), SWEPT)
    assert curve.bend is not None
    assert (curve.fits, curve.shape, curve.lack_of_fit) == (True, "curve", 0.0)
    for watts in (190.0, 225.0, 285.0):
        found = line_value(curve.intercept, curve.slope, curve.covariance, watts, curve.bend)
        assert abs(found.value - 42 * (watts / 300) ** 1.4) < found.expanded()
    # The slope of 42 (P/300)^1.4 is 0.196 K/W at 300 W and 0.160 K/W at 180 W.
    assert curve.slope_at(300.0).value == pytest.approx(0.196, abs=0.004)
    assert curve.slope_at(180.0).value == pytest.approx(0.160, abs=0.004)


def test_three_points_are_too_few_for_a_curve() -> None:
    line = fitted(curved_points(80, 60))
    assert line.bend is None
    assert line.lack_of_fit > 0


def without(points: list[PointResult], kind: str) -> list[PointResult]:
    return [replace(p, figures={k: f for k, f in p.figures.items() if k != kind}) for p in points]


def test_each_rise_without_a_line_says_why() -> None:
    points = rise_points(0.0)
    assert power_lines(points, PROTOCOL)["memory_rise"] is NoLine.NOT_MEASURED
    assert power_lines(points[:1], PROTOCOL)["core_rise"] is NoLine.FEW_POINTS
    drifting = [replace(p, verdict=Verdict.DRIFTING) for p in points[1:]]
    assert power_lines([points[0], *drifting], PROTOCOL)["core_rise"] is NoLine.FEW_POINTS
    assert power_lines(without(points, "board_power"), PROTOCOL)["core_rise"] is NoLine.NO_POWER
    temperature = figure("core_temperature", 60.0, "degC", 0.1)
    only_read = [
        replace(p, figures={**p.figures, "core_temperature": temperature}) for p in without(points, "core_rise")
    ]
    assert power_lines(only_read, PROTOCOL)["core_rise"] is NoLine.NO_RISE
    near = [replace(p, figures={**p.figures, "board_power": figure("board_power", w, "W", 0.1)})
            for p, w in zip(points, (280.0, 290.0, 300.0), strict=True)]  # fmt: skip
    assert power_lines(near, PROTOCOL)["core_rise"] is NoLine.SHORT_SPAN
