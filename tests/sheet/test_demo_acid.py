"""The demo sheet of the acid: plain arithmetic on its readings, and the same chain written in Python.

Atomic weights: CIAAW 2021, abridged [ciaaw-2021].
"""

from __future__ import annotations

import datetime as dt
import math
from statistics import fmean

import numpy as np
import pytest

from assay import (
    Balance,
    Burette,
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
    run_demo,
    standardise_by_portions,
)
from assay.data import table
from assay.sheet.run import SheetResult
from tests.titration.by_hand import at_20

H, C, O, CL, K = 1.008, 12.011, 15.999, 35.45, 39.0983  # noqa: E741  (oxygen)
M_PHTHALATE, M_HCL = 8 * C + 5 * H + K + 4 * O, H + CL
# Readings of the demo sheet, in g and mL.
PORTIONS = ((0.5105, 24.95), (0.5226, 25.55), (0.4951, 24.20))
PURITY, BLANK = 0.9995, 0.05
SAMPLE, TITRES, MADE_UP, ALIQUOT = 152.404 - 146.210, (20.25, 20.30, 20.25), 250.0, 10.0
# As if all liquids had been at 20 °C, mol/L and mol/g.
HYDROXIDE = fmean(1000 * mass * PURITY / M_PHTHALATE / (titre - BLANK) for mass, titre in PORTIONS)
CONTENT = HYDROXIDE * (fmean(TITRES) - BLANK) / 1000 * (MADE_UP / ALIQUOT) / SAMPLE


@pytest.fixture(scope="module")
def result() -> SheetResult:
    return run_demo("acid")


@pytest.fixture(scope="module")
def acid(result: SheetResult) -> Strength:
    return result.strengths["hardware acid"]


def test_title_date_level_and_temperature(result: SheetResult) -> None:
    assert result.title == "Prep room: hydrochloric acid from the hardware shelf"
    assert result.date == dt.date(2026, 11, 17)
    assert result.level == 0.95
    assert result.temperature == "22 °C ± 2 K"
    assert (list(result.titrants), list(result.strengths)) == (["sodium hydroxide"], ["hardware acid"])
    assert result.caustics == {}


class TestPlainArithmetic:
    def test_hydroxide_at_20_degrees(self, result: SheetResult) -> None:
        """From 22 °C by the density of water, with expansions of glass and beyond water of the table."""
        rows = {(row.index["kind"], row.index["material"]): row.value for row in table("thermal_expansion").rows}
        glass, beyond = rows["ware", "borosilicate glass 3.3"], rows["liquid beyond water", "dilute solutions"]
        assert result.titrant.estimate.value == pytest.approx(HYDROXIDE / at_20(1.0, glass, beyond, 2.0), rel=1e-12)

    def test_content_of_the_acid(self, acid: Strength) -> None:
        """Titre, aliquot, flask and titrant are equally warm, so nothing of the temperature is left in mol/g."""
        assert acid.per_mass
        assert acid.estimate.value == pytest.approx(CONTENT, rel=1e-12)
        assert acid.in_basis("% w/w HCl").value == pytest.approx(100 * CONTENT * M_HCL, rel=1e-12)

    def test_by_volume_with_the_density_of_the_table(self, acid: Strength) -> None:
        """29.85 % w/w lies between the rows of 20 % (1.0980 g/mL) and 30 % (1.1492 g/mL) [crc-handbook]."""
        percent = 100 * CONTENT * M_HCL
        density = 1098.0 + (1149.2 - 1098.0) * (percent - 20.0) / 10.0
        bases = acid.bases()
        assert list(bases) == ["mol/L HCl", "g/L HCl", "% w/v HCl", "% w/w HCl"]
        assert bases["mol/L HCl"].value == pytest.approx(CONTENT * density, rel=1e-9)
        assert bases["g/L HCl"].value == pytest.approx(CONTENT * density * M_HCL, rel=1e-9)
        assert bases["% w/v HCl"].value == pytest.approx(CONTENT * density * M_HCL / 10, rel=1e-9)

    @pytest.mark.parametrize(
        ("label", "relative"),
        [
            ("calibration of pipette P10 (10 mL)", 0.04 / math.sqrt(3) / 10.0),
            ("calibration of flask F250 (250 mL)", 0.30 / math.sqrt(3) / 250.0),
            ("purity of potassium hydrogen phthalate, lot 0415", 0.0005 / math.sqrt(3) / PURITY),
            # Of titre and single blank, one s, two degrees of freedom: 4/3 of s² = 0.05²/3 less 0.05²/12 of rounding.
            (
                "repeatability, titre, 2026-11-17 hardware acid and blank",
                math.sqrt(4 / 3) * (0.05 / math.sqrt(4)) / (fmean(TITRES) - BLANK),
            ),
        ],
    )
    def test_contributions(self, acid: Strength, label: str, relative: float) -> None:
        line = next(line for line in acid.budget().lines if line.label == label)
        assert line.contribution / acid.estimate.value == pytest.approx(relative, rel=1e-9)

    def test_one_operator_judged_both_so_the_end_point_is_one_line(self, acid: Strength) -> None:
        lines = [line for line in acid.budget().lines if "colour judgement" in line.label]
        assert [line.label for line in lines] == ["colour judgement, phenolphthalein, first bench"]
        # Titre and blank of each titration share the excess, which therefore cancels in the net titre.
        assert lines[0].contribution == pytest.approx(0.0, abs=1e-12 * acid.estimate.value)


@pytest.fixture(scope="module")
def chain() -> tuple[Titrant, Strength, Dose]:
    """Return the demo's chain written in Python: titrant, acid, dose."""
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B", read_to="0.05 mL")
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    temperature = Temperature("22 °C", half_width="2 K", day="2026-11-17")
    end_point = EndPoint("phenolphthalein", operator="first bench")
    blank = burette.titre("0.00 mL", "0.05 mL")
    hydroxide = standardise_by_portions(
        PrimaryStandard("potassium hydrogen phthalate", lot="0415", purity="99.95 % w/w", half_width="0.05 % w/w"),
        portions=[
            (balance.by_difference("14.5105 g", "14.0000 g"), burette.titre("0.00 mL", "24.95 mL")),
            (balance.by_difference("14.5226 g", "14.0000 g"), burette.titre("0.00 mL", "25.55 mL")),
            (balance.by_difference("14.4951 g", "14.0000 g"), burette.titre("0.00 mL", "24.20 mL")),
        ],
        blank=blank,
        end_point=end_point,
        temperature=temperature,
        record="2026-11-17 sodium hydroxide",
    )
    acid = assay_acid_base(
        hydroxide,
        "hydrochloric acid",
        end_point=end_point,
        aliquot=Pipette("P10", capacity="10 mL", accuracy_class="B"),
        titres=[burette.titre("0.00 mL", final) for final in ("20.25 mL", "20.30 mL", "20.25 mL")],
        dilutions=[Dilution(balance.by_difference("152.4040 g", "146.2100 g"), Flask("F250", capacity="250 mL"))],
        blank=blank,
        label="31 % w/w HCl",
        sampling=Sampling(method="bottle inverted three times, poured in the fume hood", delay="10 min"),
        temperature=temperature,
        record="2026-11-17 hardware acid",
    ).assuming_density()
    dosed = dose(
        acid,
        deliver="0.100 mol HCl",
        dispenser=Cylinder("C25", capacity="25 mL", subdivision="0.5 mL", accuracy_class="B"),
        into="water",
        assurance=0.95,
        portions=12,
        spare=2,
        binding="all",
        available="1 L",
    )
    return hydroxide, acid, dosed


class TestSameChainInPython:
    def test_titrant(self, result: SheetResult, chain: tuple[Titrant, Strength, Dose]) -> None:
        ours, sheets = chain[0].estimate, result.titrant.estimate
        assert (sheets.value, sheets.u, sheets.dof) == (ours.value, ours.u, ours.dof)
        assert set(sheets.influences) == set(ours.influences)
        assert (sheets.flags, dict(result.titrant.facts)) == (ours.flags, dict(chain[0].facts))

    def test_strength_in_every_basis(self, acid: Strength, chain: tuple[Titrant, Strength, Dose]) -> None:
        ours, sheets = chain[1].bases(), acid.bases()
        assert list(sheets) == list(ours)
        for basis, estimate in sheets.items():
            assert (estimate.value, estimate.u, estimate.dof) == (ours[basis].value, ours[basis].u, ours[basis].dof)
            assert dict(estimate.sensitivities) == dict(ours[basis].sensitivities)
        assert (acid.flags, dict(acid.facts)) == (chain[1].flags, dict(chain[1].facts))

    def test_dose(self, result: SheetResult, chain: tuple[Titrant, Strength, Dose]) -> None:
        (sheets,) = result.doses
        assert str(sheets) == str(chain[2])
        for volume, ours in zip(sheets.volumes, chain[2].volumes, strict=True):
            assert (volume.kind, volume.volume, volume.fills) == (ours.kind, ours.volume, ours.fills)
            assert (volume.below, volume.any_below) == (ours.below, ours.any_below)
            assert (volume.above, volume.any_above) == (ours.above, ours.any_above)


class TestDose:
    def test_nominal_is_the_nearest_graduation(self, result: SheetResult, acid: Strength) -> None:
        (found,) = result.doses
        exact = 1000 * 0.100 / acid.in_basis("mol/L HCl").value  # 10.64 mL on a cylinder divided in 0.5 mL
        assert found.nominal.volume * 1000 == round(2 * exact) / 2
        assert (found.portions, found.spare, found.binding, found.into) == (12, 2, "all", "water")

    def test_trusting_the_label(self, result: SheetResult, acid: Strength) -> None:
        """31 % w/w by the table of densities: between 30 % (1.1492 g/mL) and 32 % (1.159 g/mL)."""
        label = 0.31 * (1149.2 + 1159.0) / 2.0 / M_HCL
        by_label = result.doses[0].by_label
        assert by_label.value == pytest.approx(0.100 * acid.in_basis("mol/L HCl").value / label, rel=1e-9)

    def test_the_promise_to_all_portions_in_a_simulation_of_the_stated_distributions(
        self, result: SheetResult, acid: Strength
    ) -> None:
        """Strength: scaled t of its u and dof; ±0.5 mL of scale, shared; ±0.25 mL of setting, new in each of 14."""
        (found,) = result.doses
        strength, n = acid.in_basis("mol/L HCl"), 100_000
        rng = np.random.default_rng(17)
        drawn = strength.value + strength.u * rng.standard_t(strength.dof, n)
        limit = next(line for line in found.nominal.delivered.budget().lines if "C25" in line.label)
        assert "±0.5 mL" in limit.source
        scale = rng.uniform(-0.5, 0.5, n)
        settings = rng.uniform(-0.25, 0.25, (14, n))

        def met(kind: str, millilitres: float) -> float:
            amount = drawn * (millilitres + scale + settings) / 1000.0
            return float(np.mean(np.all(amount >= 0.1 if kind == "at least" else amount <= 0.1, axis=0)))

        for volume, nearer in ((found.at_least, -0.5), (found.at_most, 0.5)):
            assert met(volume.kind, 1000 * volume.volume) >= 0.95
            assert met(volume.kind, 1000 * volume.volume + nearer) < 0.95
