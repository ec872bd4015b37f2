"""What is made again, and what is not."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import pytest

from builder.commands.cache import Cache, CachedRun
from builder.commands.cache.cache import decode, encode
from builder.commands.cache.store import open_store
from builder.core.errors import Problem, Severity, Span
from builder.core.quantity import Estimate
from builder.core.results import Component, Figure, Quantity, RunResult, Settlement, Trace, Verdict, Window


def a_run() -> RunResult:
    """A run with something in every field."""
    time = np.arange(5.0)
    settlement = Settlement(
        verdict=Verdict.SETTLED,
        message="Settled – τ 150 s",
        tau_s=150.0,
        limit_k=0.5,
        window=Window(start_s=1.0, end_s=4.0),
        remaining=Estimate(value=0.1, u=0.05, unit="K", dof=7.5),
        half_width=0.11,
        notes=("1 spike removed",),
    )
    part = Component(name="scatter", kind="A", u=0.1, unit="K", dof=float("inf"))
    figure = Figure(kind="core_rise", estimate=Estimate(value=31.4, u=0.2, unit="K"), samples=5, budget=(part,))
    trace = Trace(quantity=Quantity.BOARD_POWER, time_s=time, values=np.array([1.0, np.nan, 3.0, 4.0, 5.0]))
    return RunResult(
        mount=1,
        point="stock",
        log="m1-stock.csv",
        settlement=settlement,
        figures={"core_rise": figure},
        warnings=("a",),
        repairs=("b", "c"),
        traces={Quantity.BOARD_POWER: trace, Quantity.CORE_CLOCK: trace},
        ambient_in_band=True,
    )


NOTICE = Problem(code="x", where=Span(file="a", line=3), message="m", severity=Severity.NOTICE)
CACHED = CachedRun(run=a_run(), problems=(NOTICE,))


def assert_same(a: object, b: object) -> None:
    assert type(a) is type(b)
    if isinstance(a, np.ndarray) and isinstance(b, np.ndarray):
        assert a.dtype == b.dtype
        np.testing.assert_array_equal(a, b)
    elif is_dataclass(a) and not isinstance(a, type):
        for field in fields(a):
            assert_same(getattr(a, field.name), getattr(b, field.name))
    elif isinstance(a, dict) and isinstance(b, dict):
        assert list(a) == list(b)
        for key in a:
            assert_same(a[key], b[key])
    elif isinstance(a, tuple) and isinstance(b, tuple):
        assert len(a) == len(b)
        for one, other in zip(a, b, strict=True):
            assert_same(one, other)
    else:
        assert a == b


def test_a_run_comes_back_as_it_was() -> None:
    assert_same(decode(CachedRun, encode(CACHED)), CACHED)


def test_a_run_that_could_not_be_read_comes_back_too() -> None:
    nothing = CachedRun(run=None, problems=(NOTICE,))
    assert_same(decode(CachedRun, encode(nothing)), nothing)


@pytest.mark.parametrize("data", [b"", b"PK", encode(CACHED)[:-40], encode(NOTICE), encode((1, 2))])
def test_other_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"."):
        decode(CachedRun, data)


def a_cache(tmp_path: Path, *, in_memory: bool = False, version: str = "1") -> Cache:
    store = open_store(tmp_path / "archive", tmp_path / "state")
    return Cache(store=store, version=version, in_memory=in_memory)


def test_bytes_are_made_once_for_the_same_parts(tmp_path: Path) -> None:
    first = a_cache(tmp_path)
    assert first.bytes_of("page", ("a", 1), lambda: b"made") == b"made"
    second = a_cache(tmp_path)
    assert second.bytes_of("page", ("a", 1), lambda: b"again") == b"made"
    assert (first.made, second.made) == ({"page": 1}, {})


def test_other_parts_another_kind_and_another_version_are_made_anew(tmp_path: Path) -> None:
    a_cache(tmp_path).bytes_of("page", "a", lambda: b"made")
    for cache, kind, parts in (
        (a_cache(tmp_path), "page", "b"),
        (a_cache(tmp_path), "chart", "a"),
        (a_cache(tmp_path, version="2"), "page", "a"),
    ):
        assert cache.bytes_of(kind, parts, lambda: b"again") == b"again"


def test_parts_of_unknown_dependencies_are_made_every_time(tmp_path: Path) -> None:
    cache = a_cache(tmp_path, in_memory=True)
    for _ in range(2):
        cache.bytes_of("page", object(), lambda: b"made")
    assert cache.made == {"page": 2}


def test_a_run_is_kept_only_where_its_log_was_the_same_afterwards(tmp_path: Path) -> None:
    cache = a_cache(tmp_path)
    key = cache.key("run", "log")
    cache.run_of(key, lambda: CACHED, still=lambda: False)
    assert cache.made == {"run": 1}
    cache.run_of(key, lambda: CACHED, still=lambda: True)
    assert cache.made == {"run": 2}
    assert_same(cache.run_of(key, lambda: CACHED, still=lambda: True), CACHED)
    assert cache.made == {"run": 2}


def test_memory_forgets_what_two_rounds_did_not_use() -> None:
    cache = Cache(version="1", in_memory=True)
    for _ in range(3):
        cache.turn()
        cache.bytes_of("page", "a", lambda: b"made")
    assert cache.made == {}
    cache.turn()
    cache.turn()
    cache.bytes_of("page", "a", lambda: b"made")
    assert cache.made == {"page": 1}


def test_a_keeper_without_a_place_keeps_nothing() -> None:
    cache = Cache()
    for _ in range(2):
        cache.bytes_of("page", "a", lambda: b"made")
    assert cache.made == {"page": 2}
