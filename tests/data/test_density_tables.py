"""Densities and expansion coefficients: as printed, from where, and in the order that physics asks for."""

from __future__ import annotations

import csv
import itertools
from decimal import Decimal

import numpy as np
import pytest

from assay.bench.temperature import LIQUIDS
from assay.data import Row, references, table, text_resource
from assay.substances.species import SPECIES

SOLUTIONS = table("solution_density")
SOLUTES = SOLUTIONS.choices("solute")
HYPOCHLORITE = table("hypochlorite_density")
EXPANSION = table("thermal_expansion")


def printed(name: str) -> dict[tuple[str, ...], dict[str, str]]:
    """Return the lines of a table as text, by their index columns."""
    lines = csv.DictReader(text_resource(f"{name}.csv").splitlines())
    width = len(table(name).columns)
    return {tuple(line.values())[:width]: line for line in lines}


def percent(row: Row) -> float:
    return float(row.index["mass_percent"])


def of(solute: str) -> list[Row]:
    return sorted(SOLUTIONS.select(solute=solute), key=percent)


def quantity(name: str) -> Row:
    return HYPOCHLORITE.find(quantity=name)


def water(celsius: float) -> float:
    """Return the density of water by the equation of Tanaka and others 2001, g/L."""
    a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
    return a5 * (1.0 - (celsius + a1) ** 2 * (celsius + a2) / (a3 * (celsius + a4)))


# ---------------------------------------------------------------------------------------------- solutions: as printed
# solute, % w/w, g/mL as printed, half-width, source, provenance.
PRINTED = [
    ("HCl", 10, "1.0476", "0.0006", "crc-handbook", "read"),
    ("HCl", 20, "1.0980", "0.0006", "crc-handbook", "read"),
    ("HCl", 32, "1.159", "0.0010", "international-critical-tables", "read"),
    ("HCl", 36, "1.179", "0.0010", "international-critical-tables", "read"),
    ("HCl", 40, "1.1977", "0.0010", "crc-handbook", "read"),
    ("NaOH", 10, "1.1089", "0.0007", "crc-handbook", "read"),
    ("NaOH", 30, "1.3277", "0.0020", "crc-handbook", "read"),
    ("NaOH", 50, "1.5253", "0.0090", "crc-handbook", "memory"),
    ("NH3", 20, "0.9228", "0.0003", "crc-handbook", "read"),
    ("NH3", 25, "0.9070", "0.0003", "crc-handbook", "memory"),
    ("H2SO4", 50, "1.3952", "0.0019", "crc-handbook", "read"),
    ("H2SO4", 70, "1.6105", "0.0021", "crc-handbook", "read"),
    ("H2SO4", 98, "1.8361", "", "crc-handbook", "memory"),
    ("CH3COOH", 10, "1.0121", "0.0005", "crc-handbook", "read"),
    ("CH3COOH", 50, "1.0562", "0.0023", "crc-handbook", "read"),
    ("CH3COOH", 100, "1.049", "0.0013", "acetic-acid-data-sheet", "read"),
]


@pytest.mark.parametrize("expected", PRINTED)
def test_a_row_has_the_digits_of_its_source(expected: tuple[str, int, str, str, str, str]) -> None:
    solute, mass_percent, value, half_width, source, provenance = expected
    line = printed("solution_density")[solute, str(mass_percent), "20"]
    assert (line["value"], line["half_width"], line["source"], line["provenance"]) == (
        value, half_width, source, provenance,
    )  # fmt: skip
    row = SOLUTIONS.find(solute=solute, mass_percent=mass_percent)
    assert (f"{row.value!r}", row.unit) == (str(float(value)), "g/mL")
    assert row.unstated == (not half_width)


def test_every_solute_is_one_that_can_be_dosed() -> None:
    """Potassium hydroxide and nitric acid have no table: they are weighed, or their density is measured."""
    entities = {species.entity for species in SPECIES.values() if species.kind != "hypochlorite"}
    assert set(SOLUTES) == entities - {"KOH", "HNO3"}


def test_every_density_is_at_20_degrees() -> None:
    assert SOLUTIONS.choices("temperature") == ("20",)


@pytest.mark.parametrize("solute", SOLUTES)
def test_every_table_begins_with_water(solute: str) -> None:
    row = of(solute)[0]
    assert percent(row) == 0.0
    assert (row.source, row.provenance) == ("tanaka-2001", "computed")
    assert row.half_width is not None
    assert abs(1000.0 * row.value - water(20.0)) <= 1000.0 * row.half_width


# ----------------------------------------------------------------------------------------- solutions: what physics says
# Up to which percentage the density rises: to the end, or to the maximum of the binary mixture.
RISES_TO = {"HCl": 40.0, "NaOH": 50.0, "H2SO4": 98.0, "CH3COOH": 80.0, "NH3": 0.0}


@pytest.mark.parametrize("solute", SOLUTES)
def test_the_density_rises_to_its_maximum_and_falls_after_it(solute: str) -> None:
    """Ammonia makes water lighter; sulfuric and acetic acid have a maximum before the pure acid."""
    for below, above in itertools.pairwise(of(solute)):
        assert (above.value > below.value) == (percent(above) <= RISES_TO[solute]), (solute, percent(above))


@pytest.mark.parametrize("solute", SOLUTES)
def test_a_stronger_solution_holds_more_in_a_litre(solute: str) -> None:
    """Without that a strength per volume could not be looked up."""
    rows = of(solute)
    grams = [percent(row) * row.value for row in rows]
    assert grams == sorted(set(grams))


@pytest.mark.parametrize("solute", ["HCl", "NaOH", "H2SO4"])
def test_the_apparent_volume_of_an_electrolyte_rises_with_its_concentration(solute: str) -> None:
    """What a gram of it adds to the volume of its water (Masson 1929, from memory): a slipped digit shows as a dent."""
    volumes = []
    for row in of(solute)[1:]:
        fraction = percent(row) / 100.0
        volumes.append((1.0 / row.value - (1.0 - fraction) / (water(20.0) / 1000.0)) / fraction)
    assert volumes == sorted(set(volumes))


@pytest.mark.parametrize("solute", SOLUTES)
def test_a_half_width_is_not_below_the_rounding_of_its_row(solute: str) -> None:
    lines = [line for line in printed("solution_density").values() if line["solute"] == solute and line["half_width"]]
    for line in lines:
        step = Decimal(1).scaleb(int(Decimal(line["value"]).as_tuple().exponent))
        assert Decimal(line["half_width"]) >= step / 2, line


def test_only_what_nothing_was_compared_with_is_unstated() -> None:
    unstated = {(row.index["solute"], percent(row)) for row in SOLUTIONS.rows if row.unstated}
    assert unstated == {("H2SO4", p) for p in (80.0, 85.0, 90.0, 92.0, 94.0, 96.0, 98.0, 100.0)}


@pytest.mark.parametrize(
    ("solute", "mass_percent", "other"),
    [
        ("HCl", 10, 1.0480),  # International Critical Tables, in a copy of an encyclopedia article
        ("HCl", 20, 1.0980),
        ("HCl", 30, 1.1490),
        ("CH3COOH", 100, 1.0477),  # CRC Handbook, in a web page that tabulates it
    ],
)
def test_the_half_width_reaches_to_a_second_table_that_was_read(solute: str, mass_percent: int, other: float) -> None:
    row = SOLUTIONS.find(solute=solute, mass_percent=mass_percent)
    assert row.half_width is not None
    assert round(abs(row.value - other), 6) <= row.half_width


def test_the_handbook_and_its_copies_say_which_edition_was_seen() -> None:
    """No edition is shown where the numbers were read: the entry says so instead of naming one."""
    used = {row.source for row in (*SOLUTIONS.rows, *HYPOCHLORITE.rows)}
    assert used == {
        "tanaka-2001", "crc-handbook", "international-critical-tables", "acetic-acid-data-sheet",
        "hypochlorite-density-bulletin", "common-practice",
    }  # fmt: skip
    handbook = references()["crc-handbook"]
    assert handbook.year is None
    assert handbook.seen == "excerpt"
    assert "edition is not shown" in handbook.how
    assert references()["tanaka-2001"].year == 2001
    assert references()["tanaka-2001"].doi == "10.1088/0026-1394/38/4/3"


# --------------------------------------------------------------------------------------------------------- hypochlorite
@pytest.mark.parametrize(("alkali", "value"), [("0.73", "1.168"), ("0.2", "1.160"), ("0", "1.157")])
def test_the_model_of_fresh_liquor_gives_the_anchors_as_printed(alkali: str, value: str) -> None:
    """Water + slope × 120 g/L + slope × N, with N = 10 × per cent × density, in the three decimals of the bulletin."""
    line = printed("hypochlorite_density")["density", "120", alkali]
    assert (line["value"], line["source"], line["provenance"]) == (value, "hypochlorite-density-bulletin", "read")
    excess = 10.0 * float(alkali) * float(value)
    chlorine, hydroxide = (quantity(f"slope in {what}").value for what in ("available chlorine", "excess alkali"))
    modelled = quantity("density of water").value + chlorine * 120.0 + hydroxide * excess
    assert f"{modelled:.3f}" == value


def test_what_was_fitted_is_computed_and_what_was_guessed_is_from_memory() -> None:
    provenance = {row.index["quantity"]: row.provenance for row in HYPOCHLORITE.rows}
    assert provenance == {
        "density": "read",
        "density of water": "computed",
        "slope in available chlorine": "computed",
        "slope in excess alkali": "computed",
        "factor": "memory",
        "ageing": "memory",
        "temperature coefficient": "memory",
    }
    assert {row.index["quantity"] for row in HYPOCHLORITE.rows if row.source == "common-practice"} == {
        "factor", "ageing", "temperature coefficient",
    }  # fmt: skip


def test_the_factor_reaches_to_a_liquor_that_was_not_fitted() -> None:
    """150 g/L with 12 g/L sodium hydroxide, about 1.2 g/mL elsewhere: within k = 2 of the factor."""
    modelled = 0.9982 + quantity("slope in available chlorine").value * 150.0
    modelled += quantity("slope in excess alkali").value * 12.0
    factor = quantity("factor")
    assert factor.value == 1.0
    assert factor.u is not None
    assert round(modelled / 1.2 - 1.0, 3) <= 2.0 * factor.u


def test_ageing_is_guessed_within_nothing_and_twice_the_guess() -> None:
    ageing = quantity("ageing")
    assert ageing.value < 0.0
    assert ageing.half_width == -ageing.value
    assert ageing.unit == "(g/mL)/(mol/L)"


def test_water_is_the_same_in_both_tables() -> None:
    assert f"{water(20.0) / 1000.0:.4f}" == printed("hypochlorite_density")["density of water", "", ""]["value"]


# --------------------------------------------------------------------------------------------------------- expansion
# g/mL of so many mol/kg at 10, 25 and 40 °C, as printed [electrolyte-density-tables].
DENSITIES = {
    ("hydrochloric acid", 0.1): ("1.00158", "0.99886", "0.99401"),
    ("hydrochloric acid", 0.2): ("1.00344", "1.00063", "0.99576"),
    ("hydrochloric acid", 0.5): ("1.00889", "1.00583", "1.00087"),
    ("hydrochloric acid", 1.0): ("1.01767", "1.01420", "1.00908"),
    ("hydrochloric acid", 2.0): ("1.03424", "1.03008", "1.02465"),
    ("hydrochloric acid", 3.0): ("1.04968", "1.04500", "1.03926"),
    ("hydrochloric acid", 4.0): ("1.06425", "1.05905", "1.05298"),
    ("hydrochloric acid", 5.0): ("1.07818", "1.07232", "1.06582"),
    ("hydrochloric acid", 6.0): ("1.09171", "1.08485", "1.07778"),
    ("sodium hydroxide", 0.1): ("1.00437", "1.00149", "0.99654"),
    ("sodium hydroxide", 0.2): ("1.00893", "1.00584", "1.00078"),
    ("sodium hydroxide", 0.5): ("1.02222", "1.01860", "1.01322"),
    ("sodium hydroxide", 1.0): ("1.04340", "1.03911", "1.03323"),
    ("sodium hydroxide", 2.0): ("1.08315", "1.07787", "1.07114"),
    ("sodium hydroxide", 3.0): ("1.12001", "1.11402", "1.10659"),
    ("sodium hydroxide", 4.0): ("1.15437", "1.14776", "1.13980"),
    ("sodium hydroxide", 5.0): ("1.18652", "1.17925", "1.17093"),
    ("sodium hydroxide", 6.0): ("1.21677", "1.20866", "1.20013"),
}
MOLAR_MASS = {"hydrochloric acid": 36.458, "sodium hydroxide": 39.997}
# mL to add to a litre at 10, 15, 25 and 30 °C in soft glass of 2.6e-5 per K [gb-t-601], from memory, and the strength
# in equivalents per litre.
NATIONAL = [
    (0.1, ("1.5", "0.9", "-1.1", "-2.5")),
    (0.2, ("1.5", "0.9", "-1.1", "-2.5")),
    (0.5, ("1.6", "0.9", "-1.1", "-2.5")),  # hydrochloric acid
    (1.0, ("1.9", "1.0", "-1.2", "-2.6")),
    (0.5, ("2.0", "1.1", "-1.3", "-2.8")),  # sodium hydroxide, sulfuric acid
    (1.0, ("2.5", "1.3", "-1.5", "-3.2")),
    (1.0, ("2.4", "1.3", "-1.5", "-3.1")),  # sodium carbonate
]
CELSIUS = (10, 15, 25, 30)
LIMITS = (0.0, 0.25, 1.0, 5.0, 6.0)


def coefficient(material: str, **index: float) -> Row:
    return EXPANSION.find(material=material, **index)


def beyond_water(solute: str, molality: float, celsius: float) -> float:
    """Return by what the volume grows more than that of water, per kelvin to 20 °C, 1/K."""
    measured = (10.0, 25.0, 40.0)
    over = [
        1000.0 * float(text) / water(t) for text, t in zip(DENSITIES[solute, molality], measured, strict=True)
    ]  # fmt: skip
    parabola = np.polynomial.Polynomial.fit(measured, over, 2)
    return (1.0 - float(parabola(celsius) / parabola(20.0))) / (celsius - 20.0)


def litres(solute: str, molality: float) -> float:
    """Return mol/L at 25 °C of so many mol/kg."""
    return molality * 1000.0 * float(DENSITIES[solute, molality][1]) / (1000.0 + molality * MOLAR_MASS[solute])


def at_strength(solute: str, strength: float, celsius: float) -> float:
    """Return the same at a mol/L between two that were measured, by a straight line."""
    molalities = [m for of, m in DENSITIES if of == solute]
    known = [litres(solute, m) for m in molalities]
    return float(np.interp(strength, known, [beyond_water(solute, m, celsius) for m in molalities]))


@pytest.mark.parametrize(
    ("material", "linear", "digits"),
    [("borosilicate glass 3.3", 3.3e-6, 1), ("soda-lime glass", 9.1e-6, 1), ("polymethylpentene", 1.17e-4, 1)],
)
def test_a_cubic_coefficient_is_three_times_the_linear_one(material: str, linear: float, digits: int) -> None:
    row = coefficient(material)
    assert f"{row.value:.{digits}e}" == f"{3.0 * linear:.{digits}e}"
    assert row.provenance == "computed"


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize("molality", [0.1, 1.0])
@pytest.mark.parametrize("solute", MOLAR_MASS)
def test_what_a_solution_expands_by_beyond_water_is_from_its_densities(
    solute: str, molality: float, celsius: int
) -> None:
    row = coefficient(solute, concentration=molality, temperature=celsius)
    assert row.value == pytest.approx(beyond_water(solute, molality, celsius), abs=5.1e-8)
    assert (row.source, row.provenance) == ("electrolyte-density-tables", "computed")


@pytest.mark.parametrize("celsius", CELSIUS)
def test_that_of_sulfuric_acid_is_from_the_national_table(celsius: int) -> None:
    printed_as = NATIONAL[5][1][CELSIUS.index(celsius)]
    row = coefficient("sulfuric acid", concentration=0.5, temperature=celsius)
    assert row.value == pytest.approx(from_correction(float(printed_as), celsius), abs=5.1e-7)
    assert row.half_width == pytest.approx(0.05e-3 / abs(celsius - 20), rel=1e-9)
    assert row.provenance == "memory"


def from_correction(millilitres: float, celsius: float) -> float:
    above = celsius - 20.0
    of_water = (1.0 + 2.6e-5 * above) * water(celsius) / water(20.0)
    return (1.0 - (1.0 + millilitres / 1000.0) / of_water) / above


@pytest.mark.parametrize("material", ["hydrochloric acid", "sodium hydroxide", "sulfuric acid"])
def test_a_solution_comes_nearer_to_water_the_warmer_it_is(material: str) -> None:
    rows = EXPANSION.select(material=material)
    for concentration in {row.index["concentration"] for row in rows}:
        of_one = [row for row in rows if row.index["concentration"] == concentration]
        of_one.sort(key=lambda row: -float(row.index["temperature"]))
        values = [row.value for row in of_one]
        assert values == sorted(set(values)), concentration


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize("material", ["hydrochloric acid", "sodium hydroxide"])
def test_a_stronger_solution_expands_more(material: str, celsius: int) -> None:
    tenth, one = (coefficient(material, concentration=c, temperature=celsius).value for c in (0.1, 1.0))
    assert 0.0 < tenth < one


@pytest.mark.parametrize("celsius", CELSIUS)
@pytest.mark.parametrize("place", range(4))
def test_a_range_of_strength_takes_in_every_solution_that_is_known(place: int, celsius: int) -> None:
    """From what was measured, at both ends of the range between two of these; GB/T 601 with its rounding."""
    stands, (least, most) = coefficient(LIQUIDS[place]), LIMITS[place : place + 2]
    assert stands.half_width is not None
    found = [0.0] if place == 0 else []
    for solute, molality in DENSITIES:
        strongest = litres(solute, 6.0)
        ends = [min(end, strongest) for end in (least, most) if end > 0.0]
        if least <= litres(solute, molality) <= most:
            found.append(beyond_water(solute, molality, celsius))
        found += [at_strength(solute, end, celsius) for end in ends]
    rounding = 0.05e-3 / abs(celsius - 20)
    for strength, printed_as in NATIONAL:
        if least < strength <= most:
            beyond = from_correction(float(printed_as[CELSIUS.index(celsius)]), celsius)
            found += [beyond - rounding, beyond + rounding]
    assert stands.value - stands.half_width - 1e-18 <= min(found)
    assert max(found) <= stands.value + stands.half_width


def test_glass_expands_less_than_any_liquid_and_plastic_more() -> None:
    # Up to one equivalent per litre; strong solutions may expand more than plastic.
    def of_water(celsius: float) -> float:
        return (water(20.0) / water(celsius) - 1.0) / (celsius - 20.0)

    liquids = [
        of_water(celsius) + row.value
        for row in EXPANSION.select(kind="liquid beyond water")
        for celsius in CELSIUS
        if row.index["material"] in LIQUIDS[:2] or row.index["temperature"] == str(celsius)
    ]
    assert len(liquids) == 28
    for row in EXPANSION.select(kind="ware"):
        if "glass" in row.index["material"]:
            assert row.value < min(liquids)
        else:
            assert row.value > max(liquids)
