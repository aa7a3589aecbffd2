"""Density of a reagent: what is measured, what is assumed and shown as assumed, and an aged hypochlorite's salt."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from assay import (
    AssayError,
    Balance,
    BasisError,
    DataError,
    Density,
    DomainError,
    Estimate,
    Influence,
    Pipette,
    Strength,
    UnitError,
    combine,
    density_by_weighing,
    load,
    measured_density,
    report_text,
    save,
)
from assay.data import text_resource
from assay.sheet.run import run_text
from assay.substances.density_tables import assumed_hypochlorite_density, density_table, fresh_hypochlorite_density
from assay.substances.species import HYPOCHLORITE, SPECIES, Species
from assay.substances.strength import ASSUMED_DENSITY

M_CL2, U_CL2 = 70.90, 2 * 0.01 / math.sqrt(3.0)  # chlorine 35.45 ± 0.01, rectangular: abridged weights of 2021
M_HCL = 36.458
M_NAOH = 39.99676928
# The model of hypochlorite_density.csv: density = factor × (water + slope × filled) + ageing × lost.
WATER, SLOPE, AGEING = 998.2, 1.323, -5.0  # g/L, g/g, g/mol
U_FACTOR, U_AGEING = 0.005, 5.0 / math.sqrt(3.0)
TODAY, LABEL = 60.0, 150.0  # g/L available chlorine, an old drum
FILLED = "150 g/L available chlorine"


def strength(
    value: float,
    u: float = 0.0,
    *,
    species: Species = HYPOCHLORITE,
    id_: str = "drum",
    name: str = "amount_concentration",
    label: float | None = None,
) -> Strength:
    influence = Influence(id=id_, label=id_, value=value, u=u)
    facts = {} if label is None else {"label strength": repr(label / M_CL2)}
    return Strength(species=species, estimate=Estimate.from_influence(influence, name=name), facts=facts)


def old_drum(u: float = 0.0, *, id_: str = "drum", label: float | None = LABEL) -> Strength:
    return strength(TODAY / M_CL2, u, id_=id_, label=label)


# ----------------------------------------------------------------------------------------------------------- measured
def test_a_reading_is_rectangular_within_its_half_width() -> None:
    density = measured_density("1.160 g/mL", half_width="0.005 g/mL", temperature="20 °C", name="drum 7")
    assert density.estimate.value == pytest.approx(1160.0, rel=1e-14)
    assert density.estimate.u == pytest.approx(5.0 / math.sqrt(3.0), rel=1e-12)
    assert density.estimate.unit == "g/L"
    assert (density.assumed, density.how) == (False, "measured 1.160 g/mL at 20 °C")
    (line,) = density.estimate.budget().lines
    assert line.source == "measured at 20 °C, ±0.005 g/mL"


@pytest.mark.parametrize("written", ["1160 g/L", "1.160 kg/L", "1160 kg/m^3"])
def test_a_density_may_be_written_in_other_units(written: str) -> None:
    density = measured_density(written, half_width="5 g/L", temperature="293.15 K")
    assert density.estimate.value == pytest.approx(1160.0, rel=1e-13)


def test_one_name_is_one_reading_and_none_is_a_new_one() -> None:
    named = [measured_density("1.16 g/mL", half_width="0.01 g/mL", temperature="20 °C", name="d") for _ in range(2)]
    nameless = [measured_density("1.16 g/mL", half_width="0.01 g/mL", temperature="20 °C") for _ in range(2)]
    assert combine(lambda a, b: a / b, *(d.estimate for d in named)).u == 0.0
    apart = combine(lambda a, b: a / b, *(d.estimate for d in nameless))
    assert apart.u == pytest.approx(math.sqrt(2.0) * named[0].estimate.relative_u, rel=1e-12)
    other = measured_density("1.17 g/mL", half_width="0.01 g/mL", temperature="20 °C", name="d")
    with pytest.raises(DataError, match=r"density/d.*two different influences"):
        combine(lambda a, b: a / b, named[0].estimate, other.estimate)


def test_a_weighed_volume() -> None:
    """11.7000 g in 10 mL: 1.17 g/mL; u of the mass and of the pipette's volume add as relative squares."""
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    mass = balance.by_difference("31.7000 g", "20.0000 g").mass("r")
    volume = Pipette("P10", capacity="10 mL", accuracy_class="A").volume()
    density = density_by_weighing(mass, volume, temperature="20 °C")
    assert density.estimate.value == pytest.approx(1170.0, rel=1e-12)
    u_mass = math.sqrt(2.0 * 0.0002**2 / 3.0 + 2.0 * 0.0001**2) / 11.7
    assert density.estimate.relative_u == pytest.approx(math.hypot(u_mass, 0.02 / math.sqrt(3.0) / 10.0), rel=1e-12)
    assert (density.assumed, density.how) == (False, "measured by weighing at 20 °C")


def test_the_pipette_that_weighed_and_took_the_sample_cancels() -> None:
    """Per volume over density: where the same pipette measured both, its error leaves the strength per mass."""
    volume = Pipette("P10", capacity="10 mL").volume()
    moles = Estimate.from_influence(Influence(id="moles", label="moles", value=0.02, u=2e-5), name="amount")
    mass = Estimate.from_influence(Influence(id="mass", label="mass", value=11.6, u=1e-3), name="mass")
    density = density_by_weighing(mass, volume, temperature="20 °C")
    content = combine(lambda n, v, rho: n / v / rho, moles, volume, density.estimate)
    assert content.value == pytest.approx(0.02 / 11.6, rel=1e-12)
    assert content.relative_u == pytest.approx(math.hypot(2e-5 / 0.02, 1e-3 / 11.6), rel=1e-12)


# ------------------------------------------------------------------------------------------------- an aged hypochlorite
def test_an_aged_liquor_keeps_the_density_it_was_filled_with() -> None:
    """Filled at 150 g/L, now 60 g/L: the salt stays, 1.19 g/mL; a table at today's 60 g/L would give 1.08 g/mL."""
    density = assumed_hypochlorite_density(old_drum().estimate, filled=LABEL, label=None).estimate
    lost = (LABEL - TODAY) / M_CL2
    assert density.value == pytest.approx(WATER + SLOPE * LABEL + AGEING * lost, rel=1e-12)
    assert f"{density.value / 1000.0:.2f}" == "1.19"
    fresh = assumed_hypochlorite_density(old_drum().estimate, filled=TODAY, label=None).estimate
    assert fresh.value == pytest.approx(WATER + SLOPE * TODAY, rel=1e-12)
    assert f"{fresh.value / 1000.0:.2f}" == "1.08"


def test_u_of_the_density_of_a_known_filling() -> None:
    """By hand: the factor, what ageing does, today's strength through the loss, and the molar mass of chlorine."""
    u_today = 0.01
    density = assumed_hypochlorite_density(old_drum(u_today).estimate, filled=LABEL, label=None).estimate
    lost = (LABEL - TODAY) / M_CL2
    terms = [
        (WATER + SLOPE * LABEL) * U_FACTOR,
        lost * U_AGEING,
        AGEING * u_today,
        AGEING * LABEL / M_CL2**2 * U_CL2,
    ]
    assert density.u == pytest.approx(math.hypot(*terms), rel=1e-9)


def test_an_unknown_filling_is_anywhere_between_today_and_the_label() -> None:
    """By hand, with share 0.5 ± 0.5 rectangular: 1.134 g/mL, u 0.033 g/mL, nearly all of it the unknown filling."""
    u_today = 0.01
    density = old_drum(u_today).assuming_density().density
    assert density is not None
    filled, lost = (TODAY + LABEL) / 2.0, (LABEL - TODAY) / 2.0 / M_CL2
    assert density.estimate.value == pytest.approx(WATER + SLOPE * filled + AGEING * lost, rel=1e-12)
    of_share = (SLOPE * (LABEL - TODAY) + AGEING * (LABEL - TODAY) / M_CL2) * 0.5 / math.sqrt(3.0)
    terms = [
        of_share,
        (WATER + SLOPE * filled) * U_FACTOR,
        lost * U_AGEING,
        (SLOPE * M_CL2 * 0.5 - AGEING * 0.5) * u_today,
        (SLOPE * TODAY / M_CL2 * 0.5 - AGEING * 0.5 * LABEL / M_CL2**2) * U_CL2,
    ]
    assert density.estimate.u == pytest.approx(math.hypot(*terms), rel=1e-9)
    assert (of_share / density.estimate.u) ** 2 > 0.9
    first = density.estimate.budget().lines[0]
    assert first.label == "strength when filled, from today's to the label's"
    assert first.shape == "rectangular"


def test_the_wide_interval_holds_the_truth_and_the_table_at_todays_strength() -> None:
    density = old_drum().assuming_density().density
    assert density is not None
    low, high = (density.estimate.value + sign * density.estimate.expanded() for sign in (-1.0, 1.0))
    assert low < 1080.0
    assert high > 1190.0


def test_what_is_not_known_of_one_drum_is_not_what_is_not_known_of_another() -> None:
    """Two drums of one label and one strength have two pasts: only the model's own doubts are shared."""
    one, other = (old_drum(0.001, id_=name).assuming_density().density for name in ("drum 7", "drum 8"))
    again = old_drum(0.001, id_="drum 7").assuming_density().density
    assert one is not None
    assert other is not None
    assert again is not None
    assert combine(lambda a, b: a - b, one.estimate, again.estimate).u == 0.0
    apart = combine(lambda a, b: a - b, one.estimate, other.estimate)
    of_share = (SLOPE + AGEING / M_CL2) * (LABEL - TODAY) * 0.5 / math.sqrt(3.0)
    of_today = 0.5 * (SLOPE * M_CL2 - AGEING) * 0.001
    assert apart.u == pytest.approx(math.sqrt(2.0) * math.hypot(of_share, of_today), rel=1e-9)


def test_the_label_is_not_needed_when_the_filling_is_known() -> None:
    known = strength(TODAY / M_CL2).assuming_density(filled=FILLED)
    assert known.density is not None
    assert known.density.how == "assumed at 20 °C for a liquor filled at 150 g/L available chlorine"
    both = old_drum(label=160.0).assuming_density(filled=FILLED)
    assert both.density is not None
    assert both.density.estimate.value == known.density.estimate.value


def test_a_fresh_liquor_in_per_cent_by_mass() -> None:
    """Model at 120 g/L: 998.2 + 1.323 × 120 = 1156.96 g/L, so 120/1156.96 by mass; the printed anchor is 1.157."""
    assert fresh_hypochlorite_density(120.0 / 1156.96) == pytest.approx(1156.96, rel=1e-12)
    anchor = next(
        line for line in text_resource("hypochlorite_density.csv").splitlines() if line.startswith("density,120,0,")
    )
    assert anchor.split(",")[3] == f"{fresh_hypochlorite_density(120.0 / 1156.96) / 1000.0:.3f}"


# ------------------------------------------------------------------------------------------------- shown as assumed
@pytest.mark.parametrize("filled", [None, FILLED])
def test_an_assumed_density_is_a_flag_that_recommends_weighing(filled: str | None) -> None:
    assumed = old_drum().assuming_density(filled=filled)
    assert assumed.density is not None
    assert assumed.density.assumed
    (flag,) = assumed.flags
    assert flag.code == ASSUMED_DENSITY
    assert not flag.blocking
    assert "assumed at 20 °C for a liquor filled" in flag.message
    assert "weigh the sample, which needs none" in flag.message
    assert str(assumed).startswith(f"! {ASSUMED_DENSITY}: the density is assumed at 20 °C")
    assert "[assumed-density]" in repr(assumed)


def test_a_measured_density_is_no_flag() -> None:
    density = measured_density("1.19 g/mL", half_width="0.005 g/mL", temperature="20 °C")
    assert old_drum().with_density(density).flags == ()


def test_a_strength_per_mass_is_told_to_measure_the_density() -> None:
    """Weighed already: what helps a strength per volume is the density, not weighing once more."""
    acid = strength(0.009, species=SPECIES["hydrochloric acid"], name="amount_content").assuming_density()
    (flag,) = acid.flags
    assert "measure it, to state a strength per volume" in flag.message


def test_the_report_shows_it() -> None:
    sheet = text_resource("demo_drum.toml").replace(
        'sample = "drum 7"\n', 'sample = "drum 7"\ndensity = { assumed = true }\n'
    )
    page = " ".join(report_text(run_text(sheet, name="drum.toml")).split())
    assert "assumed-density" in page
    assert "a liquor filled between today's strength and the label's 150 g/L available chlorine" in page
    assert "weigh the sample, which needs none" in page
    assert "% w/w available chlorine" in page


# -------------------------------------------------------------------------------------------------- acids and alkalis
# mol/L, and the rows of solution_density.csv between which it lies: % w/w, g/mL and half-width, as printed there.
BETWEEN = [
    ("hydrochloric acid", M_HCL, 6.0, (10.0, 1.0476, 0.0006), (20.0, 1.0980, 0.0006)),
    ("hydrochloric acid", M_HCL, 10.0, (30.0, 1.1492, 0.0006), (32.0, 1.159, 0.0010)),
    ("sodium hydroxide", M_NAOH, 1.0, (1.0, 1.0095, 0.0007), (5.0, 1.0538, 0.0007)),
    ("sodium hydroxide", M_NAOH, 5.0, (10.0, 1.1089, 0.0007), (20.0, 1.2192, 0.0007)),
    ("sodium hydroxide", M_NAOH, 18.0, (46.0, 1.4873, 0.0057), (50.0, 1.5253, 0.0090)),
    ("ammonia", 17.031, 13.0, (20.0, 0.9228, 0.0003), (25.0, 0.9070, 0.0003)),
    ("acetic acid", 60.052, 1.7, (10.0, 1.0121, 0.0005), (20.0, 1.0250, 0.0015)),
    ("sulfuric acid", 98.072, 3.5, (25.0, 1.1783, 0.0019), (30.0, 1.2191, 0.0019)),
]


@pytest.mark.parametrize("row", BETWEEN)
def test_a_table_is_read_between_its_rows(
    row: tuple[str, float, float, tuple[float, float, float], tuple[float, float, float]],
) -> None:
    """Linear in mol/L between the rows; u is the half-width there, linear too, and the slope times u."""
    name, mass, moles, below, above = row
    (w0, d0, h0), (w1, d1, h1) = below, above
    c0, c1 = (10.0 * w * d / mass for w, d, _ in (below, above))
    half_width = 1000.0 * (h0 + (h1 - h0) * (moles - c0) / (c1 - c0))
    slope = 1000.0 * (d1 - d0) / (c1 - c0)
    assert c0 < moles < c1
    assert w0 < w1
    u = 0.01 * moles
    density = density_table(SPECIES[name], strength(moles, u, species=SPECIES[name]).estimate)
    assert density.estimate.value == pytest.approx(1000.0 * d0 + slope * (moles - c0), rel=1e-12)
    assert density.estimate.u == pytest.approx(math.hypot(half_width / math.sqrt(3.0), slope * u), rel=1e-9)
    assert density.assumed
    assert density.how == "assumed at 20 °C from a table of densities of its solutions"


def test_by_mass_and_by_volume_the_table_says_the_same_at_its_rows() -> None:
    acid = SPECIES["hydrochloric acid"]
    by_mass = density_table(acid, strength(0.32 / M_HCL, species=acid, name="amount_content").estimate)
    by_volume = density_table(acid, strength(0.32 / M_HCL * 1159.0, species=acid).estimate)
    assert by_mass.estimate.value == pytest.approx(1159.0, rel=1e-12)
    assert by_volume.estimate.value == pytest.approx(1159.0, rel=1e-12)


def test_strength_and_assumed_density_are_correlated() -> None:
    """Of a stronger acid the density is higher too: an error of the strength partly cancels in per cent by mass."""
    acid = SPECIES["hydrochloric acid"]
    u = 0.03
    found = strength(6.0, u, species=acid).assuming_density()
    assert found.density is not None
    rho = found.density.estimate.value
    c0, c1 = (10.0 * w * d / M_HCL for w, d in ((10.0, 1.0476), (20.0, 1.0980)))
    slope = (1098.0 - 1047.6) / (c1 - c0)
    u_mass = math.hypot(0.0002 / math.sqrt(3.0), 0.01 / math.sqrt(3.0)) / M_HCL
    by_hand = math.hypot((1.0 / 6.0 - slope / rho) * u, 0.6 / math.sqrt(3.0) / rho, u_mass)
    assert found.in_basis("% w/w HCl").relative_u == pytest.approx(by_hand, rel=1e-9)


def test_a_table_that_states_no_uncertainty_at_this_strength_says_so() -> None:
    acid = SPECIES["sulfuric acid"]
    for moles, unstated in ((11.0, False), (18.0, True)):
        how = density_table(acid, strength(moles, species=acid).estimate).how
        assert ("states no uncertainty at this strength" in how) == unstated
    assert "states no uncertainty" in strength(18.0, species=acid).assuming_density().flags[0].message


def test_the_rows_of_one_solute_are_off_together_each_by_its_own_half_width() -> None:
    """By hand: 1 and 5 mol/L of one table move by one share of 0.7 g/L both, 18 mol/L by the same share of 6.1 g/L."""
    caustic = SPECIES["sodium hydroxide"]
    weak, middle, strong = (
        density_table(caustic, Estimate.exactly(c, name="amount_concentration", label="c")).estimate
        for c in (1.0, 5.0, 18.0)
    )
    assert weak.u == pytest.approx(0.7 / math.sqrt(3.0), rel=1e-12)
    assert combine(lambda a, b: a - b, weak, middle).u == pytest.approx(0.0, abs=1e-12)
    c46, c50 = (10.0 * w * d / M_NAOH for w, d in ((46.0, 1.4873), (50.0, 1.5253)))
    wide = 5.7 + (9.0 - 5.7) * (18.0 - c46) / (c50 - c46)
    apart = combine(lambda a, b: a - b, strong, weak)
    assert apart.u == pytest.approx((wide - 0.7) / math.sqrt(3.0), rel=1e-9)
    assert len(apart.influences) == 1


# -------------------------------------------------------------------------------------- another density, another place
def test_a_measured_density_takes_the_place_of_an_assumed_one_with_its_flag() -> None:
    density = measured_density("1.19 g/mL", half_width="0.005 g/mL", temperature="20 °C", name="d")
    assumed = old_drum().assuming_density(filled=FILLED)
    found = assumed.with_density(density)
    assert [flag.code for flag in assumed.flags] == [ASSUMED_DENSITY]
    assert found.flags == ()
    assert "assumed" not in str(found)
    assert found.in_basis("% w/w available chlorine").flags == ()
    assert found.in_basis("% w/w available chlorine").value == pytest.approx(100.0 * TODAY / 1190.0, rel=1e-12)


def test_an_accepted_assumed_density_goes_with_its_acceptance() -> None:
    accepted = old_drum().assuming_density(filled=FILLED).accepting(ASSUMED_DENSITY, because="a label is enough (K)")
    assert [flag.accepted for flag in accepted.flags] == ["a label is enough (K)"]
    assert [flag.accepted for flag in accepted.in_basis("% w/w NaOCl").flags] == ["a label is enough (K)"]
    again = accepted.assuming_density(filled=FILLED)
    assert [flag.accepted for flag in again.flags] == [""]


def test_what_was_computed_with_an_assumed_density_keeps_the_flag() -> None:
    """A weighed acid turned into mol/L by a table stays so, whatever density is stated beside it later."""
    acid = strength(0.009, species=SPECIES["hydrochloric acid"], name="amount_content").assuming_density()
    assert acid.in_basis("% w/w HCl").flags == ()  # weighed: no density stands behind it
    per_volume = acid.per_volume()
    density = measured_density("1.16 g/mL", half_width="0.005 g/mL", temperature="20 °C", name="d")
    assert [flag.code for flag in per_volume.with_density(density).flags] == [ASSUMED_DENSITY]


def test_the_strength_when_filled_is_read_as_on_a_sheet() -> None:
    ways = [FILLED, "15 % w/v available chlorine", "150000 mg/L available chlorine", strength(LABEL / M_CL2)]
    densities = [old_drum().assuming_density(filled=way).density for way in ways]
    for density in densities:
        assert density is not None
        assert density.how == "assumed at 20 °C for a liquor filled at 150 g/L available chlorine"
        lost = (LABEL - TODAY) / M_CL2
        assert density.estimate.value == pytest.approx(WATER + SLOPE * LABEL + AGEING * lost, rel=1e-12)


def test_a_hypochlorite_measured_warm_is_brought_to_20_degrees() -> None:
    """By hand: −0.5 ± 0.1 g/L for each kelvin, so 1.180 g/mL at 27 °C is 1.1835 at 20 °C."""
    warm = measured_density("1.180 g/mL", half_width="0.002 g/mL", temperature="27 °C", name="d")
    found = old_drum().with_density(warm)
    assert found.density is not None
    assert found.density.estimate.value == pytest.approx(1180.0 + 7.0 * 0.5, rel=1e-12)
    assert found.density.estimate.u == pytest.approx(math.hypot(2.0, 7.0 * 0.1) / math.sqrt(3.0), rel=1e-12)
    assert found.density.how == "measured 1.180 g/mL at 27 °C, brought to 20 °C"
    assert found.flags == ()
    again = found.with_density(found.density)
    assert again.density is not None
    assert again.density.estimate.value == found.density.estimate.value  # once is enough


@pytest.mark.parametrize(
    ("temperature", "flagged"), [("15 °C", False), ("25 °C", False), ("14 °C", True), ("26 °C", True)]
)
def test_of_another_reagent_one_measured_far_from_20_degrees_is_flagged(temperature: str, *, flagged: bool) -> None:
    density = measured_density("1.148 g/mL", half_width="0.002 g/mL", temperature=temperature, name="d")
    found = strength(9.0, species=SPECIES["hydrochloric acid"]).with_density(density)
    assert found.density is not None
    assert found.density.estimate.value == pytest.approx(1148.0, rel=1e-14)
    assert [flag.code for flag in found.flags] == (["density-off-20-degrees"] if flagged else [])
    assert [flag.code for flag in found.in_basis("% w/w HCl").flags] == [flag.code for flag in found.flags]
    assert found.in_basis("g/L HCl").flags == ()  # pipetted: no density stands behind it


def test_a_strength_read_from_a_file_keeps_the_flag_of_its_density(tmp_path: Path) -> None:
    saved = old_drum().assuming_density(filled=FILLED)
    save(tmp_path / "drum.json", drum=saved)
    back = load(tmp_path / "drum.json")["drum"]
    assert isinstance(back, Strength)
    assert back.flags == saved.flags


# ----------------------------------------------------------------------------------------------------------- refusals
def measured(
    value: str, half_width: str = "0.005 g/mL", temperature: str = "20 °C", name: str | None = None
) -> Density:
    return measured_density(value, half_width=half_width, temperature=temperature, name=name)


def weighed(grams: float, temperature: str = "20 °C") -> Density:
    mass = Estimate.from_influence(Influence(id="m", label="m", value=grams, u=0.001), name="mass")
    return density_by_weighing(mass, Pipette("P10", capacity="10 mL").volume(), temperature=temperature)


def aged(filled: float | None, label: float | None) -> Density:
    return assumed_hypochlorite_density(old_drum(0.005).estimate, filled=filled, label=label)


def of_table(name: str, moles: float) -> Density:
    return density_table(SPECIES[name], strength(moles, species=SPECIES[name], id_="bottle 3").estimate)


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: measured("1.16"), UnitError, ["value = '1.16'", "no unit", "'1.160 g/mL'"]),
        (lambda: measured("1,160 g/mL"), UnitError, ["1,160 g/mL", "'1160 g/mL' or '1.160 g/mL'"]),
        (lambda: measured("1.16 ± 0.01 g/mL"), UnitError, ["±", "half_width"]),
        (lambda: measured("1.16 g"), UnitError, ["'g' is not a unit of density", "another argument"]),
        (lambda: measured("nan g/mL"), UnitError, ["value = 'nan g/mL'", "NaN"]),
        (lambda: measured("1.16 g/L"), DomainError, ["1.16 g/L", "0.7 g/mL to 2 g/mL", "Did you mean '1.16 g/mL'?"]),
        (lambda: measured("1160 g/mL"), DomainError, ["1160 g/mL", "Did you mean '1.16 g/mL'?"]),
        (lambda: measured("11.6 g/mL"), DomainError, ["11.6 g/mL", "Check the reading"]),
        (lambda: measured("0 g/mL"), DomainError, ["value = '0 g/mL'", "no reagent has such a density"]),
        (lambda: measured("-1.16 g/mL"), DomainError, ["-1.16 g/mL", "no reagent has such a density"]),
        (lambda: measured("1.16 g/mL", "0.5 %"), UnitError, ["half_width = '0.5 %'", "not a unit of density"]),
        (lambda: measured("1.16 g/mL", "-0.005 g/mL"), DomainError, ["half_width = '-0.005 g/mL'", "not negative"]),
        (lambda: measured("1.16 g/mL", "2 g/mL"), DomainError, ["half_width = '2 g/mL'", "less than the density"]),
        (lambda: measured("1.16 g/mL", temperature="20"), UnitError, ["temperature = '20'", "'20 °C'"]),
        (lambda: measured("1.16 g/mL", temperature="20 C"), UnitError, ["20 C", "Did you mean '°C'?"]),
        (
            lambda: measured("1.16 g/mL", temperature="900 °C"),
            DomainError,
            ["900 °C", "0 °C to 50 °C", "at best 20"],
        ),
        (lambda: measured("1.16 g/mL", temperature="20 K"), DomainError, ["20 K", "0 °C to 50 °C"]),
        (lambda: weighed(11.7, "-5 °C"), DomainError, ["temperature = '-5 °C'", "Check the reading"]),
        (lambda: measured("1.16 g/mL", name="a/b"), DataError, ["name = 'a/b'", "without a slash"]),
        (lambda: weighed(45.2), DomainError, ["45.2 g in 10 mL", "4.52 g/mL", "vessel left in"]),
        (lambda: weighed(1.17), DomainError, ["1.17 g in 10 mL", "0.117 g/mL", "another pipette"]),
        (lambda: aged(None, None), DataError, ["strength when filled", "Weigh the sample", "the label's strength"]),
        (lambda: aged(40.0, None), DomainError, ["filled = '40 g/L", "does not gain strength", "60 g/L", "or more"]),
        (lambda: aged(2500.0, None), DomainError, ["filled = '2500 g/L", "up to 250 g/L", "2.116 mol/L OCl-"]),
        (lambda: aged(0.0, None), DomainError, ["filled = '0 g/L", "above zero"]),
        (lambda: aged(math.nan, None), DomainError, ["filled = 'nan g/L", "above zero"]),
        (lambda: aged(None, 1500.0), DomainError, ["label = '1500 g/L", "no liquor is so strong"]),
        (
            lambda: old_drum().assuming_density(filled="150 mol/L OCl-"),
            DomainError,
            ["filled", "no liquor is so strong", "2.116 mol/L OCl-"],
        ),
        (
            lambda: old_drum().assuming_density(filled=150.0),  # type: ignore[arg-type]  (what a person may write)
            BasisError,
            ["filled = 150.0", "a bare number", "which is meant: '150 g/L available chlorine' (150 g/L"],
        ),
        (
            lambda: old_drum().assuming_density(filled="150"),
            BasisError,
            ["filled = '150'", "a bare number", "which is meant: '150 g/L available chlorine' (150 g/L"],
        ),
        (
            lambda: old_drum().assuming_density(filled="150 g/L"),
            BasisError,
            ["'g/L' alone does not say as what", "'150 g/L available chlorine'"],
        ),
        (
            lambda: strength(5.0, species=SPECIES["sodium hydroxide"]).assuming_density(filled="10 mol/L NaOH"),
            DataError,
            ["filled = '10 mol/L NaOH'", "only hypochlorite keeps the salt", "Leave it out"],
        ),
        (lambda: old_drum(label=None).assuming_density(), DataError, ["not known", "Weigh the sample"]),
        (
            lambda: strength(0.001, name="amount_content").assuming_density(filled="2 mol/L OCl-"),
            BasisError,
            ["measured per mass", "weighing a pipetted volume"],
        ),
        (lambda: fresh_hypochlorite_density(0.65), DomainError, ["0.65", "18.8 % w/w", "of a solid"]),
        (lambda: fresh_hypochlorite_density(math.nan), DomainError, ["no liquor holds so much"]),
        (lambda: of_table("hydrochloric acid", 14.0), DomainError, ["bottle 3 = 14.0", "13.14 mol/L", "Weigh"]),
        (lambda: of_table("nitric acid", 2.0), DataError, ["HNO3", "no table of densities", "Weigh the sample"]),
        (lambda: of_table("potassium hydroxide", 2.0), DataError, ["KOH", "measure the density"]),
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


def test_all_that_is_wrong_with_a_reading_is_told_at_once() -> None:
    with pytest.raises(UnitError) as caught:
        measured("1.16", "0.005", "20")
    assert [problem.argument for problem in caught.value.problems] == ["value", "half_width", "temperature"]


def test_a_little_less_than_today_is_within_the_doubt_about_today() -> None:
    """60 g/L with U of 0.7 g/L: filled at 59.8 g/L is no contradiction."""
    by_hand = WATER + SLOPE * 59.8 + AGEING * (59.8 - TODAY) / M_CL2
    assert aged(59.8, None).estimate.value == pytest.approx(by_hand, rel=1e-12)
