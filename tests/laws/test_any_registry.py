"""Quantities of any registry are taken at every door, and what is given back is of the application registry."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pint
import pytest
import uncertainties

from assay import (
    AssayError,
    Balance,
    Burette,
    Cylinder,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Temperature,
    UnitError,
    combine,
    measured_density,
)
from assay.units import read, read_array, read_fraction

FOREIGN = pint.UnitRegistry()
EXACT = pint.UnitRegistry(non_int_type=Decimal)
RATIONAL = pint.UnitRegistry(non_int_type=Fraction)
REGISTRIES = pytest.mark.parametrize(
    "quantity",
    [
        lambda number, unit: FOREIGN.Quantity(float(number), unit),
        lambda number, unit: FOREIGN.Quantity(np.float32(number), unit),
        lambda number, unit: EXACT.Quantity(Decimal(number), unit),
        lambda number, unit: RATIONAL.Quantity(Fraction(number), unit),
        lambda number, unit: pint.get_application_registry().Quantity(float(number), unit),
    ],
    ids=["another", "single precision", "decimal", "rational", "application"],
)
Make = Callable[[str, str], Any]


@REGISTRIES
@pytest.mark.parametrize(
    ("number", "unit", "kind", "inside"),
    [
        ("25.00", "mL", "volume", 0.025),
        ("0.125", "mg", "mass", 0.000125),
        ("12.5", "mmol", "amount", 0.0125),
        ("0.125", "mol/L", "amount concentration", 0.125),
        ("1.25", "g/mL", "density", 1250.0),
        ("20", "min", "time", 1200.0),
        ("0.5", "g/g", "mass fraction", 0.5),
    ],
)
def test_every_kind_is_read_from_any_registry(quantity: Make, number: str, unit: str, kind: str, inside: float) -> None:
    # Single precision has 24 bits: six digits.
    assert read(quantity(number, unit), kind, argument="x") == pytest.approx(inside, rel=1e-6)


def test_temperatures_are_read_from_another_registry() -> None:
    assert read(FOREIGN.Quantity(20.0, "degC"), "temperature", argument="t") == pytest.approx(293.15, rel=1e-12)
    assert read(FOREIGN.Quantity(2.0, "delta_degC"), "temperature difference", argument="t") == pytest.approx(2.0)


def doors(q: Make) -> Iterator[Estimate | float]:
    """Yield what comes out behind each door that takes a written quantity."""
    burette = Burette("B1", capacity=q("50", "mL"), subdivision=q("0.125", "mL"), tolerance=q("0.0625", "mL"))
    yield burette.titre(q("0.5", "mL"), q("24.25", "mL")).volume()
    yield Pipette("P1", capacity=q("10", "mL"), tolerance=q("0.03125", "mL")).volume()
    yield Flask("F1", capacity=q("250", "mL"), tolerance=q("0.25", "mL")).volume()
    yield Cylinder("C1", capacity=q("100", "mL"), subdivision=q("1", "mL"), tolerance=q("0.5", "mL")).largest
    balance = Balance("W1", readability=q("0.125", "mg"), repeatability=q("0.125", "mg"), linearity=q("0.25", "mg"))
    yield balance.by_difference(q("21.5", "g"), q("20.25", "g")).mass(record="r")
    yield Temperature(q("293.5", "K"), half_width=q("1", "K"), day="2026-11-16").difference()
    density = measured_density(
        q("1.125", "g/mL"), half_width=q("0.0625", "g/mL"), temperature=q("293.25", "K"), name="d"
    )
    yield density.estimate
    x = Estimate.from_influence(Influence(id="x", label="x", value=0.125, u=0.001), name="titrant_concentration")
    yield x.probability_below(q("0.125", "mol/L"))
    yield x.conformity(lower=q("62.5", "mmol/L"), guard_band=q("0.5", "mmol/L")).conformance_probability


def text(number: str, unit: str) -> str:
    return f"{number} {unit}"


@REGISTRIES
def test_every_door_takes_quantities_as_it_takes_text(quantity: Make) -> None:
    for from_text, from_quantity in zip(doors(text), doors(quantity), strict=True):
        if isinstance(from_text, Estimate):
            assert (from_quantity.value, from_quantity.u) == pytest.approx((from_text.value, from_text.u), rel=1e-6)
        else:
            assert from_quantity == pytest.approx(from_text, rel=1e-4)  # a probability near one half


@pytest.mark.parametrize(
    ("magnitude", "words"),
    [
        (np.array([25.0, 25.1]), "ndarray"),
        ([25.0], "arrays are read where batches are"),
        (uncertainties.ufloat(25.0, 0.1), "uncertainty in its own argument"),
        (float("nan"), "NaN"),
        (float("inf"), "infinity"),
    ],
)
def test_one_reading_is_one_finite_number(magnitude: object, words: str) -> None:
    with pytest.raises(UnitError, match=words) as caught:
        read(FOREIGN.Quantity(magnitude, "mL"), "volume", argument="titre")
    assert caught.value.argument == "titre"


def test_arrays_are_taken_where_many_are_read() -> None:
    found = read_array(FOREIGN.Quantity(np.array([25.0, np.nan]), "mL"), "volume", argument="final")
    np.testing.assert_allclose(found, [0.025, np.nan])


@pytest.mark.parametrize("registry", [EXACT, RATIONAL], ids=["decimal", "rational"])
def test_floats_are_read_in_a_registry_whose_factors_are_none(registry: pint.UnitRegistry[Any]) -> None:
    """Of itself, pint does not multiply a float with a decimal factor."""
    found = read_array(registry.Quantity(np.array([25.0, np.nan]), "mL"), "volume", argument="final")
    np.testing.assert_allclose(found, [0.025, np.nan], rtol=1e-15)
    assert read(registry.Quantity(25.0, "mL"), "volume", argument="titre") == pytest.approx(0.025, rel=1e-15)
    assert read(registry.Quantity(20.0, "degC"), "temperature", argument="t") == pytest.approx(293.15, rel=1e-15)
    with pytest.raises(UnitError, match="gram is not a unit of volume"):
        read(registry.Quantity(25.0, "g"), "volume", argument="titre")
    with pytest.raises(UnitError, match="gram is not a unit of volume"):
        read_array(registry.Quantity(np.array([25.0]), "g"), "volume", argument="final")


@pytest.mark.parametrize(
    "wrong", [FOREIGN.Quantity(25.0, "g"), FOREIGN.Quantity(25.0, ""), EXACT.Quantity(Decimal(2), "m")]
)
def test_another_dimension_is_refused(wrong: Any) -> None:  # noqa: ANN401  (of any registry)
    with pytest.raises(UnitError, match="not a unit of volume"):
        read(wrong, "volume", argument="titre")
    with pytest.raises(UnitError):
        read_fraction(FOREIGN.Quantity(2.0, "m"), argument="purity")


def test_what_is_given_back_is_of_the_application_registry_also_when_that_was_changed() -> None:
    titre = Estimate.from_influence(Influence(id="t", label="t", value=0.025, u=0.0001), name="titre")
    before = pint.get_application_registry().get()
    mine = pint.UnitRegistry()
    try:
        pint.set_application_registry(mine)
        given = titre.quantity
        assert (given + mine.Quantity(1.0, "mL")).m_as("mL").nominal_value == pytest.approx(26.0)
        assert read(before.Quantity(25.0, "mL"), "volume", argument="titre") == pytest.approx(0.025)
    finally:
        pint.set_application_registry(before)
    assert (titre.quantity + before.Quantity(1.0, "mL")).m_as("mL").std_dev == pytest.approx(0.1)


def test_a_quantity_given_to_a_formula_is_refused_with_the_call_to_write() -> None:
    x = Estimate.from_influence(Influence(id="x", label="x", value=2.0, u=0.1), name="value")
    for wrong in (FOREIGN.Quantity(25.0, "mL"), x.quantity):
        with pytest.raises(AssayError, match="m_as") as caught:
            combine(lambda a, b: a * b, x, wrong)
        assert caught.value.argument == "results"
