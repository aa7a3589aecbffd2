"""A picture of a sampled distribution, with its intervals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from assay.display.numbers import between, degrees, significant
from assay.errors import DomainError, UnitError
from assay.metrology.coverage import check_level
from assay.metrology.distribution import Sorted, symmetric_interval
from assay.metrology.estimate import Estimate
from assay.metrology.sampling import sampled
from assay.plot.axes import (
    BACKING,
    DARK,
    INK,
    PALE,
    TICKS,
    axis_label,
    check_axes,
    grouped,
    titled,
    with_unit,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

_FEWEST_DRAWN = 100
_BINS = 80
_TOLD = 0.001  # share of the trials outside the frame from which it is told


def plot_distribution(
    drawn: Estimate | Sequence[float] | NDArray[np.float64],
    ax: Axes,
    *,
    level: float = 0.95,
    trials: int = 200_000,
    seed: int = 1,
    few_replicates: str = "plug-in",
    label: str | None = None,
    unit: str | None = None,
) -> None:
    """Draw the sampled distribution of a result, with its Monte Carlo interval and the linear one by t.

    With ``"plug-in"`` draws the sampled interval does not know how few the replicates were, and the one by t is wider
    for it; a shift between them, or unequal sides, means that the formula is curved. With ``"scaled t"`` draws both
    know. The frame ends half its width beyond the interval at the most; a share of the trials further out is told.

    Parameters
    ----------
    drawn : Estimate or sequence of float
        A result, of which the trials are drawn here; or trials drawn elsewhere, which have no linear interval.
    ax : matplotlib.axes.Axes
        What it is drawn on.
    level : float
        Level of confidence of both intervals, between 0 and 1.
    trials, seed, few_replicates
        As for ``monte_carlo`` of a result.
    label, unit : str, optional
        Title and unit. A result has its own; trials drawn elsewhere need a unit, ``"1"`` for a pure number.

    Raises
    ------
    MissingDependencyError
        If matplotlib is not installed.
    DataError
        If the axes are not axes.
    UnitError
        If trials drawn elsewhere come without a unit, or a result with another one.
    DomainError
        If an option is out of range, a trial is not finite, or there is no spread to draw.

    References
    ----------
    [jcgm-101-2008] 7.7 (probabilistically symmetric interval) and 8 (comparison with the linear one). [jcgm-100-2008]
    G.3 (interval by t).

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> import assay
    >>> ax = Figure().subplots()
    >>> plot_distribution(assay.molar_mass("NaOCl"), ax, trials=1000)
    >>> ax.get_xlabel()
    'molar mass / (g/mol)'

    """
    check_axes(ax)
    check_level(level)
    estimate = drawn if isinstance(drawn, Estimate) else None
    values = _trials_of(drawn, trials=trials, seed=seed, few_replicates=few_replicates)
    unit = _unit_of(estimate, unit)
    low, high, *_ = symmetric_interval(Sorted(values.copy(), level), level)
    intervals = [(high - low, (low, float(values.mean()), high), f"Monte Carlo, {100 * level:g} %", DARK, "-")]
    if estimate is not None:
        linear = estimate.interval(level)
        told = f"linear, {100 * level:g} %, t with dof {degrees(estimate.coverage_dof)}"
        intervals.append((linear.high - linear.low, (linear.low, estimate.value, linear.high), told, INK, "--"))
    peak = _histogram(ax, values, [end for _, ends, *_ in intervals for end in (ends[0], ends[2])])
    # The narrower one stands lower, so that the other's lines do not run through its words.
    for place, (_, ends, told, color, style) in enumerate(sorted(intervals)):
        _interval(ax, ends, (1.10 + 0.27 * place) * peak, told, unit, color, style)
    ax.set_ylim(0.0, (1.35 + 0.27 * (len(intervals) - 1)) * peak)
    quantity = "value" if estimate is None else estimate.name.replace("_", " ")
    ax.set_xlabel(axis_label(quantity, unit))
    ax.set_ylabel("probability density" if unit == "1" else f"probability density / {grouped(unit)}⁻¹")
    ax.ticklabel_format(axis="x", useOffset=False)
    ax.locator_params(axis="x", nbins=TICKS)
    titled(ax, label or ("drawn values" if estimate is None else estimate.label))


def _trials_of(
    drawn: Estimate | Sequence[float] | NDArray[np.float64], *, trials: int, seed: int, few_replicates: str
) -> NDArray[np.float64]:
    if isinstance(drawn, Estimate):
        samples, _ = sampled([drawn], trials=trials, seed=seed, few_replicates=few_replicates)
        values = samples[0]
    else:
        values = np.asarray(drawn, dtype=float).ravel()
    problem = ""
    if values.size < _FEWEST_DRAWN:
        problem = f"{values.size} trials show no distribution"
    elif not np.isfinite(values).all():
        problem = "a trial is not finite"
    elif values.min() == values.max():
        problem = "there is nothing to draw: all trials are equal"
    if problem:
        raise DomainError(problem, argument="drawn", expected=f"{_FEWEST_DRAWN} finite values or more, with a spread")
    return values


def _unit_of(estimate: Estimate | None, unit: str | None) -> str:
    if estimate is None and unit is None:
        raise UnitError(
            "values drawn elsewhere do not say their unit",
            argument="unit",
            remedy="Write unit='g/L', for example; unit='1' for a pure number.",
        )
    if estimate is not None and unit not in {None, estimate.unit}:
        raise UnitError("the result is in another unit", argument="unit", given=unit, expected=repr(estimate.unit))
    return estimate.unit if estimate is not None else str(unit)


def _histogram(ax: Axes, values: NDArray[np.float64], ends: Sequence[float]) -> float:
    """Draw the trials around the ends of the intervals, and return the height of the highest bar."""
    low, high = min(ends), max(ends)
    first = max(float(values.min()), low - (high - low) / 2.0)
    last = min(float(values.max()), high + (high - low) / 2.0)
    counts, edges = np.histogram(values, bins=_BINS, range=(min(first, low), max(last, high)))
    # Of all trials, not only of those within the frame: the area outside is not handed to the inside.
    heights = counts / (values.size * np.diff(edges))
    ax.stairs(heights, edges, fill=True, color=PALE)
    ax.set_xlim(float(edges[0]), float(edges[-1]))
    outside = 1.0 - counts.sum() / values.size
    if outside >= _TOLD:
        told = f"{significant(100.0 * outside)} % of the trials lie outside the frame"
        ax.annotate(
            told, (1.0, 1.0), xycoords="axes fraction", ha="right", va="top", fontsize="x-small", color=INK
        )  # fmt: skip
    return float(heights.max())


def _interval(  # noqa: PLR0917  (what one interval is drawn from)
    ax: Axes, interval: tuple[float, float, float], height: float, told: str, unit: str, color: str, style: str
) -> None:
    low, middle, high = interval
    ax.vlines([low, high], 0.0, height, color=color, linestyle=style, linewidth=1.0)
    ax.plot([low, high], [height, height], color=color, linestyle=style, linewidth=2.0)
    ax.plot([middle], [height], color=color, marker="o", markersize=5)
    first, last = between(low, high)
    ax.annotate(
        f"{told}\n{with_unit(f'{first} to {last}', unit)}", ((low + high) / 2.0, height), xytext=(0, 5),
        textcoords="offset points", ha="center", va="bottom", fontsize="small", color=color, parse_math=False,
        bbox=BACKING,
    )  # fmt: skip
