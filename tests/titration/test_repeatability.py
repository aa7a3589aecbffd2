"""Repeatability pooled over occasions, and whether titres agree."""

from __future__ import annotations

import math

import pytest

from assay.bench.burette import Burette, Titre
from assay.bench.vessels import Pipette
from assay.errors import DataError, DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.influence import Influence
from assay.titration.iodometry import assay_hypochlorite
from assay.titration.repeatability import judge_concordance, pooled_repeatability
from assay.titration.titrant import Titrant

burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: str, **marks: object) -> list[Titre]:
    return [burette.titre(f"{final} mL", **marks) for final in finals]  # type: ignore[arg-type]


def test_variances_are_pooled_by_their_degrees_of_freedom() -> None:
    # 0.1, 0.2, 0.3: variance 0.01 with 2; 9.0, 9.4: 0.08 with 1; a single one says nothing: (0.02 + 0.08)/3.
    found = pooled_repeatability([titres("20.10", "20.20", "20.30"), titres("9.00", "9.40"), titres("5.00")])
    assert 1000.0 * found.standard_deviation == pytest.approx(math.sqrt(0.1 / 3.0), rel=1e-9)
    assert (found.dof, found.occasions, found.unit) == (3.0, 2, "L")


def test_an_assay_takes_it_and_is_narrower_than_with_two_titres_alone() -> None:
    known = Influence(id="bottle/T", label="thiosulfate", value=0.1, u=1e-5)
    titrant = Titrant(name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration"))
    pooled = pooled_repeatability([titres("20.10", "20.20"), titres("9.00", "9.10"), titres("14.00", "14.10")])
    pipette = Pipette("P10", capacity="10 mL", accuracy_class="A")
    pair = titres("24.30", "24.40")  # the same s as on each occasion
    alone = assay_hypochlorite(titrant, aliquot=pipette, titres=pair).estimate
    helped = assay_hypochlorite(
        titrant, aliquot=pipette, titres=pair, method_s=pooled.s, method_dof=pooled.dof
    ).estimate
    assert helped.u == pytest.approx(alone.u, rel=1e-9)
    assert helped.expanded() < 0.6 * alone.expanded()


def test_what_gives_no_scatter_is_refused() -> None:
    with pytest.raises(DomainError, match="two replicates"):
        pooled_repeatability([titres("20.10"), titres("9.00")])
    with pytest.raises(DomainError, match="not all of them alike"):
        pooled_repeatability([titres("20.10", "20.10")])
    rough = titres("25.00", rough=True)
    assert pooled_repeatability([[*titres("20.10", "20.20"), *rough]]).dof == 1.0


@pytest.mark.parametrize(("last", "concordant"), [("24.40", True), ("24.41", False)])
def test_a_stated_range_belongs_to_what_agrees(last: str, *, concordant: bool) -> None:
    found = judge_concordance(titres("24.30", "24.35", last), within="0.10 mL")
    assert found.concordant is concordant
    assert [flag.code for flag in found.flags] == ([] if concordant else ["titres-not-concordant"])
    if not concordant:
        assert "0.11 mL" in found.flags[0].message
        assert "All of them count" in found.flags[0].message


@pytest.mark.parametrize(("n", "factor"), [(2, 2.77), (3, 3.31), (4, 3.63), (5, 3.86)])
def test_the_critical_range_is_that_of_printed_tables(n: int, factor: float) -> None:
    # Upper 5 % points of the range of n normal values over a known standard deviation, as any table prints them.
    found = judge_concordance(titres(*["24.30"] * n), method_s="0.03 mL")
    assert 1000.0 * found.within / 0.03 == pytest.approx(factor, abs=0.005)


def test_judging_takes_two_titres_and_one_rule() -> None:
    with pytest.raises(DomainError, match="takes two"):
        judge_concordance(titres("24.30"), within="0.10 mL")
    with pytest.raises(DataError, match="one of the two"):
        judge_concordance(titres("24.30", "24.40"))
    with pytest.raises(DataError, match="one of the two"):
        judge_concordance(titres("24.30", "24.40"), within="0.1 mL", method_s="0.03 mL")
