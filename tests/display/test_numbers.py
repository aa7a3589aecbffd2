"""Rounding for display: two digits of the uncertainty, the value to match, half to even; nothing else is rounded."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay.display.numbers import between, degrees, fixed, measured, places_of, plus_minus, significant, value_and_u
from assay.flags import Flag


@pytest.mark.parametrize(
    ("u", "places"),
    [
        (0.0123, 3),
        (0.01, 3),
        (0.0998, 2),  # rounds up to 0.10
        (0.0994, 3),  # rounds down to 0.099
        (0.0995, 2),  # half to even: 0.0995 is 0.10
        (0.995, 1),
        (0.00995, 3),
        (9.95, 0),
        (9.96, 0),
        (1.0, 1),
        (10.0, 0),
        (99.4, 0),
        (99.6, -1),
        (123.0, -1),
        (1234.0, -2),
        (1e-300, 301),
        (1e300, -299),
    ],
)
def test_places_show_two_digits(u: float, places: int) -> None:
    assert places_of(u) == places


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_without_uncertainty_there_are_no_places(u: float) -> None:
    assert places_of(u) is None


@given(st.floats(1e-30, 1e30), st.integers(1, 4))
def test_always_as_many_digits_as_asked(u: float, digits: int) -> None:
    places = places_of(u, digits)
    assert places is not None
    shown = Decimal(fixed(u, places))
    assert len(str(int(shown.scaleb(places)))) == digits
    assert abs(shown - Decimal(repr(u))) <= Decimal(5).scaleb(-places - 1)


@given(st.integers(10, 99), st.integers(-12, 12))
def test_ties_too_have_two_digits(digits: int, exponent: int) -> None:
    u = float(f"{digits}5e{exponent}")
    places = places_of(u)
    assert places is not None
    assert len(str(int(Decimal(fixed(u, places)).scaleb(places)))) == 2


@pytest.mark.parametrize(
    ("value", "places", "shown"),
    [
        (2.345, 2, "2.34"),
        (2.355, 2, "2.36"),
        (2.5, 0, "2"),
        (3.5, 0, "4"),
        (-2.5, 0, "-2"),
        (0.1, 3, "0.100"),
        (1234.5, -2, "1200"),
        (1250.0, -2, "1200"),
        (1350.0, -2, "1400"),
        (49.0, -2, "0"),
        (1e22, 0, "10000000000000000000000"),
        (1e30, 0, "1000000000000000000000000000000"),
        (1.0, 30, "1.000000000000000000000000000000"),
        (-0.001, 2, "0.00"),
        (-0.0, 1, "0.0"),
        (math.inf, 2, "∞"),
        (-math.inf, 2, "-∞"),
        (math.nan, 2, "undefined"),
    ],
)
def test_half_goes_to_even_at_any_place(value: float, places: int, shown: str) -> None:
    assert fixed(value, places) == shown


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        # JCGM 100:2008, 7.2.6: y = 10.057 62 Ω with u = 27 mΩ is given as 10.058 Ω (from memory).
        (10.05762, 0.027, ("10.058", "0.027")),
        (0.1021362, 0.0001005, ("0.10214", "0.00010")),
        (12345.6, 123.0, ("12350", "120")),
        (1.0, 0.995, ("1.0", "1.0")),
        (1.0, 1e-30, ("1.0000000000000000000000000000000", "0.0000000000000000000000000000010")),
        (6.0, 0.0, ("6", "0")),
        (1.5, math.inf, ("1.5", "∞")),
        (math.nan, math.nan, ("nan", "undefined")),
    ],
)
def test_the_value_is_rounded_to_match(value: float, u: float, shown: tuple[str, str]) -> None:
    assert value_and_u(value, u) == shown


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.0, "0"),
        (0.012345, "0.012"),
        (-0.012345, "-0.012"),
        (12345.0, "12000"),
        (0.0000012345, "1.2e-06"),
        (math.inf, "∞"),
        (math.nan, "undefined"),
    ],
)
def test_significant(value: float, shown: str) -> None:
    assert significant(value) == shown


def test_intervals_to_two_digits_of_their_half_width() -> None:
    assert between(0.1019351, 0.1023372) == ("0.10194", "0.10234")
    assert between(1.0, 1.0) == ("1", "1")


def test_plus_minus() -> None:
    assert plus_minus(0.1021362, 0.000201, "mol/L") == "(0.10214 ± 0.00020) mol/L"
    assert plus_minus(6.0, 0.12, "1") == "(6.00 ± 0.12)"


@pytest.mark.parametrize(("dof", "shown"), [(math.inf, "∞"), (1e7, "∞"), (2.0, "2"), (16.75, "16.8")])
def test_degrees_of_freedom(dof: float, shown: str) -> None:
    assert degrees(dof) == shown


@dataclass(frozen=True)
class Shown:
    label: str = "titre"
    value: float = 0.02435
    u: float = 0.00002
    unit: str = "L"
    dof: float = 2.0
    flags: tuple[Flag, ...] = ()


def test_one_line_for_a_number_with_its_flags_first() -> None:
    assert measured(Shown()) == "0.024350 L, u = 0.000020 L, dof = 2"
    assert measured(Shown(unit="1"), kind="Estimate") == "<Estimate 'titre': 0.024350, u = 0.000020, dof = 2>"
    doubt = Flag(code="rough", message="m")
    block = Flag(code="void", message="m", blocking=True)
    accepted = Flag(code="old", message="m", blocking=True, accepted="why")
    assert measured(Shown(flags=(doubt, block, accepted))).startswith("[rough] [!void] [old] 0.024350 L")
