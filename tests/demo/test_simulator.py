"""The simulator: its network against hand derivations, and the committed files against a fresh run."""

from __future__ import annotations

import importlib
import math
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

DEMO = Path(__file__).resolve().parents[2] / "site_demo"
SCRIPT = DEMO / "simulator" / "simulate.py"
NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?")


@pytest.fixture
def network(monkeypatch: pytest.MonkeyPatch) -> Any:  # noqa: ANN401 - the simulator is a script's folder, not a package
    monkeypatch.syspath_prepend(str(SCRIPT.parent))
    return importlib.import_module("network")


def air(network: Any, **changes: float) -> Any:  # noqa: ANN401 - see above
    constants = {
        "core_share": 0.7,
        "memory_share": 0.1,
        "c_die": 40.0,
        "c_plate": 1000.0,
        "c_memory": 70.0,
        "r_die_plate": 0.05,
        "r_hotspot": 0.06,
        "r_memory_plate": 0.4,
        "r_memory_air": 1e9,
        "r_sink": 0.12,
    }
    return network.Network(**{**constants, **changes}, fan=network.FanControl(base=60))


def steady(network: Any) -> Any:  # noqa: ANN401 - see above
    return network.Demand(power_w=300.0, leakage_per_k=0.0)


def test_equilibrium_on_air_is_the_sum_of_its_resistances(network: Any) -> None:  # noqa: ANN401
    # By hand, all heat leaving through the sink: plate 300 W * 0.12 K/W; die 0.7 * 300 W * 0.05 K/W above it;
    # hotspot 0.7 * 300 W * 0.06 K/W above the die; memory 0.1 * 300 W * 0.4 K/W above the plate.
    there = network.equilibrium(air(network), steady(network), 21.0)
    assert there.state.plate == pytest.approx(36.0, abs=1e-4)
    assert there.state.die == pytest.approx(46.5, abs=1e-4)
    assert there.hotspot == pytest.approx(59.1, abs=1e-4)
    assert there.state.memory == pytest.approx(48.0, abs=1e-4)


def test_equilibrium_with_a_loop_adds_coolant_and_radiator(network: Any) -> None:  # noqa: ANN401
    # By hand: radiator 300 W * 0.04 K/W, coolant 300 * 0.01 above it, plate 300 * 0.05 above that, die 10.5 K more.
    loop = network.Loop(c_coolant=9000, c_radiator=1500, r_coolant_radiator=0.01, r_radiator_air=0.04, flow=3.0)
    one = air(network, r_sink=0.05)
    there = network.equilibrium(network.Network(**{**vars(one), "loop": loop}), steady(network), 21.0)
    assert there.state.coolant == pytest.approx(15.0, abs=1e-4)
    assert there.state.die == pytest.approx(40.5, abs=1e-4)
    assert there.coolant_heat_w == pytest.approx(300.0, abs=1e-4)


def test_leakage_raises_power_by_its_share_per_kelvin(network: Any) -> None:  # noqa: ANN401
    # By hand: P = 300 (1 + 0.001 (T - 50)), T = 21 + 0.155 P, so P = 300 (1 - 0.029) / (1 - 0.0465).
    demand = network.Demand(power_w=300.0, leakage_per_k=0.001)
    there = network.equilibrium(air(network), demand, 21.0)
    assert there.power_w == pytest.approx(300 * 0.971 / 0.9535, rel=1e-6)


def test_stepping_leads_to_the_equilibrium(network: Any) -> None:  # noqa: ANN401
    import numpy as np

    one, demand = air(network), network.Demand(power_w=300.0, leakage_per_k=0.0005)
    cold = network.State(die=0.0, plate=0.0, memory=0.0)
    course = network.simulate(one, demand, cold, np.full(7200, 21.0), np.ones(7200))
    there = network.equilibrium(one, demand, 21.0)
    assert course.die[-1] - 21 == pytest.approx(there.state.die, abs=1e-3)
    assert course.hotspot[-1] - 21 == pytest.approx(there.hotspot, abs=1e-3)
    assert course.power[-1] == pytest.approx(there.power_w, abs=1e-3)


def test_plate_follows_a_first_order_step(network: Any) -> None:  # noqa: ANN401
    # With die and memory light, the plate alone keeps heat: 1 - exp(-t / RC), RC = 0.12 * 1000 = 120 s.
    import numpy as np

    light = air(network, c_die=12.0, c_memory=2.0, r_die_plate=0.1)
    cold = network.State(die=0.0, plate=0.0, memory=0.0)
    course = network.simulate(light, steady(network), cold, np.full(601, 0.0), np.ones(601))
    over_plate = 0.7 * 300 * 0.1
    assert course.die[240] - over_plate == pytest.approx(36 * (1 - math.exp(-1)), rel=0.02)


def test_faster_fan_cools_by_the_stated_power_law(network: Any) -> None:  # noqa: ANN401
    fan = network.FanControl(base=60)
    assert network.fan_factor(fan, 60) == 1
    assert network.fan_factor(fan, 90) == pytest.approx((60 / 90) ** 0.7)


def test_same_files_come_out_again(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(SCRIPT), str(tmp_path)], check=True, timeout=600)
    assert (tmp_path / "truth.json").is_file()
    made = {p.relative_to(tmp_path): p for p in tmp_path.rglob("*") if p.is_file()}
    kept = {p.relative_to(DEMO) for p in (DEMO / "bundles").rglob("*") if p.suffix in (".csv", ".yaml")}
    assert set(made) == kept | {Path("truth.json")}
    different = [str(name) for name, path in made.items() if not alike(path.read_bytes(), (DEMO / name).read_bytes())]
    assert different == []


def alike(new: bytes, old: bytes) -> bool:
    """Whether two files are equal, but for one step of a number's last digit: mathematics libraries differ by CPU."""
    if new == old:
        return True
    a, b = new.decode(), old.decode()
    if NUMBER.sub("0", a) != NUMBER.sub("0", b):
        return False
    return all(near(x, y) for x, y in zip(NUMBER.findall(a), NUMBER.findall(b), strict=True))


def near(a: str, b: str) -> bool:
    decimals = max(len(t.replace(",", ".").partition(".")[2]) for t in (a, b))
    gap = abs(float(a.replace(",", ".")) - float(b.replace(",", ".")))
    return gap < 1.5 * 10.0**-decimals


@pytest.mark.parametrize(
    ("new", "old", "same"),
    [(b"1,5;2\n", b"1,6;2\n", True), (b"1,5;2\n", b"1,7;2\n", False), (b"1,5;2\n", b"1,5;2\n3\n", False)],
    ids=["one step", "two steps", "one line more"],
)
def test_comparison_allows_one_step_of_the_last_digit(new: bytes, old: bytes, same: bool) -> None:
    assert alike(new, old) is same
