"""Replicates: mean, scatter, and rounding that is counted once."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import DataError, DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.replicates import MethodScatter, Rounding, mean_of, scatter_of

STEP = 0.05e-3 / math.sqrt(12.0)  # u of one reading to a step of 0.05 mL, in litres


def test_mean_and_scatter_by_hand() -> None:
    # 1, 2, 4: mean 7/3, squared deviations 16/9 + 1/9 + 25/9 = 42/9, s² = 7/3.
    found = scatter_of([1.0, 2.0, 4.0])
    assert (found.n, found.dof) == (3, 2.0)
    assert found.mean == pytest.approx(7.0 / 3.0, rel=1e-15)
    assert found.s == pytest.approx(math.sqrt(7.0 / 3.0), rel=1e-15)
    assert found.u_scatter == pytest.approx(math.sqrt(7.0) / 3.0, rel=1e-15)
    assert found.u_resolution == 0.0


# ------------------------------------------------------------------------------------------------ the resolution rule
def test_identical_titres_set_to_zero_keep_the_whole_rounding() -> None:
    found = scatter_of([0.02435] * 3, rounding=Rounding(shared=STEP))
    assert (found.u_scatter, found.u_resolution) == (0.0, pytest.approx(STEP, rel=1e-12))


def test_identical_titres_from_random_starts_average_it() -> None:
    found = scatter_of([0.02435] * 4, rounding=Rounding(own=STEP))
    assert found.u_resolution == pytest.approx(STEP / 2.0, rel=1e-12)


@pytest.mark.parametrize("rounding", [Rounding(shared=STEP), Rounding(own=STEP)])
def test_a_scatter_that_shows_the_rounding_is_not_added_to(rounding: Rounding) -> None:
    # s² = (0.10² + 0.05² + 0.05² + 0.10²)/3 mL² = 0.025/3; of it 0.05²/12 is rounding, the rest repeatability.
    found = scatter_of([0.02430, 0.02435, 0.02445, 0.02450], rounding=rounding)
    assert 1e6 * found.s**2 == pytest.approx(0.025 / 3.0, rel=1e-9)
    assert 1e6 * found.repeatability**2 == pytest.approx(0.025 / 3.0 - 0.05**2 / 12.0, rel=1e-9)
    assert found.u_scatter == pytest.approx(found.repeatability / 2.0, rel=1e-12)
    assert found.u_resolution == pytest.approx(STEP / 2.0, rel=1e-12)
    assert found.u_scatter**2 + found.u_resolution**2 == pytest.approx(found.s**2 / 4.0, rel=1e-12)


@given(
    spread=st.floats(0.0, 2.0),
    n=st.integers(2, 8),
    shared=st.floats(0.0, 1.0),
    own=st.floats(0.0, 1.0),
)
def test_scatter_and_rounding_never_exceed_both_nor_fall_below_the_rounding(
    spread: float, n: int, shared: float, own: float
) -> None:
    found = scatter_of([spread * (k % 2) for k in range(n)], rounding=Rounding(shared=shared, own=own))
    together = found.u_scatter**2 + found.u_resolution**2
    most = found.u_scatter**2 + shared**2 + own**2 / n
    assert together <= most * (1.0 + 1e-12)
    # Neither rounding falls below its mean of n, and the whole not below s/√n.
    assert together >= (own**2 + shared**2) / n * (1.0 - 1e-12)
    assert together >= found.s**2 / n * (1.0 - 1e-12)


@given(s=st.floats(1e-6, 1.0), n=st.integers(2, 10))
def test_the_whole_falls_nowhere_below_the_shared_rounding_of_identical_readings(s: float, n: int) -> None:
    found = scatter_of([0.0] * n, rounding=Rounding(shared=s))
    assert found.u_resolution == pytest.approx(s, rel=1e-12)


# ------------------------------------------------------------------------------------------- a scatter from elsewhere
def test_a_single_titre_is_refused_without_a_known_scatter() -> None:
    with pytest.raises(DomainError, match="single titre") as caught:
        scatter_of([0.02435], rounding=Rounding(shared=STEP))
    assert "method_s" in caught.value.remedy


def test_no_titre_is_refused() -> None:
    with pytest.raises(DomainError, match="no replicate"):
        scatter_of([])


def test_a_known_scatter_replaces_the_found_one_with_its_own_degrees_of_freedom() -> None:
    method = MethodScatter(s=0.03e-3, dof=12.0)
    single = scatter_of([0.02435], method=method, rounding=Rounding(shared=STEP))
    assert (single.s, single.dof) == (0.03e-3, 12.0)
    assert math.hypot(single.u_scatter, single.u_resolution) == pytest.approx(0.03e-3, rel=1e-12)
    assert single.u_resolution == pytest.approx(STEP, rel=1e-12)  # the method's s shows the rounding
    triple = scatter_of([0.0243, 0.0244, 0.0245], method=method)
    assert triple.u_scatter == pytest.approx(0.03e-3 / math.sqrt(3.0), rel=1e-12)


def test_titres_that_agree_hide_one_rounding_whatever_is_known_of_the_method() -> None:
    found = scatter_of([0.02435] * 3, method=MethodScatter(s=0.03e-3, dof=12.0), rounding=Rounding(shared=STEP))
    assert found.u_resolution == pytest.approx(STEP, rel=1e-12)
    assert found.u_scatter == pytest.approx(math.sqrt((0.03e-3**2 - STEP**2) / 3.0), rel=1e-12)


@pytest.mark.parametrize(
    ("facts", "argument"),
    [
        ({"s": 0.0}, "method_s"),
        ({"s": -1.0}, "method_s"),
        ({"s": math.nan}, "method_s"),
        ({"s": math.inf}, "method_s"),
        ({"s": 1.0, "dof": 0.0}, "method_dof"),
        ({"s": 1.0, "dof": math.nan}, "method_dof"),
    ],
)
def test_impossible_method_scatters_are_refused(facts: dict[str, float], argument: str) -> None:
    with pytest.raises(DomainError) as caught:
        MethodScatter(**facts)
    assert caught.value.argument == argument


# ------------------------------------------------------------------------------------------------------- as an estimate
def titres(values: list[float]) -> list[Estimate]:
    """Return titres that share the error of one burette, 0.02 mL."""
    error = Estimate.from_influence(Influence(id="burette", label="burette", value=0.0, u=2e-5), name="titre")
    return [combine(lambda e, reading: reading + e, error, value, unit="L") for value in values]


def mean(values: list[float], record: str = "sheet/1", rounding: Rounding | None = None) -> Estimate:
    scatter = scatter_of(values, rounding=rounding)
    return mean_of(titres(values), scatter, record=record, name="titre", label="titre")


def test_the_burette_does_not_average_but_the_scatter_does() -> None:
    values = [0.02430, 0.02440, 0.02450]
    found = mean(values)
    assert found.value == pytest.approx(0.02440, rel=1e-15)
    assert (found.name, found.unit) == ("titre", "L")
    # s = 0.1 mL, so u² = (0.1 mL)²/3 + (0.02 mL)²; only the first has 2 degrees of freedom.
    assert found.u == pytest.approx(math.sqrt(1e-8 / 3.0 + 4e-10), rel=1e-9)
    assert found.dof == pytest.approx(2.0 * (1e-8 / 3.0 + 4e-10) ** 2 / (1e-8 / 3.0) ** 2, rel=1e-9)
    lines = {line.ids[0]: line for line in found.budget().lines}
    assert (lines["sheet/1/scatter"].kind, lines["sheet/1/scatter"].dof) == ("A", 2.0)
    assert "n = 3" in lines["sheet/1/scatter"].source


def test_three_identical_titres_still_have_an_uncertainty() -> None:
    found = mean([0.02435] * 3, rounding=Rounding(shared=STEP))
    assert found.u == pytest.approx(math.hypot(STEP, 2e-5), rel=1e-12)
    assert math.isinf(found.dof)


def test_two_records_share_the_burette_only() -> None:
    values = [0.02430, 0.02440, 0.02450]
    difference = combine(lambda a, b: a - b, mean(values, "sheet/1"), mean(values, "sheet/2"))
    assert difference.u == pytest.approx(math.sqrt(2e-8 / 3.0), rel=1e-9)
    again = combine(lambda a, b: a - b, mean(values), mean(values))
    assert again.u == 0.0


def test_one_record_with_other_readings_is_refused() -> None:
    with pytest.raises(DataError, match="sheet/1/scatter"):
        combine(lambda a, b: a - b, mean([0.02430, 0.02440]), mean([0.02430, 0.02460]))
