"""Volumes at 20 °C, and one temperature that all liquids of a day share."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assay import (
    AssayError,
    Burette,
    Cylinder,
    DataError,
    Dilution,
    DomainError,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Strength,
    Temperature,
    Titrant,
    UnitError,
    assay_hypochlorite,
    combine,
)
from assay.bench.temperature import MATERIALS, at_20
from assay.kernels.buoyancy import volume_at_20_from_weighing
from assay.kernels.temperature import volume_at_20_from_volume, water_volume_ratio_from_temperature_difference
from tests.titration.by_hand import at_20 as by_hand
from tests.titration.by_hand import water

# Cubic expansion and half-width, 1/K, as they stand in the table: of dilute solutions beyond water, and of ware.
BEYOND, BEYOND_HALF = 2.0e-5, 2.0e-5
WARE = {
    "borosilicate": (9.9e-6, 1e-7),
    "soda-lime": (2.7e-5, 1e-6),
    "polypropylene": (4.5e-4, 1e-4),
    "polymethylpentene": (3.5e-4, 5e-5),
}
ROOT3 = math.sqrt(3.0)


def expansion_of_water(celsius: float) -> float:
    """Return minus the slope of the density over the density at 20 °C, 1/K; the equation is a5 (1 - f(t))."""
    f = (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881))
    slope = f * (2.0 / (celsius - 3.983035) + 1.0 / (celsius + 301.797) - 1.0 / (celsius + 69.34881))
    return 999.974950 * slope / float(water(20.0))


# Cubic expansion of dilute solutions at 20 °C.
LIQUID = expansion_of_water(20.0) + BEYOND


def room(liquid: str = "23 °C", half_width: str = "2 K", day: str | None = "16 November") -> Temperature:
    return Temperature(liquid, half_width=half_width, day=day)


def exactly(litres: float) -> Estimate:
    return Estimate.exactly(litres, name="volume", label="volume")


# --------------------------------------------------------------------------------------------------- one volume by hand
def test_a_temperature_is_a_difference_from_20_and_rectangular() -> None:
    difference = room().difference()
    assert (difference.value, difference.unit) == (3.0, "K")
    assert difference.u == pytest.approx(2.0 / ROOT3, rel=1e-12)
    (line,) = difference.budget().lines
    assert line.shape == "rectangular"
    assert line.source == "23 °C ± 2 K, one influence for all liquids"


@pytest.mark.parametrize(("written", "difference"), [("293.15 K", 0.0), ("10 °C", -10.0), ("30 °C", 10.0)])
def test_both_ends_of_the_range_and_kelvin_are_read(written: str, difference: float) -> None:
    assert room(written).difference().value == difference


def test_every_material_has_its_row() -> None:
    assert set(MATERIALS) == set(WARE)


@pytest.mark.parametrize("material", WARE)
@pytest.mark.parametrize("celsius", [10.0, 18.5, 20.0, 23.0, 30.0])
def test_a_volume_at_20_by_hand(material: str, celsius: float) -> None:
    """V (1 + ware ΔT) (density of water over that at 20 °C) (1 − beyond ΔT), with what each slope of it makes of u."""
    (ware, ware_half), warmer = WARE[material], celsius - 20.0
    found = room(f"{celsius:.1f} °C").at_20(exactly(0.025), material)
    assert found.value == pytest.approx(by_hand(0.025, ware, BEYOND, warmer), rel=1e-12)
    grown, rest, dense = 1.0 + ware * warmer, 1.0 - BEYOND * warmer, float(water(celsius)) / float(water(20.0))
    per_kelvin = (ware * rest - BEYOND * grown) * dense - expansion_of_water(celsius) * grown * rest
    terms = [per_kelvin * 2.0, warmer * dense * rest * ware_half, warmer * dense * grown * BEYOND_HALF]
    assert found.u == pytest.approx(0.025 * math.hypot(*terms) / ROOT3, rel=1e-9)


def test_glass_holds_less_at_20_when_it_was_filled_warm_and_plastic_more() -> None:
    """The liquid grows more than glass and less than plastic."""
    for material in WARE:
        warm, cold = (room(t).at_20(exactly(1.0), material).value for t in ("25 °C", "15 °C"))
        assert (warm < 1.0 < cold) == (material in {"borosilicate", "soda-lime"})
        assert (warm > 1.0 > cold) == (material not in {"borosilicate", "soda-lime"})


def test_ware_of_another_material_is_corrected_by_its_own_expansion() -> None:
    """What one glass's table says of water is of that glass: the others differ by what they grow by more."""
    glass, *others = ((WARE[m][0], room("28 °C", "0 K").at_20(exactly(1.0), m).value) for m in WARE)
    for ware, volume in others:
        assert volume / glass[1] == pytest.approx((1.0 + ware * 8.0) / (1.0 + glass[0] * 8.0), rel=1e-12)


def test_what_was_calibrated_and_is_used_at_one_temperature_gives_the_mass_back() -> None:
    """Calibration multiplies by 1 − c ΔT, use by 1 + c ΔT, c that of the ware: only (c ΔT)² is left."""
    for ware, _ in WARE.values():
        marked = volume_at_20_from_weighing(24.9, 0.0, 1.0 / float(water(28.0)), ware, 8.0)
        back = float(water(20.0)) * volume_at_20_from_volume(
            marked, ware, water_volume_ratio_from_temperature_difference(8.0), 0.0, 8.0
        )
        assert back == pytest.approx(24.9 * (1.0 - (ware * 8.0) ** 2), rel=1e-12)


# ------------------------------------------------------------------------------------------- what is printed elsewhere
#: mL to add to a litre to have it at 20 °C, at 10, 15, 25 and 30 °C: in borosilicate glass, by the equation for water
#: and by a geochemical code for 0.1 mol/kg; in soft glass, GB/T 601 for 0.1 to 0.2 mol/L (from memory).
PRINTED = {
    "water": ("borosilicate", ("1.40", "0.85", "-1.11", "-2.46")),
    "hydrochloric acid": ("borosilicate", ("1.45", "0.87", "-1.13", "-2.49")),
    "sodium hydroxide": ("borosilicate", ("1.54", "0.91", "-1.16", "-2.56")),
    "any, in soft glass": ("soda-lime", ("1.5", "0.9", "-1.1", "-2.5")),
}


@pytest.mark.parametrize("liquid", PRINTED)
def test_what_is_printed_of_dilute_solutions_lies_within_what_is_stated(liquid: str) -> None:
    """Within the range of the expansions of liquid and ware, and half a unit of the last digit."""
    material, printed = PRINTED[liquid]
    for celsius, text in zip((10, 15, 25, 30), printed, strict=True):
        found = 1000.0 * (room(f"{celsius} °C", "0 K").at_20(exactly(1.0), material).value - 1.0)
        stated = 1000.0 * abs(celsius - 20) * (BEYOND_HALF + WARE[material][1])
        rounding = 0.5 * 10.0 ** -len(text.partition(".")[2])
        assert abs(found - float(text)) <= stated + rounding, (celsius, found)


@pytest.mark.parametrize("celsius", [10.0, 20.0, 30.0])
@pytest.mark.parametrize("material", WARE)
def test_the_slope_is_that_of_the_curve(material: str, celsius: float) -> None:
    """Against central differences of the step itself over ±0.1 K; at the ends, half outside the range, by hand."""
    warm = room(f"{celsius} °C")
    found = warm.at_20(exactly(1.0), material).sensitivities["temperature/16 November"]
    beside = [by_hand(1.0, WARE[material][0], BEYOND, celsius - 20.0 + h) for h in (-0.1, 0.1)]
    if celsius == 20.0:
        beside = [room(f"{t} °C").at_20(exactly(1.0), material).value for t in (19.9, 20.1)]
    assert found == pytest.approx((beside[1] - beside[0]) / 0.2, abs=1e-9)


def test_warm_liquids_expand_nearly_half_as_much_again() -> None:
    """Borosilicate at 30 °C: with one coefficient, that at 20 °C, the slope would be a third too small."""
    slopes = [
        room(f"{t} °C").at_20(exactly(1.0), "borosilicate").sensitivities["temperature/16 November"] for t in (20, 30)
    ]
    assert 1.4 < slopes[1] / slopes[0] < 1.5


@pytest.mark.parametrize("celsius", [10.0, 20.0, 30.0])
def test_sampled_and_linear_agree_but_for_the_curve(celsius: float) -> None:
    """By hand: a parabola of a rectangular temperature moves the mean, and adds to u what its square scatters."""
    found = room(f"{celsius} °C").at_20(exactly(1.0), "borosilicate")
    sampled = found.monte_carlo(trials=200_000, seed=20261125)
    curve = (expansion_of_water(celsius + 0.5) - expansion_of_water(celsius - 0.5)) / 1.0
    # Of a square within ±2 K the mean is 2²/3, and the standard deviation 2² √(1/5 − 1/9).
    moved, added = -0.5 * curve * 4.0 / 3.0, 0.5 * curve * 4.0 * math.sqrt(4.0 / 45.0)
    assert sampled.value == pytest.approx(found.value + moved, abs=4.0 * sampled.value_error)
    assert sampled.u == pytest.approx(math.hypot(found.u, added), abs=4.0 * sampled.u_error)


@pytest.mark.parametrize("celsius", [10.0, 30.0])
def test_the_widest_range_is_drawn_within_the_equation_for_water(celsius: float) -> None:
    """10 °C and 30 °C within 10 K reach to 0 °C and 40 °C: the curve is told, and no draw lies beyond."""
    found = room(f"{celsius} °C", "10 K").at_20(exactly(1.0), "borosilicate")
    assert [flag.code for flag in found.monte_carlo(trials=20_000, seed=1).flags] == ["linear-differs"]


def test_the_guides_flask_without_the_expansion_of_its_glass() -> None:
    """Example A1: 100 mL × 4 K × 2.1e-4 per K is ±0.084 mL, u 0.05 mL; a solution adds a little, glass takes off."""
    ours = 1000.0 * room("20 °C", "4 K").at_20(exactly(0.1), "borosilicate").u
    guide = 100.0 * 4.0 * 2.1e-4 / ROOT3
    assert f"{100.0 * 4.0 * 2.1e-4:.3f}" == "0.084"
    assert f"{guide:.2f}" == f"{ours:.2f}" == "0.05"
    assert ours / guide == pytest.approx((LIQUID - WARE["borosilicate"][0]) / 2.1e-4, rel=1e-9)


def test_without_a_temperature_a_volume_is_as_marked() -> None:
    volume = Pipette("P10", capacity="10 mL").volume()
    assert at_20(volume, "borosilicate", None) is volume
    assert at_20(volume, "borosilicate", room()).value < volume.value


# ------------------------------------------------------------------------------------------------------------ sharing
def test_the_liquids_of_one_day_are_equally_warm() -> None:
    """Of one volume over another in like ware nothing is left; of their sum the u add up."""
    one, other = (room().at_20(exactly(v), "borosilicate") for v in (0.025, 0.010))
    assert combine(lambda a, b: a / b, one, other).u == pytest.approx(0.0, abs=1e-16)
    assert combine(lambda a, b: a + b, one, other).u == pytest.approx(one.u + other.u, rel=1e-12)


@pytest.mark.parametrize("other_day", ["17 November", None])
def test_another_day_is_another_temperature(other_day: str | None) -> None:
    """With the coefficients, which are the same on both days, what is left of a ratio at 20 °C is both temperatures."""
    one, other = (room("20 °C", day=day).at_20(exactly(0.025), "borosilicate") for day in ("16 November", other_day))
    ratio = combine(lambda a, b: a / b, one, other)
    expected = math.sqrt(2.0) * (LIQUID - WARE["borosilicate"][0]) * 2.0 / ROOT3
    assert ratio.u == pytest.approx(expected, rel=1e-9)


def test_of_unlike_ware_the_difference_of_the_materials_is_left() -> None:
    glass, plastic = (room("20 °C").at_20(exactly(0.025), m) for m in ("borosilicate", "polypropylene"))
    ratio = combine(lambda a, b: a / b, glass, plastic)
    expected = (WARE["polypropylene"][0] - WARE["borosilicate"][0]) * 2.0 / ROOT3
    assert ratio.u == pytest.approx(expected, rel=1e-9)


def test_one_day_told_in_two_ways_is_refused() -> None:
    one, other = (room(t).at_20(exactly(0.025), "borosilicate") for t in ("23 °C", "24 °C"))
    with pytest.raises(DataError, match=r"temperature/16 November.*two different influences"):
        combine(lambda a, b: a / b, one, other)


@given(celsius=st.floats(10.0, 30.0), half_width=st.floats(0.0, 5.0))
def test_the_u_of_a_ratio_of_volumes_of_one_day_is_that_of_the_volumes(celsius: float, half_width: float) -> None:
    warm = room(f"{celsius:.2f} °C", f"{half_width:.2f} K", day="d")
    pipettes = [Pipette(f"P{k}", capacity="10 mL") for k in (1, 2)]
    marked = combine(lambda a, b: a / b, *(p.volume() for p in pipettes))
    at_20_too = combine(lambda a, b: a / b, *(at_20(p.volume(), p.material, warm) for p in pipettes))
    assert at_20_too.value == pytest.approx(marked.value, rel=1e-12)
    assert at_20_too.u == pytest.approx(marked.u, rel=1e-9)


# -------------------------------------------------------------------------------------------------------- in an assay
def assayed(
    temperature: Temperature | None, flask_material: str = "borosilicate", *, titrant: float = 0.004
) -> Strength:
    """Return 25 times diluted hypochlorite: of 0.24 equivalents per litre, or of as much more as the titrant is."""
    influence = Influence(id="thiosulfate", label="thiosulfate", value=titrant, u=titrant / 1000.0)
    thiosulfate = Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))
    burette, pipette = Burette("B1", capacity="50 mL", subdivision="0.1 mL"), Pipette("P10", capacity="10 mL")
    flask = Flask("F250", capacity="250 mL", tolerance="0.3 mL", material=flask_material)
    return assay_hypochlorite(
        thiosulfate,
        aliquot=pipette,
        titres=[burette.titre("24.30 mL"), burette.titre("24.35 mL")],
        dilutions=[Dilution(pipette, flask)],
        temperature=temperature,
        record="drum 7",
    )


def test_titre_over_aliquot_and_flask_over_pipette_cancel_in_glass() -> None:
    marked, warm = assayed(None).estimate, assayed(room("28 °C", "3 K")).estimate
    assert warm.value == pytest.approx(marked.value, rel=1e-12)
    assert warm.u == pytest.approx(marked.u, rel=1e-9)


@pytest.mark.parametrize(
    ("titrant", "beyond", "half"), [(0.01, 7.5e-5, 7.5e-5), (0.05, 2.0e-4, 2.0e-4), (0.1, 5.5e-4, 4.5e-4)]
)
def test_a_sample_that_is_pipetted_undiluted_expands_as_its_strength_has_it(
    titrant: float, beyond: float, half: float
) -> None:
    """Of 0.6, 3 and 6 equivalents per litre at 28 °C: all else cancels, the one pipette of the sample does not."""
    marked, warm = (assayed(t, titrant=titrant).estimate for t in (None, room("28 °C", "3 K")))
    neat, dilute = (1.0 - expansion * 8.0 for expansion in (beyond, BEYOND))
    assert warm.value / marked.value == pytest.approx(dilute / neat, rel=1e-12)
    (line,) = (line for line in warm.budget().lines if line.label.startswith("expansion of solutions"))
    assert line.contribution / warm.value == pytest.approx(half / ROOT3 * 8.0 / neat, rel=1e-9)


def test_a_plastic_flask_does_not_cancel() -> None:
    """Flask over pipette: (1 + 4.5e-4 ΔT)/(1 + 9.9e-6 ΔT) at 28 °C."""
    marked, warm = (assayed(t, "polypropylene").estimate for t in (None, room("28 °C", "3 K")))
    ratio = (1.0 + 4.5e-4 * 8.0) / (1.0 + 9.9e-6 * 8.0)
    assert warm.value / marked.value == pytest.approx(ratio, rel=1e-12)
    assert "temperature of the liquids" in {line.label for line in warm.budget().lines}
    assert warm.relative_u > marked.relative_u


# ----------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: room("23"), UnitError, ["liquid = '23'", "no unit", "'20 °C'"]),
        (lambda: Temperature(23, half_width="2 K"), UnitError, ["liquid = 23", "no unit"]),  # type: ignore[arg-type]
        (lambda: room("23 C"), UnitError, ["23 C", "Did you mean '°C'?"]),
        (lambda: room("73 °F"), UnitError, ["73 °F", "'°C'"]),
        (lambda: room("23,5 °C"), UnitError, ["23,5 °C", "'23.5 °C'"]),
        (lambda: room("23 ± 2 °C"), UnitError, ["±", "half_width"]),
        (lambda: room("nan °C"), UnitError, ["nan °C", "NaN"]),
        (lambda: room(""), UnitError, ["liquid = ''", "nothing is written"]),
        (lambda: room("-300 °C"), UnitError, ["-300 °C", "absolute zero"]),
        (lambda: room("9.9 °C"), DomainError, ["liquid = '9.9 °C'", "10 °C to 30 °C", "come to the temperature"]),
        (lambda: room("30.1 °C"), DomainError, ["liquid = '30.1 °C'", "do not hold"]),
        (lambda: room("23 K"), DomainError, ["liquid = '23 K'", "10 °C to 30 °C"]),
        (lambda: room(half_width="2"), UnitError, ["half_width = '2'", "no unit", "'2 K'"]),
        (lambda: room(half_width="2 °C"), UnitError, ["half_width = '2 °C'", "written in kelvin"]),
        (lambda: room(half_width="-2 K"), DomainError, ["half_width = '-2 K'", "not negative"]),
        (lambda: room(day="a/b"), DataError, ["day = 'a/b'", "without a slash"]),
        (lambda: room(day=" "), DataError, ["day = ' '", "one or more characters"]),
        (
            lambda: Pipette("P", capacity="10 mL", material="Borosilicate"),
            DataError,
            ["material = 'Borosilicate'", "Did you mean 'borosilicate'?"],
        ),
        (
            lambda: Flask("F", capacity="250 mL", material="glas"),
            DataError,
            ["'glas'", "'borosilicate', 'polymethylpentene', 'polypropylene', 'soda-lime'"],
        ),
        (
            lambda: Burette("B", capacity="50 mL", subdivision="0.1 mL", material="polypropilene"),
            DataError,
            ["Did you mean 'polypropylene'"],
        ),
        (
            lambda: Cylinder("C", capacity="250 mL", subdivision="2 mL", material="soda lime"),
            DataError,
            ["Did you mean 'soda-lime'?"],
        ),
        (lambda: room().at_20(exactly(0.025), "steel"), DataError, ["material = 'steel'", "unknown material"]),
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


def test_both_numbers_are_told_at_once() -> None:
    with pytest.raises(UnitError) as caught:
        Temperature("23", half_width="2")
    assert [problem.argument for problem in caught.value.problems] == ["liquid", "half_width"]


def test_what_is_wrong_with_the_ware_besides_its_material_is_not_lost() -> None:
    with pytest.raises(AssayError) as caught:
        Pipette("P", capacity="10", material="steel")
    assert [problem.argument for problem in caught.value.problems] == ["material", "capacity"]
