"""The demo sheet of the caustic: plain arithmetic on its readings, and the same chain written in Python.

Atomic weights: CIAAW 2021, abridged [ciaaw-2021].
"""

from __future__ import annotations

import datetime as dt
import math
from statistics import fmean

import pytest

from assay import (
    Balance,
    Burette,
    Caustic,
    Cylinder,
    Dilution,
    Dose,
    EndPoint,
    Flask,
    Pipette,
    PrimaryStandard,
    Sampling,
    Strength,
    Temperature,
    Titrant,
    assay_acid_base,
    dose,
    hydroxide_and_carbonate,
    report_text,
    run_demo,
    standardise_by_portions,
)
from assay.data import table
from assay.sheet.run import SheetResult
from tests.titration.by_hand import at_20

H, C, O, NA = 1.008, 12.011, 15.999, 22.98976928  # noqa: E741  (oxygen)
M_CARBONATE, M_NAOH = 2 * NA + C + 3 * O, NA + O + H
# Readings of the demo sheet, in g and mL.
PORTIONS = ((0.1502, 28.35), (0.1421, 26.85), (0.1555, 29.40))
PURITY, BLANK = 0.9995, 0.05
FIRST, SECOND = (22.75, 22.80, 22.75), (23.65, 23.60, 23.65)
# As if all liquids had been at 20 °C, mol/L. A carbonate takes two acids; 25 mL were made up to 250, and 25 titrated.
ACID = fmean(2 * 1000 * mass * PURITY / M_CARBONATE / (titre - BLANK) for mass, titre in PORTIONS)
FOUND = {
    "caustic, phenolphthalein": ACID * (fmean(FIRST) - BLANK) / 25.0 * 10.0,
    "caustic, bromocresol green": ACID * (fmean(SECOND) - BLANK) / 25.0 * 10.0,
}


@pytest.fixture(scope="module")
def result() -> SheetResult:
    return run_demo("caustic")


@pytest.fixture(scope="module")
def warm() -> float:
    """Return by what a volume indicated at 21 °C is more at 20 °C, with the expansions of the table."""
    rows = {(row.index["kind"], row.index["material"]): row.value for row in table("thermal_expansion").rows}
    return at_20(1.0, rows["ware", "borosilicate glass 3.3"], rows["liquid beyond water", "dilute solutions"], 1.0)


@pytest.fixture(scope="module")
def warm_neat() -> float:
    """Return the same of the caustic itself, 0.9 mol/L, which is pipetted undiluted and expands by more."""
    rows = {(row.index["kind"], row.index["material"]): row.value for row in table("thermal_expansion").rows}
    neat = rows["liquid beyond water", "solutions of 0.25 to 1 equivalent per litre"]
    return at_20(1.0, rows["ware", "borosilicate glass 3.3"], neat, 1.0)


def test_title_date_and_samples(result: SheetResult) -> None:
    assert result.title == "Prep room: old caustic that stood open"
    assert result.date == dt.date(2026, 11, 18)
    assert result.temperature == "21 °C ± 2 K"
    assert list(result.titrants) == ["hydrochloric acid"]
    assert list(result.strengths) == list(FOUND)
    assert list(result.caustics) == ["old caustic"]


class TestPlainArithmetic:
    """Titrant, flask and second pipette cancel: the correction to 20 °C is left once, that of the pipetted caustic."""

    def test_acid(self, result: SheetResult, warm: float) -> None:
        assert result.titrant.estimate.value == pytest.approx(ACID / warm, rel=1e-12)

    @pytest.mark.parametrize("sample", FOUND)
    def test_total_alkali_to_each_end_point(self, result: SheetResult, warm_neat: float, sample: str) -> None:
        bases = result.strengths[sample].bases()
        expected = {"mol/L NaOH": 1.0, "g/L NaOH": M_NAOH, "% w/v NaOH": M_NAOH / 10}
        assert list(bases) == list(expected)  # pipetted, and no density: nothing per mass
        for basis, factor in expected.items():
            assert bases[basis].value == pytest.approx(FOUND[sample] / warm_neat * factor, rel=1e-12)

    def test_hydroxide_and_carbonate(self, result: SheetResult, warm_neat: float) -> None:
        """First end point: hydroxide and carbonate; second: hydroxide and twice the carbonate."""
        first, second = FOUND.values()
        found = result.caustics["old caustic"]
        assert found.carbonate.value == pytest.approx((second - first) / warm_neat, rel=1e-9)
        assert found.hydroxide.value == pytest.approx((2 * first - second) / warm_neat, rel=1e-11)
        assert (found.hydroxide.unit, found.carbonate.unit) == ("mol/L", "mol/L")

    def test_what_both_assays_share_does_not_count_in_the_carbonate(self, result: SheetResult) -> None:
        """The carbonate is a small difference: pipettes, flask and titrant count in it only by their relative u."""
        carbonate = result.caustics["old caustic"].carbonate
        shared = next(line for line in carbonate.budget().lines if "pipette P25" in line.label)
        # The same pipette takes sample and aliquot: 0.06 mL, rectangular, twice.
        assert shared.contribution / carbonate.value == pytest.approx(2 * 0.06 / math.sqrt(3) / 25.0, rel=1e-9)
        # Apart, the two assays of u = 0.3 % would leave the carbonate no digit.
        assert carbonate.u < math.hypot(*(s.estimate.u for s in result.strengths.values()))

    def test_two_indicators_are_two_judgements(self, result: SheetResult) -> None:
        """Each cancels between titre and blank; with phenolphthalein the acid's standardisation has another."""
        ids = {name: {i for i in s.estimate.influences if "end point" in i} for name, s in result.strengths.items()}
        both, green = ids["caustic, phenolphthalein"], ids["caustic, bromocresol green"]
        assert green == {"operator/second bench/bromocresol green/end point"}
        assert both == green | {"operator/second bench/phenolphthalein/end point"}


def test_what_each_indicator_finds_is_told(result: SheetResult) -> None:
    told = {
        name: next(flag for flag in strength.flags if flag.code == "carbonate-counted")
        for name, strength in result.strengths.items()
    }
    assert "the hydroxide and half of any carbonate" in told["caustic, phenolphthalein"].message
    assert "the hydroxide and all of any carbonate" in told["caustic, bromocresol green"].message
    assert not any(flag.blocking for flag in told.values())


def test_hydroxide_and_carbonate_stand_in_the_report(result: SheetResult) -> None:
    report = report_text(result)
    found = result.caustics["old caustic"]
    assert "old caustic: hydroxide and carbonate, from two end points, U at 95 %" in report
    for label, estimate in (("hydroxide", found.hydroxide), ("carbonate", found.carbonate)):
        line = next(line for line in report.splitlines() if line.startswith(f"  {label} "))
        printed = line.split("(")[1].split(")")[0].split(" ± ")
        half_unit = 0.5 * 10.0 ** -len(printed[0].partition(".")[2])
        assert [float(part) for part in printed] == pytest.approx(
            [estimate.value, estimate.expanded()], rel=0.0, abs=half_unit * (1.0 + 1e-9)
        )


@pytest.fixture(scope="module")
def chain() -> tuple[Titrant, dict[str, Strength], Caustic, Dose]:
    """Return the demo's chain written in Python: titrant, both assays, hydroxide and carbonate, dose."""
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B", read_to="0.05 mL")
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    pipette, flask = Pipette("P25", capacity="25 mL"), Flask("F250", capacity="250 mL")
    temperature = Temperature("21 °C", half_width="2 K", day="2026-11-18")
    green, pink = (EndPoint(name, operator="second bench") for name in ("bromocresol green", "phenolphthalein"))
    blank = burette.titre("0.00 mL", "0.05 mL")
    acid = standardise_by_portions(
        PrimaryStandard("sodium carbonate", lot="7730", purity="99.95 % w/w", half_width="0.05 % w/w"),
        portions=[
            (balance.by_difference("14.1502 g", "14.0000 g"), burette.titre("0.00 mL", "28.35 mL")),
            (balance.by_difference("14.1421 g", "14.0000 g"), burette.titre("0.00 mL", "26.85 mL")),
            (balance.by_difference("14.1555 g", "14.0000 g"), burette.titre("0.00 mL", "29.40 mL")),
        ],
        blank=blank,
        end_point=green,
        temperature=temperature,
        record="2026-11-18 hydrochloric acid",
    )
    strengths = {
        sample: assay_acid_base(
            acid,
            "sodium hydroxide",
            end_point=end_point,
            aliquot=pipette,
            titres=[burette.titre("0.00 mL", f"{final} mL") for final in titres],
            dilutions=[Dilution(pipette, flask)],
            blank=blank,
            label="1.0 mol/L NaOH",
            sampling=Sampling(method="bottle shaken, poured from below the crust", delay=delay),
            temperature=temperature,
            record=f"2026-11-18 {sample}",
        )
        for sample, end_point, titres, delay in (
            ("caustic, phenolphthalein", pink, ("22.75", "22.80", "22.75"), "10 min"),
            ("caustic, bromocresol green", green, ("23.65", "23.60", "23.65"), "20 min"),
        )
    }
    first, second = strengths.values()
    caustic = hydroxide_and_carbonate(phenolphthalein=first, methyl_orange=second, label="old caustic")
    dosed = dose(
        caustic.strength,
        deliver="0.200 mol NaOH",
        dispenser=Cylinder("C250", capacity="250 mL", subdivision="2 mL"),
        into="water",
        assurance=0.95,
        available="2 L",
    )
    return acid, strengths, caustic, dosed


def test_it_is_dosed_by_the_hydroxide_alone(result: SheetResult, warm_neat: float) -> None:
    """Twice the first less the second, about 0.874 mol/L: 0.2 mol is 228.8 mL, on a cylinder divided in 2 mL."""
    (found,) = result.doses
    first, second = FOUND.values()
    hydroxide = (2 * first - second) / warm_neat
    assert found.strength.value == pytest.approx(hydroxide, rel=1e-11)
    assert found.nominal.volume * 1000 == 2 * round(1000 * 0.200 / hydroxide / 2)
    assert found.by_label.value == pytest.approx(0.200 * hydroxide / 1.0, rel=1e-11)
    assert "carbonate-counted" not in {flag.code for flag in found.flags}


class TestSameChainInPython:
    def test_titrant(self, result: SheetResult, chain: tuple[Titrant, dict[str, Strength], Caustic, Dose]) -> None:
        ours, sheets = chain[0].estimate, result.titrant.estimate
        assert (sheets.value, sheets.u, sheets.dof) == (ours.value, ours.u, ours.dof)
        assert dict(sheets.sensitivities) == dict(ours.sensitivities)

    @pytest.mark.parametrize("sample", FOUND)
    def test_both_assays(
        self, result: SheetResult, chain: tuple[Titrant, dict[str, Strength], Caustic, Dose], sample: str
    ) -> None:
        ours, sheets = chain[1][sample], result.strengths[sample]
        for basis, estimate in sheets.bases().items():
            other = ours.in_basis(basis)
            assert (estimate.value, estimate.u, estimate.dof) == (other.value, other.u, other.dof)
            assert dict(estimate.sensitivities) == dict(other.sensitivities)
        assert (sheets.flags, dict(sheets.facts)) == (ours.flags, dict(ours.facts))

    @pytest.mark.parametrize("name", ["hydroxide", "carbonate"])
    def test_hydroxide_and_carbonate(
        self, result: SheetResult, chain: tuple[Titrant, dict[str, Strength], Caustic, Dose], name: str
    ) -> None:
        ours, sheets = getattr(chain[2], name), getattr(result.caustics["old caustic"], name)
        assert (sheets.value, sheets.u, sheets.dof) == (ours.value, ours.u, ours.dof)
        assert dict(sheets.sensitivities) == dict(ours.sensitivities)

    def test_dose(self, result: SheetResult, chain: tuple[Titrant, dict[str, Strength], Caustic, Dose]) -> None:
        (sheets,) = result.doses
        assert str(sheets) == str(chain[3])
        assert [(v.volume, v.below, v.above) for v in sheets.volumes] == [
            (v.volume, v.below, v.above) for v in chain[3].volumes
        ]
