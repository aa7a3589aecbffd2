"""The exact distribution of Dixon's ratios, by numerical integration."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np

from assay.errors import DomainError
from assay.metrology.coverage import check_level
from assay.metrology.shapes import Array

#: Of each ratio: how far the gap reaches inwards from the suspect, and how many are left out at the other end.
RATIOS: Mapping[str, tuple[int, int]] = {"r10": (1, 0), "r11": (1, 1), "r21": (2, 1), "r22": (2, 2)}
#: Up to how many replicates each is used.
_UP_TO = (("r10", 7), ("r11", 10), ("r21", 13), ("r22", 30))
_FEWEST = 3
# Nodes in half the sum and in the difference of the two values at the ends of the ratio, and how far out they reach;
# the whole is then 1 to 1e-12 for every number of values.
_SUM_NODES, _WIDEST_SUM, _WIDTH_NODES, _WIDEST = 200, 9.0, 200, 16.0


def ratio_for(n: int) -> str:
    """Return which ratio is used for so many replicates.

    Raises
    ------
    DomainError
        If there are fewer than 3 or more than 30.

    References
    ----------
    [dixon-1953] from memory.

    Examples
    --------
    >>> [ratio_for(n) for n in (3, 7, 8, 11, 14)]
    ['r10', 'r10', 'r11', 'r21', 'r22']

    """
    if n >= _FEWEST:
        for name, most in _UP_TO:
            if n <= most:
                return name
    raise DomainError(
        "the test of Dixon takes 3 to 30 replicates",
        argument="replicates",
        given=n,
        remedy="The test of Grubbs takes more." if n >= _FEWEST else "Titrate again.",
    )


def dixon_probability(ratio: float, n: int, name: str = "") -> float:
    """Return the probability of a ratio above this one at one named end, in n normal values.

    With x the suspect and y the value at the other end of the ratio, the integral over what lies between them is a
    power, and two integrals are left, over x and y.

    Parameters
    ----------
    ratio : float
        The ratio, 0 to 1.
    n : int
        Number of values.
    name : str
        Which ratio; by `ratio_for` if it is not named.

    References
    ----------
    [dixon-1953] the distribution, from memory; derived here anew from the density of order statistics.

    Examples
    --------
    >>> round(2.0 * dixon_probability(0.9702, 3), 4)
    0.05

    """
    if ratio >= 1.0:
        return 0.0
    inner, below = RATIOS[name or ratio_for(n)]
    between = n - below - inner - 1  # values from y up to the end of the gap, y itself not counted
    x, y, weights = _nodes()
    lower = _normal(y)
    gap_end = _normal(x - max(ratio, 0.0) * (x - y)) - lower
    ways = math.factorial(n) / (math.factorial(below) * math.factorial(between))
    if inner == 1:
        inside = gap_end**between
    else:  # one more value lies in the gap
        whole = _normal(x) - lower
        inside = between * (whole * gap_end**between / between - gap_end ** (between + 1) / (between + 1))
    return float(np.sum(weights * lower**below * inside) * ways)


@cache
def dixon_critical(n: int, level: float = 0.95) -> float:
    """Return the ratio that a level of confidence allows in n normal values, whichever end is looked at.

    Parameters
    ----------
    n : int
        Number of values, 3 to 30.
    level : float
        Level of confidence.

    Returns
    -------
    float
        The critical ratio, of the ratio that is used for so many.

    References
    ----------
    [rorabacher-1991] tables for both ends; computed here.

    Examples
    --------
    >>> round(dixon_critical(4, 0.99), 4)  # 0.926 in print
    0.9207

    """
    from scipy import optimize  # imported here: scipy loads slowly

    alpha = (1.0 - check_level(level)) / 2.0
    return float(optimize.brentq(lambda r: dixon_probability(r, n) - alpha, 0.0, 1.0, xtol=1e-12))


def _normal(z: Array) -> Array:
    from scipy import special

    found: Array = special.ndtr(z)
    return found


@cache
def _nodes() -> tuple[Array, Array, Array]:
    """Return nodes x > y and weights of the density of two normal values.

    With s half their sum and v their difference, the density is exp(-s²) exp(-v²/4) over 2π.
    """
    s, s_weights = np.polynomial.legendre.leggauss(_SUM_NODES)
    s, s_weights = s * _WIDEST_SUM, s_weights * _WIDEST_SUM
    v, v_weights = np.polynomial.legendre.leggauss(_WIDTH_NODES)
    v, v_weights = (v + 1.0) * _WIDEST / 2.0, v_weights * _WIDEST / 2.0
    weights = np.outer(s_weights * np.exp(-s * s), v_weights * np.exp(-v * v / 4.0)) / (2.0 * math.pi)
    return s[:, None] + v[None, :] / 2.0, s[:, None] - v[None, :] / 2.0, weights
