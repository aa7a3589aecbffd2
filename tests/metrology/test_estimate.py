"""Estimates: evaluated when built, immutable, and right or refused whatever function combines them."""

from __future__ import annotations

import copy
import dataclasses
import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.kernels.dilution import dilution_factor_from_volumes
from assay.kernels.titration import titrant_concentration_from_standard
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine, evaluate
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint


def number(id_: str, value: float, u: float, *, dof: float = math.inf, name: str = "value") -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_.upper(), value=value, u=u, dof=dof), name=name)


A = number("a", 2.0, 0.03)
B = number("b", 5.0, 0.04)


# ----------------------------------------------------------------------------------------------------------- combining
def test_a_product_by_hand() -> None:
    product = combine(lambda x, y: x * y, A, B, label="product", unit="g")
    assert (product.value, product.unit, product.label) == (10.0, "g", "product")
    assert product.sensitivities == {"a": 5.0, "b": 2.0}
    assert product.u == pytest.approx(math.hypot(5.0 * 0.03, 2.0 * 0.04), rel=1e-15)
    assert product.relative_u == pytest.approx(0.017, rel=1e-12)


def test_what_is_shared_is_counted_once() -> None:
    assert combine(lambda x, y: x / y, A, A).u == 0.0
    assert combine(lambda x, y: x + y, A, A).u == pytest.approx(0.06, rel=1e-15)
    again = number("a", 2.0, 0.03)  # the same facts, another object
    assert combine(lambda x, y: x - y, A, again).u == 0.0


def test_a_chain_is_the_same_as_one_step() -> None:
    chain = combine(lambda p, x: p / x, combine(lambda x, y: x * y, A, B), A)
    assert chain.value == 5.0
    assert chain.u == pytest.approx(0.04, rel=1e-14)


def test_plain_numbers_are_exact() -> None:
    assert combine(lambda x, k: x * k, A, 3).u == pytest.approx(0.09, rel=1e-15)
    assert Estimate.exactly(3, name="equivalents", label="z").u == 0.0


@pytest.mark.parametrize("value", [2, np.float32(2.0), np.int64(2)])
def test_a_value_that_is_no_python_float_keeps_its_uncertainty(value: float) -> None:
    assert combine(lambda x: 3.0 * x, number("whole", value, 0.1)).u == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("function", "remedy"),
    [
        (lambda x, y: math.exp(x) * y, "numpy.exp"),
        (lambda x, y: 2.0 * x if x > y else y, "branch"),
        (min, "branch"),
        (lambda x, y: np.where(x > y, x, y), "branch"),
        (lambda x, y: round(x / y, 2), "rounding"),
        (lambda x, y: x // y, "rounding"),
        (lambda *x: x, "one number"),
        (lambda *_: None, "one number"),
        (lambda x, _: np.array([1.0, 2.0]) * x, "one number"),
        (lambda x, y: np.array([x, y]), "one number"),
    ],
)
def test_a_function_that_cannot_be_followed_is_refused(function: Callable[..., Any], remedy: str) -> None:
    with pytest.raises(DomainError) as caught:
        combine(function, A, B)
    assert remedy in str(caught.value)


ZERO = number("zero", 0.0, 0.01)
NEGATIVE = number("negative", -8.0, 0.01)


@pytest.mark.parametrize(
    ("function", "operand"),
    [
        (lambda x: 1.0 / x, ZERO),
        (lambda x: 1.0 / (x - x), A),
        (np.log, ZERO),
        (np.log, NEGATIVE),
        (np.sqrt, NEGATIVE),
        (lambda x: x ** (1 / 3), NEGATIVE),
        (lambda x: np.exp(1000.0 * x), A),
        (lambda x: x**4000, A),
        # A value, but no slope: u would be infinite, undefined or, of all things, zero.
        (np.sqrt, ZERO),
        (lambda x: x**0.5, ZERO),
        (abs, ZERO),
        (lambda x: np.hypot(x, 0.0), ZERO),
    ],
)
def test_no_value_or_no_slope_is_an_error(function: Callable[..., Any], operand: Estimate) -> None:
    with pytest.raises(DomainError) as caught:
        combine(function, operand)
    assert caught.value.remedy


@pytest.mark.parametrize("operand", [math.nan, math.inf, "2.0 mL", None, 1j])
def test_an_operand_that_is_no_finite_number_is_refused(operand: object) -> None:
    with pytest.raises(DomainError):
        combine(lambda x, y: x + y, A, operand)


# ---------------------------------------------------------------------------------------------------------- evaluating
def test_the_range_beside_the_kernel_is_checked() -> None:
    taken = number("taken", 0.0, 1e-5, name="taken_volume")
    with pytest.raises(DomainError) as caught:
        evaluate(
            dilution_factor_from_volumes, name="dilution_factor", label="F", taken_volume=taken, made_up_volume=0.25
        )
    assert (caught.value.argument, caught.value.given) == ("TAKEN", 0.0)
    assert caught.value.expected == "above zero L"
    assert caught.value.remedy


def test_a_blank_equal_to_the_titre_is_told_in_words() -> None:
    with pytest.raises(DomainError, match="titrant") as caught:
        evaluate(
            titrant_concentration_from_standard,
            name="titrant_concentration",
            label="titrant",
            standard_amount=1e-4,
            equivalents=6.0,
            titre=0.025,
            blank=0.025,
        )
    assert caught.value.remedy


def test_one_id_with_two_sets_of_facts_is_refused_naming_both() -> None:
    for other in (number("a", 2.0, 0.05), number("a", 2.1, 0.03), number("a", 2.0, 0.03, dof=4.0)):
        with pytest.raises(DataError) as caught:
            combine(lambda x, y: x + y, A, other)
        assert caught.value.given == "a"
        assert "u 0.03" in str(caught.value)
        assert f"value {other.value:.9g}, u {other.u:.6g}" in str(caught.value)
    with pytest.raises(DataError, match="two different influences"):
        evaluate(
            dilution_factor_from_volumes,
            name="dilution_factor",
            label="F",
            taken_volume=number("v", 0.01, 1e-5),
            made_up_volume=number("v", 0.25, 1e-5),
        )


def test_one_joint_id_with_two_sets_of_facts_is_refused() -> None:
    def member(first: str) -> Estimate:
        joint = Joint(id="fit", label="fit", member_ids=(first,), values=(1.0,), covariance=((0.01,),))
        return Estimate.from_influence(joint.members()[0], name="value")

    with pytest.raises(DataError, match="fit"):
        combine(lambda x, y: x + y, member("fit/slope"), member("fit/intercept"))


def test_flags_come_with_the_operands_and_are_accepted_by_name() -> None:
    flagged = A.flagged(Flag(code="rough", message="read in a hurry", blocking=True))
    result = combine(lambda x, y: x + y, flagged, B)
    assert [flag.code for flag in result.flags] == ["rough"]
    accepted = result.accepting("rough", because="repeated later")
    assert accepted.flags[0].accepted == "repeated later"
    assert result.flags[0].accepted == ""
    assert "[!rough]" in repr(result)
    assert "[rough]" in repr(accepted)


def test_intermediates_are_named() -> None:
    factor = evaluate(
        dilution_factor_from_volumes,
        name="dilution_factor",
        label="F",
        taken_volume=number("p", 0.01, 1e-5),
        made_up_volume=0.25,
    )
    assert {name: estimate.label for name, estimate in factor.intermediates.items()} == {"taken_volume": "P"}
    assert [node.label for node in factor.walk()] == ["P", "F"]


# ------------------------------------------------------------------------------------------------------------- objects
def test_nothing_can_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        A.value = 3.0  # type: ignore[misc]
    with pytest.raises(TypeError):
        A.sensitivities["a"] = 0.0  # type: ignore[index]
    with pytest.raises(TypeError):
        A.influences["b"] = B.influences["b"]  # type: ignore[index]


def test_results_are_not_ordered() -> None:
    with pytest.raises(TypeError):
        A < B  # type: ignore[operator]  # noqa: B015


def test_shown_by_the_rounding_rule() -> None:
    assert repr(A) == "<Estimate 'A': 2.000, u = 0.030, dof = ∞>"
    assert str(combine(lambda x: x, A, label="sum", unit="g")) == "sum: 2.000 g, u = 0.030 g, dof = ∞"


@pytest.mark.parametrize(
    "result",
    [A, combine(lambda x, y: x * y, A, B), combine(np.add, A, number("n", 1.0, 0.2, dof=3.0))],
    ids=["influence", "lambda", "numpy function"],
)
def test_pickled_it_is_all_but_the_kernel(result: Estimate) -> None:
    copied = pickle.loads(pickle.dumps(result))  # noqa: S301  (made on this line)
    assert (copied.name, copied.label, copied.unit) == (result.name, result.label, result.unit)
    assert (copied.value, copied.u, copied.dof) == (result.value, result.u, result.dof)
    assert copied.kernel is None
    assert [line.contribution for line in copied.budget().lines] == [
        line.contribution for line in result.budget().lines
    ]
    assert combine(lambda x, y: x - y, result, copied).u == 0.0


def test_pickled_it_samples_its_linear_form_and_says_so() -> None:
    result = combine(lambda x: x**2, number("wide", 1.0, 0.3), label="squared")
    copied = pickle.loads(pickle.dumps(result))  # noqa: S301  (made on this line)
    assert copied.monte_carlo(trials=1000).linear_form_of == ("squared",)


def test_copied_it_keeps_the_kernel() -> None:
    result = combine(lambda x: x**2, number("wide", 1.0, 0.3), label="squared")
    for copied in (copy.copy(result), copy.deepcopy(result)):
        assert copied.monte_carlo(trials=1000) == result.monte_carlo(trials=1000)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Estimate.from_influence(Influence(id="v", label="v", value=1.0, u=0.1), name="volumen"),
        lambda: Estimate.exactly(1.0, name="volumen", label="v"),
    ],
)
def test_a_quantity_that_the_glossary_lacks_is_refused_with_the_nearest(make: Callable[[], Estimate]) -> None:
    with pytest.raises(DataError, match=r"'volume'.*named 'value'") as caught:
        make()
    assert (caught.value.argument, caught.value.given) == ("name", "volumen")
