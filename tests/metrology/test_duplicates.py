"""Duplicate samples: what samples differ by, apart from their analyses."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from assay import AssayError, DataError, DomainError, SamplingPrecision, sampling_precision

TWO = [[[98.0, 99.0], [103.0, 102.0]], [[97.0, 97.0], [100.0, 101.0]]]


def drawn(targets: int, s_samples: float, s_analyses: float, seed: int) -> list[list[list[float]]]:
    generator = np.random.default_rng(seed)
    samples = generator.normal(0.0, s_samples, (targets, 2, 1))
    found: list[list[list[float]]] = (100.0 + samples + generator.normal(0.0, s_analyses, (targets, 2, 2))).tolist()
    return found


def test_two_targets_by_hand() -> None:
    found = sampling_precision(TWO)
    # Means of samples 98.5, 102.5; 97, 100.5. Mean squares (4² + 3.5²)/2 = 14.125 and (1/2 + 1/2 + 0 + 1/2)/4 = 0.375.
    assert found.mean == pytest.approx(99.625)
    assert found.analysis_s == pytest.approx(math.sqrt(0.375))
    assert found.analysis_dof == 4
    assert found.sampling_s == pytest.approx(math.sqrt((14.125 - 0.375) / 2))
    assert found.sampling_dof == pytest.approx(13.75**2 / (14.125**2 / 2 + 0.375**2 / 4))
    assert found.relative_s == pytest.approx(found.sampling_s / 99.625)
    assert [flag.code for flag in found.flags] == ["few-targets"]


def test_variances_are_right_on_the_average() -> None:
    found = [sampling_precision(drawn(8, 2.0, 1.0, seed)) for seed in range(2000)]
    for variances, expected in (
        ([one.analysis_s**2 for one in found], 1.0),
        # Unbiased before it is cut at zero, which here happens in very few of the runs.
        ([one.sampling_s**2 for one in found], 4.0),
    ):
        assert abs(np.mean(variances) - expected) < 3.5 * np.std(variances) / math.sqrt(len(variances))


def test_where_samples_do_not_differ_a_bound_is_given_and_holds() -> None:
    found = [sampling_precision(drawn(8, 0.0, 1.0, seed)) for seed in range(200)]
    lost = next(one for one in found if one.sampling_s == 0.0)
    assert [flag.code for flag in lost.flags] == ["sampling-not-distinguished"]
    assert lost.sampling_dof == 1.0
    assert lost.sampling_s_below() > 0.0


def test_the_bound_lies_above_the_truth_as_often_as_it_says() -> None:
    held = [sampling_precision(drawn(8, 0.7, 1.0, seed)).sampling_s_below(0.90) >= 0.7 for seed in range(2000)]
    assert abs(np.mean(held) - 0.90) < 3.5 * math.sqrt(0.9 * 0.1 / len(held))


def test_without_scatter_of_the_analyses_the_bound_is_that_of_chi_squared() -> None:
    found = sampling_precision([[[100.0, 100.0], [101.0, 101.0]], [[100.0, 100.0], [99.0, 99.0]]])
    # Mean square 2·0.5 = 1 with 2 degrees of freedom; the 5 % point of chi-squared at 2 is 0.10259 (printed: 0.103).
    assert found.sampling_s_below(0.95) == pytest.approx(math.sqrt(2 * 1.0 / 0.10259 / 2), rel=1e-4)


def test_targets_unlike_are_flagged() -> None:
    found = sampling_precision([[[40.0, 41.0], [42.0, 42.0]], [[97.0, 97.0], [100.0, 101.0]]])
    assert "targets-unlike" in [flag.code for flag in found.flags]


def test_what_is_shown() -> None:
    found = sampling_precision(TWO)
    assert repr(found).startswith("<SamplingPrecision of 2 targets: [few-targets] s between samples 2.6 of 99.6")
    assert "2 targets, 2 samples of each, 2 analyses" in str(found)
    assert "<table" in found._repr_html_()
    assert "tabular" in found._repr_latex_()
    assert isinstance(found, SamplingPrecision)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: sampling_precision([]), DomainError, ["targets", "two targets"]),
        (lambda: sampling_precision(TWO[:1]), DomainError, ["targets", "two targets"]),
        (lambda: sampling_precision([[[1.0, 2.0]], [[1.0, 2.0]]]), DomainError, ["targets", "takes two"]),
        (lambda: sampling_precision([[[1.0], [2.0]], [[1.0], [2.0]]]), DomainError, ["targets", "takes two"]),
        (lambda: sampling_precision([[[1.0, 2.0], [1.0, 2.0]], [[1.0, 2.0]]]), DataError, ["not balanced"]),
        (lambda: sampling_precision([[[1.0, 2.0], [1.0]], [[1.0, 2.0], [1.0, 2.0]]]), DataError, ["not balanced"]),
        (lambda: sampling_precision([[[1.0, -2.0], [1.0, 2.0]], TWO[0]]), DomainError, ["-2.0", "above zero"]),
        (lambda: sampling_precision([[[1.0, math.nan], [1.0, 2.0]], TWO[0]]), DomainError, ["nan", "above zero"]),
        (lambda: sampling_precision(TWO).sampling_s_below(1.0), DomainError, ["level"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)
