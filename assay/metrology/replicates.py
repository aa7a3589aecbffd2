"""Replicates: mean, scatter, degrees of freedom, and the rounding that scatter cannot show."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assay.display.numbers import significant
from assay.errors import DomainError
from assay.glossary import TERMS
from assay.kernels.replicates import mean_from_replicates
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodScatter:
    """A scatter known from elsewhere: the repeatability of the method in this laboratory.

    Parameters
    ----------
    s : float
        Standard deviation of one replicate, in the unit of the replicates, above zero.
    dof : float
        Degrees of freedom from which it was obtained; infinite if taken as known.

    """

    s: float
    dof: float = math.inf

    def __post_init__(self) -> None:
        """Check the numbers."""
        if not (math.isfinite(self.s) and self.s > 0.0):
            raise DomainError(
                "a scatter is finite and above zero",
                argument="method_s",
                given=self.s,
                remedy="State the standard deviation of one replicate from your own records, or leave it out.",
            )
        if not self.dof >= 1.0:
            raise DomainError(
                "degrees of freedom are 1 or more",
                argument="method_dof",
                given=self.dof,
                remedy="From n replicates they are n - 1; from several occasions, the sum.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounding:
    """Standard uncertainty of one replicate because its readings are rounded.

    Parameters
    ----------
    shared : float, or array with one for each of many results
        The part that is the same in all replicates: the instrument was set to the same start each time, so like
        readings are rounded alike.
    own : float, or array as above
        The part that is new in each replicate: the starts were random, so roundings average.

    """

    shared: Value = 0.0
    own: Value = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """What replicates say about their mean.

    Parameters
    ----------
    n : int
        Number of replicates.
    mean : float
        Their mean.
    s : float
        Standard deviation of one replicate; that of the method if one was given.
    dof : float
        Degrees of freedom of ``s``.
    u_scatter : float
        Standard uncertainty of the mean from the scatter, s/√n.
    u_resolution : float
        Standard uncertainty of the mean from rounding, as far as ``s`` does not show it already.

    """

    n: int
    mean: float
    s: float
    dof: float
    u_scatter: float
    u_resolution: float


def scatter_of(
    values: Sequence[float], *, method: MethodScatter | None = None, rounding: Rounding | None = None
) -> Scatter:
    """Return mean, scatter and rounding of replicate values.

    A scatter larger than the rounding shows the rounding already, and nothing is added; a smaller one hides it, and
    what is missing is added, undivided where the rounding is shared and divided by √n where it is not. So three
    identical titres still have an uncertainty, and rounding is never counted twice.

    Parameters
    ----------
    values : sequence of float
        The replicates, one or more.
    method : MethodScatter, optional
        A scatter known from elsewhere; needed for a single value.
    rounding : Rounding, optional
        Rounding of one replicate.

    Raises
    ------
    DomainError
        If there is no value, or a single one without a known scatter.

    References
    ----------
    [jcgm-100-2008] 4.2 (mean and s/√n) and F.2.2.1 (identical readings, resolution). The rule for the missing part is a
    choice of this library.

    Examples
    --------
    >>> scatter_of([24.35, 24.35, 24.35], rounding=Rounding(shared=0.0144)).u_resolution
    0.0144

    """
    rounding = rounding or Rounding()
    n = len(values)
    if n == 0:
        raise DomainError("there is no replicate", argument="titres", remedy="Give one titre or more that is kept.")
    if n == 1 and method is None:
        raise DomainError(
            "a single titre says nothing about its scatter",
            argument="titres",
            expected="two titres or more, or one with a known scatter of the method",
            remedy="Titrate again, or state method_s with its degrees of freedom from your own records.",
        )
    s = method.s if method is not None else statistics.stdev(values)
    dof = method.dof if method is not None else float(n - 1)
    return Scatter(
        n=n,
        mean=statistics.fmean(values),
        s=s,
        dof=dof,
        u_scatter=s / math.sqrt(n),
        u_resolution=float(missing_resolution(s, n, rounding)),
    )


def missing_resolution(s: Value, n: Value, rounding: Rounding) -> Value:
    """Return the standard uncertainty of a mean of n from the rounding that a scatter s does not show already.

    For numbers, and for arrays of many results; the rule is that of `scatter_of`.
    """
    own = np.maximum(np.square(rounding.own) - s * s, 0.0)
    return np.sqrt(np.maximum(np.square(rounding.shared) - s * s, 0.0) + own / n)


def scatter_influence(scatter: Scatter, *, record: str, name: str, label: str) -> Influence:
    """Return the deviation of a mean because its replicates are few, as an influence."""
    return Influence(
        id=f"{record}/scatter",
        label=f"repeatability, {label}",
        value=0.0,
        u=scatter.u_scatter,
        dof=scatter.dof,
        kind="A",
        source=_scatter_source(scatter, name),
    )


def scatter_with_others(
    scatter: Scatter, *, record: str, name: str, label: str, others: Mapping[str, float]
) -> tuple[Influence, ...]:
    """Return the deviation of a mean and those of others, such as a single blank, whose scatter is the same s.

    The deviations are independent, but one s stands behind all: they make one term of the Welch-Satterthwaite formula,
    with the degrees of freedom of that s.

    Parameters
    ----------
    scatter : Scatter
        What the replicates say; its s is above zero.
    record, name, label : str
        As for `mean_of`.
    others : mapping of str to float
        What the others are called in the ids, and the standard uncertainty of each from the scatter, in its own unit.

    """
    wide = (scatter.u_scatter, *others.values())
    joint = Joint(
        id=f"{record}/one scatter",
        label=f"repeatability, {' and '.join((label, *others))}",
        member_ids=(f"{record}/scatter", *(f"{record}/{other}/scatter" for other in others)),
        values=(0.0,) * len(wide),
        covariance=tuple(tuple(u * u if i == j else 0.0 for j in range(len(wide))) for i, u in enumerate(wide)),
        dof=scatter.dof,
        kind="A",
        source=_scatter_source(scatter, name),
    )
    labels = [f"repeatability, {label}", *(f"repeatability, {other} of {label}" for other in others)]
    return tuple(joint.members(labels))


def _scatter_source(scatter: Scatter, name: str) -> str:
    return f"n = {scatter.n}, s = {significant(scatter.s)} {TERMS[name].unit} (JCGM 100:2008, 4.2.3)"


def mean_of(
    replicates: Sequence[Estimate],
    scatter: Scatter,
    *,
    record: str,
    name: str,
    label: str,
    scattered: Influence | None = None,
) -> Estimate:
    """Return the mean of replicates as an estimate, with scatter and rounding as influences of their own.

    Parameters
    ----------
    replicates : sequence of Estimate
        The replicates, each with the influences that its instruments give it.
    scatter : Scatter
        What `scatter_of` found for their values.
    record : str
        The path under which the readings are known; the influences' ids begin with it.
    name, label : str
        Name of the result in the glossary, and what a person calls it.
    scattered : Influence, optional
        The deviation of the mean, where it shares its s with another; see `scatter_with_others`.

    """
    scattered = scattered or scatter_influence(scatter, record=record, name=name, label=label)
    rounded = Influence.within(
        f"{record}/resolution",
        label=f"reading resolution, {label}",
        half_width=scatter.u_resolution * math.sqrt(3.0),
        source="step of reading, as far as the replicates do not show it",
    )
    return evaluate(
        mean_from_replicates,
        *replicates,
        name=name,
        label=label,
        replicate_scatter=Estimate.from_influence(scattered, name="replicate_scatter"),
        replicate_resolution=Estimate.from_influence(rounded, name="replicate_resolution"),
    )
