"""A titrant: what it is, what it shares with every assay, and an assayed reagent that becomes one."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from assay import (
    AssayError,
    Balance,
    BlockedResultError,
    Burette,
    DataError,
    DomainError,
    EndPoint,
    Estimate,
    Flag,
    Influence,
    Pipette,
    PrimaryStandard,
    Sampling,
    Strength,
    Titrant,
    Titre,
    assay_acid_base,
    combine,
    load,
    save,
    standardise_by_portions,
)

SAMPLED = Sampling(method="bottle inverted", delay="10 min")
SCATTER = "0.04 mL"


def titres(*finals: float) -> list[Titre]:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    return [burette.titre(f"{final:.2f} mL") for final in finals]


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")


def hydroxide() -> Titrant:
    """Return sodium hydroxide against potassium hydrogen phthalate."""
    return standardise_by_portions(
        PrimaryStandard("C8H5KO4", lot="0415", purity="99.95 % w/w", half_width="0.05 % w/w"),
        portions=[(balance().by_difference("14.5105 g", "14.0000 g"), titres(24.95)[0])],
        blank=titres(0.05, 0.05),
        end_point=EndPoint("phenolphthalein", operator="K"),
        method_s=SCATTER,
        record="Monday",
    )


def acid(final: float = 25.0, **options: object) -> Strength:
    """Return hydrochloric acid assayed with that hydroxide."""
    whole = {"sampling": SAMPLED, "blank": titres(0.05, 0.05), "method_s": SCATTER, "record": "acid", **options}
    return assay_acid_base(
        hydroxide(),
        "hydrochloric acid",
        aliquot=p25(),
        titres=titres(final),
        end_point=EndPoint("phenolphthalein", operator="K"),
        **whole,
    )


def caustic(titrant: Titrant, final: float = 24.0, record: str = "caustic", **options: object) -> Strength:
    return assay_acid_base(
        titrant,
        "sodium hydroxide",
        aliquot=p25(),
        titres=titres(final),
        end_point=EndPoint("methyl orange", operator="K"),
        method_s=SCATTER,
        record=record,
        **options,
    )


# --------------------------------------------------------------------------------------- an assayed reagent becomes one
def test_assayed_acid_is_a_titrant_of_the_same_strength() -> None:
    strength = acid()
    found = Titrant.from_strength(strength)
    assert (found.name, found.unit, found.estimate.name) == ("hydrochloric acid", "L", "titrant_concentration")
    assert (found.estimate.value, found.estimate.u, found.estimate.dof) == (
        strength.estimate.value,
        strength.estimate.u,
        strength.estimate.dof,
    )
    assert found.label == "acid"
    assert combine(lambda a, b: a - b, strength.estimate, found.estimate).u == 0.0


def test_weighed_acid_is_a_titrant_by_mass() -> None:
    portion = (balance().by_difference("12.5000 g", "10.0000 g"), titres(25.0)[0])
    strength = assay_acid_base(
        hydroxide(),
        "hydrochloric acid",
        portions=[portion],
        end_point=EndPoint("phenolphthalein", operator="K"),
        method_s=SCATTER,
    )
    found = Titrant.from_strength(strength)
    assert (found.unit, found.estimate.name, found.estimate.unit) == ("g", "titrant_content", "mol/g")
    with pytest.raises(DomainError, match="per gram"):
        caustic(found)


def test_what_is_told_of_the_acid_is_not_told_of_the_caustic() -> None:
    """The standard behind both stays; label and sampling are those of another bottle."""
    strength = acid(label="0.2 mol/L HCl")
    assert strength.facts["label"] == "0.2 mol/L HCl"
    found = Titrant.from_strength(strength)
    assert found.facts["standard"] == "potassium hydrogen phthalate"
    assert found.facts["lot"] == "0415"
    assert {"label", "label strength", "sampling"}.isdisjoint(found.facts)
    after = caustic(found)
    assert {"label", "label strength", "sampling"}.isdisjoint(after.facts)
    assert after.facts["titrant"] == "acid"
    assert after.facts["end point"].startswith("methyl orange")
    own = caustic(found, label="0.5 mol/L NaOH", sampling=SAMPLED)
    assert (own.facts["label"], own.facts["sampling"]) == ("0.5 mol/L NaOH", SAMPLED.sentence())


def test_flags_of_the_assay_go_with_it_and_blocking_ones_stop_it() -> None:
    doubtful = acid(blank=None)
    assert "no-blank" in {flag.code for flag in Titrant.from_strength(doubtful).flags}
    assert "no-blank" in {flag.code for flag in caustic(Titrant.from_strength(doubtful)).flags}
    blocked = acid(10.0, blank=titres(12.0, 12.0))
    with pytest.raises(BlockedResultError) as caught:
        Titrant.from_strength(blocked)
    for words in ["the strength", "blank-above-titre", "accepting('blank-above-titre'"]:
        assert words in str(caught.value)
    accepted = blocked.accepting("blank-above-titre", because="shown in class")
    assert Titrant.from_strength(accepted).flags[0].accepted == "shown in class"


def test_sulfuric_acid_becomes_a_titrant_that_no_assay_takes() -> None:
    strength = assay_acid_base(
        hydroxide(),
        "sulfuric acid",
        aliquot=p25(),
        titres=titres(25.0),
        end_point=EndPoint("methyl red", operator="K"),
        method_s=SCATTER,
    )
    with pytest.raises(DomainError) as caught:
        caustic(Titrant.from_strength(strength))
    assert "sodium hydroxide is titrated with hydrochloric acid" in str(caught.value)
    assert "'sulfuric acid'" in str(caught.value)


# ------------------------------------------------------------------------------------------------------ what is shared
def test_lot_weighing_and_eye_run_through_three_titrations() -> None:
    found = caustic(Titrant.from_strength(acid())).estimate
    for id_ in (
        "lot/potassium hydrogen phthalate/0415/purity",
        "atomic-weight/ciaaw-2021/C",
        "balance/W1/linearity/gross",
        "operator/K/methyl orange/end point",
    ):
        assert id_ in found.influences
    # The lot's purity is a factor of the whole chain; the pipette took both acid and caustic, and counts twice.
    u_purity = 0.0005 / math.sqrt(3.0) / 0.9995
    (purity,) = (line for line in found.budget().lines if line.ids[0].startswith("lot/"))
    assert purity.contribution == pytest.approx(u_purity * found.value, rel=1e-9)
    (pipette,) = (line for line in found.budget().lines if line.ids[0].startswith("pipette/"))
    assert pipette.contribution == pytest.approx(2.0 * 0.03 / math.sqrt(3.0) / 25.0 * found.value, rel=1e-9)


def test_two_assays_with_one_titrant_are_correlated_by_it() -> None:
    """c1 = T a, c2 = T b: the covariance beyond the shared bench is u(T)² a b, and the ratio does not know T."""
    influence = Influence(id="bottle", label="acid", value=0.1, u=0.001)
    titrant = Titrant(
        name="hydrochloric acid", estimate=Estimate.from_influence(influence, name="titrant_concentration")
    )
    first, second = (caustic(titrant, 24.0, record=name).estimate for name in ("a", "b"))
    assert combine(lambda a, b: a / b, first, second).sensitivities["bottle"] == pytest.approx(0.0, abs=1e-9)
    assert combine(lambda a, b: a / b, first, second).u == pytest.approx(math.sqrt(2.0) * 0.04 / 24.0, rel=1e-9)
    total = combine(lambda a, b: a + b, first, second)
    known = 4.0 * (first.u**2 - (0.04 / 24.0 * first.value) ** 2)  # all but the scatter adds up
    assert total.u**2 == pytest.approx(known + 2.0 * (0.04 / 24.0 * first.value) ** 2, rel=1e-9)


def test_another_bottle_is_another_influence() -> None:
    def of(bottle: str) -> Estimate:
        influence = Influence(id=bottle, label=bottle, value=0.1, u=0.001)
        estimate = Estimate.from_influence(influence, name="titrant_concentration")
        return caustic(Titrant(name="hydrochloric acid", estimate=estimate), record=bottle).estimate

    ratio = combine(lambda a, b: a / b, of("first"), of("second"))
    assert ratio.u == pytest.approx(math.sqrt(2.0) * math.hypot(0.01, 0.04 / 24.0), rel=1e-9)


# ------------------------------------------------------------------------------------------------------------- as it is
def test_saved_and_reloaded_it_is_the_same_titrant(tmp_path: Path) -> None:
    base = hydroxide()
    save(tmp_path / "titrants.json", base=base, acid=Titrant.from_strength(acid()))
    again = load(tmp_path / "titrants.json")
    assert isinstance(again["base"], Titrant)
    assert isinstance(again["acid"], Titrant)
    assert (again["base"].name, again["base"].unit) == ("sodium hydroxide", "L")
    assert again["base"].facts == base.facts
    assert again["acid"].name == "hydrochloric acid"
    first, second = (caustic(one).estimate for one in (Titrant.from_strength(acid()), again["acid"]))
    assert combine(lambda a, b: a - b, first, second).u == pytest.approx(0.0, abs=1e-15)


def test_it_is_shown_with_its_flags_first() -> None:
    found = standardise_by_portions(
        PrimaryStandard("C8H5KO4", lot="0415", purity="1 g/g", half_width="0.0005 g/g"),
        portions=[(balance().by_difference("14.5105 g", "14.0000 g"), titres(24.95)[0])],
        method_s=SCATTER,
        end_point=EndPoint("phenolphthalein", operator="K"),
    )
    assert repr(found).startswith("<Titrant 'sodium hydroxide': [no-blank] 0.100")
    assert str(found).splitlines()[0].startswith("! no-blank: ")
    assert str(found).splitlines()[1].startswith("sodium hydroxide: ")
    assert found.budget().u == found.estimate.u


def test_an_acceptance_keeps_all_else() -> None:
    flagged = Titrant(name="thiosulfate", estimate=hydroxide().estimate.flagged(Flag(code="doubt", message="m")))
    accepted = flagged.accepting("doubt", because="seen by the head of the laboratory")
    assert accepted.flags[0].accepted == "seen by the head of the laboratory"
    assert (accepted.name, accepted.facts, accepted.estimate.u) == (flagged.name, flagged.facts, flagged.estimate.u)
    assert flagged.flags[0].accepted == ""


def test_pickled_it_is_the_same_number() -> None:
    base = hydroxide()
    copy = pickle.loads(pickle.dumps(base))  # noqa: S301  (made a line above)
    assert (copy.name, dict(copy.facts)) == (base.name, dict(base.facts))
    assert combine(lambda a, b: a - b, base.estimate, copy.estimate).u == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: hydroxide().accepting("no-blank", because="seen"), DataError, ["no such flag", "no-blank"]),
        (
            lambda: Titrant.from_strength(acid(blank=None)).accepting("no-blank", because=" "),
            DataError,
            ["because", "reason"],
        ),
        (
            lambda: Titrant.from_strength(acid(blank=None)).accepting("noblank", because="seen"),
            DataError,
            ["'noblank'", "'no-blank'"],
        ),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)
