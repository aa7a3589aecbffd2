"""A picture of a control chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from assay.errors import DataError
from assay.metrology.control import ControlChart
from assay.plot.axes import (
    DARK,
    GREY,
    INK,
    LIGHT,
    axis_label,
    check_axes,
    titled,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes


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
    check_axes(ax)
    if not isinstance(chart, ControlChart):
        raise DataError(
            "this is not a control chart", argument="chart", given=type(chart).__name__, remedy="Give control_chart(…)."
        )
    limits = chart.limits
    style = "--" if limits.interim else "-"
    ax.axhline(limits.centre, color=INK, linewidth=1.2, label=f"central line, {limits.centre:.5g}")
    told = f"{'interim ' if limits.interim else ''}limits, {limits.lower:.5g} to {limits.upper:.5g}"
    ax.axhline(limits.upper, color=LIGHT, linestyle=style, linewidth=1.8, label=told)
    ax.axhline(limits.lower, color=LIGHT, linestyle=style, linewidth=1.8, label="_lower")
    for width in limits.zones[:2]:
        for edge in (limits.centre - width, limits.centre + width):
            ax.axhline(edge, color=GREY, linestyle=":", linewidth=1.0, label="_zone")
    places = list(range(1, len(chart.values) + 1))
    ax.plot(places, chart.values, color=DARK, linewidth=0.8, label="_order")
    for first, last, face, label in (
        (0, chart.baseline, DARK, "set what was not stated" if "stated" in limits.how else "set the limits"),
        (chart.baseline, len(places), "white", "judged by the limits"),
    ):
        if first < last:
            ax.plot(
                places[first:last], chart.values[first:last], linestyle="none", marker="o", markersize=6, color=DARK,
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
    ax.set_ylabel(axis_label(chart.quantity, chart.unit))
    ax.legend(loc="upper left", fontsize="x-small", framealpha=1.0)
    titled(ax, chart.label)


def _broken_rules(ax: Axes, chart: ControlChart) -> None:
    """Ring the values that completed a rule, and say its number beside them."""
    numbers: dict[int, list[str]] = {}
    for number, signal in enumerate(chart.signals, 1):
        for place in signal.at:
            numbers.setdefault(place, []).append(str(number))
        heights = [chart.values[place - 1] for place in signal.at]
        ax.plot(
            signal.at, heights, linestyle="none", marker="o", markersize=13, color=INK, markerfacecolor="none",
            clip_on=False, label=f"{number}: {signal.rule}",
        )  # fmt: skip
    for place, found in numbers.items():
        ax.annotate(
            ", ".join(found), (place, chart.values[place - 1]), xytext=(0, 9), textcoords="offset points",
            ha="center", fontsize="x-small", color=INK,
        )  # fmt: skip
