"""A picture of replicate titres, those set aside among them."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from assay.bench.burette import Titre
from assay.display.numbers import significant, value_and_u
from assay.metrology.replicates import scatter_of
from assay.plot.axes import (
    DARK,
    GREY,
    INK,
    PALE,
    check_axes,
    titled,
)
from assay.titration.titres import AnyTitre, Conditions, check_titres, rounding_of
from assay.units import Written, read

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_ML = 1000.0
_MOST_STEPS = 40  # lines for reading steps, beyond which they would be a grey wall


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
    check_axes(ax)
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
        scale * (scatter.mean - scatter.s), scale * (scatter.mean + scatter.s), color=PALE, linewidth=0,
        label=f"mean ± s, s = {significant(scale * scatter.s)} {unit}{'' if known is None else ', of the method'}",
    )  # fmt: skip
    _steps(ax, low, high, step)
    mean, _ = value_and_u(scale * scatter.mean, scale * math.hypot(scatter.u_scatter, scatter.u_resolution))
    ax.axhline(scale * scatter.mean, color=INK, linewidth=1.2, label=f"mean of {scatter.n}: {mean} {unit}")
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
    titled(ax, label)


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
        places, values, yerr=step / 2.0, fmt="o", color=DARK, ecolor=DARK, capsize=4, markersize=7,
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
        [place], [height], linestyle="none", marker=marker, markersize=8, color=INK, markerfacecolor="white",
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
            ax.axhline(low + k * step, color=GREY, linewidth=0.6, label="_step of reading")
