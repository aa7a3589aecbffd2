"""Tests for outliers: against printed tables, simulation and closed forms; nothing is ever deleted."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assay import AssayError, Burette, dixon, grubbs, grubbs_pair, with_and_without
from assay.metrology.dixon import RATIOS, dixon_critical, dixon_probability, ratio_for
from assay.metrology.grubbs import TRIALS, grubbs_critical, grubbs_pair_critical, grubbs_probability

PENNIES = [3.067, 3.049, 3.039, 2.514, 3.048, 3.079, 3.094, 3.109, 3.102]


def simulated_ratio(n: int, trials: int = 200_000) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return Dixon's ratio at the upper end of simulated sets, by its definition."""
    x = np.sort(np.random.default_rng(n).standard_normal((trials, n)), axis=1)
    inner, outer = RATIOS[ratio_for(n)]
    return (x[:, -1] - x[:, -1 - inner]) / (x[:, -1] - x[:, outer])


# ------------------------------------------------------------------------------------------------------------- Dixon
def test_three_values_have_a_closed_form() -> None:
    """Of three normal values the ratio r at one end is exceeded with 1/2 - 3/π atan((2r - 1)/√3) [dixon-1953]."""
    for r in (0.5, 0.7, 0.9, 0.97, 0.999):
        by_hand = 0.5 - 3.0 / math.pi * math.atan((2.0 * r - 1.0) / math.sqrt(3.0))
        assert dixon_probability(r, 3) == pytest.approx(by_hand, abs=1e-10)


@pytest.mark.parametrize("n", [4, 7, 8, 10, 11, 13, 14, 20, 30])
def test_the_distribution_is_that_of_simulated_sets(n: int) -> None:
    drawn = simulated_ratio(n)
    for r in (0.2, 0.4, 0.6):
        share = float(np.mean(drawn > r))
        error = math.sqrt(max(share * (1.0 - share), 1e-6) / drawn.size)
        assert abs(dixon_probability(r, n) - share) < 4.0 * error


@pytest.mark.parametrize("n", range(3, 31))
def test_the_integral_is_whole_at_zero(n: int) -> None:
    assert dixon_probability(0.0, n) == pytest.approx(1.0, abs=1e-11)
    assert dixon_probability(1.0, n) == 0.0


@pytest.mark.parametrize("n", [3, 5, 9, 12, 25])
@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_a_critical_ratio_is_exceeded_as_often_as_it_says(n: int, level: float) -> None:
    assert 2.0 * dixon_probability(dixon_critical(n, level), n) == pytest.approx(1.0 - level, rel=1e-8)


def test_the_largest_difference_from_the_classical_table() -> None:
    """Four values at 99 %: 0.926 in print; the row that differs most (rows of outliers.toml)."""
    assert dixon_critical(4, 0.99) == pytest.approx(0.9207, abs=5e-5)


def test_the_suspect_may_lie_at_either_end() -> None:
    low = dixon([24.30, 24.32, 24.35, 24.31, 23.60])
    high = dixon([-value for value in (24.30, 24.32, 24.35, 24.31, 23.60)])
    assert (low.suspects, high.suspects) == ((4,), (4,))
    assert low.statistic == pytest.approx(high.statistic)


def test_of_three_two_of_which_agree_nothing_can_be_said() -> None:
    """The ratio is 1 whatever the third is; its probability is then zero, and the docstring warns of it."""
    assert dixon([21.2, 21.2, 21.3]).statistic == pytest.approx(1.0)


# ------------------------------------------------------------------------------------------------------------ Grubbs
def test_pennies() -> None:
    """Harvey, example 4.22: G is 2.643 (worked out by hand), beyond 2.215 for nine values at 95 %."""
    found = grubbs(PENNIES)
    assert found.statistic == pytest.approx(2.643, abs=5e-4)
    assert found.suspects == (3,)
    assert found.suspected
    assert found.flags[0].code == "suspected-outlier"
    assert not found.flags[0].blocking
    assert "2.514" in str(found)


@pytest.mark.parametrize("n", [3, 5, 9, 20])
def test_probability_and_critical_value_are_one_another(n: int) -> None:
    for level in (0.9, 0.95, 0.99):
        assert grubbs_probability(grubbs_critical(n, level), n) == pytest.approx(1.0 - level, rel=1e-9)


@pytest.mark.parametrize("n", [4, 8, 15])
def test_grubbs_alarms_as_seldom_as_it_says(n: int) -> None:
    sets = np.random.default_rng(n).standard_normal((100_000, n))
    g = np.max(np.abs(sets - sets.mean(axis=1, keepdims=True)), axis=1) / sets.std(axis=1, ddof=1)
    share = float(np.mean(g > grubbs_critical(n, 0.95)))
    assert share <= 0.05 + 4.0 * math.sqrt(0.05 * 0.95 / 100_000)
    assert share == pytest.approx(0.05, abs=0.003)


# ISO 5725-2, table 5 (from memory): two at one end, whichever it is, 5 % and 1 %.
TABLE_5 = {5: (0.0090, 0.0018), 6: (0.0349, 0.0116), 7: (0.0708, 0.0308), 8: (0.1101, 0.0563), 10: (0.1864, 0.1150)}


@pytest.mark.parametrize("n", TABLE_5)
def test_two_at_one_end_against_the_table_of_the_standard(n: int) -> None:
    """The share of simulated sets below the printed value is what it says, within the error of the simulation."""
    generator = np.random.default_rng([7, n])
    sets = np.sort(generator.standard_normal((TRIALS, n)), axis=1)

    def squares(
        some: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    ) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.var(some, axis=1) * some.shape[1]

    left = np.minimum(squares(sets[:, 2:]), squares(sets[:, :-2])) / squares(sets)
    for printed, alpha in zip(TABLE_5[n], (0.05, 0.01), strict=True):
        low, high = (float(np.mean(left < printed + shift)) for shift in (-0.0001, 0.0001))
        slack = 4.0 * math.sqrt(alpha * (1.0 - alpha) / TRIALS)
        assert low - slack <= alpha <= high + slack
        ours = grubbs_pair_critical(n, 1.0 - alpha)
        assert float(np.mean(left < ours)) == pytest.approx(alpha, abs=2.0 * slack)


def test_pairs_at_one_end_and_at_both() -> None:
    at_one_end = [24.30, 24.35, 24.32, 24.33, 24.34, 25.10, 25.15]
    assert grubbs_pair(at_one_end).suspects == (5, 6)
    assert grubbs_pair(at_one_end).suspected
    assert not grubbs(at_one_end).suspected  # the second hides the first: why there is a test of two
    at_both = [24.30, 24.35, 24.32, 24.33, 24.34, 25.60, 23.10]
    assert set(grubbs_pair(at_both, ends=True).suspects) == {5, 6}
    assert grubbs_pair(at_both, ends=True).suspected


# ------------------------------------------------------------------------------------------------- what holds for all
@given(st.lists(st.floats(20.0, 30.0), min_size=5, max_size=7), st.floats(0.1, 10.0), st.floats(-5.0, 5.0))
def test_scale_and_origin_change_nothing(values: list[float], scale: float, shift: float) -> None:
    assume(statistics.stdev(values) > 1e-3)
    moved = [scale * value + shift for value in values]
    for test in (grubbs, dixon, grubbs_pair):
        first, second = test(values), test(moved)
        assert first.statistic == pytest.approx(second.statistic, rel=1e-6, abs=1e-9)


def test_nothing_is_deleted_and_both_results_are_told() -> None:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    titres = [burette.titre(reading) for reading in ("24.30 mL", "24.35 mL", "24.40 mL", "24.35 mL", "25.10 mL")]
    both = with_and_without(titres, lambda kept: statistics.fmean(titre.nominal for titre in kept) * 1000.0)
    assert both.whole == pytest.approx(24.50)
    assert both.without == pytest.approx(24.35)
    assert [titre.nominal for titre in titres][4] == 0.0251


@pytest.mark.parametrize(
    ("values", "test", "says"),
    [
        ([24.3, 24.4], grubbs, ["3 to 100", "2", "Titrate again"]),
        ([24.3, 24.4, 24.5], grubbs_pair, ["4 to 100"]),
        ([24.3] * 4, grubbs, ["alike"]),
        ([24.3] * 5, dixon, ["alike"]),
        ([float(k) for k in range(31)], dixon, ["3 to 30", "Grubbs takes more"]),
        (["24.3 mL", 1.0, 2.0], grubbs, ["neither a number nor a titre", "24.3 mL"]),
        ([math.nan, 1.0, 2.0], dixon, ["neither a number nor a titre"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(values: list[object], test: object, says: list[str]) -> None:
    with pytest.raises(AssayError) as refused:
        test(values)  # type: ignore[operator]
    for word in says:
        assert word in str(refused.value)
