"""Pictures: a budget, a sampled distribution, replicate titres, a control chart.

They draw on the axes they are given and nothing else.

matplotlib is optional, ``pip install 'assay[plot]'``, and imported only here, when a picture is drawn. No global state
is touched: no figure is made or shown, no style is set. Colours are told apart by their lightness too, and by hatching,
dashes and shapes, so that a picture can be read in grey and without seeing red from green.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from assay.bench.burette import Titre
from assay.display.numbers import between, degrees, significant, value_and_u
from assay.errors import DataError, DomainError, MissingDependencyError, UnitError
from assay.metrology.budget import Budget, BudgetLine
from assay.metrology.control import ControlChart
from assay.metrology.coverage import check_level
from assay.metrology.distribution import Sorted, symmetric_interval
from assay.metrology.estimate import Estimate
from assay.metrology.replicates import scatter_of
from assay.metrology.sampling import sampled
from assay.titration.titres import AnyTitre, Conditions, check_titres, rounding_of
from assay.units import Written, read

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

# A dark and a light colour of the set of Okabe and Ito (from memory), and paler ones for what stands behind.
_DARK, _LIGHT = "#0072B2", "#E69F00"
_PALE, _GREY, _INK = "#B9D6E6", "#BBBBBB", "#222222"

# Behind words that a line may run through.
_BACKING = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}

_WIDE = 44  # characters of a label before it is wrapped
_ML = 1000.0
_FEWEST_DRAWN = 100
_BINS = 80
_TICKS = 6  # long numbers need room
_TOLD = 0.001  # share of the trials outside the frame from which it is told
_MOST_STEPS = 40  # lines for reading steps, beyond which they would be a grey wall


def _check_axes(ax: Axes) -> None:
    """Refuse what cannot be drawn on, and say how to come by matplotlib if it is not there.

    Raises
    ------
    MissingDependencyError
        If matplotlib is not installed.
    DataError
        If something else than axes is given.

    """
    try:
        from matplotlib.axes import Axes as Drawable
    except ImportError as error:
        raise MissingDependencyError(
            "matplotlib is needed for pictures and is not installed",
            argument="matplotlib",
            remedy="Install it with: pip install 'assay[plot]'",
        ) from error
    if not isinstance(ax, Drawable):
        raise DataError(
            "this is not what a picture is drawn on",
            argument="ax",
            given=type(ax).__name__,
            expected="the axes of a matplotlib figure",
            remedy="Write ax = matplotlib.figure.Figure().subplots(), or give one of several axes.",
        )


def _titled(ax: Axes, title: str) -> None:
    # A dollar sign in a name is a dollar sign, not the beginning of a formula.
    ax.set_title(textwrap.fill(title, 60), loc="left", fontsize="medium", color=_INK, parse_math=False)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def _axis_label(quantity: str, unit: str) -> str:
    return quantity if unit == "1" else f"{quantity} / {_grouped(unit)}"


def _grouped(unit: str) -> str:
    return f"({unit})" if "/" in unit else unit


# -------------------------------------------------------------------------------------------------------------- budget
def plot_budget(budget: Budget, ax: Axes, *, n: int = 6) -> None:
    """Draw an uncertainty budget as bars, largest contribution first, with the share of u² at the end of each.

    What lies beyond the n largest is one bar, so that the squares of all bars add to u². The dashed line stands at u,
    short of all bars laid end to end: squares add, lengths do not.

    Parameters
    ----------
    budget : Budget
        What ``budget()`` of a result returned; bars are in its unit.
    ax : matplotlib.axes.Axes
        What it is drawn on.
    n : int
        Number of contributions with a bar of their own, 1 or more.

    Raises
    ------
    MissingDependencyError
        If matplotlib is not installed.
    DataError
        If this is not a budget, or the axes are not axes.
    DomainError
        If n is not a whole number of 1 or more, or the budget has no line.

    References
    ----------
    [jcgm-100-2008] 5.1.2 (squares of the contributions add to u²) and 4.2, 4.3 (type A and type B). Drawing them as
    bars is common practice.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> import assay
    >>> ax = Figure().subplots()
    >>> plot_budget(assay.molar_mass("NaOCl").budget(), ax, n=2)
    >>> ax.get_xlabel()
    'contribution to u / (g/mol)'

    """
    _check_axes(ax)
    if not isinstance(budget, Budget):
        raise DataError(
            "this is not a budget", argument="budget", given=type(budget).__name__, remedy="Give result.budget()."
        )
    if int(n) != n or n < 1:
        raise DomainError("out of range", argument="n", given=n, expected="a whole number, 1 or more")
    lines = [line for line in budget.lines if line.contribution > 0.0]
    if not lines:
        raise DomainError(
            "there is nothing to draw: the number has no uncertainty", argument="budget", given=budget.title
        )
    # A single line beyond the n largest has a bar of its own: "1 smaller one together" would tell less.
    own, rest = (lines, []) if len(lines) <= n + 1 else (lines[:n], lines[n:])
    labels, shares = [line.label for line in own], [line.share for line in own]
    ends = [line.contribution for line in own]
    if rest:
        labels.append(f"{len(rest)} smaller ones together")
        shares.append(math.fsum(line.share for line in rest))
        ends.append(math.hypot(*(line.contribution for line in rest)))
    for place, end in enumerate(ends):
        color, hatch = _face(own[place].kind) if place < len(own) else (_GREY, None)
        ax.barh(place, end, height=0.7, linewidth=0.8, edgecolor=_INK, color=color, hatch=hatch)
    _tell_shares(ax, ends, shares)
    shown = [textwrap.fill(label, _WIDE) for label in labels]
    ax.set_yticks(range(len(shown)), labels=shown, parse_math=False, fontsize="small")
    ax.invert_yaxis()
    ax.axvline(budget.u, color=_INK, linestyle="--", linewidth=1.2)
    ax.set_xlim(0.0, max(1.1 * budget.u, 1.35 * ends[0]))
    ax.locator_params(axis="x", nbins=_TICKS)
    ax.set_xlabel(_axis_label("contribution to u", budget.unit))
    _titled(ax, budget.rows().title)
    _budget_legend(ax, budget, own)


def _face(kind: str) -> tuple[str, str | None]:
    return (_LIGHT, "///") if kind == "A" else (_DARK, None)


def _tell_shares(ax: Axes, ends: Sequence[float], shares: Sequence[float]) -> None:
    for place, (end, share) in enumerate(zip(ends, shares, strict=True)):
        told = "< 0.1 %" if share < 0.001 else f"{100 * share:.1f} %"  # noqa: PLR2004  (would be shown as zero)
        ax.annotate(
            f"{told} of u²", (end, place), xytext=(4, 0), textcoords="offset points", va="center",
            fontsize="small", color=_INK, bbox=_BACKING,
        )  # fmt: skip


def _budget_legend(ax: Axes, budget: Budget, own: Sequence[BudgetLine]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    told = {"A": "type A: from replicates", "B": "type B: known otherwise"}
    handles: list[Line2D | Patch] = []
    for kind in sorted({line.kind for line in own}):
        color, hatch = _face(kind)
        handles.append(Patch(facecolor=color, edgecolor=_INK, hatch=hatch, label=told[kind]))
    u = _with_unit(significant(budget.u), budget.unit)
    handles.append(Line2D([], [], color=_INK, linestyle="--", linewidth=1.2, label=f"u = {u}"))
    ax.legend(handles=handles, loc="lower right", fontsize="small", framealpha=1.0)


# -------------------------------------------------------------------------------------------------------- distribution
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
    _check_axes(ax)
    check_level(level)
    estimate = drawn if isinstance(drawn, Estimate) else None
    values = _trials_of(drawn, trials=trials, seed=seed, few_replicates=few_replicates)
    unit = _unit_of(estimate, unit)
    low, high, *_ = symmetric_interval(Sorted(values.copy(), level), level)
    intervals = [(high - low, (low, float(values.mean()), high), f"Monte Carlo, {100 * level:g} %", _DARK, "-")]
    if estimate is not None:
        linear = estimate.interval(level)
        told = f"linear, {100 * level:g} %, t with dof {degrees(estimate.coverage_dof)}"
        intervals.append((linear.high - linear.low, (linear.low, estimate.value, linear.high), told, _INK, "--"))
    peak = _histogram(ax, values, [end for _, ends, *_ in intervals for end in (ends[0], ends[2])])
    # The narrower one stands lower, so that the other's lines do not run through its words.
    for place, (_, ends, told, color, style) in enumerate(sorted(intervals)):
        _interval(ax, ends, (1.10 + 0.27 * place) * peak, told, unit, color, style)
    ax.set_ylim(0.0, (1.35 + 0.27 * (len(intervals) - 1)) * peak)
    quantity = "value" if estimate is None else estimate.name.replace("_", " ")
    ax.set_xlabel(_axis_label(quantity, unit))
    ax.set_ylabel("probability density" if unit == "1" else f"probability density / {_grouped(unit)}⁻¹")
    ax.ticklabel_format(axis="x", useOffset=False)
    ax.locator_params(axis="x", nbins=_TICKS)
    _titled(ax, label or ("drawn values" if estimate is None else estimate.label))


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
    ax.stairs(heights, edges, fill=True, color=_PALE)
    ax.set_xlim(float(edges[0]), float(edges[-1]))
    outside = 1.0 - counts.sum() / values.size
    if outside >= _TOLD:
        told = f"{significant(100.0 * outside)} % of the trials lie outside the frame"
        ax.annotate(
            told, (1.0, 1.0), xycoords="axes fraction", ha="right", va="top", fontsize="x-small", color=_INK
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
        f"{told}\n{_with_unit(f'{first} to {last}', unit)}", ((low + high) / 2.0, height), xytext=(0, 5),
        textcoords="offset points", ha="center", va="bottom", fontsize="small", color=color, parse_math=False,
        bbox=_BACKING,
    )  # fmt: skip


def _with_unit(text: str, unit: str) -> str:
    return text if unit == "1" else f"{text} {unit}"


# ---------------------------------------------------------------------------------------------------------- replicates
def plot_replicates(
    titres: Sequence[AnyTitre],
    ax: Axes,
    *,
    label: str = "titres",
    method_s: Written | None = None,
    method_dof: float = math.inf,
) -> None:
    """Draw replicate titres in their order, with the steps of reading, their mean and their s.

    The bar of a titre is one step of reading long. Titres that were set aside, rough or void, are hollow, say why, and
    are in neither mean nor s; one far from the others stands at the edge of the frame with its value.

    Parameters
    ----------
    titres : sequence of Titre or MassTitre
        The titres of like portions. Of portions weighed one by one the results are alike, and not the titres.
    ax : matplotlib.axes.Axes
        What they are drawn on.
    label : str
        Title of the picture.
    method_s : str or quantity, optional
        Known standard deviation of one titre, instead of that of these; needed for a single titre.
    method_dof : float
        Its degrees of freedom.

    Raises
    ------
    MissingDependencyError
        If matplotlib is not installed.
    DataError
        If something is not a titre, or titres by volume and by mass are mixed, or the axes are not axes.
    DomainError
        If no titre is kept, or a single one without ``method_s``.

    References
    ----------
    [jcgm-100-2008] 4.2 (mean and s of replicates) and F.2.2.1 (resolution).

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> import assay
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> ax = Figure().subplots()
    >>> plot_replicates([burette.titre("31.20 mL"), burette.titre("31.15 mL")], ax)
    >>> ax.get_ylabel()
    'titre / mL'

    """
    _check_axes(ax)
    found = check_titres(titres, argument="titres")
    kept = [titre for titre in found if titre.kept]
    by_volume = not kept or kept[0].unit == "L"
    known = Conditions(method_s=method_s, method_dof=method_dof).scatter("L" if by_volume else "g")
    values = [titre.nominal for titre in kept]
    scatter = scatter_of(values, method=known, rounding=rounding_of(kept) if kept else None)
    scale, unit = (_ML, "mL") if by_volume else (1.0, "g")
    step = scale * max(_step_of(titre) for titre in kept)
    low, high = _frame(values, scale * scatter.s, scale, step)
    ax.axhspan(
        scale * (scatter.mean - scatter.s), scale * (scatter.mean + scatter.s), color=_PALE, linewidth=0,
        label=f"mean ± s, s = {significant(scale * scatter.s)} {unit}{'' if known is None else ', of the method'}",
    )  # fmt: skip
    _steps(ax, low, high, step)
    mean, _ = value_and_u(scale * scatter.mean, scale * math.hypot(scatter.u_scatter, scatter.u_resolution))
    ax.axhline(scale * scatter.mean, color=_INK, linewidth=1.2, label=f"mean of {scatter.n}: {mean} {unit}")
    _kept_points(ax, found, scale, step, unit)
    for place, titre in enumerate(found, start=1):
        if not titre.kept:
            _aside_point(ax, place, titre, (low, high), scale)
    told = [_place_label(place, titre) for place, titre in enumerate(found, start=1)]
    ax.set_xticks(range(1, len(found) + 1), labels=told, parse_math=False)
    ax.set_xlim(0.4, len(found) + 0.6)
    ax.set_ylim(low, high + 0.45 * (high - low))  # the legend stands above the points
    ax.ticklabel_format(axis="y", useOffset=False)
    ax.set_xlabel("titration, in order")
    ax.set_ylabel(f"{'titre' if by_volume else 'mass of titrant'} / {unit}")
    ax.legend(loc="upper left", fontsize="small", framealpha=1.0)
    _titled(ax, label)


def _step_of(titre: AnyTitre) -> float:
    """Return the step to which a titre was read, L or g."""
    if isinstance(titre, Titre):
        return titre.burette.step
    return read(titre.weighing.balance.readability, "mass", argument="readability")


def _frame(values: Sequence[float], s: float, scale: float, step: float) -> tuple[float, float]:
    """Return the ends of the scale that is drawn, on whole steps beyond the kept titres and their s."""
    room = max(1.5 * s, 2.0 * step)
    low, high = min(values) * scale - room, max(values) * scale + room
    return math.floor(low / step) * step, math.ceil(high / step) * step


def _kept_points(ax: Axes, titres: Sequence[AnyTitre], scale: float, step: float, unit: str) -> None:
    places = [place for place, titre in enumerate(titres, start=1) if titre.kept]
    values = [scale * titre.nominal for titre in titres if titre.kept]
    ax.errorbar(
        places, values, yerr=step / 2.0, fmt="o", color=_DARK, ecolor=_DARK, capsize=4, markersize=7,
        label=f"counted; step of reading {step:.3g} {unit}",
    )  # fmt: skip


def _aside_point(ax: Axes, place: int, titre: AnyTitre, frame: tuple[float, float], scale: float) -> None:
    """Draw a titre that does not count: where it is, or at the edge of the frame and pointing out of it."""
    low, high = frame
    value = scale * titre.nominal
    height = min(max(value, low), high)
    marker = "X" if titre.void else "s"
    if height != value:
        marker = "^" if value > high else "v"
    ax.plot(
        [place], [height], linestyle="none", marker=marker, markersize=8, color=_INK, markerfacecolor="white",
        label="_not counted",
    )  # fmt: skip


def _place_label(place: int, titre: AnyTitre) -> str:
    """Return the number of a titration and, if it does not count, why, and what was read."""
    if titre.kept:
        return f"{place}"
    why = f"void: {titre.void}" if titre.void else "rough"
    return f"{place}\nnot counted\n{titre.shown}\n{textwrap.fill(why, 18)}"


def _steps(ax: Axes, low: float, high: float, step: float) -> None:
    """Draw a faint line at every reading that is possible, unless they are too many to be told apart."""
    count = round((high - low) / step)
    if count <= _MOST_STEPS:
        for k in range(count + 1):
            ax.axhline(low + k * step, color=_GREY, linewidth=0.6, label="_step of reading")


# ------------------------------------------------------------------------------------------------------- control chart
def plot_control(chart: ControlChart, ax: Axes) -> None:
    """Draw a control chart: values in their order, central line, limits, and the rules that were broken.

    The dotted lines are the edges of the zones; a chart of ranges has none. Values that completed a rule are ringed and
    bear its number in the legend. What set the limits is filled, what is judged by them hollow.

    Parameters
    ----------
    chart : ControlChart
        What `control_chart` returned; its ``spread`` is drawn on axes of its own.
    ax : matplotlib.axes.Axes
        What it is drawn on.

    Raises
    ------
    MissingDependencyError
        If matplotlib is not installed.
    DataError
        If this is not a control chart, or the axes are not axes.

    References
    ----------
    [nist-handbook] 6.3.1 (what a chart shows), from memory.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> import assay
    >>> ax = Figure().subplots()
    >>> plot_control(assay.control_chart([50.1, 49.8, 50.4, 49.9], unit="g/L"), ax)
    >>> ax.get_ylabel()
    'result / (g/L)'

    """
    _check_axes(ax)
    if not isinstance(chart, ControlChart):
        raise DataError(
            "this is not a control chart", argument="chart", given=type(chart).__name__, remedy="Give control_chart(…)."
        )
    limits = chart.limits
    style = "--" if limits.interim else "-"
    ax.axhline(limits.centre, color=_INK, linewidth=1.2, label=f"central line, {limits.centre:.5g}")
    told = f"{'interim ' if limits.interim else ''}limits, {limits.lower:.5g} to {limits.upper:.5g}"
    ax.axhline(limits.upper, color=_LIGHT, linestyle=style, linewidth=1.8, label=told)
    ax.axhline(limits.lower, color=_LIGHT, linestyle=style, linewidth=1.8, label="_lower")
    for width in limits.zones[:2]:
        for edge in (limits.centre - width, limits.centre + width):
            ax.axhline(edge, color=_GREY, linestyle=":", linewidth=1.0, label="_zone")
    places = list(range(1, len(chart.values) + 1))
    ax.plot(places, chart.values, color=_DARK, linewidth=0.8, label="_order")
    for first, last, face, label in (
        (0, chart.baseline, _DARK, "set what was not stated" if "stated" in limits.how else "set the limits"),
        (chart.baseline, len(places), "white", "judged by the limits"),
    ):
        if first < last:
            ax.plot(
                places[first:last], chart.values[first:last], linestyle="none", marker="o", markersize=6, color=_DARK,
                markerfacecolor=face, label=label,
            )  # fmt: skip
    _broken_rules(ax, chart)
    span = max(*chart.values, limits.upper) - min(*chart.values, limits.lower)
    lowest = min(*chart.values, limits.lower) - 0.06 * span
    ax.set_ylim(lowest, lowest + (1.15 + 0.07 * (3 + len(chart.signals))) * span)  # the legend stands above the values
    ax.set_xlim(0.4, len(places) + 0.6)
    ax.locator_params(axis="x", integer=True)
    ax.ticklabel_format(axis="y", useOffset=False)
    ax.set_xlabel("in order")
    ax.set_ylabel(_axis_label(chart.quantity, chart.unit))
    ax.legend(loc="upper left", fontsize="x-small", framealpha=1.0)
    _titled(ax, chart.label)


def _broken_rules(ax: Axes, chart: ControlChart) -> None:
    """Ring the values that completed a rule, and say its number beside them."""
    numbers: dict[int, list[str]] = {}
    for number, signal in enumerate(chart.signals, 1):
        for place in signal.at:
            numbers.setdefault(place, []).append(str(number))
        heights = [chart.values[place - 1] for place in signal.at]
        ax.plot(
            signal.at, heights, linestyle="none", marker="o", markersize=13, color=_INK, markerfacecolor="none",
            clip_on=False, label=f"{number}: {signal.rule}",
        )  # fmt: skip
    for place, found in numbers.items():
        ax.annotate(
            ", ".join(found), (place, chart.values[place - 1]), xytext=(0, 9), textcoords="offset points",
            ha="center", fontsize="x-small", color=_INK,
        )  # fmt: skip
