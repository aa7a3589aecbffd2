"""A picture of a budget: what each contribution adds to u."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from assay.display.numbers import significant
from assay.errors import DataError, DomainError
from assay.metrology.budget import Budget, BudgetLine
from assay.plot.axes import (
    BACKING,
    DARK,
    GREY,
    INK,
    LIGHT,
    TICKS,
    axis_label,
    check_axes,
    titled,
    with_unit,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDE = 44  # characters of a label before it is wrapped


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
    check_axes(ax)
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
        color, hatch = _face(own[place].kind) if place < len(own) else (GREY, None)
        ax.barh(place, end, height=0.7, linewidth=0.8, edgecolor=INK, color=color, hatch=hatch)
    _tell_shares(ax, ends, shares)
    shown = [textwrap.fill(label, _WIDE) for label in labels]
    ax.set_yticks(range(len(shown)), labels=shown, parse_math=False, fontsize="small")
    ax.invert_yaxis()
    ax.axvline(budget.u, color=INK, linestyle="--", linewidth=1.2)
    ax.set_xlim(0.0, max(1.1 * budget.u, 1.35 * ends[0]))
    ax.locator_params(axis="x", nbins=TICKS)
    ax.set_xlabel(axis_label("contribution to u", budget.unit))
    titled(ax, budget.rows().title)
    _budget_legend(ax, budget, own)


def _face(kind: str) -> tuple[str, str | None]:
    return (LIGHT, "///") if kind == "A" else (DARK, None)


def _tell_shares(ax: Axes, ends: Sequence[float], shares: Sequence[float]) -> None:
    for place, (end, share) in enumerate(zip(ends, shares, strict=True)):
        told = "< 0.1 %" if share < 0.001 else f"{100 * share:.1f} %"  # noqa: PLR2004  (would be shown as zero)
        ax.annotate(
            f"{told} of u²", (end, place), xytext=(4, 0), textcoords="offset points", va="center",
            fontsize="small", color=INK, bbox=BACKING,
        )  # fmt: skip


def _budget_legend(ax: Axes, budget: Budget, own: Sequence[BudgetLine]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    told = {"A": "type A: from replicates", "B": "type B: known otherwise"}
    handles: list[Line2D | Patch] = []
    for kind in sorted({line.kind for line in own}):
        color, hatch = _face(kind)
        handles.append(Patch(facecolor=color, edgecolor=INK, hatch=hatch, label=told[kind]))
    u = with_unit(significant(budget.u), budget.unit)
    handles.append(Line2D([], [], color=INK, linestyle="--", linewidth=1.2, label=f"u = {u}"))
    ax.legend(handles=handles, loc="lower right", fontsize="small", framealpha=1.0)
