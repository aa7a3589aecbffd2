"""Shapes of uncertain inputs: how a half-width becomes a standard uncertainty, and how deviations are drawn."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

import numpy as np
from scipy import special

from assay.errors import DataError, nearest

Array: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"
Generator: TypeAlias = np.random.Generator


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A distribution about zero with standard deviation 1.

    Parameters
    ----------
    name : str
        Name of the shape, as in the tables.
    half_width_over_u : float
        Half-width divided by standard uncertainty; infinite for an unbounded shape.
    draw : callable
        Draws ``n`` deviations from a generator. Drawing in blocks gives the same numbers as drawing at once.
    from_normal : callable
        Turns standard normal deviates into deviates of this shape, keeping their rank: the shape's margin of a `Joint`.

    """

    name: str
    half_width_over_u: float
    draw: Callable[[Generator, int], Array]
    from_normal: Callable[[Array], Array]


def _draw_normal(generator: Generator, n: int) -> Array:
    return generator.standard_normal(n)


def _draw_rectangular(generator: Generator, n: int) -> Array:
    deviations = generator.random(n)
    deviations -= 0.5
    deviations *= 2.0 * math.sqrt(3.0)
    return deviations


def _draw_triangular(generator: Generator, n: int) -> Array:
    # The difference of two uniform numbers is triangular (JCGM 101:2008, 6.4.5.3); taken pairwise, blocks change
    # nothing.
    pairs = generator.random((n, 2))
    deviations: Array = pairs[:, 0] - pairs[:, 1]
    deviations *= math.sqrt(6.0)
    return deviations


def _rectangular_from_normal(deviates: Array) -> Array:
    margin: Array = special.ndtr(deviates)
    margin -= 0.5
    margin *= 2.0 * math.sqrt(3.0)
    return margin


def _unchanged(deviates: Array) -> Array:
    return deviates


def _triangular_from_normal(deviates: Array) -> Array:
    lower = special.ndtr(-np.abs(deviates))
    margin: Array = np.copysign(math.sqrt(6.0) * (1.0 - np.sqrt(2.0 * lower)), deviates)
    return margin


#: The shapes by name: JCGM 101:2008, 6.4.2 (rectangular), 6.4.5 (triangular), 6.4.7 (normal).
SHAPES: Mapping[str, Shape] = MappingProxyType(
    {
        shape.name: shape
        for shape in (
            Shape(name="normal", half_width_over_u=math.inf, draw=_draw_normal, from_normal=_unchanged),
            Shape(
                name="rectangular",
                half_width_over_u=math.sqrt(3.0),
                draw=_draw_rectangular,
                from_normal=_rectangular_from_normal,
            ),
            Shape(
                name="triangular",
                half_width_over_u=math.sqrt(6.0),
                draw=_draw_triangular,
                from_normal=_triangular_from_normal,
            ),
        )
    }
)


def shape_named(name: str) -> Shape:
    """Return the shape of this name.

    Raises
    ------
    DataError
        If there is none.

    """
    try:
        return SHAPES[name]
    except KeyError:
        raise DataError("unknown shape", argument="shape", given=name, remedy=nearest(name, SHAPES)) from None


def u_from_half_width(half_width: float, shape: str) -> float:
    """Return the standard uncertainty of a bounded shape.

    Raises
    ------
    DataError
        If the shape has no bounds.

    Examples
    --------
    >>> round(u_from_half_width(0.03, "triangular"), 4)
    0.0122

    """
    ratio = shape_named(shape).half_width_over_u
    if math.isinf(ratio):
        raise DataError(
            "this shape has no half-width",
            argument="shape",
            given=shape,
            expected="'rectangular' or 'triangular' with a half-width",
            remedy="State u for a normal shape.",
        )
    return half_width / ratio
