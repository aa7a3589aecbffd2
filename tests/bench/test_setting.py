"""Ware that is set: what is shared by all deliveries, what is new in each, and where each is counted."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import (
    Air,
    AssayError,
    Balance,
    Beaker,
    Burette,
    Certificate,
    CorrectionTable,
    Cylinder,
    DataError,
    Dilution,
    DomainError,
    Dropper,
    EndPoint,
    Estimate,
    Flask,
    GraduatedPipette,
    Influence,
    Pipette,
    PistonBurette,
    PistonPipette,
    PrimaryStandard,
    SetVolume,
    StandardSolution,
    Strength,
    Syringe,
    Temperature,
    Titrant,
    TitreBatch,
    UnitError,
    assay_acid_base,
    assay_hypochlorite,
    assay_hypochlorite_batch,
    calibrate,
    combine,
    combine_batch,
    dose,
    standardise_by_aliquots,
)
from assay.bench.setting import OneVolume, one_delivery
from assay.dosing.dispenser import Dispenser, Setting
from assay.substances.species import HYPOCHLORITE

THIRD = math.sqrt(3.0)
SCALE = Balance("W2", readability="0.01 g", repeatability="0.01 g", linearity="0.02 g")
WEIGHED = SCALE.by_difference("14.51 g", "12.00 g")

GRADUATED = GraduatedPipette("G10", capacity="10 mL", subdivision="0.1 mL")
PIPETTE = PistonPipette("E1000", capacity="1000 µL", subdivision="5 µL")
FIXED = PistonPipette("E500", capacity="0.5 mL")
BURETTE = PistonBurette("T20", capacity="20 mL", subdivision="0.01 mL")
SYRINGE = Syringe("S10", capacity="10 mL", subdivision="0.5 mL")
BEAKER = Beaker("K1", capacity="250 mL", subdivision="25 mL")
CYLINDER = Cylinder("C100", capacity="100 mL", subdivision="1 mL")
DROPPER = Dropper("D1", drops=50, weighing=WEIGHED, density="0.998 g/mL")
ALL = (GRADUATED, PIPETTE, FIXED, BURETTE, SYRINGE, BEAKER, CYLINDER, DROPPER)

#: What it was set to, its u without and with what is new in one delivery, mL.
BY_HAND = [
    (GRADUATED.measure("7.50 mL"), 0.1 / THIRD, 0.025 / THIRD),  # ISO 835 class B; half a step of 0.05 mL
    (PIPETTE.measure("500 µL"), 0.008 / THIRD, 0.003),  # ISO 8655-2: the limit of the capacity at every volume
    (PIPETTE.measure("1 mL"), 0.008 / THIRD, 0.003),
    (FIXED.measure("0.5 mL"), 0.004 / THIRD, 0.0015),
    (BURETTE.measure("12.00 mL"), 0.04 / THIRD, math.hypot(0.005 / THIRD, 0.014)),  # ISO 8655-3; display of 0.01 mL
    (SYRINGE.measure("8.0 mL"), 0.04 * 8.0 / THIRD, 0.125 / THIRD),  # from half the capacity on 4 %
    (SYRINGE.measure("3.0 mL"), (0.15 + 0.03) / THIRD, 0.125 / THIRD),  # below: 1.5 % of 10 mL and 1 %
    (BEAKER.measure("100 mL"), 12.5 / THIRD, 6.25 / THIRD),  # 5 % of 250 mL; half a step of 12.5 mL
    (CYLINDER.measure("50 mL"), 1.0 / THIRD, 0.5 / THIRD),  # ISO 4788 class B
]


@pytest.mark.parametrize(("volume", "shared", "new"), BY_HAND)
def test_u_by_hand(volume: SetVolume, shared: float, new: float) -> None:
    assert volume.volume().value == pytest.approx(volume.nominal, rel=1e-14)
    assert 1000.0 * volume.volume().u == pytest.approx(shared, rel=1e-9)
    assert 1000.0 * one_delivery(volume, "dilution").u == pytest.approx(math.hypot(shared, new), rel=1e-9)


@pytest.mark.parametrize("ware", ALL, ids=lambda ware: ware.label)
def test_each_dispenses_and_what_it_was_set_to_is_one_volume(ware: Dispenser) -> None:
    assert isinstance(ware, Dispenser)
    assert not isinstance(ware, OneVolume)
    found = Setting.of(ware, 2.5 * ware.largest).delivered(2.5 * ware.largest, amount())
    assert found.value == pytest.approx(5.0 * ware.largest, rel=1e-7)  # the nominal drop is written to a picolitre


def amount(value: float = 2.0) -> Estimate:
    influence = Influence(id="drum", label="drum", value=value, u=0.0)
    return Estimate.from_influence(influence, name="amount_concentration")


def test_three_deliveries_of_a_dose_by_hand() -> None:
    """The systematic error three times, 9 × 8²/3; the random error new in each, 3 × 3² µL²."""
    found = Setting.of(PIPETTE, 0.003).delivered(0.003, amount())
    assert 1e6 * found.u / 2.0 == pytest.approx(math.sqrt(9.0 * 64.0 / 3.0 + 3.0 * 9.0), rel=1e-9)


# ---------------------------------------------------------------------------------------------------------- sharing
@pytest.mark.parametrize("volume", [row[0] for row in BY_HAND], ids=lambda volume: volume.label)
def test_the_same_ware_at_the_same_volume_errs_alike(volume: SetVolume) -> None:
    again = SetVolume(instrument=volume.instrument, nominal=volume.nominal)
    assert combine(lambda a, b: a / b, volume.volume(), again.volume()).u == 0.0


@pytest.mark.parametrize("volume", [row[0] for row in BY_HAND], ids=lambda volume: volume.label)
def test_two_deliveries_differ_by_what_is_new_in_each(volume: SetVolume) -> None:
    one, other = one_delivery(volume, "first"), one_delivery(volume, "second")
    new = math.sqrt(one.u**2 - volume.volume().u ** 2)
    assert combine(lambda a, b: a - b, one, other).u == pytest.approx(math.sqrt(2.0) * new, rel=1e-9)


def test_volumes_far_apart_on_a_scale_err_hardly_alike() -> None:
    near = combine(lambda a, b: a - b, *(GRADUATED.measure(f"{v} mL").volume() for v in (7.5, 7.6)))
    far = combine(lambda a, b: a - b, *(GRADUATED.measure(f"{v} mL").volume() for v in (7.5, 2.5)))
    independent = math.sqrt(2.0) * 0.1e-3 / THIRD
    assert near.u < 0.3 * independent
    assert far.u == pytest.approx(independent, rel=1e-4)


@given(st.floats(0.5, 10.0))
def test_a_syringe_keeps_the_limit_of_the_standard(volume: float) -> None:
    """4 % of what is expelled from half the capacity on; below, 1.5 % of the capacity and 1 %: both are 0.2 mL at 5 mL.

    Between two knots the deviation is interpolated, which loses up to a twenty-fifth of u.
    """
    limit = 0.04 * volume if volume >= 5.0 else 0.15 + 0.01 * volume
    u = 1000.0 * SYRINGE.measure(f"{volume:.9f} mL").volume().u
    assert (1.0 - 1.0 / 25.0) * limit / THIRD <= u <= limit / THIRD * (1.0 + 1e-9)


def test_small_syringes_have_five_per_cent() -> None:
    small = Syringe("S2", capacity="2 mL", subdivision="0.1 mL").measure("1.6 mL").volume()
    assert small.relative_u == pytest.approx(0.05 / THIRD, rel=1e-9)


# ----------------------------------------------------------------------------------------------- where it is counted
def test_a_dilution_counts_the_delivery_once_for_each_record() -> None:
    """The factor is F/V: with the limits of flask and pipette, and the random error of one delivery."""
    dilution = Dilution(PIPETTE.measure("1.00 mL"), Flask("F100", capacity="100 mL"))
    one, other = dilution.factor("drum 7/dilution 1"), dilution.factor("drum 8/dilution 1")
    assert one.relative_u == pytest.approx(math.hypot(0.008 / THIRD, 0.003, 0.2 / 100.0 / THIRD), rel=1e-9)
    ratio = combine(lambda a, b: a / b, one, other)
    assert ratio.relative_u == pytest.approx(math.sqrt(2.0) * 0.003, rel=1e-9)
    assert combine(lambda a, b: a / b, one, dilution.factor("drum 7/dilution 1")).u == 0.0


def test_titrated_aliquots_count_no_random_error_of_the_pipette() -> None:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    titres = [burette.titre("0.00 mL", reading) for reading in ("24.35 mL", "24.40 mL", "24.45 mL")]
    pipette = PistonPipette("E5", capacity="5 mL", subdivision="0.05 mL")
    titrant = Titrant(name="thiosulfate", estimate=amount())
    found = assay_hypochlorite(titrant, aliquot=pipette.measure("5.00 mL"), titres=titres, record="drum 7")
    own = [id_ for id_ in found.estimate.influences if id_.startswith("piston pipette/") or "random error" in id_]
    assert own
    assert all(id_.startswith("piston pipette/E5/calibration/") for id_ in own)


def test_standardising_takes_a_set_volume_too() -> None:
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    solution = StandardSolution(
        standard=PrimaryStandard("KIO3", lot="2219", purity="99.95 % w/w", half_width="0.05 % w/w"),
        weighing=balance.by_difference("21.4312 g", "20.5402 g"),
        flask=Flask("F250", capacity="250 mL"),
    )
    titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    taken = burette.measure("25.00 mL")
    found = standardise_by_aliquots(solution, aliquot=taken, titres=titres, blank=burette.titre("0.05 mL"))
    # One burette takes the aliquot and titrates it, at nearly the same place: what it errs by cancels in the ratio.
    apart = Burette("B2", capacity="50 mL", subdivision="0.1 mL").measure("25.00 mL")
    other = standardise_by_aliquots(solution, aliquot=apart, titres=titres, blank=burette.titre("0.05 mL"))
    assert found.estimate.value == pytest.approx(other.estimate.value, rel=1e-12)
    assert found.estimate.u < other.estimate.u


@pytest.mark.parametrize("ware", [SYRINGE, CYLINDER, DROPPER, FIXED, Flask("F", capacity="100 mL"), "P10", 5.0])
def test_ware_that_was_set_to_nothing_is_no_aliquot(ware: object) -> None:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    titres = [burette.titre("24.35 mL"), burette.titre("24.40 mL")]
    titrant = Titrant(name="thiosulfate", estimate=amount())
    with pytest.raises(DataError, match=r"aliquot.*measure\('5\.0 mL'\)"):
        assay_hypochlorite(titrant, aliquot=ware, titres=titres)
    hydroxide, eye = Titrant(name="sodium hydroxide", estimate=amount()), EndPoint("phenolphthalein", operator="one")
    with pytest.raises(DataError, match="aliquot"):
        assay_acid_base(hydroxide, "HCl", end_point=eye, aliquot=ware, titres=titres)


KNOWN = Pipette(
    "P10",
    capacity="10 mL",
    calibration=Certificate(volume="9.987 mL", expanded="0.006 mL", k=2, date="2026-03-02", repeatability="0.005 mL"),
)
FILLED = Flask(
    "F100",
    capacity="100 mL",
    calibration=Certificate(volume="99.95 mL", expanded="0.04 mL", k=2, date="2026-03-02", repeatability="0.020 mL"),
)


@pytest.mark.parametrize("warm", [None, Temperature("25 °C", half_width="2 K", day="2026-11-16")])
@pytest.mark.parametrize(
    "dilutions",
    [
        [Dilution(SYRINGE.measure("5.0 mL"), Flask("F250", capacity="250 mL"))],
        [Dilution(KNOWN, FILLED)],
        [Dilution(BURETTE.measure("20 mL"), FILLED), Dilution(KNOWN, Flask("F250", capacity="250 mL"))],
    ],
    ids=["syringe", "certificates", "two"],
)
def test_each_row_of_a_batch_is_diluted_for_itself(dilutions: list[Dilution], warm: Temperature | None) -> None:
    """A row is the single assay of its readings, in value, u and degrees of freedom; two rows share the ware alone."""
    titrant = Titrant(name="thiosulfate", estimate=amount(0.1))
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    finals = [["24.35 mL", "24.40 mL", "24.40 mL"], ["25.00 mL", "25.10 mL", "25.05 mL"]]
    titres = TitreBatch(burette=burette, final=[[float(one.split()[0]) for one in row] for row in finals], unit="mL")
    asked = {"aliquot": BURETTE.measure("10 mL"), "dilutions": dilutions, "temperature": warm}
    rows = assay_hypochlorite_batch(titrant, titres=titres, names=["a", "b"], record="rows", **asked)
    ones = [
        assay_hypochlorite(titrant, titres=[burette.titre(one) for one in row], record=name, **asked).estimate
        for row, name in zip(finals, "ab", strict=True)
    ]
    for k, one in enumerate(ones):
        assert rows.value[k] == pytest.approx(one.value, rel=1e-12)
        assert rows.u[k] == pytest.approx(one.u, rel=1e-9)
        assert rows.estimates.dof[k] == pytest.approx(one.dof, rel=1e-9)
        assert rows[k].estimate.u == pytest.approx(one.u, rel=1e-12)
        assert combine(lambda a, b: a / b, rows[k].estimate, one).u == pytest.approx(0.0, abs=1e-12)
    apart = combine(lambda a, b: a / b, rows[0].estimate, rows[1].estimate).u
    assert apart == pytest.approx(combine(lambda a, b: a / b, *ones).u, rel=1e-12)
    between = combine_batch(lambda row, one: row - one, rows.estimates, ones[0])
    assert between.u[0] == pytest.approx(0.0, abs=1e-12)
    assert between.u[1] == pytest.approx(combine(lambda a, b: a - b, ones[1], ones[0]).u, rel=1e-9)


def test_a_certified_pipette_scatters_where_it_delivers_once() -> None:
    """0.003 mL of the certificate; in a dilution and a dose its 0.005 mL beside it, and not in aliquots."""
    assert 1000.0 * KNOWN.volume().u == pytest.approx(0.003, rel=1e-9)
    assert 1000.0 * one_delivery(KNOWN, "dilution").u == pytest.approx(math.hypot(0.003, 0.005), rel=1e-9)
    assert 1000.0 * KNOWN.setting_error(4).u == pytest.approx(2.0 * 0.005, rel=1e-9)
    diluted = Dilution(KNOWN, FILLED).factor("drum")
    relative = math.hypot(0.003 / 9.987, 0.005 / 9.987, 0.02 / 99.95, 0.02 / 99.95)
    assert diluted.relative_u == pytest.approx(relative, rel=1e-9)
    assert diluted.value == pytest.approx(99.95 / 9.987, rel=1e-12)
    plain = Pipette("P10", capacity="10 mL")
    assert one_delivery(plain, "dilution").u == plain.volume().u


def test_a_certificate_that_does_not_say_it_is_flagged_where_it_counts() -> None:
    known = Certificate(volume="9.987 mL", expanded="0.006 mL", k=2, date="2026-03-02")
    pipette = Pipette("P10", capacity="10 mL", calibration=known)
    diluted = Dilution(pipette, Flask("F250", capacity="250 mL"))
    assert [flag.code for flag in diluted.factor("drum").flags] == ["repeatability-unstated"]
    assert "one filling" in diluted.factor("drum").flags[0].message
    assert not pipette.volume().flags
    assert diluted.factor("drum").relative_u == pytest.approx(math.hypot(0.003 / 9.987, 0.30 / THIRD / 250.0), rel=1e-9)
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    rows = assay_hypochlorite_batch(
        Titrant(name="thiosulfate", estimate=amount(0.1)),
        aliquot=pipette,
        titres=TitreBatch(burette=burette, final=[[24.35, 24.40]], unit="mL"),
        dilutions=[diluted],
    )
    assert "repeatability-unstated" in {flag.code for flag in rows.flags}


def test_a_solution_is_made_up_in_a_cylinder_or_a_beaker_as_well() -> None:
    """A cylinder of class B, ±1 mL, set to ±0.5 mL; a beaker within 5 % of its capacity, filled to half its marks."""
    iodate = PrimaryStandard("KIO3", lot="1", purity="99.95 % w/w", half_width="0.05 % w/w")
    weighing = SCALE.by_difference("20.89 g", "20.00 g")
    by_hand = {CYLINDER: (50.0, math.hypot(1.0 / THIRD, 0.5 / THIRD)), BEAKER: (200.0, math.hypot(12.5, 6.25) / THIRD)}
    for ware, (volume, u) in by_hand.items():
        made_up = ware.measure(f"{volume} mL")
        solution = StandardSolution(standard=iodate, weighing=weighing, flask=made_up).concentration()
        alone = iodate.amount(weighing, weighing.path).relative_u
        assert solution.relative_u == pytest.approx(math.hypot(alone, u / volume), rel=1e-9)
        diluted = Dilution(SYRINGE.measure("5.0 mL"), made_up).factor("drum")
        taken = math.hypot(0.04 * 5.0, 0.125) / THIRD / 5.0  # 4 %, and half a step of half a division
        assert diluted.value == pytest.approx(volume / 5.0, rel=1e-12)
        assert diluted.relative_u == pytest.approx(math.hypot(taken, u / volume), rel=1e-9)


@pytest.mark.parametrize("ware", [SYRINGE.measure("8.0 mL"), BURETTE.measure("15 mL"), SYRINGE, CYLINDER])
def test_no_solution_is_made_up_in_what_only_delivers(ware: object) -> None:
    with pytest.raises(DataError, match="no solution is made up in this"):
        Dilution(GRADUATED.measure("1 mL"), ware)  # type: ignore[arg-type]


def test_a_certified_flask_scatters_in_each_solution_that_is_made_up_in_it() -> None:
    iodate = PrimaryStandard("KIO3", lot="1", purity="99.95 % w/w", half_width="0.05 % w/w")
    first, second = (
        StandardSolution(standard=iodate, weighing=SCALE.by_difference(gross, "20.00 g"), flask=FILLED).concentration()
        for gross in ("20.89 g", "20.88 g")
    )
    flask = [{id_ for id_ in one.influences if "F100" in id_} for one in (first, second)]
    assert len(flask[0]) == len(flask[1]) == 2
    assert len(flask[0] & flask[1]) == 1


# ------------------------------------------------------------------------------------------------------------- drops
def test_a_drop_by_hand() -> None:
    """2.51 g of 50 drops at 0.998 g/mL; the balance, the density to half its last digit and 5 % over √50."""
    mass = math.sqrt(2.0 * 0.02**2 / 3.0 + 2.0 * 0.01**2) / 2.51
    relative = math.sqrt(mass**2 + (0.0005 / 0.998 / THIRD) ** 2 + 0.05**2 / 50.0)
    assert 1000.0 * DROPPER.drop.value == pytest.approx(2.51 / 0.998 / 50.0, rel=1e-12)
    assert DROPPER.drop.relative_u == pytest.approx(relative, rel=1e-9)
    twenty = DROPPER.measure(20)
    assert twenty.volume().relative_u == pytest.approx(relative, rel=1e-6)
    assert one_delivery(twenty, "x").relative_u == pytest.approx(math.hypot(relative, 0.05 / math.sqrt(20.0)), rel=1e-6)


def test_the_scatter_of_drops_says_that_it_is_a_choice() -> None:
    sources = {line.source for line in one_delivery(DROPPER.measure(20), "x").budget().lines}
    assert "drops scatter by 5 %, a choice of the library" in sources
    own = Dropper("D2", drops=50, weighing=WEIGHED, density="0.998 g/mL", scatter=0.02, half_width="0.002 g/mL")
    sources = {line.source for line in one_delivery(own.measure(20), "x").budget().lines}
    assert {"drops scatter by 2 %, stated", "stated, ±0.002 g/mL"} <= sources


def test_a_dropper_dispenses_whole_drops() -> None:
    setting = Setting.of(DROPPER, 0.0010)
    assert setting.fills == 20
    assert setting.graduated(0.0010, up=None) == pytest.approx(20 * DROPPER.step, rel=1e-9)


def test_a_dose_in_drops_says_how_many() -> None:
    """0.002 mol of 2 mol/L are 1 mL: 20 drops of 0.0503 mL, rounded to whole drops."""
    strength = Strength(species=HYPOCHLORITE, estimate=amount(), facts={})
    found = dose(strength, deliver="0.002 mol OCl-", into="water", dispenser=DROPPER)
    assert found.nominal is not None
    assert "in 20 drops of 0.0503006 mL with dropper D1" in found.nominal.instruction(DROPPER.label)
    assert found.cautions()


# -------------------------------------------------------------------------------------------------- known of one piece
def test_a_certificate_of_a_piston_pipette_holds_at_its_capacity_alone() -> None:
    known = Certificate(volume="0.995 mL", expanded="0.002 mL", k=2, date="2026-03-02")
    pipette = PistonPipette("E1", capacity="1 mL", subdivision="5 µL", calibration=known)
    assert pipette.measure("1 mL").volume().value == pytest.approx(0.000995, rel=1e-12)
    assert pipette.measure("1 mL").volume().u == pytest.approx(1e-6, rel=1e-12)
    with pytest.raises(DomainError, match="its capacity alone"):
        pipette.measure("0.5 mL").volume()


def test_a_piston_pipette_repeats_as_it_was_seen_to() -> None:
    """The s of ten weighings replaces the random error of the standard; one that is stated goes before both."""
    grams = [0.9951, 0.9948, 0.9953, 0.9949, 0.9950, 0.9952, 0.9947, 0.9951, 0.9950, 0.9949]
    balance = Balance("W1", readability="0.01 mg", repeatability="0.01 mg", linearity="0.02 mg")
    found = calibrate(
        "piston pipette E1",
        [balance.by_difference(f"{10.0 + gram:.5f} g", "10.00000 g") for gram in grams],
        water=Temperature("21 °C", half_width="0.2 K", day="2026-11-10"),
        air=Air(day="2026-11-10"),
        date="2026-11-10",
        material="polypropylene",
    )
    asked = {"capacity": "1 mL", "subdivision": "5 µL", "calibration": found}
    known = PistonPipette("E1", **asked).measure("1 mL")
    assert known.new_in_each("dilution").u == pytest.approx(1e-3 * stdev(grams) * 1.003, rel=1e-3)
    assert known.new_in_each("dilution").dof == 9.0
    stated = PistonPipette("E1", repeatability="0.004 mL", **asked).measure("1 mL")
    assert stated.new_in_each("dilution").u == pytest.approx(4e-6)


@pytest.mark.parametrize("kind", [PistonPipette, PistonBurette, GraduatedPipette, Syringe, Burette])
def test_a_table_of_corrections_replaces_the_limit(kind: type[Burette | PistonPipette]) -> None:
    table = CorrectionTable(
        readings=["5 mL", "10 mL"],
        corrections=["0.02 mL", "0.03 mL"],
        expanded="0.01 mL",
        k=2,
        date="2026-03-02",
    )
    division = "0.05 mL" if kind is Burette else "0.1 mL"
    ware = kind("X", capacity="10 mL", subdivision=division, calibration=table)
    found = ware.measure("5 mL").volume()
    assert found.value == pytest.approx(0.00502, rel=1e-12)
    assert found.u == pytest.approx(5e-6, rel=1e-9)


def test_own_figures_replace_those_of_the_standard() -> None:
    own = PistonPipette("E3", capacity="3 mL", tolerance="0.012 mL", repeatability="0.004 mL").measure("3 mL")
    assert 1000.0 * own.volume().u == pytest.approx(0.012 / THIRD, rel=1e-9)
    assert 1000.0 * one_delivery(own, "x").u == pytest.approx(math.hypot(0.012 / THIRD, 0.004), rel=1e-9)
    beaker = Beaker("K2", capacity="100 mL", subdivision="10 mL", tolerance="2 mL", read_to="2 mL").measure("50 mL")
    assert 1000.0 * one_delivery(beaker, "x").u == pytest.approx(math.hypot(2.0 / THIRD, 1.0 / THIRD), rel=1e-9)


# --------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: GRADUATED.measure("12 mL"), DomainError, ["12 mL", "10 mL", "another size"]),
        (lambda: GRADUATED.measure("0 mL"), DomainError, ["0 mL", "above zero"]),
        (lambda: GRADUATED.measure("7.5"), UnitError, ["7.5", "unit"]),
        (lambda: GRADUATED.measure(7.5), UnitError, ["7.5", "unit"]),
        (lambda: PIPETTE.measure("50 µL"), DomainError, ["50 µL", "0.1 mL to 1 mL"]),
        (lambda: FIXED.measure("0.4 mL"), DomainError, ["0.4 mL", "0.5 mL"]),
        (lambda: DROPPER.measure(0), DataError, ["drops are counted", "1 or more"]),
        (lambda: DROPPER.measure("1 mL"), DataError, ["drops are counted", "measure(20)"]),
        (lambda: Dropper("D", weighing=WEIGHED, density="1 g/mL"), DataError, ["without a count", "Count the drops"]),
        (lambda: Dropper("D", drops=2.5, weighing=WEIGHED, density="1 g/mL"), DataError, ["2.5", "whole number"]),
        (lambda: Dropper("D", drops=True, weighing=WEIGHED, density="1 g/mL"), DataError, ["drops are counted"]),
        (lambda: Dropper("D", drops=5, weighing=WEIGHED, density="1 g/mL"), DomainError, ["0.502 mL", "0.2 mL"]),
        (lambda: Dropper("D", drops=50, weighing=2.51, density="1 g/mL"), DataError, ["weighing", "by_difference"]),
        (lambda: Dropper("D", drops=50, weighing=WEIGHED, density="1"), UnitError, ["density", "unit"]),
        (
            lambda: Dropper("D", drops=50, weighing=WEIGHED, density="1 g/mL", scatter=5),
            DomainError,
            ["scatter", "0.05 for 5 %"],
        ),
        (lambda: Syringe("S", capacity="10 mL", subdivision="0 mL"), DomainError, ["subdivision", "above zero"]),
        (
            lambda: Syringe("S", capacity="10 mL", subdivision="1 mL", standard="ISO 7886"),
            DataError,
            ["ISO 7886", "ISO 7886-1"],
        ),
        (lambda: GraduatedPipette("G", capacity="3 mL", subdivision="0.1 mL"), DataError, ["3 mL", "1, 2, 5 mL"]),
        (
            lambda: GraduatedPipette("G", capacity="10 mL", subdivision="0.1 mL", accuracy_class="C"),
            DataError,
            ["'C'", "'A', 'B'"],
        ),
        (lambda: PistonPipette("E", capacity="3 mL"), DataError, ["3 mL", "1, 2, 5 mL", "tolerance="]),
        (lambda: PistonPipette("E", capacity="3 mL", tolerance="0.02 mL"), DataError, ["repeatability='… mL'"]),
        (lambda: PistonPipette("E", capacity="1 mL", subdivision="2 mL"), DomainError, ["2 mL", "1 mL or less"]),
        (lambda: PistonBurette("T", capacity="30 mL", subdivision="0.01 mL"), DataError, ["30 mL", "10, 20, 25 mL"]),
        (
            lambda: PistonBurette("T", capacity="20 mL", subdivision="0.01 mL", repeatability="-1 µL"),
            DomainError,
            ["repeatability", "above zero"],
        ),
        (lambda: Beaker("K", capacity="250 mL", subdivision="300 mL"), DomainError, ["300 mL", "250 mL"]),
        (lambda: Beaker("a/b", capacity="250 mL", subdivision="25 mL"), DataError, ["a/b", "slash"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call()
    for words in says:
        assert words in str(caught.value)
