"""Balances: weighing by difference, against the sum of squares written out."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assay import AssayError, Balance, DomainError, UnitError, combine


def balance(name: str | None = "W1", repeatability: str = "0.1 mg") -> Balance:
    return Balance(name, readability="0.1 mg", repeatability=repeatability, linearity="0.15 mg")


def test_mass_by_difference() -> None:
    """Linearity ±0.15 mg rectangular, once for each load, and repeatability 0.1 mg, once for each reading."""
    mass = balance().by_difference("60.5450 g", "60.1562 g").mass("r")
    assert mass.value == pytest.approx(0.3888, rel=1e-12)
    assert 1000.0 * mass.u == pytest.approx(math.sqrt(2.0 * 0.15**2 / 3.0 + 2.0 * 0.1**2), rel=1e-12)


def test_the_guides_example_by_its_own_assumptions() -> None:
    """The guide counts linearity alone, ±0.15 mg rectangular twice, for the tare and the gross: 0.12 mg."""
    mass = balance().by_difference("60.5450 g", "60.1562 g").mass("r", repeatability=False)
    assert f"{1000.0 * mass.u:.2f}" == "0.12"


def test_a_repeatability_below_the_rounding_is_raised_to_it() -> None:
    mass = balance(repeatability="0 mg").by_difference("10 g", "9 g").mass("r")
    assert 1000.0 * mass.u == pytest.approx(math.sqrt(2.0 * 0.15**2 / 3.0 + 2.0 * 0.1**2 / 12.0), rel=1e-12)


def test_repeatability_alone() -> None:
    assert balance().by_difference("10 g", "9 g").u_repeatability() == pytest.approx(1e-4 * math.sqrt(2.0), rel=1e-12)


def test_linearity_is_shared_by_two_portions_and_repeatability_is_not() -> None:
    first, second = (balance().by_difference(gross, "9.0000 g") for gross in ("9.5000 g", "9.4000 g"))
    total = combine(lambda a, b: a + b, first.mass("r/1"), second.mass("r/2"))
    assert 1000.0 * total.u == pytest.approx(math.sqrt(2.0 * (2.0 * 0.15) ** 2 / 3.0 + 4.0 * 0.1**2), rel=1e-12)
    difference = combine(lambda a, b: a - b, first.mass("r/1"), second.mass("r/2"))
    assert 1000.0 * difference.u == pytest.approx(math.sqrt(4.0 * 0.1**2), rel=1e-9)


def test_another_balance_is_another_linearity() -> None:
    masses = [
        balance(name).by_difference("10 g", "9 g").mass(f"r/{k}", repeatability=False) for k, name in enumerate("AB")
    ]
    assert combine(lambda a, b: a + b, *masses).u == pytest.approx(math.sqrt(2.0) * masses[0].u, rel=1e-12)
    nameless = [balance(None).by_difference("10 g", "9 g").mass("r", repeatability=False) for _ in range(2)]
    assert combine(lambda a, b: a + b, *nameless).u == pytest.approx(math.sqrt(2.0) * nameless[0].u, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: balance().by_difference("9.0 g", "10.0 g"), DomainError, ["9.0 g", "10.0 g", "exchanged"]),
        (lambda: balance().by_difference("9.0 g", "9.0 g"), DomainError, ["9.0 g", "not above the tare"]),
        (lambda: balance().by_difference("9.0 mL", "8 g"), UnitError, ["9.0 mL", "not a unit of mass", "'0.1234 g'"]),
        (lambda: balance().by_difference("9.0", "8 g"), UnitError, ["gross", "no unit", "'0.1234 g'"]),
        (lambda: balance().by_difference("9,0 g", "8 g"), UnitError, ["9,0 g", "'9.0 g'"]),
        (lambda: balance().by_difference("nan g", "8 g"), UnitError, ["nan g", "NaN"]),
        (lambda: balance(repeatability="-0.1 mg"), DomainError, ["repeatability", "not negative"]),
        (
            lambda: Balance("W", readability="0 mg", repeatability="1 mg", linearity="1 mg"),
            DomainError,
            ["readability", "above zero"],
        ),
        (
            lambda: Balance("W", readability="0.1 Mg", repeatability="1 mg", linearity="1 mg"),
            UnitError,
            ["0.1 Mg", "Did you mean mg"],
        ),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)
