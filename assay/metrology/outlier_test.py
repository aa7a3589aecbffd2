"""What a test for outliers says; it judges, and deletes nothing."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assay.display.numbers import significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag

SUSPECTED = "suspected-outlier"
#: Most values of a test: beyond, such tests are for another purpose than a titration.
MOST = 100


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class OutlierTest:
    """What a test for outliers says of replicates; it judges, and deletes nothing.

    Parameters
    ----------
    test : str
        Which test.
    n : int
        Number of replicates.
    suspects : tuple of int
        Places of the suspected replicates, from 0.
    values : tuple of float
        Their values.
    statistic : float
        The statistic of the test.
    probability : float
        Probability of a statistic as extreme in replicates without an outlier, at whichever end it is.
    probability_error : float
        Its standard numerical error, where it was simulated; else zero.
    level : float
        Level of confidence from which a flag is raised.

    References
    ----------
    [grubbs-1969], [dixon-1953] and [iso-5725-2] 7.3.4, from memory.

    Examples
    --------
    >>> from assay import grubbs
    >>> grubbs([24.30, 24.35, 24.40, 24.35, 25.10])
    <OutlierTest Grubbs: [suspected-outlier] 25.1 of 5, statistic 1.78, probability 0.0025>

    """

    test: str
    n: int
    suspects: tuple[int, ...]
    values: tuple[float, ...]
    statistic: float
    probability: float
    probability_error: float = 0.0
    level: float = 0.95

    @property
    def suspected(self) -> bool:
        """Whether the replicates are less likely than the level allows, if none of them is an outlier."""
        return self.probability < 1.0 - self.level

    @property
    def flags(self) -> tuple[Flag, ...]:
        """A flag where it is suspected; it blocks nothing."""
        if not self.suspected:
            return ()
        message = (
            f"{self._told()} lies apart from the others: replicates without an outlier do so in "
            f"{significant(100 * self.probability)} % of the cases (test of {self.test}). Look for the cause; it "
            "counts until a person sets it aside for a reason that was seen."
        )
        return (Flag(code=SUSPECTED, message=message),)

    def _told(self) -> str:
        return " and ".join(f"{value:.6g}" for value in self.values)

    def rows(self) -> Rows:
        """Return the test as a row of text."""
        cells = (self._told(), f"{self.statistic:.3f}", significant(self.probability), str(self.n))
        return Rows(
            title=f"outliers: test of {self.test}", head=("suspect", "statistic", "probability", "n"), body=(cells,)
        )

    def __repr__(self) -> str:
        flag = f"[{SUSPECTED}] " if self.suspected else ""
        told = f"{self._told()} of {self.n}, statistic {significant(self.statistic, 3)}"
        return f"<OutlierTest {self.test}: {flag}{told}, probability {significant(self.probability)}>"


def values_of(replicates: Sequence[object], *, least: int) -> list[float]:
    """Return replicates as numbers, titres by their readings.

    Raises
    ------
    DataError
        If something is neither a number nor a titre.
    DomainError
        If there are fewer than ``least`` or more than a hundred.

    """
    values = []
    for item in replicates:
        value = getattr(item, "nominal", item)  # a titre by its readings
        if isinstance(value, bool) or not isinstance(value, (int, float, np.number)) or not math.isfinite(value):
            raise DataError(
                "this is neither a number nor a titre",
                argument="replicates",
                given=item,
                remedy="Give plain numbers in one unit, or titres made by a burette or a balance.",
            )
        values.append(float(value))
    if not least <= len(values) <= MOST:
        raise DomainError(
            f"this test takes {least} to {MOST} replicates",
            argument="replicates",
            given=len(values),
            remedy="Titrate again: of so few none can be told to be an outlier." if len(values) < least else "",
        )
    return values


def s_of(values: Sequence[float]) -> float:
    """Return the standard deviation of values, or raise `DomainError` if they are all alike: none lies apart then."""
    s = statistics.stdev(values)
    if s == 0.0:
        raise DomainError(
            "replicates that are all alike have no outlier", argument="replicates", given=f"{len(values)} alike"
        )
    return s
