"""Several groups: how much spread lies within and between them, and many comparisons at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import Estimate, FloatArray


@dataclass(frozen=True, kw_only=True)
class OneWay:
    """One-way random-effects analysis of variance.

    `mean` is the mean of group means; `between_sd` is zero with `clipped` set where its estimate came out negative.
    """

    mean: Estimate
    within_sd: float
    within_dof: float
    between_sd: float
    between_dof: float
    f: float
    p: float
    clipped: bool


def one_way(groups: Sequence[FloatArray], unit: str) -> OneWay:
    """Return the variance within and between groups, each an array of shape (n,), and the mean of the group means.

    The mean's uncertainty never falls below what the spread within groups alone implies: a negative estimate between
    groups is no proof that groups agree. Raises ValueError with fewer than two groups, an empty group, or no group with
    two values. Source: JCGM 100:2008, H.5.2; unequal group sizes after Searle, Variance Components, 1992 (value from
    memory).
    """
    sizes = np.array([g.size for g in groups], dtype=float)
    if sizes.size < 2 or sizes.min() < 1 or sizes.max() < 2:  # noqa: PLR2004 - else a spread is undefined
        raise ValueError("needs two groups, none empty, and one with two values")
    shift = float(groups[0][0])  # large offsets would cost digits
    means = np.array([(g - shift).mean() for g in groups])
    within = _mean_square_within(groups, shift, means, float(sizes.sum() - sizes.size))
    grand = float(sizes @ means / sizes.sum())
    dof = sizes.size - 1.0
    between = float(sizes @ (means - grand) ** 2) / dof
    typical = float(sizes.sum() - sizes @ sizes / sizes.sum()) / dof
    variance = max((between - within) / typical, 0.0)
    u2 = max(float(means.var(ddof=1)), within * float((1 / sizes).mean())) / sizes.size
    f = between / within if within > 0 else math.inf if between > 0 else 0.0
    return OneWay(
        mean=Estimate(value=shift + float(means.mean()), u=math.sqrt(u2), unit=unit, dof=dof),
        within_sd=math.sqrt(within),
        within_dof=float(sizes.sum() - sizes.size),
        between_sd=math.sqrt(variance),
        between_dof=dof,
        f=f,
        p=_f_tail(f, dof, float(sizes.sum() - sizes.size)),
        clipped=between < within,
    )


def _mean_square_within(groups: Sequence[FloatArray], shift: float, means: FloatArray, dof: float) -> float:
    squares = [float(((g - shift - m) ** 2).sum()) for g, m in zip(groups, means, strict=True)]
    return math.fsum(squares) / dof


def _f_tail(f: float, between: float, within: float) -> float:
    from scipy import special

    return 0.0 if math.isinf(f) else float(special.fdtrc(between, within, f))
