"""The situations that the studies simulate."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """One situation on a bench; shares are of the nominal power, times in seconds."""

    id: str
    name: str
    length_s: float = 1200.0
    liquid: bool = False
    coolant: bool = False
    good: bool = False  # a run that a tester would rightly call finished
    slow_cooler: bool = False
    hidden_slow: bool = False  # a warm case that no sensor sees
    room_cycle_k: float = 0.0
    room_period_s: float = 900.0
    loop_s: float | None = None
    slow_power: bool = False
    constant_power: bool = False
    warm_start: bool = False  # the card was in use before
    fan_step: bool = False
    fan_logged: bool = False
    fan_curve: float = 0.0  # share of its speed by which an automatic fan answers one kelvin of the core
    truncating: bool = False  # a sensor that cuts off instead of rounding, and holds each reading for two seconds


SCENARIOS = (
    Scenario(id="air-15", name="air, 15 min", length_s=900.0),
    Scenario(id="air-20", name="air, 20 min", good=True),
    Scenario(id="air-slow-12", name="air, slow cooler, 12 min", length_s=720.0, slow_cooler=True),
    Scenario(id="liquid-25", name="liquid, 25 min", length_s=1500.0, liquid=True),
    Scenario(id="liquid-45", name="liquid, 45 min", length_s=2700.0, liquid=True, good=True),
    Scenario(id="coolant-45", name="the same, coolant logged", length_s=2700.0, liquid=True, coolant=True, good=True),
    Scenario(id="room-20", name="air, 20 min, room cycling ± 0.5 K in 15 min", good=True, room_cycle_k=0.5),
    Scenario(id="loop-20", name="air, 20 min, scene loop 90 s ± 15 %", good=True, loop_s=90.0),
    Scenario(id="slow-power-20", name="air, 20 min, power wandering 3 % in 60 s", good=True, slow_power=True),
    Scenario(id="constant-20", name="air, 20 min, constant power", good=True, constant_power=True),
    Scenario(id="warm-start-20", name="air, 20 min, started warm", good=True, warm_start=True),
    Scenario(
        id="auto-fan-20",
        name="air, 20 min, ordinary room, automatic fan",
        good=True,
        room_cycle_k=0.35,
        room_period_s=1500.0,
        fan_curve=0.018,
        fan_logged=True,
    ),
    Scenario(id="truncating-20", name="air, 20 min, sensor that truncates every 2 s", good=True, truncating=True),
    Scenario(id="warm-case-20", name="air, 20 min, case still warming", hidden_slow=True),
    Scenario(
        id="warm-case-constant-20",
        name="air, 20 min, case still warming, constant power",
        hidden_slow=True,
        constant_power=True,
    ),
    Scenario(id="fan-step-20", name="air, 20 min, fan step in the window", fan_step=True),
    Scenario(id="fan-step-logged-20", name="the same, fan logged", fan_step=True, fan_logged=True),
)
