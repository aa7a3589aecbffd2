"""Coverage factors against the printed table of t."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from assay.errors import DomainError
from assay.metrology.coverage import (
    check_factor,
    check_level,
    coverage_dof_from_shares,
    coverage_dof_of,
    coverage_factor,
    one_sided_factor,
)

# JCGM 100:2008, Table G.2: t for degrees of freedom and a fraction p in per cent (from memory), as printed.
LEVELS = ("68.27", "90", "95", "95.45", "99")
TABLE_G2 = {
    "1": ("1.84", "6.31", "12.71", "13.97", "63.66"),
    "2": ("1.32", "2.92", "4.30", "4.53", "9.92"),
    "3": ("1.20", "2.35", "3.18", "3.31", "5.84"),
    "4": ("1.14", "2.13", "2.78", "2.87", "4.60"),
    "5": ("1.11", "2.02", "2.57", "2.65", "4.03"),
    "10": ("1.05", "1.81", "2.23", "2.28", "3.17"),
    "16": ("1.03", "1.75", "2.12", "2.17", "2.92"),
    "19": ("1.03", "1.73", "2.09", "2.14", "2.86"),
    "50": ("1.01", "1.68", "2.01", "2.05", "2.68"),
    "inf": ("1.000", "1.645", "1.960", "2.000", "2.576"),
}


@pytest.mark.parametrize(
    ("dof", "level", "printed"),
    [(dof, level, t) for dof, row in TABLE_G2.items() for level, t in zip(LEVELS, row, strict=True)],
)
def test_printed_table(dof: str, level: str, printed: str) -> None:
    half_unit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    assert abs(coverage_factor(float(level) / 100.0, float(dof)) - float(printed)) <= half_unit


@pytest.mark.parametrize("dof", [1e6, 1e9, 9.9e9, 1.1e10, 1e15, math.inf])
def test_far_out_t_is_normal(dof: float) -> None:
    # Quantile of the normal at 0.975, 1.959964 to 7 digits; t exceeds it by about (z + z³)/(4 dof).
    assert coverage_factor(0.95, dof) == pytest.approx(1.959964 + 2.3 / dof, abs=2e-6)


def test_one_sided_is_the_quantile_itself() -> None:
    # For one degree of freedom t is a Cauchy variable: its quantile is tan(π (p − 1/2)). The oldest scipy supported
    # stops its iteration at 1e-11 here, which no coverage factor shows.
    assert one_sided_factor(0.9, 1.0) == pytest.approx(math.tan(math.pi * 0.4), rel=1e-10)
    assert one_sided_factor(0.5, 3.0) == pytest.approx(0.0, abs=1e-15)
    assert one_sided_factor(0.1, 7.0) == pytest.approx(-one_sided_factor(0.9, 7.0), rel=1e-10)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.5, 2.0, 95, 100.0, math.nan, math.inf])
def test_impossible_levels_are_refused(level: float) -> None:
    with pytest.raises(DomainError, match="probability") as caught:
        check_level(level)
    assert caught.value.remedy


def test_a_level_in_per_cent_is_told_the_fraction() -> None:
    with pytest.raises(DomainError, match=r"Write 0\.95\."):
        check_level(95)


# ------------------------------------------------------------------------------- few replicates beside what is known
@pytest.mark.parametrize(("dofs", "ratio", "low", "high"), [
    ((1.0,), 1.0, 0.94, 0.98), ((2.0,), 1.5, 0.94, 0.98), ((2.0,), 0.35, 0.94, 0.98), ((5.0,), 2.0, 0.94, 0.98),
    ((1.0, 1.0), 1.5, 0.94, 0.98), ((1.0, 1.0), 10.0, 0.94, 0.98), ((2.0, 2.0), 2.0, 0.94, 0.98),
    ((1.0,), 5.0, 0.92, 0.98),  # the hardest proportion for a single pair: 92.4 %
])  # fmt: skip
def test_few_replicates_beside_a_known_uncertainty_are_covered(
    dofs: tuple[float, ...], ratio: float, low: float, high: float
) -> None:
    """The probability that the interval holds the truth, exactly for each observed scatter, over 20 000 of them."""
    generator = np.random.default_rng(11)
    variances = np.array([ratio**2 * generator.chisquare(dof, 20_000) / dof for dof in dofs])
    u = np.sqrt(variances.sum(axis=0) + 1.0)
    shares = variances / u**2
    losses = (shares**2 / np.array(dofs)[:, None]).sum(axis=0)
    dof = coverage_dof_from_shares(shares.sum(axis=0), losses, 1.0 / losses)
    half = u * stats.t.ppf(0.975, dof)
    held = np.mean(2.0 * stats.norm.cdf(half / math.sqrt(len(dofs) * ratio**2 + 1.0)) - 1.0)
    assert low < held < high


def test_where_all_was_estimated_or_nothing_it_is_the_formula_of_the_guide() -> None:
    guide = 25.0 / (1.0 / 3.0 + 16.0 / 5.0)  # u² = 1 + 4
    assert coverage_dof_of([(1.0, 3.0), (2.0, 5.0)], guide) == pytest.approx(guide, rel=1e-12)
    assert coverage_dof_of([(1.0, math.inf)], math.inf) == math.inf
    assert coverage_dof_of([(1.0, 50.0), (1.0, math.inf)], 200.0) == 200.0


@given(share=st.floats(1e-3, 1.0), dof=st.floats(1.0, 29.0))
def test_never_more_than_the_formula_of_the_guide_nor_fewer_than_were_observed(share: float, dof: float) -> None:
    guide = dof / share**2
    found = coverage_dof_from_shares(share, share**2 / dof, guide)
    assert dof * (1.0 - 1e-9) <= found <= guide * (1.0 + 1e-9)


def test_a_level_or_a_factor_that_is_text_is_told_as_a_number() -> None:
    for check in (check_level, check_factor):
        with pytest.raises(DomainError, match="plain number"):
            check("95 %")  # type: ignore[arg-type]
