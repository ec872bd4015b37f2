"""How large a difference a measurement can tell from none, and how likely it is to: the power of Student's t."""

from __future__ import annotations

import math

LEVEL = 0.05  # of a false alarm, two-sided
POWER = 0.80  # of finding what is there; common practice, no source


def power_to_tell(difference: float, u: float, dof: float) -> float:
    """Return the probability that a true difference is told from none at 95 %.

    `u` is the standard uncertainty of the estimated difference, in its unit and above zero, with `dof` degrees of
    freedom; the estimate over its uncertainty then follows the noncentral t distribution (two-sided test).
    """
    from scipy import special

    shift = abs(difference) / u
    if math.isinf(dof):
        limit = float(special.ndtri(1 - LEVEL / 2))
        return float(special.ndtr(shift - limit) + special.ndtr(-shift - limit))
    limit = float(special.stdtrit(dof, 1 - LEVEL / 2))
    return float(1 - special.nctdtr(dof, shift, limit) + special.nctdtr(dof, shift, -limit))


def difference_told(u: float, dof: float) -> float:
    """Return the smallest true difference that is told from none with a power of 80 %, in the unit of `u`.

    It is exact to 0.01 %. Raises ValueError where `u` is not above zero or `dof` below one.

    >>> round(difference_told(1.0, math.inf), 3)
    2.802
    """
    from scipy import optimize

    if not u > 0 or not dof >= 1:
        raise ValueError(f"no difference is told with u = {u} and {dof} degrees of freedom")
    highest = 2.0
    while power_to_tell(highest, 1.0, dof) < POWER:
        highest *= 2
    return u * float(optimize.brentq(lambda d: power_to_tell(d, 1.0, dof) - POWER, 0.0, highest, rtol=1e-4))
