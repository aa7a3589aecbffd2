"""Control charts of results and of means with ranges: central line, limits, run rules."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from assay.display.numbers import significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError, UnitError
from assay.flags import Flag, codes_of
from assay.metrology.control_limits import ENOUGH, Limits, Stated, limits_of
from assay.metrology.estimate import Estimate
from assay.metrology.run_rules import ControlSignal, Placed, rules_named, signals_of

INTERIM = "interim-limits"
_CODE = "control-"
_NO_ZONE = ("beyond-limits",)


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class ControlChart:
    """Results in their order about a central line with control limits, and what the run rules found.

    Parameters
    ----------
    label : str
        What is controlled.
    quantity : str
        What is plotted: ``"result"``, ``"mean of 3"``, ``"moving range"``, ``"range of 3"``.
    unit : str
        Unit of the values.
    values : tuple of float
        The values in their order.
    limits : Limits
        Central line ``centre``, ``lower`` and ``upper`` limit, half-widths ``zones`` of the zones C, B and A, ``s`` of
        a plotted value with its ``dof``, whether they are ``interim``, and ``how`` they were found.
    baseline : int
        The first so many values set the limits, or what of them was not stated; 0 if all is stated.
    rules : tuple of str
        Names of the rules by which it was judged.
    signals : tuple of ControlSignal
        What they found.
    spread : ControlChart or None
        The chart of the ranges beside it.

    References
    ----------
    [nist-handbook] 6.3.2 (Shewhart charts), from memory; [iso-7870-2] for the zones, from memory.

    Examples
    --------
    >>> control_chart([50.1, 49.8, 50.4, 49.9], unit="g/L", target=50.0, standard_deviation=0.3)
    <ControlChart 'control': 4 values, centre 50 g/L, limits 49.1 to 50.9, no signal>

    """

    label: str
    quantity: str
    unit: str
    values: tuple[float, ...]
    limits: Limits
    baseline: int
    rules: tuple[str, ...]
    signals: tuple[ControlSignal, ...]
    spread: ControlChart | None = None

    @property
    def in_control(self) -> bool:
        """Whether no rule found anything, nor in the chart of the ranges."""
        return not self.signals and (self.spread is None or self.spread.in_control)

    @property
    def flags(self) -> tuple[Flag, ...]:
        """What the rules found, and whether the limits are interim."""
        return tuple(self._doubts())

    def _doubts(self) -> Iterator[Flag]:
        if self.limits.interim and self.limits.zones:  # said once, not of the ranges again
            message = (
                f"the limits of {self.label} rest on {self.baseline} values, fewer than {ENOUGH}: they are interim, "
                "wider by the quantile of t, and are to be set anew when more are there."
            )
            yield Flag(code=INTERIM, message=message)
        for signal in self.signals:
            which = ", ".join(map(str, signal.at))
            message = (
                f"{self.label}, {self.quantity} {which}: {signal.says}. Look for the cause before the next result is "
                "given out; it stays on the chart."
            )
            yield Flag(code=_CODE + signal.rule, message=message)
        if self.spread is not None:
            yield from self.spread.flags

    def rows(self) -> Rows:
        """Return the values as rows of text, each with the rules that it completed."""
        body = tuple(
            (
                str(place),
                f"{value:.6g}",
                "set the limits" if place <= self.baseline else "",
                "; ".join(signal.rule for signal in self.signals if place in signal.at),
            )
            for place, value in enumerate(self.values, 1)
        )
        head = ("", f"{self.quantity} / {self.unit}".removesuffix(" / 1"), "", "rules broken")
        return Rows(title=f"{self.label}: {self._said()}", head=head, body=body)

    def _said(self) -> str:
        limits = self.limits
        unit = f" {self.unit}".removesuffix(" 1")
        lower, upper = (f"{limit:.{self._digits()}g}" for limit in (limits.lower, limits.upper))
        found = ", ".join(signal.rule for signal in self.signals) or "no signal"
        return (
            f"{len(self.values)} values, centre {limits.centre:.{self._digits()}g}{unit}, "
            f"{'interim ' if limits.interim else ''}limits {lower} to {upper}, {found}"
        )

    def _digits(self) -> int:
        """Return the digits in which a limit is shown: two of the standard deviation."""
        size = max(abs(self.limits.upper), abs(self.limits.lower))
        return max(3, 2 + math.floor(math.log10(size / self.limits.s)) + 1) if size > self.limits.s else 3

    def _last_lines(self) -> tuple[str, ...]:
        limits = self.limits
        note = f"Central line: {limits.how} (s = {significant(limits.s)} {self.unit}).".replace(" 1)", ")")
        return (note,) if self.spread is None else (note, f"Beside it, {self.spread.quantity}: {self.spread._said()}.")  # noqa: SLF001  (a chart like this one)

    def __repr__(self) -> str:
        return f"<ControlChart {self.label!r}: {codes_of(self.flags)}{self._said()}>"


def control_chart(
    results: Sequence[float | Estimate],
    *,
    unit: str | None = None,
    target: float | None = None,
    standard_deviation: float | None = None,
    dof: float = math.inf,
    baseline: int | None = None,
    rules: str | Sequence[str] = "western electric",
    label: str = "control",
) -> ControlChart:
    """Return the control chart of single results, with that of their moving ranges.

    Central line and limits are those stated or, for what is not, estimated from the results of the baseline. From 20
    results the standard deviation is that of the mean moving range, and the limits lie 3 of them off. From fewer, the
    limits are interim: they hold the next result with the same probability, 99.73 %, by t at n - 1 degrees of freedom,
    with the uncertainty of the mean; the chart says so.

    Parameters
    ----------
    results : sequence of float or Estimate
        The results in the order in which they were obtained, all in one unit.
    unit : str, optional
        Their unit, needed for plain numbers; ``"1"`` for a pure number.
    target, standard_deviation : float, optional
        What the control holds, and the known standard deviation of one result under all conditions that vary from one
        to the next, both in that unit.
    dof : float
        Degrees of freedom of the stated standard deviation.
    baseline : int, optional
        The first so many results set what is not stated; all of them if it is left out.
    rules : str or sequence of str
        A set, ``"western electric"``, ``"nelson"``, ``"iso 7870-2"`` or ``"limits"``, or names of rules. Every rule
        more finds shifts sooner, and cries wolf more often: with the limits alone one result in 370 that is in order
        is signalled, with the Western Electric rules one in 92.
    label : str
        What is controlled.

    Returns
    -------
    ControlChart
        The chart; what the rules found are flags of it.

    Raises
    ------
    DomainError
        If a number is not finite or out of range, or there are too few results for what is not stated, or all are
        equal.
    UnitError
        If plain numbers come without a unit, or results are in several.
    DataError
        If there is no such rule.

    References
    ----------
    [nist-handbook] 6.3.2.2 (individuals), from memory; [champ-woodall-1987] for how often rules signal, from memory;
    interim limits by [jcgm-100-2008] G.3 with the variance of the mean.

    Examples
    --------
    >>> chart = control_chart([49.9, 50.2, 50.0, 49.8, 50.1, 51.6], unit="g/L", baseline=5, label="drum standard")
    >>> [flag.code for flag in chart.flags], round(chart.limits.upper, 2)
    (['interim-limits', 'control-beyond-limits', 'control-beyond-limits'], 51.15)

    """
    values, unit = _values(results, unit)
    count = _baseline(baseline, len(values), "results")
    named = rules_named(rules)
    stated = Stated(target=target, s=standard_deviation, dof=dof)
    first = values[:count]
    limits, of_ranges = limits_of(first, groups=list(pairwise(first)), size=1, stated=stated, noun="results")
    ranges = [abs(b - a) for a, b in pairwise(values)]
    setting = 0 if stated.all else count
    spread = None
    if of_ranges is not None:
        spread = _chart(label, "moving range", unit, ranges, of_ranges, max(setting - 1, 0), _NO_ZONE)
    return _chart(label, "result", unit, values, limits, setting, named, spread)


def control_chart_of_means(
    groups: Sequence[Sequence[float | Estimate]],
    *,
    unit: str | None = None,
    target: float | None = None,
    standard_deviation: float | None = None,
    dof: float = math.inf,
    baseline: int | None = None,
    rules: str | Sequence[str] = "western electric",
    label: str = "control",
) -> ControlChart:
    """Return the control chart of means of subgroups, with that of their ranges.

    The limits rest on what scatters *within* a subgroup. Where days differ by more than that, as titrations of one day
    with one blank do, put the mean of each day on a chart of single results instead.

    Parameters
    ----------
    groups : sequence of sequences of float or Estimate
        Subgroups in their order, all of one size, two or more in each.
    unit : str, optional
        Their unit, needed for plain numbers.
    target, standard_deviation : float, optional
        What the control holds, and the known standard deviation of one result within a subgroup.
    dof : float
        Degrees of freedom of the stated standard deviation.
    baseline : int, optional
        The first so many subgroups set what is not stated.
    rules : str or sequence of str
        As for `control_chart`; ranges are judged by their limits alone.
    label : str
        What is controlled.

    Returns
    -------
    ControlChart
        The chart of the means; its ``spread`` is that of the ranges.

    Raises
    ------
    DomainError
        As for `control_chart`, or if the subgroups are not of one size, two or more.
    UnitError
        As for `control_chart`.
    DataError
        If there is no such rule.

    References
    ----------
    [nist-handbook] 6.3.2.1 (means and ranges), from memory.

    Examples
    --------
    >>> days = [[24.31, 24.35], [24.30, 24.33], [24.36, 24.34]]
    >>> control_chart_of_means(days, unit="mL", label="titre of the standard")
    <ControlChart 'titre of the standard': [interim-limits] 3 values, centre 24.3317 mL, interim limits 24.1662 to
    24.4972, no signal>

    """
    sizes = {len(group) for group in groups}
    if len(sizes) != 1 or min(sizes) < 2:  # noqa: PLR2004  (a range takes two)
        raise DomainError(
            "subgroups of a chart are of one size",
            argument="groups",
            given=f"sizes {sorted(sizes)}",
            expected="two or more results in each, as many in every one",
            remedy="Put the means on a chart of single results: control_chart.",
        )
    flat, unit = _values([value for group in groups for value in group], unit)
    size = sizes.pop()
    numbers = [flat[k : k + size] for k in range(0, len(flat), size)]
    means = [statistics.fmean(group) for group in numbers]
    count = _baseline(baseline, len(means), "subgroups")
    named = rules_named(rules)
    stated = Stated(target=target, s=standard_deviation, dof=dof)
    limits, of_ranges = limits_of(means[:count], groups=numbers[:count], size=size, stated=stated, noun="means")
    ranges = [max(group) - min(group) for group in numbers]
    setting = 0 if stated.all else count
    spread = None
    if of_ranges is not None:
        spread = _chart(label, f"range of {size}", unit, ranges, of_ranges, setting, _NO_ZONE)
    return _chart(label, f"mean of {size}", unit, means, limits, setting, named, spread)


def _chart(  # noqa: PLR0917  (the parts of one chart)
    label: str,
    quantity: str,
    unit: str,
    values: Sequence[float],
    limits: Limits,
    baseline: int,
    rules: tuple[str, ...],
    spread: ControlChart | None = None,
) -> ControlChart:
    if limits.zones:
        signals = signals_of(Placed.of(values, limits.centre, limits.zones), rules)
    else:
        # Ranges are not symmetric: above and below are judged each by its own limit.
        above = signals_of(Placed.of(values, limits.centre, (limits.upper - limits.centre,) * 3), rules)
        at = {place for signal in above for place in signal.at if values[place - 1] > limits.upper}
        at |= {place for place, value in enumerate(values, 1) if value < limits.lower}
        says = "a range lies beyond a control limit"
        signals = (ControlSignal(rule=rules[0], says=says, at=tuple(sorted(at))),) if at else ()
    return ControlChart(
        label=label, quantity=quantity, unit=unit, values=tuple(values), limits=limits, baseline=baseline, rules=rules,
        signals=signals, spread=spread,
    )  # fmt: skip


def _values(results: Sequence[float | Estimate], unit: str | None) -> tuple[list[float], str]:
    """Return results as plain numbers, and their unit."""
    if not results:
        raise DomainError("there is no result", argument="results", expected="one or more, in their order")
    for one in results:
        result: object = one
        if isinstance(result, bool) or not isinstance(result, (Estimate, int, float)):
            has_basis = hasattr(result, "in_basis")
            raise DataError(
                "this is not a result for a chart",
                argument="results",
                given=type(result).__name__,
                expected="numbers with their unit, or estimates",
                remedy="Give .in_basis('…') of each strength, in the same basis." if has_basis else "",
            )
    units = dict.fromkeys(result.unit for result in results if isinstance(result, Estimate))
    if unit is not None:
        units[unit] = None
    plain = sum(not isinstance(result, Estimate) for result in results)
    if len(units) != 1 or (unit is None and plain):
        raise UnitError(
            "results on a chart are in one unit, which is stated",
            argument="unit",
            given=" and ".join(units) or None,
            remedy="Write unit='g/L', for example; unit='1' for a pure number.",
        )
    values = [result.value if isinstance(result, Estimate) else float(result) for result in results]
    for place, value in enumerate(values, 1):
        if not math.isfinite(value):
            raise DomainError("a result is a finite number", argument=f"result {place}", given=value)
    return values, next(iter(units))


def _baseline(baseline: int | None, there: int, noun: str) -> int:
    if baseline is None:
        return there
    if isinstance(baseline, bool) or int(baseline) != baseline or not 1 <= baseline <= there:
        raise DomainError(
            "the limits are set by the first results of the chart",
            argument="baseline",
            given=baseline,
            expected=f"a whole number from 1 to {there}, the number of {noun}",
        )
    return int(baseline)
