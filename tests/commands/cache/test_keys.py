"""Keys differ where contents differ, and only there."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

import numpy as np
import pytest
from markupsafe import Markup

from builder.archive.protocol import AmbientBand
from builder.commands.cache.keys import UnknownDependencyError, digest
from builder.core.errors import Span
from builder.core.quantity import Estimate
from builder.core.results import Quantity, Window
from tests.support.command import ROOT


@dataclass(frozen=True, kw_only=True)
class Other:
    start_s: float
    end_s: float


DIFFERENT: dict[str, tuple[object, object]] = {
    "numbers": (1.0, 1.0000000000000002),
    "number and truth": (1, True),
    "whole and broken number": (1, 1.0),
    "number and its text": (1, "1"),
    "nothing and no text": (None, ""),
    "zero and minus zero": (0.0, -0.0),
    "text and markup": ("a", Markup("a")),
    "text and bytes": ("a", b"a"),
    "where one text ends": (("ab", "c"), ("a", "bc")),
    "nesting": (((1, 2), 3), (1, (2, 3))),
    "order of a mapping": ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
    "types of records": (Window(start_s=0.0, end_s=1.0), Other(start_s=0.0, end_s=1.0)),
    "fields of models": (AmbientBand(min_c=18.0), AmbientBand(min_c=19.0)),
    "members": (Quantity.BOARD_POWER, "board_power"),
    "days": (dt.date(2026, 4, 18), dt.date(2026, 4, 19)),
    "arrays": (np.array([1.0, 2.0]), np.array([1.0, 2.5])),
    "shapes": (np.zeros((2, 3)), np.zeros((3, 2))),
    "kinds of arrays": (np.zeros(2, dtype=np.int64), np.zeros(2)),
    "arguments": (partial(digest, 1), partial(digest, 2)),
}


@pytest.mark.parametrize(("a", "b"), DIFFERENT.values(), ids=DIFFERENT.keys())
def test_different_values_have_different_keys(a: object, b: object) -> None:
    assert digest(a) != digest(b)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        (Estimate(value=1.0, u=0.1, unit="K"), Estimate(value=1.0, u=0.1, unit="K")),
        ({1, 2, 3}, {3, 2, 1}),
        (float("nan"), float("nan")),
        (np.array([np.nan]), np.array([np.nan])),
        (MappingProxyType({"a": 1}), {"a": 1}),
        (np.float64(1.5), 1.5),
    ],
)
def test_equal_contents_have_equal_keys(a: object, b: object) -> None:
    assert digest(a) == digest(b)


def test_a_key_is_the_same_in_every_process() -> None:
    # Sets are ordered by hashes of text, which differ from process to process.
    script = "from builder.commands.cache.keys import digest; print(digest({'a', 'b', 'c', 'd', 'e', 1, None}))"
    keys = {
        subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    }
    assert keys == {digest({"a", "b", "c", "d", "e", 1, None}) + "\n"}


class Unheard:
    """A type that nobody has told of."""


def closed_over(number: int) -> Callable[[], int]:
    return lambda: number


@pytest.mark.parametrize("value", [Unheard(), closed_over(1), (1, Unheard()), np.array([Unheard()], dtype=object)])
def test_a_value_of_unknown_dependencies_has_no_key(value: object) -> None:
    with pytest.raises(UnknownDependencyError):
        digest(value)


def test_places_count() -> None:
    assert digest(Span(file="a", line=1)) != digest(Span(file="a", line=2))
