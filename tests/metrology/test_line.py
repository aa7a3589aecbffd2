"""A fitted line: exact sums, joint covariance, refusals."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.line import fitted_line


@given(
    st.lists(st.tuples(st.floats(-10.0, 10.0), st.floats(-10.0, 10.0)), min_size=4, max_size=12).filter(
        lambda points: np.ptp([x for x, _ in points]) > 0.1
    )
)
def test_line_is_that_of_the_normal_equations(points: list[tuple[float, float]]) -> None:
    x, y = (np.array(column) for column in zip(*points, strict=True))
    line = fitted_line("cal", x.tolist(), y.tolist(), label="calibration")
    design = np.column_stack([np.ones_like(x), x])
    inverse = np.linalg.inv(design.T @ design)
    coefficients = inverse @ design.T @ y
    variance = float(((y - design @ coefficients) ** 2).sum()) / (len(x) - 2)
    assert (line.intercept, line.slope) == pytest.approx(coefficients, abs=1e-8)
    assert np.array(line.joint.covariance) == pytest.approx(variance * inverse, rel=1e-6, abs=1e-9)
    assert line.residual_s == pytest.approx(math.sqrt(variance), rel=1e-6, abs=1e-7)


def test_nothing_is_lost_far_from_zero() -> None:
    x = [1e8 + k for k in range(5)]
    line = fitted_line("cal", x, [2.0 * k + 1.0 for k in range(5)], label="calibration")
    assert (line.slope, line.residual_s) == (2.0, 0.0)


def test_whole_numbers_of_numpy_and_fractions_are_exact() -> None:
    # Squares of these abscissae do not fit 64 bits, and thirds are no floats.
    far = np.array([4_000_000_000, 4_000_000_001, 4_000_000_002])
    assert fitted_line("cal", far, far.astype(np.float32) * 0.0 + [1.0, 3.0, 5.0], label="calibration").slope == 2.0
    thirds: list[Any] = [Fraction(k, 3) for k in range(4)]
    assert fitted_line("cal", thirds, [7 * v + 1 for v in thirds], label="calibration").residual_s == 0.0


def test_reading_from_the_line_is_one_term_with_its_dof() -> None:
    line = fitted_line("cal", [0.0, 1.0, 2.0, 3.0, 4.0], [0.1, 1.0, 2.1, 3.0, 3.9], label="calibration")
    intercept, slope = (Estimate.from_influence(i, name="value") for i in line.joint.members())
    predicted = combine(lambda a, b: a + 2.0 * b, intercept, slope)
    # At the mean of the abscissae only the scatter of the mean is left: s/√n.
    assert predicted.u == pytest.approx(line.residual_s / math.sqrt(5.0), rel=1e-12)
    assert predicted.dof == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([1.0, 2.0], [1.0, 2.0], "three points"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], "one ordinate"),
        ([2.0, 2.0, 2.0], [1.0, 2.0, 3.0], "the same"),
        ([1.0, 2.0, math.nan], [1.0, 2.0, 3.0], "value 3 of x of cal = nan: this is not finite"),
        ([1.0, 2.0, 3.0], [1.0, "2.0", 3.0], "value 2 of y of cal = '2.0': this is not a plain number"),
    ],
)
def test_impossible_points_are_refused(x: list[float], y: list[Any], words: str) -> None:
    with pytest.raises(DomainError, match=words):
        fitted_line("cal", x, y, label="calibration")
