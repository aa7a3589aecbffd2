"""Digits of a chain: as few as it takes for every printed step to give its printed result."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.display.digits import Computed, Number, settle


@pytest.mark.parametrize(
    ("value", "u", "computed", "printed"),
    [
        (0.02495, 0.0, False, "0.02495"),  # as it was read
        (15.999, 0.00058, False, "15.999"),
        (6.0, 0.0, False, "6"),
        (-0.5, 0.0, False, "-0.5"),
        (1.0 / 3.0, 0.0, False, "0.33333"),
        (0.98 + 1e-15, 0.0, False, "0.98000"),
        (0.024966666666, 4.4e-5, True, "0.024967"),  # to two digits of u, the rule of the house
        (110.6571, 0.35, True, "110.66"),
        (25.0, 0.043, True, "25"),  # exactly so
        (0.0, 2.9e-5, True, "0"),
        (1.52345e-7, 2.0e-9, True, "1.523e-07"),
        (2.512345e9, 1.0e7, True, "2.512e+09"),
        (0.125, 0.1, True, "0.125"),  # half way between two places: not rounded there
    ],
)
def test_a_number_is_first_printed_as_it_was_given_or_as_well_as_it_is_known(
    value: float,
    u: float,
    computed: bool,  # noqa: FBT001  (a column of the table)
    printed: str,
) -> None:
    assert Number(value, u, computed=computed).printed == printed


def difference(values: Sequence[float]) -> float:
    return values[0] - values[1]


def test_what_a_later_step_needs_is_printed_longer() -> None:
    """A small difference of large numbers needs their last digits, though u is shown by fewer."""
    large, near = Number(100.123456789123, 0.01), Number(99.987654321987, 0.01)
    result = Number(large.value - near.value, 1e-6, computed=True)
    settle([Computed(function=difference, numbers=[large, near], slopes=[1.0, -1.0], result=result)])
    assert result.printed == "0.1358025"
    assert Decimal(large.printed) - Decimal(near.printed) == pytest.approx(Decimal(result.printed), abs=Decimal("5e-8"))
    assert len(large.printed) < 14


@given(
    values=st.lists(st.floats(1e-3, 1e3), min_size=3, max_size=3),
    u=st.lists(st.sampled_from([0.0, 1e-9, 1e-5, 1e-2, 1.0]), min_size=5, max_size=5),
)
def test_every_printed_step_gives_its_printed_result(values: list[float], u: list[float]) -> None:
    a, b, c = (Number(value, one) for value, one in zip(values, u, strict=False))
    product = Number(a.value * b.value, u[3], computed=True)
    ratio = Number(product.value * product.value / (c.value + a.value), u[4], computed=True)

    def squared(given_values: Sequence[float]) -> float:
        return given_values[0] ** 2 / (given_values[1] + given_values[2])

    below = c.value + a.value
    steps = [
        Computed(function=lambda v: v[0] * v[1], numbers=[a, b], slopes=[b.value, a.value], result=product),
        Computed(
            function=squared,
            numbers=[product, c, a],
            slopes=[2.0 * product.value / below, -ratio.value / below, -ratio.value / below],
            result=ratio,
        ),
    ]
    settle(steps)
    for step in steps:
        found = Decimal(step.function([float(number.printed) for number in step.numbers]))
        last = Decimal(step.result.printed)
        assert found.quantize(last) == last
