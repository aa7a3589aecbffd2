"""Control charts: rules against a plain reading of them, limits against printed factors, interim limits against t."""

from __future__ import annotations

import math
import statistics
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import assay
from assay import AssayError, ControlChart, DataError, DomainError, UnitError, control_chart, control_chart_of_means
from assay.metrology.run_rules import RULE_SETS, RULES, Placed, rules_named, signals_of

ALL = tuple(RULES)


def stated(values: Sequence[float], rules: str | Sequence[str] = ALL) -> ControlChart:
    """Return a chart whose results are in standard deviations from the target."""
    return control_chart(values, unit="1", target=0.0, standard_deviation=1.0, rules=rules)


def found(values: Sequence[float]) -> dict[str, tuple[int, ...]]:
    return {signal.rule: signal.at for signal in stated(values).signals}


# ---------------------------------------------------------------------------------------------------------------- rules
BUSY = (0.3, -0.4, 0.2, -1.1, 1.2, 0.1, -0.3)  # breaks no rule


@pytest.mark.parametrize(
    ("rule", "short", "enough"),
    [
        ("beyond-limits", [3.0], [3.01]),
        ("beyond-limits", [-3.0], [-3.01]),
        ("two-of-three-in-zone-a", [2.5, 0.1, -2.5], [2.5, 0.1, 2.5]),
        ("two-of-three-in-zone-a", [-2.5, 0.1, 0.1, -2.5], [-2.5, -2.5]),
        ("four-of-five-in-zone-b", [1.5, 1.5, -0.1, 1.5, 0.9], [1.5, 1.5, -0.1, 1.5, 1.5]),
        ("seven-on-one-side", [0.5] * 6 + [-0.5], [0.5] * 7),
        ("eight-on-one-side", [-0.5] * 7 + [0.0], [-0.5] * 8),
        ("nine-on-one-side", [0.5] * 8, [0.5] * 9),
        ("six-rising-or-falling", [-0.2, -0.1, 0.1, 0.2, 0.3, 0.3], [-0.2, -0.1, 0.1, 0.2, 0.3, 0.4]),
        ("seven-rising-or-falling", [0.5, 0.4, 0.3, 0.2, 0.1, -0.1], [0.5, 0.4, 0.3, 0.2, 0.1, -0.1, -0.2]),
        ("fourteen-alternating", [0.5, -0.5] * 6 + [0.5], [0.5, -0.5] * 7),
        ("fifteen-in-zone-c", [0.5, -0.6, 0.4] * 4 + [0.2, 0.3], [0.5, -0.6, 0.4] * 5),
        ("eight-outside-zone-c", [1.5, -1.5] * 3 + [1.5, 0.5], [1.5, -1.5] * 4),
    ],
)
def test_each_rule_is_found_when_complete_and_not_before(rule: str, short: list[float], enough: list[float]) -> None:
    assert rule not in found(short)
    assert found(enough)[rule] == (len(enough),)


def test_nothing_is_found_where_nothing_is() -> None:
    chart = stated(BUSY)
    assert not chart.signals
    assert chart.in_control
    assert chart.flags == ()


def by_reading(values: Sequence[float]) -> dict[str, tuple[int, ...]]:
    """Return what the rules say, read off result by result."""

    def several(k: int, of: int, needed: int, beyond: float) -> bool:
        stretch = values[max(0, k - of + 1) : k + 1]
        return any(sum(s * v > beyond for v in stretch) >= needed and s * values[k] > beyond for s in (1, -1))

    def one_side(length: int) -> Callable[[int], bool]:
        return lambda k: (
            k >= length - 1 and any(all(s * v > 0 for v in values[k - length + 1 : k + 1]) for s in (1, -1))
        )

    def trend(length: int) -> Callable[[int], bool]:
        return lambda k: (
            k >= length - 1
            and any(all(s * (values[i] - values[i - 1]) > 0 for i in range(k - length + 2, k + 1)) for s in (1, -1))
        )

    rules: dict[str, Callable[[int], bool]] = {
        "beyond-limits": lambda k: abs(values[k]) > 3,
        "two-of-three-in-zone-a": lambda k: several(k, 3, 2, 2.0),
        "four-of-five-in-zone-b": lambda k: several(k, 5, 4, 1.0),
        **{f"{name}-on-one-side": one_side(length) for name, length in (("seven", 7), ("eight", 8), ("nine", 9))},
        **{f"{name}-rising-or-falling": trend(length) for name, length in (("six", 6), ("seven", 7))},
        "fifteen-in-zone-c": lambda k: k >= 14 and all(abs(v) <= 1 for v in values[k - 14 : k + 1]),
        "eight-outside-zone-c": lambda k: (
            k >= 7
            and all(abs(v) > 1 for v in values[k - 7 : k + 1])
            and min(values[k - 7 : k + 1]) < 0 < max(values[k - 7 : k + 1])
        ),
        "fourteen-alternating": lambda k: (
            k >= 13
            and all((values[i] - values[i - 1]) * (values[i - 1] - values[i - 2]) < 0 for i in range(k - 11, k + 1))
        ),
    }

    told = {name: tuple(k + 1 for k in range(len(values)) if rule(k)) for name, rule in rules.items()}
    return {name: at for name, at in told.items() if at}


# Tenths, so that results stand on the edges of the zones as often as bench readings do.
TENTHS = st.lists(st.integers(-35, 35).map(lambda n: n / 10), min_size=1, max_size=40)


@given(TENTHS)
def test_rules_find_what_a_plain_reading_of_them_finds(values: list[float]) -> None:
    assert found(values) == by_reading(values)


@given(TENTHS)
def test_a_chart_upside_down_breaks_the_same_rules(values: list[float]) -> None:
    assert found(values) == found([-value for value in values])


def test_a_result_on_a_decimal_limit_is_not_beyond_it() -> None:
    chart = control_chart([10.3, 9.7], unit="g/L", target=10.0, standard_deviation=0.1)
    assert 10.3 - 10.0 > 3 * 0.1 + 1e-16  # floats are not decimal
    assert not chart.signals


def test_western_electric_rules_cry_wolf_as_often_as_published() -> None:
    """Champ and Woodall 1987: on the average at the 91.75th result, and the limits alone at the 370.4th."""
    generator = np.random.default_rng(20261117)
    for rules, expected, count, length in (("western electric", 91.75, 1500, 1500), ("limits", 370.4, 1500, 6000)):
        names = rules_named(rules)
        first = []
        for _ in range(count):
            placed = Placed.of(generator.standard_normal(length).tolist(), 0.0, (1.0, 2.0, 3.0))
            first.append(min((signal.at[0] for signal in signals_of(placed, names)), default=length))
        assert max(first) < length  # none was cut off
        standard_error = statistics.stdev(first) / math.sqrt(count)
        assert abs(statistics.fmean(first) - expected) < 3.0 * standard_error


def test_sets_name_known_rules() -> None:
    assert {rule for names in RULE_SETS.values() for rule in names} == set(RULES)


# --------------------------------------------------------------------------------------------------------------- limits
def test_stated_limits_are_three_standard_deviations_off() -> None:
    assert stated([0.1]).baseline == 0
    limits = stated([0.1]).limits
    assert (limits.lower, limits.centre, limits.upper) == (-3.0, 0.0, 3.0)
    assert not limits.interim


# JCGM 100:2008, table G.2, column 99,73 %: degrees of freedom and t as printed, from memory.
@pytest.mark.parametrize(("n", "t"), [(2, 235.80), (3, 19.21), (4, 9.22), (5, 6.62), (6, 5.51), (10, 4.09), (11, 3.96)])
def test_interim_limits_hold_the_next_result_by_t(n: int, t: float) -> None:
    values = [100.0 + 0.1 * (-1) ** k * (k + 1) for k in range(n)]
    limits = control_chart(values, unit="g/L").limits
    s, mean = statistics.stdev(values), statistics.fmean(values)
    assert limits.interim
    assert limits.dof == n - 1
    assert limits.upper - mean == pytest.approx(t * s * math.sqrt(1 + 1 / n), rel=0.006 / t)
    assert mean - limits.lower == pytest.approx(limits.upper - mean)


def test_a_stated_target_needs_no_room_for_the_mean() -> None:
    values = [99.8, 100.3, 100.1, 99.6, 100.2]
    limits = control_chart(values, unit="g/L", target=100.0).limits
    assert limits.centre == 100.0
    assert limits.upper - 100.0 == pytest.approx(6.62 * statistics.stdev(values), rel=0.001)


def test_a_stated_standard_deviation_with_few_degrees_of_freedom_is_no_sure_one() -> None:
    limits = control_chart([100.0], unit="g/L", target=100.0, standard_deviation=0.2, dof=5).limits
    assert limits.upper - 100.0 == pytest.approx(0.2 * 5.51, rel=0.001)


def test_interim_is_told_once_and_ends_at_twenty() -> None:
    values = [100.0 + 0.1 * (-1) ** k for k in range(20)]
    few = control_chart(values[:19], unit="g/L")
    assert [flag.code for flag in few.flags] == ["interim-limits"]
    assert "19 values" in few.flags[0].message
    enough = control_chart(values, unit="g/L")
    assert enough.flags == ()
    # All moving ranges are 0.2, and d2 of two is 1.128 (printed).
    assert enough.limits.upper - 100.0 == pytest.approx(3 * 0.2 / 1.128, rel=0.0005)


def test_the_baseline_sets_the_limits_and_what_follows_does_not() -> None:
    first = [99.8, 100.3, 100.1, 99.6, 100.2]
    wild = control_chart([*first, 140.0], unit="g/L", baseline=5)
    assert wild.limits == control_chart(first, unit="g/L").limits
    assert {signal.rule: signal.at for signal in wild.signals} == {"beyond-limits": (6,)}
    assert [flag.code for flag in wild.flags] == ["interim-limits", "control-beyond-limits", "control-beyond-limits"]


# Factors of the handbook of NIST, 6.3.2.1, from memory: A2, D3 and D4.
@pytest.mark.parametrize(
    ("n", "a2", "d3", "d4"), [(2, 1.880, 0.0, 3.267), (4, 0.729, 0.0, 2.282), (7, 0.419, 0.076, 1.924)]
)
def test_means_and_ranges_by_the_printed_factors(n: int, a2: float, d3: float, d4: float) -> None:
    generator = np.random.default_rng(7)
    groups = generator.normal(50.0, 1.0, (25, n)).tolist()
    chart = control_chart_of_means(groups, unit="g/L")
    mean_range = statistics.fmean(max(group) - min(group) for group in groups)
    mean = statistics.fmean(value for group in groups for value in group)
    assert chart.limits.centre == pytest.approx(mean)
    assert chart.limits.upper - mean == pytest.approx(a2 * mean_range, abs=0.0006 * mean_range)
    assert chart.spread is not None
    assert chart.spread.limits.centre == pytest.approx(mean_range)
    assert chart.spread.limits.upper == pytest.approx(d4 * mean_range, abs=0.0006 * mean_range)
    assert chart.spread.limits.lower == pytest.approx(d3 * mean_range, abs=0.0006 * mean_range)


def test_interim_ranges_by_the_studentized_range() -> None:
    chart = control_chart_of_means([[10.0, 10.2], [10.1, 10.0], [10.2, 10.1]], unit="g/L")
    pooled = math.sqrt((0.02 + 0.005 + 0.005) / 3)
    assert chart.spread is not None
    # The range of two is their difference: t of table G.2 at 3 degrees of freedom times the root of two.
    assert chart.spread.limits.upper == pytest.approx(9.22 * math.sqrt(2) * pooled, rel=0.001)
    assert chart.limits.upper - chart.limits.centre == pytest.approx(
        9.22 * pooled / math.sqrt(2) * math.sqrt(4 / 3), rel=0.001
    )


def test_a_wide_range_is_found_though_the_mean_is_where_it_was() -> None:
    groups = [[9.9, 10.1], [10.0, 10.1], [8.0, 12.0]]
    chart = control_chart_of_means(groups, unit="g/L", target=10.0, standard_deviation=0.1)
    assert not chart.signals
    assert chart.spread is not None
    assert [signal.at for signal in chart.spread.signals] == [(3,)]
    assert not chart.in_control
    assert [flag.code for flag in chart.flags] == ["control-beyond-limits"]


# -------------------------------------------------------------------------------------------------------------- results
def test_estimates_bring_their_unit() -> None:
    drum = assay.run_demo("drum").strengths["drum 7"].in_basis("g/L available chlorine")
    chart = control_chart([drum, drum], unit="g/L", target=110.0, standard_deviation=0.5)
    assert chart.unit == "g/L"
    assert chart.values == (drum.value, drum.value)


def test_what_is_shown() -> None:
    chart = control_chart([10.0, 10.2, 13.0], unit="g/L", target=10.0, standard_deviation=0.5, label="control A")
    assert repr(chart) == (
        "<ControlChart 'control A': [control-beyond-limits] 3 values, centre 10 g/L, limits 8.5 to 11.5, beyond-limits>"
    )
    assert "beyond-limits" in str(chart).splitlines()[0]
    assert chart.rows().body[2] == ("3", "13", "", "beyond-limits")
    assert "<table" in chart._repr_html_()
    assert "tabular" in chart._repr_latex_()


def _few() -> list[float]:
    return [10.0, 10.2, 9.9]


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: control_chart([], unit="g/L"), DomainError, ["results", "one or more"]),
        (lambda: control_chart([10.0], unit="g/L"), DomainError, ["results", "two or more", "standard_deviation"]),
        (lambda: control_chart([10.0, 10.0], unit="g/L"), DomainError, ["all results are equal", "Read finer"]),
        (lambda: control_chart([10.0, math.nan], unit="g/L"), DomainError, ["result 2", "nan"]),
        (lambda: control_chart([10.0, math.inf], unit="g/L"), DomainError, ["result 2", "inf"]),
        (lambda: control_chart(_few()), UnitError, ["unit", "unit='g/L'"]),
        (lambda: control_chart(["10.0"], unit="g/L"), DataError, ["results", "str"]),  # type: ignore[list-item]
        (lambda: control_chart(_few(), unit="g/L", rules="nelsen"), DataError, ["'nelsen'", "'nelson'"]),
        (lambda: control_chart(_few(), unit="g/L", rules=[]), DataError, ["rules", "'limits'"]),
        (lambda: control_chart(_few(), unit="g/L", baseline=0), DomainError, ["baseline", "1 to 3"]),
        (lambda: control_chart(_few(), unit="g/L", baseline=4), DomainError, ["baseline", "1 to 3"]),
        (lambda: control_chart(_few(), unit="g/L", target=math.nan), DomainError, ["target", "nan"]),
        (lambda: control_chart(_few(), unit="g/L", standard_deviation=0.0), DomainError, ["standard_deviation", "0.0"]),
        (lambda: control_chart(_few(), unit="g/L", standard_deviation=1.0, dof=0.5), DomainError, ["dof", "0.5"]),
        (lambda: control_chart_of_means([[1.0, 2.0], [1.0]], unit="g/L"), DomainError, ["groups", "[1, 2]"]),
        (lambda: control_chart_of_means([[1.0], [2.0]], unit="g/L"), DomainError, ["groups", "control_chart"]),
        (lambda: control_chart_of_means([], unit="g/L"), DomainError, ["groups"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)


def test_a_strength_is_asked_for_its_basis() -> None:
    drum = assay.run_demo("drum").strengths["drum 7"]
    with pytest.raises(DataError, match="in_basis"):
        control_chart([drum], unit="g/L")  # type: ignore[list-item]
