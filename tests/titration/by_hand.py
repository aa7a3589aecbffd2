"""Uncertainty by hand: independent inputs, a formula written out, and central differences over every input.

Nothing here comes from the library; what it finds is compared with what the library finds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from statistics import stdev
from typing import TypeAlias

import numpy as np

Value: TypeAlias = float | np.ndarray
Formula: TypeAlias = Callable[[Mapping[str, Value]], Value]

# Standard atomic weights of 2021 with their half-widths, as the library's table prints them.
WEIGHTS = {
    "H": (1.0080, 0.0002),
    "C": (12.011, 0.002),
    "O": (15.999, 0.001),
    "Na": (22.98976928, 0.00000002),
    "K": (39.0983, 0.0001),
    "Cr": (51.9961, 0.0006),
}

#: Knots of a 50 mL burette, mL, and how like two of them are: normal scores of Gaussian correlation over 5 mL.
KNOTS = np.linspace(0.0, 50.0, 21)
ALIKE = (6.0 / math.pi) * np.arcsin(np.exp(-((np.subtract.outer(KNOTS, KNOTS) / 5.0) ** 2) / 2.0) / 2.0)

#: Standard uncertainties of one reading to 0.05 mL, mL, and of one weighing by difference to 0.1 mg at each load, g.
READ = 0.05 / math.sqrt(12.0)
WEIGHED = 0.0001 * math.sqrt(2.0)


def water(celsius: Value) -> Value:
    """Return the density of water by the equation of Tanaka and others 2001, g/L."""
    a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
    return a5 * (1.0 - (celsius + a1) ** 2 * (celsius + a2) / (a3 * (celsius + a4)))


def at_20(volume: Value, ware: Value, beyond: Value, above: Value) -> Value:
    """Return a volume at 20 °C from that indicated so many K above, with the expansions of ware and beyond water."""
    return volume * (1.0 + ware * above) * water(20.0 + above) / water(20.0) * (1.0 - beyond * above)


def repeatability(s: float, *, shared: float = READ, own: float = 0.0) -> float:
    """Return what scatters in one replicate: its s is that and the rounding, which is known."""
    return math.sqrt(max(s**2 - shared**2 - own**2, 0.0))


def rounding(s: float, n: int, *, shared: float = READ, own: float = 0.0) -> float:
    """Return the rounding of a mean of n: new in each, it averages; common to all, only as far as s shows it."""
    hidden = max(shared**2 - s**2, 0.0)
    return math.sqrt(hidden + (shared**2 - hidden + own**2) / n)


def delivered(deviations: Value, final: float, initial: float = 0.0) -> Value:
    """Return mL delivered between two readings of a 50 mL burette with these deviations at its knots."""
    share = [np.maximum(1.0 - np.abs(KNOTS - reading) / 2.5, 0.0) for reading in (final, initial)]
    return final - initial + (share[0] - share[1]) @ deviations


class Inputs:
    """Inputs by name, each independent of the others or a vector with one covariance."""

    def __init__(self) -> None:
        """Begin without any."""
        self._values: dict[str, np.ndarray] = {}
        self._covariances: dict[str, np.ndarray] = {}
        self._known: dict[str, np.ndarray] = {}
        self._dofs: dict[str, float] = {}

    def add(self, name: str, value: float, u: float, dof: float = math.inf) -> Inputs:
        """Add an input with a standard uncertainty."""
        return self.together(name, [value], [[u * u]], dof)

    def within(self, name: str, value: float, half_width: float, shape: str = "rectangular") -> Inputs:
        """Add an input within a half-width: over √3 if it is rectangular, over √6 if triangular."""
        return self.add(name, value, half_width / math.sqrt({"rectangular": 3.0, "triangular": 6.0}[shape]))

    def together(
        self, name: str, values: Sequence[float], covariance: object, dof: float = math.inf, known: object = 0.0
    ) -> Inputs:
        """Add a vector of inputs with one covariance and its degrees of freedom, and a known one beside it."""
        self._values[name] = np.array(values, dtype=float)
        self._known[name] = np.broadcast_to(np.array(known, dtype=float), (len(values), len(values)))
        self._covariances[name] = np.array(covariance, dtype=float) + self._known[name]
        self._dofs[name] = dof
        return self

    def mean(  # noqa: PLR0917  (what a mean of replicates is known by)
        self, name: str, s: float, n: int, dof: float, shared: float = READ, own: float = 0.0, shown: float = math.inf
    ) -> Inputs:
        """Add the deviation of a mean of n that scatter by s: what scatters has its dof, the rounding is known.

        Where s is known from elsewhere, how the titres were rounded is told by what they show themselves.
        """
        scatter = repeatability(s, shared=shared, own=own) / math.sqrt(n)
        rounded = rounding(min(s, shown), n, shared=shared, own=own)
        return self.together(name, [0.0], [[scatter**2]], dof, [[rounded**2]])

    def replicates(self, name: str, values: Sequence[float], shared: float = READ, own: float = 0.0) -> Inputs:
        """Add the deviation of the mean of replicates; if nothing else is said, of titres from zero to 0.05 mL."""
        return self.mean(name, stdev(values), len(values), len(values) - 1.0, shared, own)

    def replicates_and_blank(self, name: str, finals: Sequence[float]) -> Inputs:
        """Add the deviations of the mean of such titres and of their single blank: one s stands behind both."""
        s, n = stdev(finals), len(finals)
        scatter = repeatability(s) ** 2
        known = np.diag([rounding(s, n) ** 2, READ**2])
        return self.together(name, [0.0, 0.0], np.diag([scatter / n, scatter]), n - 1.0, known)

    def portions(
        self, name: str, results: Sequence[float], listed: Sequence[tuple[float, float]], *, by_mass: bool = False
    ) -> Inputs:
        """Add the deviation of the mean of results from portions (g, mL or g), each the largest rounding of any."""
        per_titre = max(abs(found) / titre for found, (_, titre) in zip(results, listed, strict=True))
        weighing = WEIGHED * max(abs(found) / mass for found, (mass, _) in zip(results, listed, strict=True))
        if by_mass:
            return self.replicates(name, results, 0.0, math.hypot(weighing, WEIGHED * per_titre))
        return self.replicates(name, results, READ * per_titre, weighing)

    def burette(self, name: str, limit: float = 0.05, shape: str = "rectangular") -> Inputs:
        """Add the deviations of a 50 mL burette with a limit of error, mL.

        Rectangular, the deviation is the error from zero, within the limit and nothing at zero; triangular, the error
        is the difference of two deviations, each within half of it.
        """
        if shape == "triangular":
            return self.together(name, [0.0] * len(KNOTS), (limit / 2.0) ** 2 / 3.0 * ALIKE)
        above = (KNOTS > 0.0).astype(float)
        return self.together(name, [0.0] * len(KNOTS), limit**2 / 3.0 * ALIKE * np.outer(above, above))

    def atomic_weights(self, *symbols: str) -> Inputs:
        """Add atomic weights, each by its symbol."""
        for symbol in symbols:
            self.within(symbol, *WEIGHTS[symbol])
        return self

    def _given(self) -> dict[str, Value]:
        return {name: values if len(values) > 1 else float(values[0]) for name, values in self._values.items()}

    def value(self, formula: Formula) -> float:
        """Return the value of a formula."""
        return float(formula(self._given()))

    def slopes(self, formula: Formula) -> dict[str, np.ndarray]:
        """Return the slope of a formula with respect to every input, by central differences."""
        found = {}
        for name, values in self._values.items():
            steps = 0.01 * np.sqrt(np.diag(self._covariances[name]))
            slope = np.zeros(len(values))
            for k, step in enumerate(steps):
                if step > 0.0:
                    ends = []
                    for sign in (1.0, -1.0):
                        moved = values.copy()
                        moved[k] += sign * step
                        ends.append(formula(self._given() | {name: moved if len(moved) > 1 else float(moved[0])}))
                    slope[k] = (ends[0] - ends[1]) / (2.0 * step)
            found[name] = slope
        return found

    def covariance(self, first: Formula, second: Formula) -> float:
        """Return the covariance of two formulas."""
        a, b = self.slopes(first), self.slopes(second)
        return math.fsum(float(a[name] @ self._covariances[name] @ b[name]) for name in a)

    def u(self, formula: Formula) -> float:
        """Return the standard uncertainty of a formula."""
        return math.sqrt(self.covariance(formula, formula))

    def correlation(self, first: Formula, second: Formula) -> float:
        """Return the correlation of two formulas."""
        return self.covariance(first, second) / (self.u(first) * self.u(second))

    def dof(self, formula: Formula) -> float:
        """Return the effective degrees of freedom of a formula, by Welch and Satterthwaite."""
        slopes = self.slopes(formula)
        total = math.fsum(float(s @ self._covariances[name] @ s) for name, s in slopes.items())
        estimated = {name: float(s @ (self._covariances[name] - self._known[name]) @ s) for name, s in slopes.items()}
        loss = math.fsum(variance**2 / self._dofs[name] for name, variance in estimated.items())
        return total**2 / loss if loss > 0.0 else math.inf

    def draws(self, formula: Formula, trials: int, seed: int) -> np.ndarray:
        """Return the values of a formula at normal draws of every input."""
        generator = np.random.default_rng(seed)
        drawn: dict[str, Value] = {}
        for name, values in self._values.items():
            rows = generator.multivariate_normal(values, self._covariances[name], size=trials).T
            drawn[name] = rows if len(values) > 1 else rows[0]
        return np.asarray(formula(drawn))
