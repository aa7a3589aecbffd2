"""What every picture does with the axes it is given, and its colours."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from assay.errors import DataError, MissingDependencyError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# A dark and a light colour of the set of Okabe and Ito (from memory), and paler ones for what stands behind.
DARK, LIGHT = "#0072B2", "#E69F00"
PALE, GREY, INK = "#B9D6E6", "#BBBBBB", "#222222"

# Behind words that a line may run through.
BACKING = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}

TICKS = 6  # long numbers need room


def check_axes(ax: Axes) -> None:
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


def titled(ax: Axes, title: str) -> None:
    """Write a title on axes, and leave two sides of their frame open."""
    # A dollar sign in a name is a dollar sign, not the beginning of a formula.
    ax.set_title(textwrap.fill(title, 60), loc="left", fontsize="medium", color=INK, parse_math=False)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def axis_label(quantity: str, unit: str) -> str:
    """Return what stands on an axis: a quantity over its unit, a pure number."""
    return quantity if unit == "1" else f"{quantity} / {grouped(unit)}"


def grouped(unit: str) -> str:
    """Return a unit as a divisor, in brackets if it is a quotient itself."""
    return f"({unit})" if "/" in unit else unit


def with_unit(text: str, unit: str) -> str:
    """Return a number as it is told, with its unit if it has one."""
    return text if unit == "1" else f"{text} {unit}"
