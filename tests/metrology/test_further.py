"""What another replicate would gain."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from assay.errors import DataError, DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.further import expected_width
from assay.metrology.influence import Influence
from assay.metrology.replicates import MethodScatter, mean_of, scatter_of


def scatter(path: str, u: float, dof: float) -> Estimate:
    return Estimate.from_influence(
        Influence(id=f"{path}/scatter", label=path, value=0.0, u=u, dof=dof, kind="A"), name="value"
    )


def glass(u: float) -> Estimate:
    return Estimate.from_influence(Influence(id="glass", label="glass", value=10.0, u=u), name="value")


def t(dof: float) -> float:
    return float(stats.t.ppf(0.975, dof))


def test_a_mean_alone_gains_the_root_and_the_quantile() -> None:
    # s = 0.3 of 3 titres, then of 5: t and √n, nothing else.
    found = expected_width(scatter("r", 0.3 / math.sqrt(3.0), 2.0), further=2)
    assert found.now == pytest.approx(t(2) * 0.3 / math.sqrt(3.0), rel=1e-9)
    assert found.then == pytest.approx(t(4) * 0.3 / math.sqrt(5.0), rel=1e-9)
    assert found.relative_width == pytest.approx(found.then / found.now)
    assert "s of the 3 titres" in found.basis


def test_it_is_what_the_result_states_if_the_further_titre_leaves_s_as_it_is() -> None:
    now = combine(lambda a, b: a + b, scatter("r", 0.3 / math.sqrt(2.0), 1.0), glass(0.2))
    then = combine(lambda a, b: a + b, scatter("r", 0.3 / math.sqrt(3.0), 2.0), glass(0.2))
    found = expected_width(now)
    assert found.now == pytest.approx(now.expanded(), rel=1e-12)
    assert found.then == pytest.approx(then.expanded(), rel=1e-12)


def test_where_glass_is_all_nothing_is_gained() -> None:
    now = combine(lambda a, b: a + b, scatter("r", 1e-6, 4.0), glass(0.2))
    assert expected_width(now).relative_width == pytest.approx(1.0, abs=1e-6)


def test_a_known_s_stays_known_whatever_its_degrees_of_freedom() -> None:
    """Three titres with an s of the method, 0.06 with 12 degrees of freedom: a fourth leaves both as they are."""
    values = [24.30, 24.36, 24.33]
    found = scatter_of(values, method=MethodScatter(s=0.06, dof=12.0))
    titres = [Estimate.exactly(value, name="value", label="titre") for value in values]
    mean = mean_of(titres, found, record="record/drum", name="value", label="mean titre")
    gained = expected_width(mean)
    assert gained.now == pytest.approx(t(12) * 0.06 / math.sqrt(3.0), rel=1e-9)
    assert gained.then == pytest.approx(t(12) * 0.06 / math.sqrt(4.0), rel=1e-9)
    assert "as it is known" in gained.basis


def test_one_of_several_sets_is_named() -> None:
    both = combine(lambda a, b: a + b, scatter("titrant", 0.1, 2.0), scatter("sample", 0.2, 2.0))
    with pytest.raises(DataError, match="several sets") as caught:
        expected_width(both)
    assert "sample" in str(caught.value)
    assert expected_width(both, of="sample").then < expected_width(both, of="titrant").then
    with pytest.raises(DataError, match="names no one set"):
        expected_width(both, of="drum")


def test_refusals() -> None:
    with pytest.raises(DataError, match="no replicates stand behind"):
        expected_width(glass(0.1))
    with pytest.raises(DomainError, match="counted"):
        expected_width(scatter("r", 0.1, 2.0), further=0)
