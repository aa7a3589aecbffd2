"""Every step beyond the first chemistry from a sheet: the same numbers as the same chain written in Python.

Sheets here are invented. A sheet that uses the keys of the first chemistry alone still runs, to the same numbers.
Atomic weights: CIAAW 2021, abridged [ciaaw-2021].
"""

from __future__ import annotations

import math
from statistics import fmean

import pytest

from assay import (
    Balance,
    Burette,
    Dilution,
    Dose,
    EndPoint,
    Estimate,
    Flask,
    Pipette,
    PrimaryStandard,
    StandardSolution,
    Strength,
    Temperature,
    Titrant,
    assay_acid_base,
    assay_hypochlorite,
    density_by_weighing,
    measured_density,
    report_json,
    report_text,
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from assay.errors import BlockedResultError
from assay.sheet.run import SheetResult, run_text

DAY = "2026-11-19"
HEAD = f"""
schema = 1
title = "Prep room: second chemistry"
date = {DAY}

[instruments]
B1 = {{ kind = "burette", capacity = "50 mL", subdivision = "0.1 mL", class = "B", read_to = "0.05 mL" }}
P10 = {{ kind = "pipette", capacity = "10 mL", class = "B" }}
P25 = {{ kind = "pipette", capacity = "25 mL", class = "B" }}
F250 = {{ kind = "flask", capacity = "250 mL", class = "B" }}
F500 = {{ kind = "flask", capacity = "500 mL", class = "B" }}
C100 = {{ kind = "cylinder", capacity = "100 mL", subdivision = "1 mL", class = "B" }}
W1 = {{ kind = "balance", readability = "0.1 mg", repeatability = "0.1 mg", linearity = "0.2 mg" }}
W2 = {{ kind = "balance", readability = "1 mg", repeatability = "1 mg", linearity = "2 mg" }}
"""
B1 = Burette("B1", capacity="50 mL", subdivision="0.1 mL", read_to="0.05 mL")
P10, P25 = Pipette("P10", capacity="10 mL"), Pipette("P25", capacity="25 mL")
F250, F500 = Flask("F250", capacity="250 mL"), Flask("F500", capacity="500 mL")
W1 = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
W2 = Balance("W2", readability="1 mg", repeatability="1 mg", linearity="2 mg")
PINK = EndPoint("phenolphthalein", operator="K")
ORANGE = EndPoint("methyl orange", operator="K")
BLANK = B1.titre("0.05 mL")


def ran(*tables: str) -> SheetResult:
    return run_text("\n".join([HEAD, *tables]), name="second.toml")


def titres(*finals: str) -> list:
    return [B1.titre(f"{final} mL") for final in finals]


def same(sheets: Estimate, ours: Estimate) -> None:
    """Check that two results are one: value, u, degrees of freedom, and what they depend on, by name."""
    assert (sheets.value, sheets.u, sheets.dof) == (ours.value, ours.u, ours.dof)
    assert dict(sheets.sensitivities) == dict(ours.sensitivities)
    assert sheets.flags == ours.flags


# ------------------------------------------------------------------------------------------------------ standardising
PHTHALATE = """
[[standardisation]]
standard = "potassium hydrogen phthalate"
lot = "1"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W1"
burette = "B1"
blank = "0.05 mL"
end_point = { indicator = "phenolphthalein", operator = "K" }
portion = [
  { gross = "10.5105 g", tare = "10.0000 g", titre = "24.95 mL" },
  { gross = "10.5226 g", tare = "10.0000 g", titre = "25.55 mL" },
]
"""
CARBONATE = """
[[standardisation]]
standard = "sodium carbonate"
lot = "2"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W1"
burette = "B1"
blank = "0.05 mL"
end_point = { indicator = "methyl orange", operator = "K" }
portion = [
  { gross = "10.1502 g", tare = "10.0000 g", titre = "28.35 mL" },
  { gross = "10.1421 g", tare = "10.0000 g", titre = "26.85 mL" },
]
"""
SOLUTION = """
[[standardisation]]
standard = "{standard}"
lot = "3"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W1"
gross = "{gross} g"
tare = "10.0000 g"
flask = "F250"
aliquot = "P25"
burette = "B1"
titres = ["24.95 mL", "25.00 mL", "24.95 mL"]
blank = "0.05 mL"
"""


def standard(name: str, lot: str) -> PrimaryStandard:
    return PrimaryStandard(name, lot=lot, purity="99.95 % w/w", half_width="0.05 % w/w")


def hydroxide(temperature: Temperature | None = None) -> Titrant:
    weighings = [W1.by_difference(gross, "10.0000 g") for gross in ("10.5105 g", "10.5226 g")]
    return standardise_by_portions(
        standard("potassium hydrogen phthalate", "1"),
        portions=list(zip(weighings, titres("24.95", "25.55"), strict=True)),
        blank=BLANK, end_point=PINK, temperature=temperature, record=f"{DAY} sodium hydroxide",
    )  # fmt: skip


def acid() -> Titrant:
    weighings = [W1.by_difference(gross, "10.0000 g") for gross in ("10.1502 g", "10.1421 g")]
    return standardise_by_portions(
        standard("sodium carbonate", "2"),
        portions=list(zip(weighings, titres("28.35", "26.85"), strict=True)),
        blank=BLANK, end_point=ORANGE, record=f"{DAY} hydrochloric acid",
    )  # fmt: skip


def by_aliquots(name: str, gross: str, *, end_point: EndPoint | None = None) -> Titrant:
    made_up = StandardSolution(
        standard=standard(name, "3"), weighing=W1.by_difference(f"{gross} g", "10.0000 g"), flask=F250
    )
    what = made_up.standard.titrant
    return standardise_by_aliquots(
        made_up, aliquot=P25, titres=titres("24.95", "25.00", "24.95"), blank=BLANK, end_point=end_point,
        record=f"{DAY} {what}",
    )  # fmt: skip


IODATE = SOLUTION.format(standard="potassium iodate", gross="10.8917")
DRUM = """
[[assay]]
sample = "drum"
dilutions = [{ pipette = "P10", flask = "F250" }]
aliquot = "P25"
burette = "B1"
titres = ["31.20 mL", "31.15 mL", "31.25 mL"]
blank = "0.05 mL"
"""


def drum(titrant: Titrant, **options: object) -> Strength:
    whole = {
        "aliquot": P25, "titres": titres("31.20", "31.15", "31.25"), "dilutions": [Dilution(P10, F250)],
        "blank": BLANK, "record": f"{DAY} drum", **options,
    }  # fmt: skip
    return assay_hypochlorite(titrant, **whole)


class TestStandardising:
    def test_hydroxide_by_portions_of_phthalate(self) -> None:
        found = ran(PHTHALATE, ACID_ASSAY).titrants
        assert list(found) == ["sodium hydroxide"]
        same(found["sodium hydroxide"].estimate, hydroxide().estimate)

    def test_hydroxide_by_aliquots_of_a_phthalate_solution(self) -> None:
        name = "potassium hydrogen phthalate"
        sheet = SOLUTION.format(standard=name, gross="15.1072") + 'end_point = { indicator = "phenolphthalein" }\n'
        found = ran(sheet, ACID_ASSAY).titrant.estimate
        # The operator is not named, so nobody is recognised again: the numbers agree, the ids do not.
        ours = by_aliquots(name, "15.1072", end_point=EndPoint("phenolphthalein")).estimate
        assert (found.value, found.u, found.dof) == (ours.value, ours.u, ours.dof)
        # 5.1072 g of 204.2223 g/mol in 250 mL, 25 mL against 24.967 - 0.05 mL.
        plain = 5.1072 * 0.9995 / 204.2223 / 0.250 * 25.0 / (fmean((24.95, 25.00, 24.95)) - 0.05)
        assert found.value == pytest.approx(plain, rel=1e-7)

    def test_acid_by_portions_of_carbonate(self) -> None:
        found = ran(CARBONATE, BASE_ASSAY).titrants
        assert list(found) == ["hydrochloric acid"]
        same(found["hydrochloric acid"].estimate, acid().estimate)

    def test_acid_against_that_hydroxide(self) -> None:
        """What is assayed is then a titrant: both share the burette, the operator's eye and the hydroxide."""
        against = """
[[standardisation]]
species = "hydrochloric acid"
aliquot = "P25"
burette = "B1"
titres = ["24.80 mL", "24.85 mL", "24.80 mL"]
blank = "0.05 mL"
end_point = { indicator = "phenolphthalein", operator = "K" }
"""
        found = ran(PHTHALATE, against, BASE_ASSAY).titrants
        assert list(found) == ["sodium hydroxide", "hydrochloric acid"]
        ours = Titrant.from_strength(
            assay_acid_base(
                hydroxide(), "hydrochloric acid", end_point=PINK, aliquot=P25,
                titres=titres("24.80", "24.85", "24.80"), blank=BLANK, record=f"{DAY} hydrochloric acid",
            )
        )  # fmt: skip
        same(found["hydrochloric acid"].estimate, ours.estimate)
        plain = found["sodium hydroxide"].estimate.value * (fmean((24.80, 24.85, 24.80)) - 0.05) / 25.0
        assert found["hydrochloric acid"].estimate.value == pytest.approx(plain, rel=1e-12)

    def test_thiosulfate_against_dichromate_with_its_cautions(self) -> None:
        sheet = SOLUTION.format(standard="potassium dichromate", gross="11.2258")
        result = ran(sheet, DRUM)
        same(result.titrant.estimate, by_aliquots("potassium dichromate", "11.2258").estimate)
        # Six thiosulfates for each dichromate of 294.185 g/mol.
        plain = 6 * 1.2258 * 0.9995 / 294.1846 / 0.250 * 25.0 / (fmean((24.95, 25.00, 24.95)) - 0.05)
        assert result.titrant.estimate.value == pytest.approx(plain, rel=1e-5)
        report = " ".join(report_text(result).split())
        assert "against potassium dichromate, lot 3" in report
        assert "in the dark for 10 minutes" in report
        assert "heavy metal waste" in report

    def test_the_cautions_of_dichromate_are_not_told_of_iodate(self) -> None:
        assert "ichromate" not in report_text(ran(IODATE, DRUM))

    def test_thiosulfate_by_comparison_with_a_known_one(self) -> None:
        compared = """
[[standardisation]]
compared_with = "thiosulfate"
burette = "B1"
known_titres = ["20.00 mL", "20.05 mL", "20.00 mL"]
titres = ["21.00 mL", "21.05 mL", "21.00 mL"]
blank = "0.05 mL"
"""
        result = ran(IODATE, compared, DRUM)
        known = by_aliquots("potassium iodate", "10.8917")
        ours = standardise_by_comparison(
            known, known_titres=titres("20.00", "20.05", "20.00"), titres=titres("21.00", "21.05", "21.00"),
            blank=BLANK, record=f"{DAY} thiosulfate",
        )  # fmt: skip
        same(result.titrant.estimate, ours.estimate)
        mean = fmean((20.00, 20.05, 20.00))
        assert ours.estimate.value / known.estimate.value == pytest.approx((mean - 0.05) / (mean + 0.95), rel=1e-12)
        # The assay uses the one that was compared, and says with which.
        same(result.strengths["drum"].estimate, drum(ours).estimate)
        assert result.strengths["drum"].facts["compared with"] == known.label


# ----------------------------------------------------------------------------------------------------------- assaying
ACID_ASSAY = """
[[assay]]
sample = "sample"
species = "hydrochloric acid"
dilutions = [{ pipette = "P10", flask = "F250" }]
aliquot = "P25"
burette = "B1"
titres = ["31.20 mL", "31.15 mL", "31.25 mL"]
blank = "0.05 mL"
end_point = { indicator = "phenolphthalein", operator = "K" }
"""
BASE_ASSAY = ACID_ASSAY.replace("hydrochloric acid", "sodium hydroxide").replace("phenolphthalein", "methyl orange")


def assayed(titrant: Titrant, species: str, end_point: EndPoint, **options: object) -> Strength:
    whole = {
        "aliquot": P25, "titres": titres("31.20", "31.15", "31.25"), "dilutions": [Dilution(P10, F250)],
        "blank": BLANK, "end_point": end_point, "record": f"{DAY} sample", **options,
    }  # fmt: skip
    return assay_acid_base(titrant, species, **whole)


class TestSpecies:
    @pytest.mark.parametrize(
        ("species", "equivalents"),
        [("hydrochloric acid", 1), ("sulfuric acid", 2), ("nitric acid", 1), ("acetic acid", 1)],
    )
    def test_acids(self, species: str, equivalents: int) -> None:
        result = ran(PHTHALATE, ACID_ASSAY.replace("hydrochloric acid", species))
        found, ours = result.strengths["sample"], assayed(hydroxide(), species, PINK)
        same(found.estimate, ours.estimate)
        plain = result.titrant.estimate.value * (31.20 - 0.05) / equivalents / 25.0 * 25.0
        assert found.estimate.value == pytest.approx(plain, rel=1e-12)
        assert list(found.bases()) == list(ours.bases())

    @pytest.mark.parametrize("species", ["sodium hydroxide", "potassium hydroxide", "ammonia"])
    def test_bases(self, species: str) -> None:
        result = ran(CARBONATE, BASE_ASSAY.replace("sodium hydroxide", species))
        found = result.strengths["sample"]
        same(found.estimate, assayed(acid(), species, ORANGE).estimate)
        assert found.estimate.value == pytest.approx(result.titrant.estimate.value * 31.15, rel=1e-12)

    def test_both_chemistries_on_one_sheet(self) -> None:
        """Each sample is titrated with what titrates it; one report has both procedures, each once."""
        result = ran(IODATE, PHTHALATE, DRUM, ACID_ASSAY)
        assert list(result.titrants) == ["thiosulfate", "sodium hydroxide"]
        same(result.strengths["drum"].estimate, drum(by_aliquots("potassium iodate", "10.8917")).estimate)
        same(result.strengths["sample"].estimate, assayed(hydroxide(), "hydrochloric acid", PINK).estimate)
        report = report_text(result)
        assert report.count("The titration, in its safe order") == 2
        assert "Keep acid away from hypochlorite" in report
        assert "Keep hypochlorite away from every acid" in report

    def test_a_titrant_may_be_named(self) -> None:
        named = ACID_ASSAY.replace('sample = "sample"', 'sample = "sample"\ntitrant = "sodium hydroxide"')
        same(
            ran(PHTHALATE, named).strengths["sample"].estimate,
            ran(PHTHALATE, ACID_ASSAY).strengths["sample"].estimate,
        )

    def test_an_end_point_that_comes_late_is_corrected(self) -> None:
        """Without a blank that shares it, 0.04 mL late is 0.04 mL too much, and its u is a line of its own."""
        late = 'end_point = { indicator = "phenolphthalein", operator = "L", excess = "0.04 mL", u = "0.02 mL" }'
        sheet = ACID_ASSAY.replace('end_point = { indicator = "phenolphthalein", operator = "K" }', late)
        ours = assayed(
            hydroxide(), "hydrochloric acid",
            EndPoint("phenolphthalein", operator="L", excess="0.04 mL", u="0.02 mL"), blank=None,
        )  # fmt: skip
        found = ran(PHTHALATE, sheet.replace('blank = "0.05 mL"\n', "")).strengths["sample"]
        same(found.estimate, ours.estimate)
        plain = hydroxide().estimate.value * (31.20 - 0.04)
        assert found.estimate.value == pytest.approx(plain, rel=1e-12)
        line = next(line for line in found.budget().lines if "phenolphthalein, L" in line.label)
        assert line.contribution / found.estimate.value == pytest.approx(0.02 / (31.20 - 0.04), rel=1e-9)


class TestByMass:
    def test_a_weighed_dilution(self) -> None:
        weighed = 'balance = "W2"\ndilutions = [{ gross = "106.194 g", tare = "100.000 g", flask = "F500" }]'
        sheet = ACID_ASSAY.replace('dilutions = [{ pipette = "P10", flask = "F250" }]', weighed)
        found = ran(PHTHALATE, sheet).strengths["sample"]
        portion = W2.by_difference("106.194 g", "100.000 g")
        ours = assayed(hydroxide(), "hydrochloric acid", PINK, dilutions=[Dilution(portion, F500)])
        same(found.estimate, ours.estimate)
        assert found.per_mass
        assert list(found.bases()) == ["% w/w HCl"]

    def test_a_weighed_then_a_pipetted_dilution(self) -> None:
        weighed = (
            'balance = "W2"\ndilutions = [{ gross = "160.000 g", tare = "100.000 g", flask = "F500" }, '
            '{ pipette = "P25", flask = "F250" }]'
        )
        sheet = ACID_ASSAY.replace('dilutions = [{ pipette = "P10", flask = "F250" }]', weighed)
        portion = W2.by_difference("160.000 g", "100.000 g")
        ours = assayed(hydroxide(), "hydrochloric acid", PINK, dilutions=[Dilution(portion, F500), Dilution(P25, F250)])
        same(ran(PHTHALATE, sheet).strengths["sample"].estimate, ours.estimate)

    PORTIONS = """
balance = "W1"
portion = [
  { gross = "10.9021 g", tare = "10.0000 g", titre = "28.10 mL" },
  { gross = "10.8815 g", tare = "10.0000 g", titre = "27.45 mL" },
]
"""

    @staticmethod
    def _weighed() -> list:
        weighings = [W1.by_difference(gross, "10.0000 g") for gross in ("10.9021 g", "10.8815 g")]
        return list(zip(weighings, titres("28.10", "27.45"), strict=True))

    def test_weighed_portions_of_an_acid(self) -> None:
        sheet = f"""
[[assay]]
sample = "sample"
species = "acetic acid"
burette = "B1"
blank = "0.05 mL"
end_point = {{ indicator = "phenolphthalein", operator = "K" }}
{self.PORTIONS}"""
        ours = assay_acid_base(
            hydroxide(), "acetic acid", end_point=PINK, portions=self._weighed(), blank=BLANK, record=f"{DAY} sample"
        )
        same(ran(PHTHALATE, sheet).strengths["sample"].estimate, ours.estimate)

    def test_weighed_portions_of_hypochlorite_need_no_density_for_per_cent_by_mass(self) -> None:
        sheet = f'[[assay]]\nsample = "drum"\nburette = "B1"\nblank = "0.05 mL"\n{self.PORTIONS}'
        found = ran(IODATE, sheet).strengths["drum"]
        ours = assay_hypochlorite(
            by_aliquots("potassium iodate", "10.8917"), portions=self._weighed(), blank=BLANK, record=f"{DAY} drum"
        )
        same(found.estimate, ours.estimate)
        assert list(found.bases()) == ["% w/w available chlorine", "% w/w NaOCl", "mg/kg available chlorine"]

    def test_titres_by_mass(self) -> None:
        """The bottle of titrant is weighed before and after: no burette, and strengths of titrant per gram."""
        standardised = """
[[standardisation]]
standard = "potassium hydrogen phthalate"
lot = "1"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
balance = "W1"
end_point = { indicator = "phenolphthalein", operator = "K" }
blank = { before = "90.0510 g", after = "90.0000 g" }
portion = [
  { gross = "10.5105 g", tare = "10.0000 g", titre = { before = "90.0000 g", after = "65.0230 g" } },
  { gross = "10.5226 g", tare = "10.0000 g", titre = { before = "90.0000 g", after = "64.4310 g" } },
]
"""
        sheet = """
[[assay]]
sample = "sample"
species = "hydrochloric acid"
balance = "W1"
aliquot = "P25"
titres = [
  { before = "90.0000 g", after = "69.0210 g" },
  { before = "90.0000 g", after = "69.0250 g" },
  { before = "90.0000 g", after = "61.0000 g", void = "spilt" },
]
blank = [{ before = "90.0510 g", after = "90.0000 g" }]
end_point = { indicator = "phenolphthalein", operator = "K" }
"""
        result = ran(standardised, sheet)
        blank = W1.titre("90.0510 g", "90.0000 g")
        titrant = standardise_by_portions(
            standard("potassium hydrogen phthalate", "1"),
            portions=[
                (W1.by_difference("10.5105 g", "10.0000 g"), W1.titre("90.0000 g", "65.0230 g")),
                (W1.by_difference("10.5226 g", "10.0000 g"), W1.titre("90.0000 g", "64.4310 g")),
            ],
            blank=blank, end_point=PINK, record=f"{DAY} sodium hydroxide",
        )  # fmt: skip
        same(result.titrant.estimate, titrant.estimate)
        assert titrant.estimate.unit == "mol/g"
        ours = assay_acid_base(
            titrant, "hydrochloric acid", end_point=PINK, aliquot=P25, blank=blank, record=f"{DAY} sample",
            titres=[
                W1.titre("90.0000 g", "69.0210 g"), W1.titre("90.0000 g", "69.0250 g"),
                W1.titre("90.0000 g", "61.0000 g", void="spilt"),
            ],
        )  # fmt: skip
        same(result.strengths["sample"].estimate, ours.estimate)
        plain = titrant.estimate.value * (fmean((20.979, 20.975)) - 0.051) / 0.025
        assert ours.estimate.value == pytest.approx(plain, rel=1e-12)
        assert "29 g (spilt)" in next(flag.message for flag in ours.flags if flag.code == "titres-set-aside")


class TestDensity:
    def test_measured(self) -> None:
        stated = 'density = { value = "1.148 g/mL", half_width = "0.002 g/mL", temperature = "20 °C" }\n'
        found = ran(PHTHALATE, ACID_ASSAY + stated).strengths["sample"]
        density = measured_density("1.148 g/mL", half_width="0.002 g/mL", temperature="20 °C", name=f"{DAY} sample")
        ours = assayed(hydroxide(), "hydrochloric acid", PINK).with_density(density)
        assert list(found.bases()) == ["mol/L HCl", "g/L HCl", "% w/v HCl", "% w/w HCl"]
        for basis in found.bases():
            same(found.in_basis(basis), ours.in_basis(basis))

    def test_by_weighing_a_pipetted_volume(self) -> None:
        stated = (
            'balance = "W2"\n'
            'density = { gross = "131.482 g", tare = "120.000 g", pipette = "P10", temperature = "20 °C" }\n'
        )
        found = ran(PHTHALATE, ACID_ASSAY + stated).strengths["sample"]
        weighing = W2.by_difference("131.482 g", "120.000 g")
        density = density_by_weighing(weighing.mass("density"), P10.volume(), temperature="20 °C")
        ours = assayed(hydroxide(), "hydrochloric acid", PINK).with_density(density)
        assert found.density.estimate.value == pytest.approx(11.482 / 0.010, rel=1e-12)
        theirs, other = found.in_basis("% w/w HCl"), ours.in_basis("% w/w HCl")
        assert (theirs.value, theirs.dof) == (other.value, other.dof)
        assert theirs.u == pytest.approx(other.u, rel=1e-12)
        # Its loads are its own: they cancel with those of no standard.
        assert "balance/W2/linearity/density gross" in theirs.sensitivities
        # The pipette that took the sample is the one whose volume was weighed: per mass it cancels.
        assert theirs.sensitivities["pipette/P10/calibration"] == pytest.approx(0.0, abs=1e-9 * theirs.value / 0.01)

    def test_assumed_from_a_table(self) -> None:
        found = ran(PHTHALATE, ACID_ASSAY + "density = { assumed = true }\n").strengths["sample"]
        ours = assayed(hydroxide(), "hydrochloric acid", PINK).assuming_density()
        same(found.in_basis("% w/w HCl"), ours.in_basis("% w/w HCl"))
        assert "assumed-density" in {flag.code for flag in found.flags}

    def test_of_a_hypochlorite_from_its_strength_when_filled(self) -> None:
        stated = 'density = { assumed = true, filled = "150 g/L available chlorine" }\n'
        found = ran(IODATE, DRUM + stated).strengths["drum"]
        ours = drum(by_aliquots("potassium iodate", "10.8917")).assuming_density(filled="150 g/L available chlorine")
        for basis in ("% w/w available chlorine", "mg/kg available chlorine", "% w/w NaOCl"):
            same(found.in_basis(basis), ours.in_basis(basis))

    def test_of_a_hypochlorite_from_its_label_alone_is_wider(self) -> None:
        label = 'label = "15 % w/v available chlorine"\n'
        filled = 'density = { assumed = true, filled = "150 g/L available chlorine" }\n'
        wide = ran(IODATE, f"{DRUM}{label}density = {{ assumed = true }}\n").strengths["drum"].density.estimate
        narrow = ran(IODATE, DRUM + label + filled).strengths["drum"].density.estimate
        assert wide.u > narrow.u


class TestSource:
    SOURCE = 'source = "calcium hypochlorite"\n'
    ACCEPT = 'accept = { expressed-as-sodium-hypochlorite = "the order form asks for NaOCl" }\n'

    def test_another_source_is_not_stated_as_sodium_hypochlorite(self) -> None:
        found = ran(IODATE, DRUM + self.SOURCE).strengths["drum"]
        assert not [basis for basis in found.bases() if "NaOCl" in basis]
        with pytest.raises(BlockedResultError, match="calcium hypochlorite"):
            found.in_basis("g/L NaOCl")

    def test_unless_that_is_accepted_by_name(self) -> None:
        found = ran(IODATE, DRUM + self.SOURCE + self.ACCEPT).strengths["drum"]
        ours = drum(by_aliquots("potassium iodate", "10.8917"), source="calcium hypochlorite").accepting(
            "expressed-as-sodium-hypochlorite", because="the order form asks for NaOCl"
        )
        same(found.in_basis("g/L NaOCl"), ours.in_basis("g/L NaOCl"))


class TestTemperature:
    def test_one_temperature_for_all_that_was_handled_on_the_day(self) -> None:
        stated = '[temperature]\nliquids = "25 °C"\nhalf_width = "2 K"\n'
        result = ran(PHTHALATE, ACID_ASSAY, stated)
        warm = Temperature("25 °C", half_width="2 K", day=DAY)
        ours = assayed(hydroxide(warm), "hydrochloric acid", PINK, temperature=warm)
        same(result.titrant.estimate, hydroxide(warm).estimate)
        same(result.strengths["sample"].estimate, ours.estimate)
        assert [id_ for id_ in ours.estimate.influences if id_.startswith("temperature/")] == [f"temperature/{DAY}"]
        assert "Volumes are stated at 20 °C; the liquids were at 25 °C ± 2 K" in " ".join(report_text(result).split())

    def test_without_it_volumes_are_those_marked(self) -> None:
        result = ran(PHTHALATE, ACID_ASSAY)
        assert result.temperature == ""
        told = "Volumes as marked at 20 °C; temperature is not in the budget. Air buoyancy is not in the budget."
        assert told in " ".join(report_text(result).split())

    @pytest.mark.parametrize("material", ["borosilicate", "soda-lime", "polypropylene", "polymethylpentene"])
    def test_what_ware_is_made_of(self, material: str) -> None:
        stated = '[temperature]\nliquids = "25 °C"\nhalf_width = "2 K"\n'
        head = HEAD.replace(
            'F250 = { kind = "flask",', f'F250 = {{ kind = "flask", tolerance = "0.3 mL", material = "{material}",'
        )
        found = run_text(f"{head}{PHTHALATE}{ACID_ASSAY}{stated}", name="ware.toml").strengths["sample"]
        warm = Temperature("25 °C", half_width="2 K", day=DAY)
        flask = Flask("F250", capacity="250 mL", tolerance="0.3 mL", material=material)
        ours = assayed(hydroxide(warm), "hydrochloric acid", PINK, temperature=warm, dilutions=[Dilution(P10, flask)])
        same(found.estimate, ours.estimate)


class TestCaustic:
    SHEET = BASE_ASSAY.replace('"sample"', '"orange"').replace(
        "methyl orange", "bromocresol green"
    ) + BASE_ASSAY.replace('"sample"', '"pink"').replace("methyl orange", "phenolphthalein").replace("31.", "30.")

    def test_hydroxide_and_carbonate_share_what_they_share(self) -> None:
        two = '[caustic]\nname = "lye"\nphenolphthalein = "pink"\nmethyl_orange = "orange"\n'
        result = ran(CARBONATE, self.SHEET, two)
        found, strength = result.caustics["lye"], result.titrant.estimate.value
        assert found.carbonate.value == pytest.approx(strength * 1.00, rel=1e-9)
        assert found.hydroxide.value == pytest.approx(strength * (30.15 - 1.00), rel=1e-9)

    def test_a_dose_of_the_caustic_is_one_of_its_hydroxide(self) -> None:
        two = '[caustic]\nname = "lye"\nphenolphthalein = "pink"\nmethyl_orange = "orange"\n'
        dosed = '[[dose]]\nof = "lye"\ndeliver = "0.1 mol NaOH"\ninto = "water"\nwith = "C100"\n'
        result = ran(CARBONATE, self.SHEET, two, dosed)
        (found,) = result.doses
        assert found.strength.value == pytest.approx(result.titrant.estimate.value * (30.15 - 1.00), rel=1e-9)

    def test_several_caustics(self) -> None:
        two = '[[caustic]]\nname = "{}"\nphenolphthalein = "pink"\nmethyl_orange = "orange"\n'
        result = ran(CARBONATE, self.SHEET, two.format("lye"), two.format("lye again"))
        assert list(result.caustics) == ["lye", "lye again"]
        names = [name for name in report_json(result).split('"') if name.startswith("caustic/")]
        assert names == [f"caustic/{n}/{part}" for n in ("lye", "lye again") for part in ("hydroxide", "carbonate")]


class TestDose:
    @staticmethod
    def _dose(lines: str) -> Dose:
        (found,) = ran(PHTHALATE, ACID_ASSAY, f'[[dose]]\ninto = "water"\nwith = "C100"\n{lines}').doses
        return found

    def test_portions_spare_and_binding(self) -> None:
        each = self._dose('deliver = "0.102 mol HCl"\nportions = 24\nspare = 2\n')
        assert (each.portions, each.spare, each.binding) == (24, 2, "each")
        together = self._dose('deliver = "0.102 mol HCl"\nportions = 24\nspare = 2\nbinding = "all"\n')
        assert together.binding == "all"
        assert together.at_least.volume > each.at_least.volume
        assert together.at_least.any_below <= 0.05 < each.at_least.any_below

    def test_one_portion_where_nothing_is_said(self) -> None:
        found = self._dose('deliver = "0.1 mol HCl"\n')
        assert (found.portions, found.spare, found.binding) == (1, 0, "each")

    def test_as_mass_of_the_reagent(self) -> None:
        found = self._dose('deliver = "3.6458 g HCl"\n')
        assert found.required.value == pytest.approx(3.6458 / 36.458, rel=1e-9)

    def test_as_equivalents_of_a_base(self) -> None:
        found = self._dose('deliver = { equivalents = 2, of = "5.2994 g", formula = "Na2CO3" }\n')
        assert found.required.value == pytest.approx(2 * 5.2994 / 105.98753856, rel=1e-9)

    def test_a_dose_of_each_of_two_reagents(self) -> None:
        both = """
[[dose]]
of = "sample"
deliver = "0.1 mol HCl"
into = "water"
with = "C100"

[[dose]]
of = "drum"
deliver = "0.1 mol OCl-"
into = "water"
with = "C100"
"""
        result = ran(IODATE, PHTHALATE, DRUM, ACID_ASSAY, both)
        assert [found.reagent for found in result.doses] == ["hydrochloric acid", "hypochlorite"]
        report = " ".join(report_text(result).split())
        assert "Never dispense acid into hypochlorite" in report
        assert "Never dispense hypochlorite into acid" in report


# ---------------------------------------------------------------------------------------- sheets of the first chemistry
#: Every key that a sheet of the first chemistry knew, in tables as they were written then.
FIRST = """
schema = 1
title = "Prep room: as before"
date = 2026-11-16
level = 0.95

[instruments.B1]
kind = "burette"
capacity = "50 mL"
subdivision = "0.1 mL"
class = "B"
standard = "ISO 385:2005"
read_to = "0.05 mL"

[instruments.P10]
kind = "pipette"
capacity = "10 mL"
tolerance = "0.04 mL"

[instruments.P25]
kind = "pipette"
capacity = "25 mL"
class = "B"

[instruments.F250]
kind = "flask"
capacity = "250 mL"
class = "B"

[instruments.C100]
kind = "cylinder"
capacity = "100 mL"
subdivision = "1 mL"
class = "B"

[instruments.W1]
kind = "balance"
readability = "0.1 mg"
repeatability = "0.1 mg"
linearity = "0.2 mg"

[standardisation]
standard = "potassium iodate"
lot = "2219"
purity = "99.95 % w/w"
half_width = "0.05 % w/w"
atomic_weights = "ciaaw-2021"
balance = "W1"
{standardised}
burette = "B1"
blank = [["0.00 mL", "0.05 mL"]]
accept = {{ titres-set-aside = "trial run" }}

{portions}
[assay]
sample = "drum 7"
label = "15 % w/v available chlorine"
dilutions = [{{ pipette = "P10", flask = "F250" }}]
aliquot = "P25"
burette = "B1"
titres = [["0.00 mL", "31.20 mL"]]
blank = [["0.00 mL", "0.05 mL"]]
method_s = "0.05 mL"
method_dof = 12

[assay.sampling]
method = "drum rolled"
delay = "15 min"

[[dose]]
of = "drum 7"
deliver = {{ equivalents = 1.0, of = "0.100 mol" }}
limit = "0.110 mol OCl-"
into = "water"
with = "C100"
assurance = 0.95
available = "18 L"
"""
ALIQUOTS = """
gross = "21.4312 g"
tare = "20.5402 g"
flask = "F250"
aliquot = "P25"
titres = [
  { final = "25.8 mL", rough = true },
  { initial = "10.00 mL", final = "20.00 mL", refilled = [["0.00 mL", "15.00 mL"]], void = "overshot" },
  ["0.00 mL", "24.95 mL"],
  "24.95 mL",
]
"""
PORTIONS = """
[[standardisation.portion]]
gross = "20.6400 g"
tare = "20.5402 g"
titre = ["0.00 mL", "27.95 mL"]

[[standardisation.portion]]
gross = "20.6433 g"
tare = "20.5402 g"
titre = { final = "28.90 mL" }

[[standardisation.portion]]
gross = "20.6433 g"
tare = "20.5402 g"
titre = { final = "29.90 mL", rough = true }
"""
M_IODATE = 39.0983 + 126.90447 + 3 * 15.999


@pytest.mark.parametrize(
    ("standardised", "portions", "thiosulfate"),
    [
        (ALIQUOTS, "", 6 * 1000 * 0.8910 * 0.9995 / M_IODATE / 250.0 * 25.0 / (24.95 - 0.05)),
        (
            "",
            PORTIONS,
            fmean(6 * 1000 * m * 0.9995 / M_IODATE / (v - 0.05) for m, v in ((0.0998, 27.95), (0.1031, 28.90))),
        ),
    ],
    ids=["aliquots", "portions"],
)
def test_sheets_of_the_first_chemistry_still_run(standardised: str, portions: str, thiosulfate: float) -> None:
    result = run_text(FIRST.format(standardised=standardised, portions=portions), name="before.toml")
    strength = thiosulfate * (31.20 - 0.05) / 2 / 25.0 * 25.0
    assert result.titrant.estimate.value == pytest.approx(thiosulfate, rel=1e-12)
    assert result.strengths["drum 7"].estimate.value == pytest.approx(strength, rel=1e-12)
    (found,) = result.doses
    assert found.nominal.volume == round(1000 * 0.100 / strength) / 1000
    assert found.limit.value == pytest.approx(0.110)
    assert (found.portions, found.spare, found.binding, result.temperature) == (1, 0, "each", "")
    line = next(line for line in result.strengths["drum 7"].budget().lines if "P10" in line.label)
    assert line.contribution / strength == pytest.approx(0.04 / math.sqrt(3) / 10.0, rel=1e-9)


def test_a_sheet_without_a_species_is_one_of_hypochlorite() -> None:
    same(
        ran(IODATE, DRUM).strengths["drum"].estimate,
        ran(IODATE, DRUM + 'species = "hypochlorite"\n').strengths["drum"].estimate,
    )
