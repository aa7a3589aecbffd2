"""Covariance follows from shared influences, and is never computed by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import DataError
from assay.metrology.covariance import correlation, covariance, covariance_matrix
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.sampling import sampled

TRIALS = 200_000


def number(id_: str, value: float = 2.0, u: float = 0.1) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u), name="value")


@given(slopes=st.lists(st.tuples(*[st.floats(-3.0, 3.0)] * 3), min_size=2, max_size=4))
def test_matrix_is_that_of_the_linear_forms(slopes: list[tuple[float, float, float]]) -> None:
    inputs = [number("a", u=0.1), number("b", u=0.2), number("c", u=0.3)]
    results = [combine(lambda *x, w=w: w[0] * x[0] + w[1] * x[1] + w[2] * x[2], *inputs) for w in slopes]
    by_hand = np.array(slopes) @ np.diag([0.01, 0.04, 0.09]) @ np.array(slopes).T
    assert covariance_matrix(*results) == pytest.approx(by_hand, abs=1e-12)
    assert np.diag(covariance_matrix(*results)) == pytest.approx([result.u**2 for result in results], abs=1e-12)


def test_sampled_together_they_are_correlated_as_stated() -> None:
    a, b = number("a"), number("b")
    total, difference = combine(lambda x, y: x + y, a, b), combine(lambda x, y: x - 3.0 * y, a, b)
    samples, _ = sampled([total, difference], trials=TRIALS)
    r = correlation(total, difference)
    assert np.corrcoef(samples)[0, 1] == pytest.approx(r, abs=4.0 * (1.0 - r * r) / math.sqrt(TRIALS))


def test_strangers_and_exact_numbers() -> None:
    assert covariance(number("a"), number("b")) == 0.0
    assert correlation(number("a"), number("b")) == 0.0
    assert math.isnan(correlation(number("a"), Estimate.exactly(1.0, name="value", label="one")))
    assert correlation(number("a"), combine(lambda x: -3.0 * x, number("a"))) == -1.0


def test_one_id_with_two_sets_of_facts_is_refused() -> None:
    with pytest.raises(DataError, match="two different influences"):
        covariance(number("a"), number("a", u=0.2))
