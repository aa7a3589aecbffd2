"""Several looks at one series: by brute force, by what is known without it, and by bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from assay.metrology.looks import miss_at_each, share_missing

DRAWS = 200_000


def drawn(looks: tuple[int, ...], miss: float, sides: int) -> float:
    values = np.random.default_rng(5).standard_normal((DRAWS, looks[-1]))
    missed = np.zeros(DRAWS, dtype=bool)
    for n in looks:
        t = math.sqrt(n) * values[:, :n].mean(axis=1) / values[:, :n].std(axis=1, ddof=1)
        missed |= np.abs(t) > stats.t.isf(miss / 2.0, n - 1) if sides == 2 else t > stats.t.isf(miss, n - 1)
    return float(missed.mean())


@pytest.mark.parametrize("sides", [1, 2])
@pytest.mark.parametrize("looks", [(2, 3), (3, 5, 8), (2, 4, 6), (3, 4, 5, 6, 7, 8, 9, 10), (3, 12)])
@pytest.mark.parametrize("miss", [0.02, 0.05])
def test_it_is_what_simulation_finds(looks: tuple[int, ...], miss: float, sides: int) -> None:
    found = share_missing(looks, miss, sides=sides)
    # Three standard errors of the draws, and the stated error of the grid.
    assert found == pytest.approx(drawn(looks, miss, sides), abs=3.0 * math.sqrt(found / DRAWS) + 3e-4)


@settings(max_examples=20, deadline=None)
@given(
    looks=st.lists(st.integers(2, 12), min_size=1, max_size=4, unique=True).map(lambda found: tuple(sorted(found))),
    miss=st.floats(0.01, 0.3),
    sides=st.sampled_from([1, 2]),
)
def test_it_lies_between_one_look_and_the_sum_of_all(*, looks: tuple[int, ...], miss: float, sides: int) -> None:
    found = share_missing(looks, miss, sides=sides)
    assert miss - 1e-3 <= found <= len(looks) * miss + 1e-3


def test_one_look_misses_what_it_says() -> None:
    for n in (2, 3, 10):
        assert share_missing([n], 0.05) == pytest.approx(0.05, abs=1e-12)
        assert miss_at_each((n,), 0.05) == 0.05


def test_what_each_may_miss_uses_up_the_whole() -> None:
    for sides in (1, 2):
        each = miss_at_each((3, 5, 8), 0.05, sides=sides)
        assert 0.05 / 3.0 < each < 0.05
        assert drawn((3, 5, 8), each, sides) == pytest.approx(0.05, abs=3.0 * math.sqrt(0.05 / DRAWS) + 3e-4)
