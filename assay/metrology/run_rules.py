"""The run rules of a control chart, each by name, and what they find."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from assay.errors import DataError, nearest

#: Share of a zone's width by which a result on its edge does not count as beyond: readings are decimal, floats are not.
_ROUNDING = 1e-9

_Found: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]"
_Numbers: TypeAlias = "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where results lie on a chart.

    Parameters
    ----------
    zone : array of float
        0 in zone C, 1 in B, 2 in A, 3 beyond the limits; negative below the central line.
    side : array of float
        1 above the central line, -1 below, 0 on it.
    step : array of float
        1 where a result is above the one before, -1 where below, 0 where equal; one fewer than results.

    """

    zone: _Numbers
    side: _Numbers
    step: _Numbers

    @classmethod
    def of(cls, values: Sequence[float], centre: float, zones: Sequence[float]) -> Placed:
        """Place results about a central line with the half-widths of zones C, B and A."""
        away = np.asarray(values, dtype=float) - centre
        least = _ROUNDING * zones[0]
        side = np.where(np.abs(away) <= least, 0.0, np.sign(away))
        zone = sum((np.abs(away) > width * (1.0 + _ROUNDING)).astype(float) for width in zones)
        moved = np.diff(away)
        return cls(zone=side * zone, side=side, step=np.where(np.abs(moved) <= least, 0.0, np.sign(moved)))


@dataclass(frozen=True, slots=True)
class RunRule:
    """A rule: its name, what it says, and what finds it."""

    name: str
    says: str
    finds: Callable[[Placed], _Found]


def _windows(series: _Numbers, width: int) -> _Numbers:
    """Return every stretch of so many in succession, one a row; none where there are fewer."""
    if series.size < width:
        return np.empty((0, width))
    return np.lib.stride_tricks.sliding_window_view(series, width)


def _ending(found: _Found, size: int) -> _Found:
    """Return, for each result, whether a stretch that is found ends at it."""
    at = np.zeros(size, dtype=bool)
    at[size - found.size :] = found
    return at


def _beyond(placed: Placed) -> _Found:
    return np.abs(placed.zone) >= 3.0  # noqa: PLR2004  (beyond the third zone)


def _most_beyond(needed: int, of: int, zone: float) -> Callable[[Placed], _Found]:
    """Return what finds so many of so many on one side beyond a zone, the last of which is one of them."""

    def finds(placed: Placed) -> _Found:
        # Two of three are there as soon as there are two: before the first result lies nothing beyond.
        windows = _windows(np.concatenate([np.zeros(of - 1), placed.zone]), of)
        above = ((windows >= zone).sum(axis=1) >= needed) & (windows[:, -1] >= zone)
        below = ((windows <= -zone).sum(axis=1) >= needed) & (windows[:, -1] <= -zone)
        return _ending(above | below, placed.zone.size)

    return finds


def _one_side(length: int) -> Callable[[Placed], _Found]:
    def finds(placed: Placed) -> _Found:
        return _ending(np.abs(_windows(placed.side, length).sum(axis=1)) == length, placed.side.size)

    return finds


def _trend(length: int) -> Callable[[Placed], _Found]:
    def finds(placed: Placed) -> _Found:
        return _ending(np.abs(_windows(placed.step, length - 1).sum(axis=1)) == length - 1, placed.side.size)

    return finds


def _alternating(length: int) -> Callable[[Placed], _Found]:
    def finds(placed: Placed) -> _Found:
        turns = placed.step[1:] * placed.step[:-1]
        found: _Found = np.asarray((_windows(turns, length - 2) < 0.0).all(axis=1))
        return _ending(found, placed.side.size)

    return finds


def _within(placed: Placed) -> _Found:
    return _ending((_windows(placed.zone, 15) == 0.0).all(axis=1), placed.zone.size)


def _outside(placed: Placed) -> _Found:
    windows = _windows(placed.zone, 8)
    both = (windows > 0.0).any(axis=1) & (windows < 0.0).any(axis=1)
    return _ending((windows != 0.0).all(axis=1) & both, placed.zone.size)


_RULES = (
    RunRule("beyond-limits", "a result lies beyond a control limit", _beyond),
    RunRule("two-of-three-in-zone-a", "two of three lie in zone A or beyond, on one side", _most_beyond(2, 3, 2.0)),
    RunRule("four-of-five-in-zone-b", "four of five lie in zone B or beyond, on one side", _most_beyond(4, 5, 1.0)),
    RunRule("seven-on-one-side", "seven in succession lie on one side of the central line", _one_side(7)),
    RunRule("eight-on-one-side", "eight in succession lie on one side of the central line", _one_side(8)),
    RunRule("nine-on-one-side", "nine in succession lie on one side of the central line", _one_side(9)),
    RunRule("six-rising-or-falling", "six in succession rise, or fall, without a break", _trend(6)),
    RunRule("seven-rising-or-falling", "seven in succession rise, or fall, without a break", _trend(7)),
    RunRule("fourteen-alternating", "fourteen in succession go up and down by turns", _alternating(14)),
    RunRule("fifteen-in-zone-c", "fifteen in succession lie in zone C: the limits are too wide for them", _within),
    RunRule("eight-outside-zone-c", "eight in succession lie on both sides and none in zone C", _outside),
)
#: Every rule by its name.
RULES: Mapping[str, RunRule] = MappingProxyType({rule.name: rule for rule in _RULES})

#: Sets of rules by the name of who stated them.
RULE_SETS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "limits": ("beyond-limits",),
        "western electric": (
            "beyond-limits",
            "two-of-three-in-zone-a",
            "four-of-five-in-zone-b",
            "eight-on-one-side",
        ),
        "nelson": (
            "beyond-limits",
            "nine-on-one-side",
            "six-rising-or-falling",
            "fourteen-alternating",
            "two-of-three-in-zone-a",
            "four-of-five-in-zone-b",
            "fifteen-in-zone-c",
            "eight-outside-zone-c",
        ),
        "iso 7870-2": ("beyond-limits", "seven-on-one-side", "seven-rising-or-falling"),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlSignal:
    """What a run rule found.

    Parameters
    ----------
    rule : str
        Name of the rule.
    says : str
        What it says.
    at : tuple of int
        The results that completed it, counted from 1.

    References
    ----------
    [nist-handbook] 6.3.2 (rules of Western Electric), [nelson-1984] and [iso-7870-2], all from memory.

    Examples
    --------
    >>> import assay
    >>> assay.control_chart([10.0, 10.2, 13.0], unit="g/L", target=10.0, standard_deviation=0.5).signals[0].at
    (3,)

    """

    rule: str
    says: str
    at: tuple[int, ...]


def rules_named(rules: str | Sequence[str]) -> tuple[str, ...]:
    """Return the names of rules that a set, or a list of names, stands for.

    Raises
    ------
    DataError
        If there is no such set or rule.

    """
    if isinstance(rules, str):
        if rules in RULE_SETS:
            return RULE_SETS[rules]
        rules = [rules]
    for name in rules:
        if name not in RULES:
            known = [*RULE_SETS, *RULES]
            raise DataError(
                "no such run rule, or set of them", argument="rules", given=name, remedy=nearest(str(name), known)
            )
    if not rules:
        raise DataError(
            "a chart is judged by one rule or more",
            argument="rules",
            remedy="Write rules='limits' for the limits alone.",
        )
    return tuple(dict.fromkeys(rules))


def signals_of(placed: Placed, rules: Sequence[str]) -> tuple[ControlSignal, ...]:
    """Return what each rule found, in the order of the rules; nothing of a rule that found nothing."""
    signals = []
    for name in rules:
        at = tuple(int(k) + 1 for k in np.flatnonzero(RULES[name].finds(placed)))
        if at:
            signals.append(ControlSignal(rule=name, says=RULES[name].says, at=at))
    return tuple(signals)
