"""The buoyancy of air on a sheet: what has a known density is corrected, and the page says so. Sheets are invented."""

from __future__ import annotations

import pytest

from assay import Air, Balance, Burette, EndPoint, PrimaryStandard, report_text, standardise_by_portions
from assay.errors import SheetError
from assay.sheet.run import SheetResult, run_text

DAY = "2026-11-19"
HEAD = f"""
schema = 1
title = "Prep room: buoyancy"
date = {DAY}

[instruments]
B1 = {{ kind = "burette", capacity = "50 mL", subdivision = "0.1 mL", class = "B", read_to = "0.05 mL" }}
P10 = {{ kind = "pipette", capacity = "10 mL", class = "B" }}
P25 = {{ kind = "pipette", capacity = "25 mL", class = "B" }}
F250 = {{ kind = "flask", capacity = "250 mL", class = "B" }}
W1 = {{ kind = "balance", readability = "0.1 mg", repeatability = "0.1 mg", linearity = "0.2 mg" }}
W2 = {{ kind = "balance", readability = "1 mg", repeatability = "1 mg", linearity = "2 mg" }}
"""
STANDARD = """
[[standardisation]]
standard = "potassium hydrogen phthalate"
lot = "1"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W1"
burette = "B1"
end_point = { indicator = "phenolphthalein", operator = "K" }
portion = [
  { gross = "10.5105 g", tare = "10.0000 g", titre = "24.95 mL" },
  { gross = "10.5226 g", tare = "10.0000 g", titre = "25.55 mL" },
]
"""
ASSAY = """
[[assay]]
sample = "acid"
species = "hydrochloric acid"
balance = "W2"
burette = "B1"
end_point = { indicator = "phenolphthalein", operator = "K" }
dilutions = [{ gross = "62.154 g", tare = "50.000 g", flask = "F250" }]
aliquot = "P25"
titres = ["24.95 mL", "25.00 mL", "24.95 mL"]
"""
MEASURED = '[air]\ntemperature = "21.5 °C"\npressure = "1008 hPa"\nhumidity = "45 %"\n'


ASSAY_BY_MASS = ASSAY.replace('burette = "B1"\n', "").replace(
    'titres = ["24.95 mL", "25.00 mL", "24.95 mL"]',
    'titres = [{ before = "80.000 g", after = "54.600 g" }, { before = "80.100 g", after = "54.690 g" }]',
)


def ran(*tables: str) -> SheetResult:
    whole = tables if any("[[assay]]" in table for table in tables) else (*tables, ASSAY)
    return run_text("\n".join([HEAD, *whole]), name="buoyancy.toml")


def buoyancy(density: float) -> float:
    """Mass over reading in air of 1.2 g/L, for weights of 8000 g/L: OIML R 111 [oiml-r111-2004], from memory."""
    return (1.0 - 1.2 / 8000.0) / (1.0 - 1.2 / density)


def test_a_standard_is_corrected_by_the_density_of_its_table() -> None:
    plain, corrected = ran(STANDARD).titrant.estimate, ran("[air]", STANDARD).titrant.estimate
    assert corrected.value / plain.value == pytest.approx(buoyancy(1636.0), rel=1e-12)
    assert "density of what is weighed/standard 1636.0" in corrected.influences


def test_a_stated_density_goes_before_that_of_the_table() -> None:
    stated = STANDARD.replace("balance =", 'density = "1.60 g/mL"\nbalance =')
    assert ran(stated).titrant.estimate.value / ran(STANDARD).titrant.estimate.value == pytest.approx(
        buoyancy(1600.0), rel=1e-12
    )


def test_it_is_the_same_chain_as_in_python() -> None:
    air = Air("21.5 °C", pressure="1008 hPa", humidity="45 %", day="the balance room")
    w1 = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    b1 = Burette("B1", capacity="50 mL", subdivision="0.1 mL", read_to="0.05 mL")
    standard = PrimaryStandard("potassium hydrogen phthalate", lot="1", purity="99.95 % w/w", half_width="0.05 % w/w")
    portions = [
        (w1.by_difference(gross, "10.0000 g", density=standard.density, air=air), b1.titre(final))
        for gross, final in (("10.5105 g", "24.95 mL"), ("10.5226 g", "25.55 mL"))
    ]
    ours = standardise_by_portions(
        standard, portions=portions, end_point=EndPoint("phenolphthalein", operator="K"), record="ours"
    )
    sheets = ran(MEASURED, STANDARD).titrant.estimate
    assert sheets.value == pytest.approx(ours.estimate.value, rel=1e-14)
    assert sheets.u == pytest.approx(ours.estimate.u, rel=1e-12)


def test_a_titrant_by_mass_is_corrected_by_its_density() -> None:
    by_mass = STANDARD.replace('burette = "B1"\n', "")
    for final, before in (("24.95 mL", "80.000 g"), ("25.55 mL", "80.610 g")):
        by_mass = by_mass.replace(f'titre = "{final}"', f'titre = {{ before = "{before}", after = "54.600 g" }}')
    corrected = by_mass.replace("end_point", 'titrant_density = "1.02 g/mL"\nend_point')
    used = ASSAY_BY_MASS.replace("end_point", 'titrant_density = "1.02 g/mL"\nend_point')
    both, neither = ran(corrected, used), ran(by_mass, ASSAY_BY_MASS)
    ratio = both.titrant.estimate.value / neither.titrant.estimate.value
    assert ratio == pytest.approx(1.0 / buoyancy(1020.0), rel=1e-12)
    # What was titrated is the same: the buoyancy of the titrant cancels.
    assert both.strengths["acid"].estimate.value == pytest.approx(neither.strengths["acid"].estimate.value, rel=1e-12)
    for standardised, titrated in (
        (corrected, ASSAY_BY_MASS),
        (by_mass, used),
        (corrected, used.replace("1.02 g/mL", "1.15 g/mL")),
    ):
        with pytest.raises(SheetError, match="would not cancel"):
            ran(standardised, titrated)


def test_a_weighed_sample_is_corrected_by_its_density() -> None:
    plain = ran(STANDARD, ASSAY).strengths["acid"].estimate
    corrected = ran(STANDARD, ASSAY.replace(', flask = "F250"', ', density = "1.16 g/mL", flask = "F250"'))
    assert corrected.strengths["acid"].estimate.value / plain.value == pytest.approx(1.0 / buoyancy(1160.0), rel=1e-12)


def test_what_has_no_density_is_left_as_it_was_read() -> None:
    """The air corrects the standard alone: of the acid no density is known."""
    ratio = ran("[air]", STANDARD, ASSAY).strengths["acid"].estimate.value / (
        ran(STANDARD, ASSAY).strengths["acid"].estimate.value
    )
    assert ratio == pytest.approx(buoyancy(1636.0), rel=1e-12)


def test_the_air_is_shared_by_all_that_was_weighed_in_it() -> None:
    result = ran(MEASURED, STANDARD, ASSAY.replace(', flask = "F250"', ', density = "1.16 g/mL", flask = "F250"'))
    shared = {id_ for id_ in result.titrant.estimate.influences if id_.startswith("air/")}
    assert shared
    assert shared <= set(result.strengths["acid"].estimate.influences)


def test_a_density_by_weighing_is_that_of_the_liquid_in_vacuum() -> None:
    """11.62 g by the readings in 10 mL: 1.162 g/mL, of which the buoyancy is that of a liquid of this density."""
    assay = ASSAY.replace('dilutions = [{ gross = "62.154 g", tare = "50.000 g", flask = "F250" }]\n', "")
    weighed = assay + (
        '[assay.density]\ngross = "61.620 g"\ntare = "50.000 g"\npipette = "P10"\ntemperature = "20 °C"\n'
    )
    found = [
        ran(air, STANDARD, weighed).strengths["acid"].in_basis("% w/w HCl").value
        / ran(air, STANDARD, weighed).strengths["acid"].in_basis("g/L HCl").value
        for air in ("", "[air]")
    ]
    assert found[0] / found[1] == pytest.approx(buoyancy(1162.0), rel=1e-9)


@pytest.mark.parametrize("stated", ["", "[air]"])
def test_the_page_says_whether_it_is_corrected(stated: str) -> None:
    told = " ".join(report_text(ran(stated, STANDARD)).split())
    assert ("Air buoyancy is corrected where the density" in told) == bool(stated)
    assert ("Air buoyancy is not in the budget" in told) != bool(stated)


@pytest.mark.parametrize(
    ("tables", "told"),
    {
        "a titrant's density beside a burette": (
            (STANDARD.replace("portion =", 'titrant_density = "1.02 g/mL"\nportion ='),),
            ("key titrant_density", "by volume needs no density", "Leave it out"),
        ),
        "a density without a unit": (
            (STANDARD.replace("balance =", 'density = "1.636"\nbalance ='),),
            ("key density", "'1.636'", "g/mL"),
        ),
        "a density in milligrams": (
            (STANDARD.replace("balance =", 'density = "1.636 mg/mL"\nbalance ='),),
            ("key density", "1.636 mg/mL", "0.1 g/mL to 23 g/mL"),
        ),
        "a humidity alone": (('[air]\nhumidity = "45 %"', STANDARD), ("[air]", "humidity", "temperature and pressure")),
        "hot air": (
            ('[air]\ntemperature = "55 °C"\npressure = "1008 hPa"', STANDARD),
            ("[air]", "key temperature", "55 °C", "10 °C to 30 °C"),
        ),
        "a misspelt key of the air": (('[air]\npresure = "1008 hPa"', STANDARD), ("[air]", "presure", "'pressure'")),
        "a density of what is pipetted": (
            (STANDARD, ASSAY.replace('gross = "62.154 g", tare = "50.000 g"', 'pipette = "P10", density = "1.2 g/mL"')),
            ("key density", "by volume needs no density", "Leave it out"),
        ),
    }.values(),
)  # fmt: skip
def test_refused(tables: tuple[str, ...], told: tuple[str, ...]) -> None:
    with pytest.raises(SheetError) as refused:
        ran(*tables)
    for part in told:
        assert part in str(refused.value)
