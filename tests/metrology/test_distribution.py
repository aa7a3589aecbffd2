"""Trials by rank and by moment: as their definitions say, kept or counted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assay.metrology import distribution
from assay.metrology.distribution import (
    CELLS,
    Grid,
    Moments,
    Sorted,
    Trials,
    ranks_of,
    shortest_interval,
    symmetric_interval,
)


def moments_of(values: np.ndarray, chunk: int = 1_000) -> Moments:
    moments = Moments()
    for start in range(0, values.size, chunk):
        moments.add(values[start : start + chunk])
    return moments


# ------------------------------------------------------------------------------------------------------------- moments
def test_moments_of_whole_numbers_by_hand() -> None:
    # 1 to n: mean (n+1)/2, variance n(n+1)/12, fourth central moment (n²−1)(3n²−7)/240.
    n = 10_000
    moments = moments_of(np.arange(1.0, n + 1.0))
    assert moments.mean == pytest.approx((n + 1) / 2, rel=1e-15)
    assert moments.u == pytest.approx(math.sqrt(n * (n + 1) / 12.0), rel=1e-14)
    second, fourth = (n * n - 1) / 12.0, (n * n - 1) * (3 * n * n - 7) / 240.0
    assert moments.u_error == pytest.approx(math.sqrt((fourth - second**2) / n / (4.0 * second)), rel=1e-12)
    assert moments.mean_error == pytest.approx(moments.u / 100.0, rel=1e-14)


@pytest.mark.parametrize("unit", [1e-150, 1e-12, 1.0, 1e150])
@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_neither_a_tiny_nor_a_huge_unit_loses_the_moments(unit: float, offset: float) -> None:
    values = np.arange(1.0, 1_001.0) + offset
    plain, scaled = moments_of(values), moments_of(values * unit)
    for name in ("mean", "u", "mean_error", "u_error"):
        assert getattr(scaled, name) == pytest.approx(getattr(plain, name) * unit, rel=1e-9)


def test_equal_values_have_no_u() -> None:
    moments = moments_of(np.full(5_000, 0.1))
    assert (moments.mean, moments.u, moments.mean_error, moments.u_error) == (0.1, 0.0, 0.0, 0.0)


# --------------------------------------------------------------------------------------------------------------- ranks
@pytest.mark.parametrize(
    ("count", "level", "inside", "first"),
    [
        # JCGM 101:2008, 7.7.1 and 7.7.2, by hand: q = pM if that is whole, else the whole part of pM + 1/2, and
        # r = (M − q)/2 if that is whole, else the whole part of (M − q + 1)/2.
        (100, 0.95, 95, 3),
        (1_000_000, 0.95, 950_000, 25_000),
        (105, 0.9, 95, 5),
        (101, 0.95, 96, 3),
        (200, 0.99, 198, 1),
    ],
)
def test_ranks_are_those_of_the_standard(count: int, level: float, inside: int, first: int) -> None:
    assert ranks_of(count, level)[:2] == (inside, first)
    values = np.random.default_rng(1).permutation(np.arange(1.0, count + 1.0))
    ends = symmetric_interval(Sorted(values, level), level)
    assert (ends.low, ends.high) == (first, first + inside)


@given(
    count=st.integers(100, 3_000),
    level=st.floats(0.02, 0.9999),
    kind=st.sampled_from(["normal", "exponential", "integers"]),
    seed=st.integers(0, 1_000),
)
def test_partly_sorted_trials_give_what_wholly_sorted_ones_give(count: int, level: float, kind: str, seed: int) -> None:
    generator = np.random.default_rng(seed)
    values = (
        generator.integers(0, 9, count).astype(float) if kind == "integers" else getattr(generator, kind)(size=count)
    )
    inside, first, spread = ranks_of(count, level)
    ordered = np.sort(values)
    order = Sorted(values.copy(), level)
    symmetric, shortest = symmetric_interval(order, level), shortest_interval(order, level)
    assert (symmetric.low, symmetric.high) == (ordered[first - 1], ordered[first + inside - 1])
    lengths = ordered[inside:] - ordered[: count - inside]
    assert shortest.high - shortest.low == lengths.min()
    assert (shortest.low, shortest.high) in set(zip(ordered[: count - inside], ordered[inside:], strict=True))
    if spread < first:  # half the distance between the ranks one standard deviation of a binomial count to both sides
        own = [math.ceil(math.sqrt(rank * (1.0 - rank / count))) for rank in (first, first + inside)]
        for rank, width, error in zip((first, first + inside), own, symmetric[2:], strict=True):
            below, above = max(rank - width, 1), min(rank + width, count)
            assert error == pytest.approx((ordered[above - 1] - ordered[below - 1]) * width / (above - below))
    else:
        assert symmetric.low_error == symmetric.high_error == math.inf


@pytest.mark.parametrize(
    ("name", "exact"),
    [("normal", (stats.norm.ppf(0.025), stats.norm.ppf(0.975))), ("exponential", (0.0, math.log(20.0)))],
)
def test_stated_errors_of_the_shortest_interval_are_no_smaller_than_the_true_ones(
    name: str, exact: tuple[float, float]
) -> None:
    # Meant as standard errors or more: of 200 samples at least 0.683 lie within, less four errors of that count (6.7)
    # for the upper end. The lower end of an exponential is the first trial: it lies within its own spacing to the next
    # in half of all samples (both are exponential), which is granted here.
    within = np.zeros(2)
    for seed in range(200):
        values = getattr(np.random.default_rng(seed), name)(size=5_000)
        ends = shortest_interval(Sorted(values, 0.95), 0.95)
        within += [abs(ends.low - exact[0]) <= ends.low_error, abs(ends.high - exact[1]) <= ends.high_error]
    assert within[1] > 0.683 * 200 - 4.0 * 6.7
    assert within[0] > (0.5 if name == "exponential" else 0.683) * 200 - 4.0 * 6.7


# ---------------------------------------------------------------------------------------------------------------- grid
@settings(max_examples=30)
@given(seed=st.integers(0, 1_000), level=st.floats(0.3, 0.999))
def test_counting_does_not_depend_on_the_order_of_what_comes(seed: int, level: float) -> None:
    generator = np.random.default_rng(seed)
    kept, more = generator.standard_normal(2_000), generator.standard_t(2.0, 9_000)
    ends = []
    for parts in (np.split(more, 3), np.split(more, 3)[::-1], [generator.permutation(more)]):
        grid = Grid(kept.copy(), level)
        for part in parts:
            grid.add(part)
        ends.append((symmetric_interval(grid, level), shortest_interval(grid, level)))
    assert ends[0] == ends[1] == ends[2]


@pytest.mark.parametrize("level", [0.5, 0.95, 0.999])
@pytest.mark.parametrize("offset", [0.0, 1e9])
def test_counted_quantiles_are_within_a_cell_of_the_order_statistics(level: float, offset: float) -> None:
    generator = np.random.default_rng(3)
    values = offset + generator.gamma(2.0, size=100_000)
    grid = Grid(values[:5_000].copy(), level)
    for part in np.split(values[5_000:], 5):
        grid.add(part)
    ordered = np.sort(values)
    _, first, _ = ranks_of(values.size, level)
    for rank in (first, values.size // 2, values.size - first):
        assert abs(grid.at(rank) - ordered[rank - 1]) <= grid.cell * 1.0001 + math.ulp(offset)
    assert grid.cell <= 3.001 * (ordered[-first] - ordered[first]) * 1.2 / CELLS + math.ulp(1.01 * offset)


def test_ranks_beyond_the_grid_are_the_extremes() -> None:
    grid = Grid(np.linspace(0.0, 1.0, 1_000), 0.95)
    grid.add(np.array([-50.0, 70.0, -80.0]))
    assert (grid.count, grid.at(1), grid.at(2), grid.at(1_003)) == (1_003, -80.0, -80.0, 70.0)
    assert grid.at(3) == pytest.approx(0.0, abs=grid.cell)


def test_trials_are_kept_up_to_their_number_and_then_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(distribution, "KEPT", 2_500)
    trials = Trials(0.95, expected=10_000)
    values = np.random.default_rng(1).standard_normal(4_000)
    for k, part in enumerate(np.split(values, 4)):
        trials.add(part)
        order = trials.order()
        assert isinstance(order, Sorted if k < 2 else Grid)
        assert order.count == 1_000 * (k + 1)
