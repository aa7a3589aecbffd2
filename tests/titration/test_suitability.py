"""Which indicator fits which titration, what it finds there, and what is left of an operator's judgement."""

from __future__ import annotations

from collections.abc import Callable
from statistics import fmean

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
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    SheetError,
    StandardSolution,
    Strength,
    Temperature,
    Titrant,
    Titre,
    assay_acid_base,
    assay_hypochlorite,
    hydroxide_and_carbonate,
    report_text,
    standardise_by_aliquots,
    standardise_by_comparison,
    standardise_by_portions,
)
from assay.data import facts, table, text_resource
from assay.sheet.run import run_text
from assay.substances.species import SPECIES, species_named

EXPONENTS = {
    row.index["indicator"]: row.value
    for row in table("indicators").rows
    if row.index["quantity"] == "titration exponent"
}
CODE = "indicator-unsuitable"
KHP, CARBONATE, IODATE, DICHROMATE = (
    "potassium hydrogen phthalate", "sodium carbonate", "potassium iodate", "potassium dichromate",
)  # fmt: skip
SUITABLE = {
    KHP: {"phenolphthalein", "thymolphthalein"},
    CARBONATE: {"methyl orange", "bromocresol green", "methyl red"},
    IODATE: {"starch"},
    DICHROMATE: {"starch"},
}


def burette() -> Burette:
    return Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def titres(*finals: float) -> list[Titre]:
    return [burette().titre(f"{final:.2f} mL") for final in finals]


def balance() -> Balance:
    return Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")


def p25() -> Pipette:
    return Pipette("P25", capacity="25 mL", accuracy_class="A")


def titrant(name: str, value: float = 0.1) -> Titrant:
    influence = Influence(id=f"bottle/{name}", label=name, value=value, u=0.001 * value)
    return Titrant(name=name, estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def standard(name: str) -> PrimaryStandard:
    return PrimaryStandard(name, lot="1", purity="1 g/g", half_width="0.0005 g/g")


def by_portions(name: str, end_point: EndPoint | None, *, volume: float = 25.0, grams: float = 0.5) -> Titrant:
    portions = [
        (balance().by_difference(f"{14 + grams:.4f} g", "14.0000 g"), titre)
        for titre in titres(volume, volume + 0.02, volume - 0.02)
    ]
    return standardise_by_portions(standard(name), portions=portions, blank=titres(0.0, 0.0), end_point=end_point)


def by_aliquots(name: str, end_point: EndPoint | None) -> Titrant:
    flask = Flask("F250", capacity="250 mL", accuracy_class="A")
    weighing = balance().by_difference("15.0000 g", "14.0000 g")
    solution = StandardSolution(standard=standard(name), weighing=weighing, flask=flask)
    return standardise_by_aliquots(
        solution, aliquot=p25(), titres=titres(24.9, 25.0), blank=titres(0.0, 0.0), end_point=end_point
    )


def by_comparison(name: str, end_point: EndPoint | None) -> Titrant:
    return standardise_by_comparison(
        titrant(name), known_titres=titres(25.0, 25.1), titres=titres(24.0, 24.1), blank=titres(0.0, 0.0),
        end_point=end_point,
    )  # fmt: skip


def codes(found: Titrant | Strength) -> dict[str, bool]:
    return {flag.code: flag.blocking for flag in found.flags}


# ---------------------------------------------------------------------------------------------------- primary standards
def test_the_table_names_the_indicators_of_every_standard() -> None:
    names = {row.index["name"] for row in table("primary_standards").rows}
    assert {name: set(standard(name).indicators) for name in names} == SUITABLE
    known = {row.index["indicator"] for row in table("indicators").rows}
    assert {row.index["indicator"] for row in facts("standard_indicators").rows} <= known


def taken_by_phthalate(ph: float) -> float:
    """Return the hydroxide that a mole of phthalate has taken at a pH, at 0.05 mol/L: charge balance, no activities.

    pKa 2.95 and 5.41, pKw 14.00 (from memory).
    """
    h, first, second, c = 10.0**-ph, 10.0**-2.95, 10.0**-5.41, 0.05
    whole = h * h + h * first + first * second
    charge = (h * first + 2.0 * first * second) / whole
    return charge - 1.0 + (1e-14 / h - h) / c


def taken_by_carbonate(ph: float) -> float:
    """Return the acid that a mole of carbonate has taken at a pH while its carbon dioxide stays, at 0.05 mol/L.

    pKa 6.35 and 10.33, pKw 14.00 (from memory).
    """
    h, first, second, c = 10.0**-ph, 10.0**-6.35, 10.0**-10.33, 0.05
    whole = h * h + h * first + first * second
    return (2.0 * h * h + h * first) / whole + (h - 1e-14 / h) / c


@pytest.mark.parametrize("indicator", EXPONENTS)
def test_phthalate_ends_where_a_suitable_indicator_changes(indicator: str) -> None:
    """The titre is that at which the colour changes; found within 0.5 % where nothing is flagged, worse where it is."""
    moles = 0.5 / 204.2223
    # A solution of phthalate lies at pH 4: methyl orange has changed before the first drop, and 1 mL stands for that.
    volume = max(1000.0 * moles * taken_by_phthalate(EXPONENTS[indicator]) / 0.1, 1.0)
    found = by_portions(KHP, EndPoint(indicator, operator="K"), volume=volume)
    wrong = abs(found.estimate.value / 0.1 - 1.0)
    assert (wrong > 0.005) == (CODE in codes(found)), (indicator, wrong)


def test_carbonate_to_phenolphthalein_makes_the_acid_twice_as_strong_and_blocks() -> None:
    grams = 0.1325  # 1.25 mmol, 25.0 mL of 0.1 mol/L acid to both steps
    moles = grams / 105.9875
    half, whole = (
        by_portions(
            CARBONATE, EndPoint(name, operator="K"), grams=grams,
            volume=1000.0 * moles * taken_by_carbonate(EXPONENTS[name]) / 0.1,
        )
        for name in ("phenolphthalein", "methyl orange")
    )  # fmt: skip
    assert whole.estimate.value == pytest.approx(0.1, rel=0.005)
    assert CODE not in codes(whole)
    assert half.estimate.value == pytest.approx(0.2, rel=0.06)  # the first step is flat: pH 9 lies a little before it
    assert codes(half)[CODE]


STEPS = {"portions": by_portions, "aliquots": by_aliquots}


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("name", [KHP, CARBONATE])
@pytest.mark.parametrize("indicator", [*EXPONENTS, "starch"])
def test_an_indicator_blocks_unless_it_stands_beside_the_standard(step: str, name: str, indicator: str) -> None:
    found = STEPS[step](name, EndPoint(indicator, operator="K"))
    assert (CODE in codes(found)) == (indicator not in SUITABLE[name])
    if CODE in codes(found):
        (flag,) = (flag for flag in found.flags if flag.code == CODE)
        assert flag.blocking
        assert flag.message.startswith(
            f"{indicator} changes its colour away from the equivalence point of {name}: use "
        )
        assert all(fitting in flag.message for fitting in SUITABLE[name])


def test_a_blocked_titrant_is_not_used_until_the_flag_is_accepted_by_name() -> None:
    base = by_portions(KHP, EndPoint("methyl orange", operator="K"))

    def assayed(with_: Titrant) -> Strength:
        return assay_acid_base(
            with_, "hydrochloric acid", aliquot=p25(), titres=titres(20.0, 20.1), blank=titres(0.0, 0.0),
            end_point=EndPoint("phenolphthalein", operator="K"),
        )  # fmt: skip

    with pytest.raises(BlockedResultError, match=CODE):
        assayed(base)
    accepted = assayed(base.accepting(CODE, because="a demonstration of what goes wrong"))
    (flag,) = (flag for flag in accepted.flags if flag.code == CODE)
    assert flag.accepted == "a demonstration of what goes wrong"


@pytest.mark.parametrize("known", ["sodium hydroxide", "hydrochloric acid"])
@pytest.mark.parametrize("indicator", [*EXPONENTS, "starch"])
def test_like_portions_end_alike_at_any_ph_and_not_with_starch(known: str, indicator: str) -> None:
    found = codes(by_comparison(known, EndPoint(indicator, operator="K")))
    assert (CODE in found) == (indicator == "starch")
    assert "end-point-not-named" not in found


# ------------------------------------------------------------------------------------------------- no indicator, iodine
@pytest.mark.parametrize(
    ("call", "what"),
    [
        (lambda: by_portions(KHP, None), KHP),
        (lambda: by_aliquots(KHP, None), KHP),
        (lambda: by_portions(CARBONATE, None), CARBONATE),
        (lambda: by_comparison("sodium hydroxide", None), "a titration with sodium hydroxide"),
    ],
)
def test_without_an_indicator_it_is_told_and_does_not_block(call: Callable[[], Titrant], what: str) -> None:
    found = call()
    (flag,) = (flag for flag in found.flags if flag.code == "end-point-not-named")
    assert not flag.blocking
    assert f"no indicator is named for {what}" in flag.message


@pytest.mark.parametrize(
    "call",
    [
        lambda end_point: by_portions(IODATE, end_point, grams=0.1),
        lambda end_point: by_aliquots(IODATE, end_point),
        lambda end_point: by_portions(DICHROMATE, end_point, grams=0.1),
        lambda end_point: by_aliquots(DICHROMATE, end_point),
        lambda end_point: by_comparison("thiosulfate", end_point),
    ],
)
def test_iodine_ends_with_starch_and_with_nothing_else(call: Callable[[EndPoint | None], Titrant]) -> None:
    assert codes(call(None)) == {}
    assert codes(call(EndPoint("starch", operator="K"))) == {}
    for indicator in EXPONENTS:
        with pytest.raises(DomainError) as caught:
            call(EndPoint(indicator, operator="K"))
        for words in ("end_point", repr(indicator), "that of starch", "Leave it out"):
            assert words in str(caught.value)


# ------------------------------------------------------------------------------------------------------------ the sheet
ACID, CAUSTIC, DRUM = (text_resource(f"demo_{name}.toml") for name in ("acid", "caustic", "drum"))
FIRST = 'end_point = { indicator = "phenolphthalein", operator = "first bench" }\n\n[[standardisation.portion]]'


def edited(text: str, old: str, new: str) -> str:
    assert text.count(old) == 1, old
    return text.replace(old, new)


@pytest.mark.parametrize("indicator", ["methyl orange", "starch"])
def test_on_a_sheet_an_unsuitable_indicator_blocks_until_it_is_accepted(indicator: str) -> None:
    wrong = edited(ACID, FIRST, FIRST.replace("phenolphthalein", indicator))
    with pytest.raises(SheetError) as caught:
        run_text(wrong, name="bench.toml")
    for words in ("[standardisation]", CODE, indicator, KHP, "phenolphthalein or thymolphthalein"):
        assert words in str(caught.value)
    accepted = edited(wrong, 'standard = "', 'accept = { indicator-unsuitable = "a lesson" }\nstandard = "')
    found = run_text(accepted, name="bench.toml")
    assert found.strengths["hardware acid"].flags[0].accepted == "a lesson"


def test_on_a_sheet_carbonate_to_phenolphthalein_blocks() -> None:
    old = 'end_point = { indicator = "bromocresol green", operator = "second bench" }\n\n[[standardisation.portion]]'
    with pytest.raises(SheetError, match=CODE):
        run_text(edited(CAUSTIC, old, old.replace("bromocresol green", "phenolphthalein")), name="bench.toml")


def test_on_a_sheet_a_standardisation_without_an_indicator_is_told() -> None:
    found = run_text(edited(ACID, FIRST, "[[standardisation.portion]]"), name="bench.toml")
    assert "end-point-not-named" in codes(found.strengths["hardware acid"])
    assert "! end-point-not-named" in report_text(found)


def test_on_a_sheet_an_indicator_of_acids_beside_iodate_is_refused() -> None:
    wrong = edited(DRUM, 'standard = "potassium iodate"', f'standard = "potassium iodate"\n{FIRST.splitlines()[0]}')
    with pytest.raises(SheetError) as caught:
        run_text(wrong, name="bench.toml")
    for words in ("[standardisation]", "end_point", "'phenolphthalein'", "starch"):
        assert words in str(caught.value)


# ------------------------------------------------------------------------------------------------- alkali and carbonate
def alkali(indicator: str, *, species: str = "sodium hydroxide") -> Strength:
    return assay_acid_base(
        titrant("hydrochloric acid"), species, aliquot=p25(), titres=titres(24.3, 24.5), blank=titres(0.05),
        end_point=EndPoint(indicator, operator="K"),
    )  # fmt: skip


def counted(found: Strength) -> str:
    (flag,) = (flag for flag in found.flags if flag.code == "carbonate-counted")
    return flag.message


@pytest.mark.parametrize("indicator", ["bromothymol blue", "phenol red"])
def test_an_indicator_between_the_steps_finds_neither_half_nor_all(indicator: str) -> None:
    share = taken_by_carbonate(EXPONENTS[indicator]) / 2.0
    assert 0.5 < share < 0.7  # by equilibrium while the carbon dioxide stays
    for species in ("sodium hydroxide", "potassium hydroxide"):
        message = counted(alkali(indicator, species=species))
        assert message.startswith(f"{indicator} changes between the two steps of carbonate")
        for words in ("more than half of any carbonate but not all", "holds no carbonate", "methyl orange"):
            assert words in message
        assert "all of any carbonate" not in message


@pytest.mark.parametrize(
    ("indicator", "share", "says"),
    [("phenolphthalein", 0.5, "half"), ("methyl orange", 1.0, "all"), ("bromocresol green", 1.0, "all")],
)
def test_an_indicator_at_a_step_finds_what_it_says(indicator: str, share: float, says: str) -> None:
    assert taken_by_carbonate(EXPONENTS[indicator]) / 2.0 == pytest.approx(share, abs=0.03)
    assert counted(alkali(indicator)).startswith(f"{indicator} finds the hydroxide and {says} of any carbonate")


def test_one_that_is_unsuitable_altogether_is_not_said_to_find_anything() -> None:
    found = codes(alkali("starch"))
    assert found[CODE]
    assert "carbonate-counted" not in found


@pytest.mark.parametrize("indicator", ["bromothymol blue", "phenol red"])
def test_it_gives_no_carbonate(indicator: str) -> None:
    with pytest.raises(DomainError, match="another end point"):
        hydroxide_and_carbonate(phenolphthalein=alkali("phenolphthalein"), methyl_orange=alkali(indicator))


# ---------------------------------------------------------------------------------------------- an operator's judgement
def acid(
    u: str, *, blank: float | None, method_s: str | None = None, finals: tuple[float, ...] = (24.3, 24.5, 24.4)
) -> Strength:
    return assay_acid_base(
        titrant("sodium hydroxide"), "hydrochloric acid", aliquot=p25(), titres=titres(*finals),
        blank=None if blank is None else titres(blank), end_point=EndPoint("phenolphthalein", operator="K", u=u),
        method_s=method_s, record="acid",
    )  # fmt: skip


EYE = "operator/K/phenolphthalein/end point"


@pytest.mark.parametrize(("finals", "method_s"), [((24.3, 24.5, 24.4), None), ((24.4,), "0.05 mL")])
def test_with_a_blank_the_habit_cancels_and_the_scatter_is_counted_once(
    finals: tuple[float, ...], method_s: str | None
) -> None:
    """A habit as wide as is allowed changes nothing: what the judgement scatters is in s of the titres, or method_s."""
    sure, unsure = (acid(u, blank=0.10, finals=finals, method_s=method_s).estimate for u in ("0 mL", "0.5 mL"))
    assert unsure.sensitivities[EYE] == pytest.approx(0.0, abs=1e-12)
    assert unsure.u == pytest.approx(sure.u, rel=1e-12)


def test_without_a_blank_the_habit_stands_beside_the_scatter() -> None:
    sure, unsure = (acid(u, blank=None).estimate for u in ("0 mL", "0.03 mL"))
    slope = 0.1 / 25.0  # mol/L for a millilitre of titrant
    assert unsure.u**2 - sure.u**2 == pytest.approx((slope * 0.03) ** 2, rel=1e-9)


def test_what_became_of_the_judgement_is_said() -> None:
    with_blank, without = acid("0.03 mL", blank=0.10), acid("0.03 mL", blank=None)
    told = with_blank.facts["end point"]
    assert told.startswith("phenolphthalein (colourless to pink), judged by K; the blank")
    for words in ("cancels", "scatter between its judgements is that of the titres"):
        assert words in told
    assert without.facts["end point"] == "phenolphthalein (colourless to pink), judged by K"
    assert "cancels exactly" in " ".join((EndPoint.__doc__ or "").split())


@pytest.mark.parametrize("text", [ACID, CAUSTIC])
def test_the_report_of_a_demo_says_it_for_titrant_and_assay(text: str) -> None:
    found = run_text(text, name="demo.toml")
    report = " ".join(report_text(found).split())
    # Once in each assay, once in the line of traceability.
    assert report.count("what this eye sees late or early cancels") == len(found.strengths) + 1
    for strength in found.strengths.values():
        judged = {id_: s for id_, s in strength.estimate.sensitivities.items() if id_.startswith("operator/")}
        assert judged
        assert list(judged.values()) == pytest.approx([0.0] * len(judged), abs=1e-12)


# ---------------------------------------------------------------------------------------------------- names of reagents
@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("muriatic acid", "hydrochloric acid"),
        ("Muriatic  Acid", "hydrochloric acid"),
        ("hydrochloric acid", "hydrochloric acid"),
        ("spirits of salt", "hydrochloric acid"),
        ("HCl", "hydrochloric acid"),
        ("hcl", "hydrochloric acid"),
        ("caustic soda", "sodium hydroxide"),
        ("lye", "sodium hydroxide"),
        ("NaOH", "sodium hydroxide"),
        ("caustic potash", "potassium hydroxide"),
        ("KOH", "potassium hydroxide"),
        ("vinegar", "acetic acid"),
        ("CH3COOH", "acetic acid"),
        ("battery acid", "sulfuric acid"),
        ("sulphuric acid", "sulfuric acid"),
        ("sulfuric acid", "sulfuric acid"),
        ("H2SO4", "sulfuric acid"),
        ("H₂SO₄", "sulfuric acid"),
        ("HNO3", "nitric acid"),
        ("household ammonia", "ammonia"),
        ("NH3", "ammonia"),
        ("bleach", "hypochlorite"),
        ("NaOCl", "hypochlorite"),
        ("OCl-", "hypochlorite"),
    ],
)
def test_a_reagent_is_known_by_formula_and_by_the_names_of_the_trade(written: str, name: str) -> None:
    assert species_named(written) is SPECIES[name]


def test_no_name_of_the_trade_is_that_of_two_reagents_or_hides_a_proper_one() -> None:
    rows = facts("trade_names").rows
    names = [row.index["name"].casefold() for row in rows]
    assert len(set(names)) == len(names)
    assert {row.fact for row in rows} <= set(SPECIES)
    own = {name.casefold() for species in SPECIES.values() for name in (species.name, species.entity)}
    assert own.isdisjoint(names)
    assert {row.provenance for row in rows} == {"common practice"}


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("muriatic acd", "Did you mean 'muriatic acid'"),
        ("hydrocloric acid", "Did you mean 'hydrochloric acid'"),
        ("caustic sodda", "Did you mean 'caustic soda'"),
        ("xyz", "Known: 'acetic acid', 'ammonia', 'hydrochloric acid', 'hypochlorite', 'nitric acid', 'potassium "),
        ("", "Known: 'acetic acid'"),
    ],
)
def test_a_name_that_is_not_known_is_answered_with_the_nearest(written: str, says: str) -> None:
    with pytest.raises(DataError) as caught:
        species_named(written)
    assert says in str(caught.value)
    assert repr(written) in str(caught.value)


def test_an_assay_by_a_name_of_the_trade_is_the_same_assay() -> None:
    def assayed(name: str) -> Strength:
        return assay_acid_base(
            titrant("sodium hydroxide"), name, aliquot=p25(), titres=titres(24.3, 24.5), blank=titres(0.1),
            end_point=EndPoint("phenolphthalein", operator="K"), record="shelf",
        )  # fmt: skip

    first, second = assayed("hydrochloric acid"), assayed("muriatic acid")
    assert first.species is second.species
    assert (first.estimate.value, first.estimate.u, first.facts) == (
        second.estimate.value, second.estimate.u, second.facts,
    )  # fmt: skip


def test_bleach_is_no_acid_and_no_base() -> None:
    with pytest.raises(DataError, match=r"'bleach'.*oxidant.*assay_hypochlorite"):
        assay_acid_base(
            titrant("sodium hydroxide"), "bleach", aliquot=p25(), titres=titres(24.3, 24.5),
            end_point=EndPoint("phenolphthalein", operator="K"),
        )  # fmt: skip


@pytest.mark.parametrize("written", ["HCl", "muriatic acid"])
def test_a_sheet_may_use_the_names_of_the_trade(written: str) -> None:
    found = run_text(edited(ACID, 'species = "hydrochloric acid"', f'species = "{written}"'), name="bench.toml")
    proper = run_text(ACID, name="bench.toml")
    first, second = (one.strengths["hardware acid"] for one in (found, proper))
    assert (first.estimate.value, first.estimate.u) == (second.estimate.value, second.estimate.u)
    assert report_text(found) == report_text(proper)


def test_a_sheet_may_name_hypochlorite_and_a_titrant_so() -> None:
    drum = edited(DRUM, 'sample = "drum 7"', 'sample = "drum 7"\nspecies = "bleach"')
    proper, named = (run_text(text, name="bench.toml").strengths["drum 7"].estimate for text in (DRUM, drum))
    assert (named.value, named.u) == (proper.value, proper.u)
    acid_sheet = edited(ACID, 'sample = "hardware acid"', 'sample = "hardware acid"\ntitrant = "caustic soda"')
    assert run_text(acid_sheet, name="bench.toml").strengths["hardware acid"].facts["standard"] == KHP


# ------------------------------------------------------------------------------------------------------------- refusals
def assayed(**options: object) -> Strength:
    whole: dict[str, object] = {
        "aliquot": p25(), "titres": titres(24.3, 24.5), "end_point": EndPoint("phenolphthalein", operator="K"),
        **options,
    }  # fmt: skip
    return assay_acid_base(titrant("sodium hydroxide"), "hydrochloric acid", **whole)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (
            lambda: assayed(end_point="phenolphthalein"),
            DataError,
            ["end_point = 'phenolphthalein'", "EndPoint(indicator='phenolphthalein', operator='…')"],
        ),
        (lambda: assayed(end_point=None), DataError, ["end_point", "not named", "EndPoint(indicator="]),
        (
            lambda: by_portions(KHP, "methyl red"),  # type: ignore[arg-type]
            DataError,
            ["end_point = 'methyl red'", "EndPoint(indicator='methyl red'"],
        ),
        (lambda: by_aliquots(KHP, 3), DataError, ["end_point = 3", "EndPoint(indicator="]),  # type: ignore[arg-type]
        (
            lambda: by_comparison("sodium hydroxide", "starch"),  # type: ignore[arg-type]
            DataError,
            ["end_point = 'starch'"],
        ),
        (lambda: assayed(temperature="22 °C"), DataError, ["temperature = '22 °C'", "Temperature('22 °C'"]),
        (lambda: assayed(blank=0), DataError, ["blank = 0", "not a titre", "leave it out"]),
        (lambda: assayed(blank=0.05), DataError, ["blank = 0.05", "burette.titre("]),
        (lambda: assayed(titres=24.3), DataError, ["titres = 24.3", "burette.titre("]),
        (
            lambda: assay_hypochlorite(titrant("thiosulfate"), aliquot=p25(), titres=titres(24.3, 24.4), blank=0),  # type: ignore[arg-type]
            DataError,
            ["blank = 0", "leave it out"],
        ),
        (
            lambda: standardise_by_comparison(
                titrant("thiosulfate"),
                known_titres=titres(25.0, 25.1),
                titres=titres(24.0, 24.1),
                blank=0,  # type: ignore[arg-type]
            ),
            DataError,
            ["blank = 0"],
        ),
        (lambda: EndPoint("methyl red", excess="5 mL"), DomainError, ["excess = '5 mL'", "at most 0.5 mL", "blank"]),
        (lambda: EndPoint("methyl red", excess="-0.6 mL"), DomainError, ["excess = '-0.6 mL'", "at most 0.5 mL"]),
        (lambda: EndPoint("methyl red", u="5 mL"), DomainError, ["u = '5 mL'", "at most 0.5 mL"]),
        (
            lambda: Temperature("22 °C", half_width="200 K"),
            DomainError,
            ["half_width = '200 K'", "at most 10 K", "'2 K'"],
        ),
        (lambda: Temperature("22 °C", half_width="10.1 K"), DomainError, ["half_width = '10.1 K'"]),
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


def test_the_limits_themselves_are_allowed() -> None:
    assert EndPoint("methyl red", excess="0.5 mL", u="0.5 mL").indicator == "methyl red"
    assert EndPoint("methyl red", excess="-0.50 mL").indicator == "methyl red"
    assert Temperature("20 °C", half_width="10 K").difference().value == 0.0


def test_an_excess_as_large_as_the_titre_leaves_nothing() -> None:
    portion = (balance().by_difference("14.0100 g", "14.0000 g"), titres(0.40)[0])
    with pytest.raises(DomainError, match="titre less its blank is zero"):
        standardise_by_portions(
            standard(KHP), portions=[portion], method_s="0.03 mL",
            end_point=EndPoint("phenolphthalein", operator="K", excess="0.40 mL"),
        )  # fmt: skip


def test_the_mean_is_what_is_compared() -> None:
    """A plain figure beside all this: 0.5 g of phthalate in 25 mL."""
    found = by_portions(KHP, EndPoint("phenolphthalein", operator="K"))
    plain = fmean(0.5 / 204.2223 / v for v in (0.02500, 0.02502, 0.02498))
    assert found.estimate.value == pytest.approx(plain, rel=1e-7)
