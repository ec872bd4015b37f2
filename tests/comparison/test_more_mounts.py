"""How many more mounts of each would tell a pair that is too close to call."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from builder.archive.protocol import SpreadByKind
from builder.comparison import Member, MoreMounts, PointOf, SharedLine, Standing, Term, head_to_head, more_mounts
from builder.core.quantity import Estimate
from tests.support.invented import air, archive_of

SPREAD = 0.5  # K from mount to mount


def member(name: str, value: float, mounts: int, *, gain: float = 0.0) -> Member:
    u = SPREAD / math.sqrt(mounts)
    return Member(
        bundle=name,
        estimate=Estimate(value=value, u=u, unit="K"),
        terms=(Term(u=u, dof=10.0, pool="kind air"),),
        shared=(SharedLine(instrument="core_temperature", bench="one", gain=gain),),
        mounts=mounts,
    )


def known(found: MoreMounts | None) -> MoreMounts:
    assert found is not None
    return found


def test_the_first_number_that_tells_is_the_one_that_is_said() -> None:
    found = known(more_mounts(member("a", 30.0, 1), member("b", 31.0, 1)))
    assert found.enough
    assert found.told <= 1.0
    fewer = member("a", 30.0, found.mounts), member("b", 31.0, found.mounts)
    assert known(more_mounts(*fewer)).mounts == 1


def test_so_many_mounts_do_tell_in_four_of_five_simulated_sessions() -> None:
    """Simulated sessions with a known spread; the share that is told apart at 95 % by the normal law."""
    found = known(more_mounts(member("a", 30.0, 1), member("b", 31.0, 1)))
    random = np.random.default_rng(2026)
    n = 1 + found.mounts
    a, b = (random.normal(mean, SPREAD, (20_000, n)).mean(axis=1) for mean in (30.0, 31.0))
    told = np.abs(a - b) > stats.norm.ppf(0.975) * SPREAD * math.sqrt(2 / n)
    assert 0.80 <= told.mean() <= 0.95


def test_what_an_instrument_leaves_does_not_shrink() -> None:
    pair = member("a", 30.0, 1, gain=0.8), member("b", 31.0, 1)
    found = known(more_mounts(*pair))
    assert not found.enough
    assert found.told > 2.8 * 0.8
    assert found.said == "Even 8 more mounts of each would not tell a difference of this size."


def test_equal_figures_and_unknown_spreads_have_no_number() -> None:
    assert more_mounts(member("a", 30.0, 1), member("b", 30.0, 1)) is None
    assert (
        more_mounts(
            Member(bundle="a", estimate=Estimate(value=1, u=1, unit="K"), terms=None, shared=()), member("b", 30.0, 1)
        )
        is None
    )


def test_a_pair_that_is_too_close_says_it() -> None:
    archive = archive_of([air("a", 30.0), air("b", 30.8)], spread=SpreadByKind(air=0.5, liquid=0.5))
    found = head_to_head(archive, PointOf(bundle="a", point="stock"), PointOf(bundle="b", point="stock"))
    row = next(r for r in found.rows if r.kind == "core_rise")
    assert row.standing is Standing.TOO_CLOSE
    assert row.more is not None
    assert row.text.endswith(f" {row.more.said}")
    assert "would tell a difference of this size" in row.more.said


@pytest.mark.parametrize(("mounts", "words"), [(1, "1 more mount of each"), (3, "3 more mounts of each")])
def test_it_is_counted_in_words(mounts: int, words: str) -> None:
    assert MoreMounts(mounts=mounts, told=1.0, enough=True).said.startswith(words)
