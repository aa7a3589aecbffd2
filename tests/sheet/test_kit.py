"""A kit without glass for measuring: syringes, a scale to 0.01 g and one flask, on the hardware acid.

The sheet's u is compared with one worked out by hand, by central differences over every input.
"""

from __future__ import annotations

import math
from statistics import fmean, stdev

import numpy as np
import pytest

from assay import SheetError, report_text
from assay.sheet.run import SheetResult, run_text

SHEET = """
schema = 1
title = "Kit: hydrochloric acid from the hardware shelf"
date = 2026-11-18

[instruments.S5]
kind = "syringe"
capacity = "5 mL"
subdivision = "0.2 mL"

[instruments.S10]
kind = "syringe"
capacity = "10 mL"
subdivision = "0.2 mL"

[instruments.S20]
kind = "syringe"
capacity = "20 mL"
subdivision = "1 mL"

[instruments.F100]
kind = "flask"
capacity = "100 mL"

[instruments.W2]
kind = "balance"
readability = "0.01 g"
repeatability = "0.01 g"
linearity = "0.02 g"

[standardisation]
standard = "potassium hydrogen phthalate"
lot = "0415"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W2"
burette = "S10"
end_point = { indicator = "phenolphthalein", operator = "kit" }

[[standardisation.portion]]
gross = "21.52 g"
tare = "20.00 g"
titre = ["0.0 mL", "7.4 mL"]

[[standardisation.portion]]
gross = "21.60 g"
tare = "20.00 g"
titre = ["0.0 mL", "8.0 mL"]

[[standardisation.portion]]
gross = "21.48 g"
tare = "20.00 g"
titre = ["0.0 mL", "7.1 mL"]

[assay]
sample = "hardware acid"
species = "hydrochloric acid"
dilutions = [{ pipette = { with = "S5", volume = "5.0 mL" }, flask = "F100" }]
aliquot = { with = "S20", volume = "15.0 mL" }
burette = "S10"
titres = [["0.0 mL", "7.5 mL"], ["0.0 mL", "7.7 mL"], ["0.0 mL", "7.6 mL"]]
end_point = { indicator = "phenolphthalein", operator = "kit" }

[assay.sampling]
method = "bottle inverted three times, poured outdoors"
delay = "10 min"

[[dose]]
deliver = "0.0500 mol HCl"
into = "water"
with = "S10"
"""
PORTIONS = ((1.52, 7.4), (1.60, 8.0), (1.48, 7.1))
TITRES = (7.5, 7.7, 7.6)
PURITY, M_PHTHALATE = 0.9995, 8 * 12.011 + 5 * 1.008 + 39.0983 + 4 * 15.999
KNOTS = np.linspace(0.0, 10.0, 21)
THIRD = math.sqrt(3.0)


def run(sheet: str) -> SheetResult:
    return run_text(sheet, name="kit.toml")


def limit(volume: float, capacity: float) -> float:
    """Return the limit of error of a syringe of 5 mL or more, mL (ISO 7886-1, from memory)."""
    return 0.04 * volume if volume >= capacity / 2.0 else 0.015 * capacity + 0.01 * volume


def scale_of_the_syringe() -> np.ndarray:
    """Return the covariance of the deviations of S10 at its knots, mL²: a tenth of the scale apart they are unlike."""
    alike = (6.0 / math.pi) * np.arcsin(np.exp(-((np.subtract.outer(KNOTS, KNOTS) / 1.0) ** 2) / 2.0) / 2.0)
    limits = np.array([limit(float(knot), 10.0) if knot else 0.0 for knot in KNOTS])
    return np.outer(limits, limits) / 3.0 * alike


def delivered(x: np.ndarray, reading: float, excess: float) -> float:
    return reading + float(np.interp(reading, KNOTS, x)) - excess


#: Deviations of all inputs from their values, in this order after the 21 knots of S10.
NAMES = ("gross", "tare", "purity", "excess", "S5", "setting", "F100", "S20", "portions", "titres")


def hydroxides(x: np.ndarray, d: dict[str, float]) -> list[float]:
    return [
        1000 * (mass - d["gross"] + d["tare"]) * (PURITY + d["purity"]) / M_PHTHALATE / delivered(x, v, d["excess"])
        for mass, v in PORTIONS
    ]


def strength(deviations: np.ndarray) -> float:
    """Return mol/L of the acid."""
    x, d = deviations[:21], dict(zip(NAMES, map(float, deviations[21:]), strict=True))
    titrant = fmean(hydroxides(x, d)) + d["portions"]
    titre = delivered(x, fmean(TITRES), d["excess"]) + d["titres"]
    taken, aliquot = 5.0 + d["S5"] + d["setting"], 15.0 + d["S20"]
    return titrant * titre / aliquot * (100.0 + d["F100"]) / taken


def u_by_hand(s5: float, s20: float) -> tuple[float, float]:
    """Return the strength and its u, mol/L, for limits of error of two syringes, mL."""
    nothing = np.zeros(21 + len(NAMES))
    u = {
        "gross": 0.02 / THIRD,
        "tare": 0.02 / THIRD,
        "purity": 0.0005 / THIRD,
        "excess": 0.03,  # how well the eye is known where nothing is stated
        "S5": s5 / THIRD,
        "setting": 0.05 / THIRD,  # read to 0.1 mL; once, in the dilution
        "F100": 0.2 / THIRD,  # class B
        "S20": s20 / THIRD,
        # What scatters holds repeatability and rounding of scale and syringe.
        "portions": stdev(hydroxides(nothing[:21], dict.fromkeys(NAMES, 0.0))) / THIRD,
        "titres": stdev(TITRES) / THIRD,
    }
    covariance = np.zeros((nothing.size, nothing.size))
    covariance[:21, :21] = scale_of_the_syringe()
    covariance[21:, 21:] = np.diag([u[name] ** 2 for name in NAMES])
    step = 1e-5
    slopes = np.array([(strength(step * e) - strength(-step * e)) / (2 * step) for e in np.eye(nothing.size)])
    return strength(nothing), math.sqrt(float(slopes @ covariance @ slopes))


def test_the_kit_states_what_is_worked_out_by_hand() -> None:
    acid = run(SHEET).strengths["hardware acid"].estimate
    value, u = u_by_hand(limit(5.0, 5.0), limit(15.0, 20.0))
    assert acid.value == pytest.approx(value, rel=1e-9)
    # The atomic weights of the phthalate, a part in 1e5, are left out by hand.
    assert acid.u == pytest.approx(u, rel=1e-4)
    assert 0.03 < acid.relative_u < 0.05


def test_syringes_checked_by_weighing_water_do_better_by_as_much_as_they_should() -> None:
    own = SHEET.replace('subdivision = "0.2 mL"\n', 'subdivision = "0.2 mL"\ntolerance = "0.05 mL"\n', 1).replace(
        'subdivision = "1 mL"\n', 'subdivision = "1 mL"\ntolerance = "0.15 mL"\n'
    )
    acid = run(own).strengths["hardware acid"].estimate
    _, u = u_by_hand(0.05, 0.15)
    assert acid.u == pytest.approx(u, rel=1e-4)
    assert 0.01 < acid.relative_u < 0.03


def test_the_budget_says_that_the_limits_are_from_memory() -> None:
    lines = run(SHEET).strengths["hardware acid"].estimate.budget().lines
    syringes = [line for line in lines if "calibration of syringe" in line.label]
    assert len(syringes) == 3
    assert all("ISO 7886-1" in line.source and "from memory" in line.source for line in syringes)


def test_one_setting_is_in_the_dilution_and_none_in_the_aliquots() -> None:
    ids = run(SHEET).strengths["hardware acid"].estimate.influences
    settings = [id_ for id_ in ids if "setting of" in id_]
    (one,) = settings
    assert one.startswith("record/2026-11-18 hardware acid/")
    assert one.endswith("/dilution 1/setting of syringe S5/1")


def test_the_dose_is_on_a_graduation_and_the_cautions_are_printed() -> None:
    result = run(SHEET)
    (dose,) = result.doses
    assert dose.nominal is not None
    assert dose.at_least is not None
    assert round(1e4 * dose.nominal.volume, 6) == round(1e4 * dose.nominal.volume)  # read to 0.1 mL
    assert dose.at_least.volume > dose.nominal.volume
    assert dose.cautions()
    printed = " ".join(report_text(result).split())
    assert all(caution in printed for caution in dose.cautions())


# ---------------------------------------------------------------------------------------------------- other instruments
OTHERS = {
    "graduated pipette": 'kind = "graduated pipette"\ncapacity = "25 mL"\nsubdivision = "0.1 mL"\nclass = "A"',
    "piston pipette": 'kind = "piston pipette"\ncapacity = "15 mL"\nsubdivision = "0.1 mL"\ntolerance = "0.09 mL"\n'
    'repeatability = "0.05 mL"',
    "piston burette": 'kind = "piston burette"\ncapacity = "20 mL"\nsubdivision = "0.01 mL"',
    "cylinder": 'kind = "cylinder"\ncapacity = "25 mL"\nsubdivision = "0.5 mL"',
    "beaker": 'kind = "beaker"\ncapacity = "50 mL"\nsubdivision = "10 mL"',
    "burette": 'kind = "burette"\ncapacity = "25 mL"\nsubdivision = "0.1 mL"',
}
#: Standard uncertainty of 15 mL, mL: the limit over √3.
U_OF_15 = {
    "graduated pipette": 0.1 / THIRD,
    "piston pipette": 0.09 / THIRD,
    "piston burette": 0.04 / THIRD,
    "cylinder": 0.5 / THIRD,
    "beaker": 0.05 * 50.0 / THIRD,
    "burette": 0.1 / THIRD,
}


@pytest.mark.parametrize("kind", OTHERS)
def test_an_aliquot_may_be_taken_with_any_ware_that_is_set(kind: str) -> None:
    old = 'kind = "syringe"\ncapacity = "20 mL"\nsubdivision = "1 mL"'
    assert old in SHEET
    acid = run(SHEET.replace(old, OTHERS[kind])).strengths["hardware acid"].estimate
    _, u = u_by_hand(limit(5.0, 5.0), THIRD * U_OF_15[kind])
    assert acid.u == pytest.approx(u, rel=1e-4)


DROPPER = '[instruments.D1]\nkind = "dropper"\ndrops = 50\nbalance = "W2"\ngross = "14.51 g"\ntare = "12.00 g"\n'
DROPPED = DROPPER + 'density = "0.998 g/mL"\n\n[instruments.W2]'


def test_an_aliquot_may_be_drops() -> None:
    sheet = SHEET.replace("[instruments.W2]", DROPPED).replace(
        '{ with = "S20", volume = "15.0 mL" }', '{ with = "D1", drops = 298 }'
    )
    acid = run(sheet).strengths["hardware acid"].estimate
    value, _ = u_by_hand(0.2, 0.6)
    assert acid.value == pytest.approx(value * 15.0 / (298 * 2.51 / 0.998 / 50), rel=1e-9)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('{ with = "S20", volume = "15.0 mL" }', '"S20"', ["syringe", "which volume", 'with = "S20"', "5.0 mL"]),
        ('{ with = "S20", volume = "15.0 mL" }', '"W2"', ["balance", "pipette is needed"]),
        ('{ with = "S20", volume = "15.0 mL" }', '{ with = "F100", volume = "15.0 mL" }', ["flask", "pipette"]),
        ('"15.0 mL"', '"25.0 mL"', ["25.0 mL", "20 mL", "syringe S20"]),
        ('"15.0 mL"', '"15.0"', ["15.0", "unit"]),
        ('"15.0 mL"', "15.0", ["volume", "5.0 mL"]),
        ('with = "S20", volume = "15.0 mL"', 'volume = "15.0 mL"', ["'with'", "missing", "S10"]),
        ('with = "S20", volume = "15.0 mL"', 'with = "S20", drops = 20', ["syringe", "volume"]),
        ('with = "S20", volume', 'with = "S2O", volume', ["S2O", "S20"]),
        ('volume = "15.0 mL"', 'volum = "15.0 mL"', ["volum", "unknown key"]),
        ("[instruments.W2]", DROPPED.replace("drops = 50\n", ""), ["without a count", "Count the drops", "D1"]),
        ("[instruments.W2]", DROPPED.replace("drops = 50", "drops = 600"), ["0.00419 mL", "0.005"]),
        ("[instruments.W2]", DROPPED.replace('"W2"', '"W9"', 1), ["W9", "no such balance"]),
        ('kind = "syringe"', 'kind = "syringe"\nclass = "A"', ["class", "unknown key"]),
        ('kind = "syringe"', 'kind = "syringe"\nstandard = "ISO 7886"', ["ISO 7886", "ISO 7886-1"]),
        ('kind = "syringe"', 'kind = "siringe"', ["siringe", "syringe"]),
    ],
)
def test_bad_ware_is_refused(old: str, new: str, says: list[str]) -> None:
    assert old in SHEET
    with pytest.raises(SheetError) as refused:
        run(SHEET.replace(old, new, 1))
    for word in says:
        assert word in str(refused.value)


@pytest.mark.parametrize("given", ["S5", "S10", "S20"])
def test_corrections_of_a_syringe_replace_its_limit(given: str) -> None:
    end = int(given[1:])
    corrections = (
        f'\n[instruments.{given}.corrections]\nreadings = ["{end / 5} mL", "{end / 2} mL", "{end} mL"]\n'
        'corrections = ["0.02 mL", "0.03 mL", "0.05 mL"]\nexpanded = "0.04 mL"\nk = 2\ndate = "2026-03-02"\n'
    )
    acid = run(SHEET + corrections).strengths["hardware acid"].estimate
    sources = {i.source for i in acid.influences.values() if i.id.startswith(f"syringe/{given}/certificate")}
    assert sources == {"certificate of 2026-03-02"}
    assert not any(id_.startswith(f"syringe/{given}/calibration") for id_ in acid.influences)


def test_without_a_flask_the_sample_is_made_up_in_a_beaker() -> None:
    """A kitchen jug of 250 mL, within 5 % of it and filled to half of its marks, is most of what is not known."""
    jug = '[instruments.J]\nkind = "beaker"\ncapacity = "250 mL"\nsubdivision = "25 mL"\n\n[instruments.F100]'
    sheet = SHEET.replace("[instruments.F100]", jug).replace(
        'flask = "F100"', 'flask = { with = "J", volume = "100 mL" }'
    )
    with_flask, with_jug = (run(one).strengths["hardware acid"].estimate for one in (SHEET, sheet))
    assert with_jug.value == pytest.approx(with_flask.value, rel=1e-12)
    added = math.hypot(12.5, 6.25) / math.sqrt(3.0) / 100.0
    flask = 0.2 / math.sqrt(3.0) / 100.0
    assert with_jug.relative_u**2 == pytest.approx(with_flask.relative_u**2 - flask**2 + added**2, rel=1e-6)


@pytest.mark.parametrize(
    ("flask", "says"),
    [
        ('{ with = "S20", volume = "15.0 mL" }', ["no solution is made up in this", "S20", "beaker"]),
        ('"S20"', ["syringe", "flask is needed"]),
        ('{ with = "F100", volume = "100 mL" }', ["with", "F100"]),
    ],
)
def test_what_no_solution_is_made_up_in_is_refused(flask: str, says: list[str]) -> None:
    with pytest.raises(SheetError) as refused:
        run(SHEET.replace('flask = "F100"', f"flask = {flask}"))
    for word in says:
        assert word in str(refused.value)
