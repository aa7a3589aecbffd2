"""Shapes of uncertain inputs: how a half-width becomes a standard uncertainty, and how deviations are drawn.

A shape is a distribution moved and stretched to mean 0 and standard deviation 1, so that an influence with any shape
has its value as mean and its u as standard deviation, and what is drawn agrees with what is propagated linearly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from scipy import special

from assay.errors import DataError, DomainError, nearest
from assay.kernels.value import Value
from assay.metrology.plain import plain

Array: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"
Generator: TypeAlias = np.random.Generator

_Draw: TypeAlias = Callable[..., Array]
_Quantile: TypeAlias = Callable[..., Value]
#: JCGM 101:2008, 6.4.9.4: a t has a variance only above 2 degrees of freedom.
_DOF_WITHOUT_VARIANCE = 2.0
_SHOWN_PARAMETERS = 3
#: Names that others give to the shapes. Common practice.
_ALSO_CALLED = {
    "gaussian": "normal", "gauss": "normal", "uniform": "rectangular", "u-shaped": "arcsine", "u": "arcsine",
    "student": "t", "student t": "t", "student's t": "t", "empirical": "sample",
}  # fmt: skip
#: Nodes on each side of the mode, and the power of e to which a normal density falls where it is no longer followed.
_NODES, _FOLLOWED = 100, 40.0


@dataclass(frozen=True, slots=True)
class Shape:
    """A distribution with mean 0 and standard deviation 1, by name and parameters.

    Parameters
    ----------
    name : str
        Name of the shape, as in the tables.
    parameters : tuple of float
        What the shape needs besides: nothing for ``"normal"``, ``"rectangular"``, ``"triangular"`` and ``"arcsine"``;
        the length of the top over that of the base, 0 to 1, for ``"trapezoidal"``; degrees of freedom, above 2, for
        ``"t"``; the limits in standard deviations of the untruncated normal from its mean for ``"truncated normal"``;
        the standard deviation of the logarithm for ``"log-normal"``; the two exponents, above 0, for ``"beta"``; the
        values, two or more that are not all the same, for ``"sample"``.

    Raises
    ------
    DataError
        If there is no such shape.
    DomainError
        If the parameters are not those of the shape.

    References
    ----------
    [jcgm-101-2008] 6.4.2 to 6.4.9: rectangular, trapezoidal, triangular, arcsine, normal, t.

    Examples
    --------
    >>> round(Shape("trapezoidal", (0.5,)).quantile(1.0), 3)
    2.191

    """

    name: str
    parameters: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        """Check the parameters, and make them plain floats."""
        if self.name not in _FAMILIES:
            usual = _ALSO_CALLED.get(str(self.name).casefold())
            remedy = f"Here it is called {usual!r}." if usual else nearest(str(self.name), _FAMILIES)
            raise DataError("unknown shape", argument="shape", given=self.name, remedy=remedy)
        stated: object = self.parameters
        given = stated if isinstance(stated, tuple) else tuple(np.atleast_1d(np.array(stated, dtype=object)))
        object.__setattr__(self, "parameters", tuple(plain(x, argument="parameters") for x in given))
        family = _FAMILIES[self.name]
        if not (family.accepts(self.parameters) and all(not math.isnan(x) for x in self.parameters)):
            raise DomainError(
                f"a {self.name} shape does not have these parameters",
                argument="parameters",
                given=_few(self.parameters) or "none",
                expected=family.expected,
                remedy=family.remedy,
            )

    @property
    def half_width_over_u(self) -> float:
        """Half-width over standard uncertainty; infinite if the shape has no bounds, NaN if they are not symmetric."""
        low, high = self.quantile(0.0), self.quantile(1.0)
        return high if math.isclose(-low, high, rel_tol=1e-12) or math.isinf(high) else math.nan

    def draw(self, generator: Generator, n: int) -> Array:
        """Return ``n`` drawn deviations; drawing in parts gives the same numbers as drawing at once."""
        return _FAMILIES[self.name].draw(generator, n, *self.parameters)

    def quantile(self, probability: Value) -> Value:
        """Return the deviation below which this share of the distribution lies, for one probability or an array.

        Examples
        --------
        >>> round(Shape("normal").quantile(0.975), 2)
        1.96

        """
        deviation = _FAMILIES[self.name].quantile(probability, *self.parameters)
        return deviation if np.ndim(probability) else float(deviation)

    def from_normal(self, deviates: Array) -> Array:
        """Return standard normal deviates as deviates of this shape, keeping their rank: the margin of a `Joint`."""
        if self.name == "normal":
            return deviates
        # By the lower tail on both sides where the shape allows it: no digits are lost far out.
        tail = special.ndtr(-np.abs(deviates))
        below = self.quantile(tail)
        above = -self.quantile(tail) if self.is_symmetric else self.quantile(1.0 - tail)
        margin: Array = np.where(deviates < 0.0, below, above)
        return margin

    @property
    def moments(self) -> tuple[float, float]:
        """Mean and standard deviation of what the parameters name, before it is moved and stretched."""
        return _FAMILIES[self.name].moments(*self.parameters)

    @property
    def is_symmetric(self) -> bool:
        """Whether the distribution is the same on both sides of its mean."""
        return _FAMILIES[self.name].symmetric

    def __str__(self) -> str:
        """Return the name with its parameters."""
        return self.name + (f" ({_few(self.parameters)})" if self.parameters else "")


def _few(parameters: Sequence[float]) -> str:
    shown = ", ".join(f"{x:.6g}" for x in parameters[:_SHOWN_PARAMETERS])
    return shown + (f", … {len(parameters)} values" if len(parameters) > _SHOWN_PARAMETERS else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Family:
    """What the shapes of one name have in common; the functions take the parameters after their own arguments."""

    draw: _Draw
    quantile: _Quantile
    accepts: Callable[[tuple[float, ...]], bool] = lambda parameters: not parameters
    expected: str = "no parameters"
    remedy: str = ""
    symmetric: bool = True
    moments: Callable[..., tuple[float, float]] = lambda *_parameters: (0.0, 1.0)


def _draw_normal(generator: Generator, n: int) -> Array:
    return generator.standard_normal(n)


def _draw_rectangular(generator: Generator, n: int) -> Array:
    deviations = generator.random(n)
    deviations -= 0.5
    deviations *= 2.0 * math.sqrt(3.0)
    return deviations


def _rectangular_quantile(p: Value) -> Value:
    return 2.0 * math.sqrt(3.0) * (p - 0.5)


def _draw_trapezoidal(generator: Generator, n: int, top: float) -> Array:
    # A sum of two rectangular deviations (JCGM 101:2008, 6.4.4.3 and, for top = 0, 6.4.5.3); taken pairwise, parts
    # change nothing.
    pairs = generator.random((n, 2))
    deviations: Array = (1.0 + top) * (pairs[:, 0] - 0.5) - (1.0 - top) * (pairs[:, 1] - 0.5)
    deviations *= _trapezoidal_half_width(top)
    return deviations


def _trapezoidal_half_width(top: float) -> float:
    return math.sqrt(6.0 / (1.0 + top * top))  # JCGM 101:2008, 6.4.4.2


def _trapezoidal_quantile(p: Value, top: float) -> Value:
    lower = np.minimum(p, 1.0 - p)  # the other half is its mirror image
    on_slope = np.sqrt(2.0 * (1.0 - top * top) * lower)  # distance from the end over the half-width
    on_top = (1.0 + top) * lower + 0.5 * (1.0 - top)
    distance = np.where(lower <= 0.5 * (1.0 - top) / (1.0 + top), on_slope, on_top)
    return _signed(_trapezoidal_half_width(top) * (1.0 - distance), p)


def _draw_triangular(generator: Generator, n: int) -> Array:
    return _draw_trapezoidal(generator, n, 0.0)


def _triangular_quantile(p: Value) -> Value:
    return _trapezoidal_quantile(p, 0.0)


def _draw_arcsine(generator: Generator, n: int) -> Array:
    deviations: Array = math.sqrt(2.0) * np.sin(2.0 * math.pi * generator.random(n))  # JCGM 101:2008, 6.4.6.3
    return deviations


def _arcsine_quantile(p: Value) -> Value:
    return -math.sqrt(2.0) * np.cos(math.pi * p)


def _draw_t(generator: Generator, n: int, dof: float) -> Array:
    return generator.standard_t(dof, n) * math.sqrt((dof - 2.0) / dof)


def _t_quantile(p: Value, dof: float) -> Value:
    lower = special.stdtrit(dof, np.minimum(p, 1.0 - p))
    return _signed(-lower * math.sqrt((dof - 2.0) / dof), p)


def _signed(distance: Value, p: Value) -> Value:
    """Return a distance from the mean with the sign that a probability gives it."""
    return np.copysign(distance, np.asarray(p) - 0.5)


@cache
def _truncated_moments(low: float, high: float) -> tuple[float, float]:
    # By integration about the mode: differences of densities lose all digits in a narrow range or far out.
    mode = min(max(0.0, low), high)
    reach = 2.0 * _FOLLOWED / (abs(mode) + math.sqrt(mode * mode + 2.0 * _FOLLOWED))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    halves = [0.5 * (min(max(end - mode, -reach), reach)) for end in (low, high)]
    apart = np.concatenate([half * (nodes + 1.0) for half in halves])
    mass = np.concatenate([abs(half) * weights for half in halves]) * np.exp(-apart * (0.5 * apart + mode))
    mass /= mass.sum()
    mean = float(mass @ apart)
    return mode + mean, math.sqrt(float(mass @ np.square(apart - mean)))


def _truncated_quantile(p: Value, low: float, high: float) -> Value:
    from scipy import stats  # slow to import, and needed for this shape alone

    mean, deviation = _truncated_moments(low, high)
    return (stats.truncnorm.ppf(p, low, high) - mean) / deviation


def _draw_truncated(generator: Generator, n: int, low: float, high: float) -> Array:
    drawn: Array = _truncated_quantile(generator.random(n), low, high)
    return drawn


def _log_normal_moments(sigma: float) -> tuple[float, float]:
    mean = math.exp(0.5 * sigma * sigma)
    return mean, mean * math.sqrt(math.expm1(sigma * sigma))


def _log_normal_deviate(normal: Value, sigma: float) -> Value:
    mean, deviation = _log_normal_moments(sigma)
    return (np.exp(sigma * normal) - mean) / deviation


def _draw_log_normal(generator: Generator, n: int, sigma: float) -> Array:
    drawn: Array = _log_normal_deviate(generator.standard_normal(n), sigma)
    return drawn


def _log_normal_quantile(p: Value, sigma: float) -> Value:
    return _log_normal_deviate(special.ndtri(p), sigma)


def _beta_moments(a: float, b: float) -> tuple[float, float]:
    return a / (a + b), math.sqrt(a * b / (a + b + 1.0)) / (a + b)


def _draw_beta(generator: Generator, n: int, a: float, b: float) -> Array:
    mean, deviation = _beta_moments(a, b)
    drawn: Array = (generator.beta(a, b, n) - mean) / deviation
    return drawn


def _beta_quantile(p: Value, a: float, b: float) -> Value:
    mean, deviation = _beta_moments(a, b)
    return (special.betaincinv(a, b, p) - mean) / deviation


@cache
def _sample_moments(*values: float) -> tuple[float, float]:
    return float(np.mean(values)), float(np.std(values))  # each value is equally likely: divided by n


@cache
def _standardised(values: tuple[float, ...]) -> Array:
    mean, deviation = _sample_moments(*values)
    ordered: Array = (np.sort(np.array(values)) - mean) / deviation
    ordered.flags.writeable = False
    return ordered


def _draw_sample(generator: Generator, n: int, *values: float) -> Array:
    drawn: Array = _sample_quantile(generator.random(n), *values)
    return drawn


def _sample_quantile(p: Value, *values: float) -> Value:
    places = np.clip(np.ceil(np.asarray(p) * len(values)) - 1.0, 0.0, len(values) - 1.0).astype(int)
    return _standardised(values)[places]


def _one(low: float, high: float) -> Callable[[tuple[float, ...]], bool]:
    return lambda parameters: len(parameters) == 1 and low < parameters[0] < high


_FAMILIES: Mapping[str, _Family] = MappingProxyType(
    {
        "normal": _Family(draw=_draw_normal, quantile=special.ndtri),
        "rectangular": _Family(draw=_draw_rectangular, quantile=_rectangular_quantile),
        "triangular": _Family(draw=_draw_triangular, quantile=_triangular_quantile),
        "arcsine": _Family(draw=_draw_arcsine, quantile=_arcsine_quantile),
        "trapezoidal": _Family(
            draw=_draw_trapezoidal,
            quantile=_trapezoidal_quantile,
            accepts=lambda parameters: len(parameters) == 1 and 0.0 <= parameters[0] <= 1.0,
            expected="the length of the top over that of the base, 0 to 1, as parameters=(0.5,)",
        ),
        "t": _Family(
            draw=_draw_t,
            quantile=_t_quantile,
            accepts=_one(_DOF_WITHOUT_VARIANCE, math.inf),
            expected="parameters=(dof,) with degrees of freedom above 2: a t with 2 or fewer has no standard deviation",
            remedy=(
                "For the mean of 2 or 3 replicates state u = s/√n with dof, shape 'normal': its interval is that of t."
            ),
        ),
        "truncated normal": _Family(
            draw=_draw_truncated,
            quantile=_truncated_quantile,
            accepts=lambda parameters: len(parameters) == 2 and parameters[0] < parameters[1],  # noqa: PLR2004
            expected="the lower and the upper limit, the lower first; infinite for none",
            symmetric=False,
            moments=_truncated_moments,
        ),
        "log-normal": _Family(
            draw=_draw_log_normal,
            quantile=_log_normal_quantile,
            accepts=_one(0.0, 10.0),  # beyond, the standard deviation is over 1e21 times the mean
            expected="the standard deviation of the logarithm, above 0 and below 10",
            symmetric=False,
            moments=_log_normal_moments,
        ),
        "beta": _Family(
            draw=_draw_beta,
            quantile=_beta_quantile,
            accepts=lambda parameters: len(parameters) == 2 and 0.0 < min(parameters) < max(parameters) * 2 < math.inf,  # noqa: PLR2004
            expected="two exponents, above 0",
            symmetric=False,
            moments=_beta_moments,
        ),
        "sample": _Family(
            draw=_draw_sample,
            quantile=_sample_quantile,
            accepts=lambda parameters: len(parameters) > 1 and -math.inf < min(parameters) < max(parameters) < math.inf,
            expected="two values or more, finite and not all the same",
            symmetric=False,
            moments=_sample_moments,
        ),
    }
)

#: The shapes that need no parameters, by name.
SHAPES: Mapping[str, Shape] = MappingProxyType(
    {name: Shape(name) for name in ("normal", "rectangular", "triangular", "arcsine")}
)


def u_from_half_width(half_width: float, shape: str, parameters: tuple[float, ...] = ()) -> float:
    """Return the standard uncertainty of a bounded shape.

    Raises
    ------
    DataError
        If the shape has no bounds, or they lie at different distances from its mean.

    Examples
    --------
    >>> round(u_from_half_width(0.03, "triangular"), 4)
    0.0122

    """
    ratio = Shape(shape, parameters).half_width_over_u
    if not math.isfinite(ratio):
        raise DataError(
            "this shape has no half-width",
            argument="shape",
            given=shape,
            expected="'rectangular', 'triangular', 'arcsine' or 'trapezoidal' with a half-width",
            remedy="State u for a normal shape.",
        )
    return half_width / ratio
