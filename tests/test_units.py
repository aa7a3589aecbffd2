"""The unit door: one decimal number with a point, then a unit; the rest is refused with what to write instead."""

from __future__ import annotations

import contextlib
import math
import time
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st

from assay.errors import UnitError
from assay.units import INTERNAL, kind_of, quantity, read, read_fraction, read_in, read_with_step


# -------------------------------------------------------------------------------------------------------- what is read
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("25.00 mL", "volume", 0.025),
        ("24.35 mL", "volume", 0.02435),
        ("25.00mL", "volume", 0.025),
        ("  25.00   mL\n", "volume", 0.025),
        ("+25 mL", "volume", 0.025),
        ("-0.05 mL", "volume", -0.00005),
        ("1e3 mL", "volume", 1.0),
        ("2.5E-2 L", "volume", 0.025),
        ("250 µL", "volume", 0.00025),  # micro sign
        ("250 μL", "volume", 0.00025),  # Greek mu
        ("25 cm3", "volume", 0.025),
        ("25 cm^3", "volume", 0.025),
        ("1 dm3", "volume", 1.0),
        ("0.3888 g", "mass", 0.3888),
        ("388.8 mg", "mass", 0.3888),
        ("1 kg", "mass", 1000.0),
        ("12.5 mmol", "amount", 0.0125),
        ("0.1 mol/L", "amount concentration", 0.1),
        ("0.1 mol/dm3", "amount concentration", 0.1),
        ("0.1 mol L-1", "amount concentration", 0.1),
        ("0.1 mol dm-3", "amount concentration", 0.1),
        ("0.1 mol·dm-3", "amount concentration", 0.1),
        ("150 g/L", "mass concentration", 150.0),
        ("150 mg/mL", "mass concentration", 150.0),
        ("20 min", "time", 1200.0),
        ("2 h", "time", 7200.0),
        ("1.5 day", "time", 129_600.0),
        ("20 °C", "temperature", 293.15),
        ("20.5°C", "temperature", 293.65),
        ("-5 °C", "temperature", 268.15),
        ("20 degC", "temperature", 293.15),
        ("293.15 K", "temperature", 293.15),
        ("99.95 % w/w", "mass fraction", 0.9995),
        ("0.9995 g/g", "mass fraction", 0.9995),
        ("999.5 mg/g", "mass fraction", 0.9995),
        ("999.5 g/kg", "mass fraction", 0.9995),
    ],
)
def test_what_a_bench_writes(text: str, kind: str, value: float) -> None:
    assert read(text, kind, argument="x") == value


@given(st.decimals(-10_000, 10_000, places=4), st.sampled_from(["mL", "L", "µL"]))
def test_the_number_is_the_float_nearest_to_what_was_written(number: Decimal, unit: str) -> None:
    per_litre = {"L": 1, "mL": 1_000, "µL": 1_000_000}[unit]
    # float() of a fraction is correctly rounded.
    assert read(f"{number} {unit}", "volume", argument="x") == float(Fraction(number) / per_litre)


@given(
    st.from_regex(r"\A[+-]?(0|[1-9][0-9]{0,8})(\.[0-9]{1,8})?([eE][+-]?[0-9]{1,2})?\Z"),
)
def test_every_spelling_of_a_number_is_read_as_it_is_written(spelled: str) -> None:
    assert read(f"{spelled} mL", "volume", argument="x") == float(Fraction(Decimal(spelled)) / 1000)


@pytest.mark.parametrize(
    ("text", "kind", "step"),
    [
        ("25.00 mL", "volume", 1e-5),
        ("25 mL", "volume", 1e-3),
        ("24.35 mL", "volume", 1e-5),
        ("2.5e1 mL", "volume", 1e-3),
        ("0.1234 g", "mass", 1e-4),
        ("20.5 °C", "temperature", 0.1),
        ("99.95 % w/w", "mass fraction", 1e-4),
    ],
)
def test_the_step_of_the_last_digit(text: str, kind: str, step: float) -> None:
    assert read_with_step(text, kind, argument="x").step == pytest.approx(step, rel=1e-14)


# ----------------------------------------------------------------------------------------------------- what is refused
REFUSED: list[tuple[Any, str, str, str]] = [
    # what was written, kind, a part of the problem, a part of the remedy
    ("25,00 mL", "volume", "decimal comma", "'25.00 mL'"),
    ("-25,5 mL", "volume", "decimal comma", "'-25.5 mL'"),
    ("1,000.5 mL", "volume", "thousands", "'1000.5 mL'"),
    ("1,234,567 mL", "volume", "thousands", "'1234567 mL'"),
    ("25.00 ± 0.03 mL", "volume", "uncertainty", "own argument"),
    ("25.00±0.03 mL", "volume", "uncertainty", "own argument"),
    ("25.00 +/- 0.03 mL", "volume", "uncertainty", "own argument"),
    ("25.00(3) mL", "volume", "uncertainty", "own argument"),
    ("(25.00 ± 0.03) mL", "volume", "no number", "'25.00 mL'"),
    ("25.00 ML", "volume", "not what a bench means", "mL (ML is a million litres)"),
    ("25 Ml", "volume", "not what a bench means", "mL"),
    ("5 MMOL", "amount", "not what a bench means", "mmol"),
    ("5 Mg", "mass", "not what a bench means", "a million grams"),
    ("5 gr", "mass", "not what a bench means", "g?"),
    ("0.1 M", "amount concentration", "not what a bench means", "mol/L"),
    ("0.1 N", "amount concentration", "not what a bench means", "equivalent"),
    ("100 mM", "amount concentration", "not what a bench means", "mmol/L"),
    ("0.1 molar", "amount concentration", "not what a bench means", "mol/L"),
    ("nan mL", "volume", "no readings", "'25.00 mL'"),
    ("NaN mL", "volume", "no readings", "'25.00 mL'"),
    ("inf mL", "volume", "no readings", "'25.00 mL'"),
    ("-Infinity L", "volume", "no readings", "'25.00 mL'"),
    ("∞ mL", "volume", "no number", "'25.00 mL'"),
    ("1e999 mL", "volume", "too large", "'25.00 mL'"),
    ("1" * 400 + " mL", "volume", "too large", "'25.00 mL'"),
    ("9**9**9 mL", "volume", "expression", "one number"),
    ("2^3 mL", "volume", "expression", "one number"),
    ("10*3 mL", "volume", "expression", "one number"),
    ("1/2 mL", "volume", "expression", "one number"),
    ("25-3 mL", "volume", "expression", "one number"),
    ("25 + 3 mL", "volume", "expression", "one number"),
    ("5×10^-3 L", "volume", "expression", "one number"),
    ("1 000 mL", "volume", "more than one number", "one number"),
    ("1\u202f000 mL", "volume", "more than one number", "one number"),
    ("1'000 mL", "volume", "more than one number", "one number"),
    ("1_000 mL", "volume", "more than one number", "one number"),
    ("25.0.0 mL", "volume", "more than one number", "one number"),
    ("25. mL", "volume", "more than one number", "one number"),
    ("25² mL", "volume", "more than one number", "one number"),
    (".5 mL", "volume", "begins with a digit", "0.5"),
    ("-.5 mL", "volume", "begins with a digit", "-0.5"),
    ("−5 mL", "volume", "dash", "'25.00 mL'"),
    ("–5 mL", "volume", "dash", "'25.00 mL'"),
    ("", "volume", "nothing is written", "'25.00 mL'"),
    (" \t\n", "volume", "nothing is written", "'25.00 mL'"),
    ("mL", "volume", "no number", "'25.00 mL'"),
    ("about 25 mL", "volume", "no number", "'25.00 mL'"),
    ("- 5 mL", "volume", "no number", "'25.00 mL'"),
    ("\uff12\uff15 mL", "volume", "no number", "'25.00 mL'"),  # full-width digits
    ("\u0662\u0665 mL", "volume", "no number", "'25.00 mL'"),  # Arabic-Indic digits
    ("25", "volume", "bare number", "'25.00 mL'"),
    (25, "volume", "bare number", "'25.00 mL'"),
    (25.0, "volume", "bare number", "'25.00 mL'"),
    (True, "volume", "bare number", "'25.00 mL'"),
    (None, "volume", "NoneType is not a quantity", "'25.00 mL'"),
    (b"25 mL", "volume", "bytes is not a quantity", "'25.00 mL'"),
    (["25 mL"], "volume", "list is not a quantity", "'25.00 mL'"),
    (Decimal(25), "volume", "Decimal is not a quantity", "'25.00 mL'"),
    ("25.00 g", "volume", "not a unit of volume", "another argument"),
    ("25.00 mL", "mass", "not a unit of mass", "another argument"),
    ("25 mLL", "volume", "not a unit of volume", "Did you mean 'mL'"),
    ("25 mL mL", "volume", "not a unit of volume", "mL"),
    ("25 furlong", "volume", "not a unit of volume", "mL"),
    ("25 m L", "volume", "not a unit of volume", "mL"),
    ("25 mL; rm", "volume", "not a unit of volume", "mL"),
    ("25 __import__", "volume", "more than one number", "one number"),
    ("25 mL" + "x" * 10_000, "volume", "not a unit of volume", ""),
    ("1,000 mL", "volume", "thousands", "'1000 mL' or '1.000 mL'"),
    ("20 C", "temperature", "not a unit of temperature", "°C"),
    ("68 °F", "temperature", "not a unit of temperature", "°C"),
    ("68 degF", "temperature", "not a unit of temperature", "°C"),
    ("20 celsius", "temperature", "not a unit of temperature", "°C"),
    ("-300 °C", "temperature", "below absolute zero", ""),
    ("-1 K", "temperature", "below absolute zero", ""),
    ("99.95 %", "mass fraction", "does not say per what", "% w/w"),
    ("5 ppm", "mass fraction", "does not say per what", "mg/kg"),
    ("0.5 rad", "mass fraction", "not a unit of mass fraction", "g/g"),
    ("3 dB", "mass fraction", "not a unit of mass fraction", "g/g"),
    ("999 mL/L", "mass fraction", "not a unit of mass fraction", "g/g"),
    ("0.9 mol/mol", "mass fraction", "not a unit of mass fraction", "g/g"),
]


@pytest.mark.parametrize(("written", "kind", "problem", "remedy"), REFUSED, ids=lambda value: repr(value)[:24])
def test_what_is_refused_says_why_and_what_to_write(written: object, kind: str, problem: str, remedy: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(written, kind, argument="capacity")
    error = caught.value
    assert error.argument == "capacity"
    assert error.given == written
    assert problem in error.problem
    assert remedy in f"{error.expected} {error.remedy}"
    assert error.remedy


@pytest.mark.parametrize("text", ["9**9**9 mL", "1" + "e1" * 20_000, "1 " + "a/" * 20_000, "1 " + "m" * 100_000])
def test_no_text_keeps_the_reader_busy(text: str) -> None:
    started = time.perf_counter()
    with pytest.raises(UnitError):
        read(text, "volume", argument="x")
    assert time.perf_counter() - started < 1.0


@given(st.text(max_size=12), st.sampled_from(sorted(INTERNAL)))
def test_any_text_is_a_finite_number_or_a_refusal(text: str, kind: str) -> None:
    with contextlib.suppress(UnitError):
        assert math.isfinite(read(text, kind, argument="x"))


# ------------------------------------------------------------------------------------------------------ pint quantities
def test_quantities_of_any_registry_are_read() -> None:
    for registry in (pint.get_application_registry(), pint.UnitRegistry()):
        assert read(registry.Quantity(25.0, "mL"), "volume", argument="x") == pytest.approx(0.025, rel=1e-15)
        assert read(registry.Quantity(20.0, "degC"), "temperature", argument="x") == pytest.approx(293.15)
        assert read(registry.Quantity(25, "L"), "volume", argument="x") == 25.0
        assert read_with_step(registry.Quantity(25.0, "mL"), "volume", argument="x").step == 0.0


def test_quantities_that_cannot_be_a_reading_are_refused() -> None:
    registry = pint.UnitRegistry()
    wrong: list[tuple[Any, str]] = [
        (registry.Quantity(25.0, "g"), "not a unit of volume"),
        (registry.Quantity(25.0), "not a unit of volume"),
        (registry.Quantity(math.nan, "mL"), "no readings"),
        (registry.Quantity(math.inf, "mL"), "no readings"),
        (registry.Quantity([25.0, 26.0], "mL"), "not ndarray"),
        (registry.Quantity(uncertainties.ufloat(25.0, 0.1), "mL"), "plain number"),
    ]
    for written, problem in wrong:
        with pytest.raises(UnitError, match=problem) as caught:
            read(written, "volume", argument="capacity")
        assert caught.value.argument == "capacity"


def test_the_registry_is_left_as_it_was() -> None:
    registry = pint.get_application_registry().get()
    before = (len(registry._units), registry.autoconvert_offset_to_baseunit)
    read("20 °C", "temperature", argument="x")
    with pytest.raises(UnitError):
        read("3 blob", "volume", argument="x")
    assert (len(registry._units), registry.autoconvert_offset_to_baseunit) == before


# --------------------------------------------------------------------------------------------------------------- others
@pytest.mark.parametrize(
    ("unit", "kind"),
    [
        ("mL", "volume"),
        ("mg", "mass"),
        ("mmol", "amount"),
        ("mol/L", "amount concentration"),
        ("g/L", "mass concentration"),
        ("h", "time"),
        ("K", "temperature"),
        ("g/g", "mass fraction"),
        ("%", ""),
        ("ppm", ""),
        ("furlong", ""),
        ("", ""),
    ],
)
def test_kind_of_a_unit(unit: str, kind: str) -> None:
    assert kind_of(unit) == kind


def test_fractions() -> None:
    assert read_fraction("99.95 % w/w", argument="purity") == 0.9995
    with pytest.raises(UnitError, match="bare number"):
        read_fraction("0.9995", argument="purity")


def test_numbers_leave_as_quantities_of_the_application_registry() -> None:
    out = quantity(0.025, "L")
    assert out.m_as("mL") == pytest.approx(25.0)
    assert quantity(6.0, "1").dimensionless
    assert quantity(1.0, "L") + pint.get_application_registry().Quantity(1.0, "mL") == quantity(1.001, "L")


@pytest.mark.parametrize(
    ("written", "unit", "expected"),
    [
        ("80 g/L", "g/L", 80.0),
        ("80 mg/mL", "g/L", 80.0),
        ("0.35 % w/w", "g/(100 g)", 0.35),
        ("3.5 g/kg", "g/(100 g)", 0.35),
        ("3.5 g/kg", "mg/kg", 3500.0),
        ("12 % w/v", "g/(100 mL)", 12.0),
        ("120 g/L", "g/(100 mL)", 12.0),
        ("12 g/(100 mL)", "g/(100 mL)", 12.0),
        ("99.9 % w/w", "g/g", 0.999),
        ("13.6 mm2/s", "mm2/s", 13.6),
        ("0.95", "1", 0.95),
        (0.95, "1", 0.95),
        (2, "1", 2.0),
        (pint.UnitRegistry().Quantity(5.0, "mg/L"), "g/L", 0.005),
        (pint.UnitRegistry().Quantity(5.0, "g/kg"), "g/(100 g)", 0.5),
    ],
)
def test_a_quantity_in_the_unit_of_a_result(written: object, unit: str, expected: float) -> None:
    assert read_in(written, unit, argument="limit") == pytest.approx(expected, rel=1e-14)


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("80", "g/L"),
        (80.0, "g/L"),
        ("80 mL", "g/L"),
        ("8 %", "g/(100 g)"),
        ("8 ppm", "mg/kg"),
        ("8 mg/L", "mg/kg"),
        ("8 % w/v", "g/(100 g)"),
        ("1 M", "mol/L"),
        ("20 °C", "K"),
        ("0.5 g", "1"),
        ("8,5 g/L", "g/L"),
        (math.nan, "1"),
        (math.inf, "1"),
        (True, "1"),
        (None, "1"),
        (None, "g/L"),
        (pint.UnitRegistry().Quantity(5.0, "mol"), "g/L"),
    ],
)
def test_what_is_no_quantity_in_the_unit_of_a_result_is_refused(written: object, unit: str) -> None:
    with pytest.raises(UnitError) as refused:
        read_in(written, unit, argument="limit")
    assert refused.value.argument == "limit"
