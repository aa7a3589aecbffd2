"""Burettes: what is read, what is shared, what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from assay import AssayError, Burette, DataError, DomainError, Titre, UnitError, combine

GLASS = {"capacity": "50 mL", "subdivision": "0.1 mL"}


def burette(name: str | None = "B1", accuracy_class: str = "A", shape: str = "rectangular") -> Burette:
    return Burette(name, accuracy_class=accuracy_class, shape=shape, **GLASS)


# --------------------------------------------------------------------------------------------------------- readings
@pytest.mark.parametrize(
    ("titre", "nominal"),
    [
        (burette().titre("24.35 mL"), 0.02435),
        (burette().titre("0.00 mL", "24.35 mL"), 0.02435),
        (burette().titre("1.20 mL", "25.55 mL"), 0.02435),
        (burette().titre("0 mL", "50 mL"), 0.050),
        (burette().titre("0 mL", "0 mL"), 0.0),
        (burette().titre("0.5 mL", "49.5 mL", refilled=[("0.2 mL", "10.4 mL")]), 0.0592),
        (burette().titre("0 mL", "50 mL", refilled=[("0 mL", "50 mL"), ("0 mL", "1.5 mL")]), 0.1015),
    ],
)
def test_volume_by_the_scale(titre: Titre, nominal: float) -> None:
    assert titre.nominal == nominal
    assert titre.volume().value == pytest.approx(nominal, rel=1e-15)


def test_class_limit_of_the_standard_gives_u_far_from_zero() -> None:
    """Class A of a 50 mL burette ±0.05 mL, class B ±0.1 mL; a/√3 unless it is stated triangular, then a/√6."""
    for letter, limit in (("A", 0.05e-3), ("B", 0.1e-3)):
        unstated = Burette("B1", accuracy_class=letter, **GLASS).titre("25 mL").volume()
        assert unstated.u == pytest.approx(limit / math.sqrt(3.0), rel=1e-9)
        stated = burette(accuracy_class=letter, shape="triangular").titre("25 mL").volume()
        assert stated.u == pytest.approx(limit / math.sqrt(6.0), rel=1e-4)


def test_own_limit_replaces_the_class() -> None:
    own = Burette("B9", tolerance="0.02 mL", **GLASS)
    assert own.titre("25 mL").volume().u == pytest.approx(0.02e-3 / math.sqrt(3.0), rel=1e-9)
    assert "own limit" in own.titre("25 mL").volume().budget().lines[0].source


def test_unmarked_glass_counts_as_class_b() -> None:
    unmarked = Burette("B1", **GLASS)
    assert unmarked.titre("25 mL").volume().u == burette(accuracy_class="B").titre("25 mL").volume().u


def test_it_is_read_to_half_a_division_unless_stated() -> None:
    assert burette().step == pytest.approx(0.05e-3, rel=1e-12)
    assert Burette("B1", read_to="0.02 mL", **GLASS).step == pytest.approx(0.02e-3, rel=1e-12)


def test_kept_rough_and_void_are_told_apart() -> None:
    b = burette()
    assert b.titre("24.35 mL").kept
    assert not b.titre("25.0 mL", rough=True).kept
    overshot = b.titre("24.9 mL", void=" overshot ")
    assert not overshot.kept
    assert overshot.void == "overshot"


# ---------------------------------------------------------------------------------------------------------- refills
def test_a_refilled_titre_counts_the_error_of_each_filling() -> None:
    """Full, then to 10 mL: G(50) and G(10), which know nothing of each other; at zero there is no error."""
    titre = burette().titre("0 mL", "50 mL", refilled=[("0 mL", "10 mL")]).volume()
    assert titre.u == pytest.approx(math.sqrt(2.0) * 0.05e-3 / math.sqrt(3.0), rel=1e-9)


def test_a_triangular_refilled_titre_counts_the_deviation_at_zero_twice() -> None:
    """G(50) - G(0) + G(10) - G(0). All three are independent but for 10 mL and 0 (r = 0.129)."""
    titre = burette(shape="triangular").titre("0 mL", "50 mL", refilled=[("0 mL", "10 mL")]).volume()
    r = 6.0 / math.pi * math.asin(math.exp(-2.0) / 2.0)
    variance_of_g = (0.025e-3) ** 2 / 3.0
    assert titre.u == pytest.approx(math.sqrt(variance_of_g * (1.0 + 4.0 + 1.0 - 4.0 * r)), rel=1e-4)


def test_two_fillings_to_the_same_mark_double_the_error() -> None:
    once, twice = burette().titre("0 mL", "40 mL"), burette().titre("0 mL", "40 mL", refilled=[("0 mL", "40 mL")])
    assert twice.volume().u == pytest.approx(2.0 * once.volume().u, rel=1e-12)


# ---------------------------------------------------------------------------------------------------------- sharing
def test_one_name_is_one_influence() -> None:
    ratio = combine(lambda a, b: a / b, burette().titre("25 mL").volume(), burette().titre("25 mL").volume())
    assert ratio.u == pytest.approx(0.0, abs=1e-18)
    (line,) = burette().titre("24.35 mL").volume().budget().lines
    assert line.label == "calibration of burette B1"


@pytest.mark.parametrize("names", [("B1", "B2"), (None, None), ("B1", None)])
def test_another_name_or_none_is_another_influence(names: tuple[str | None, str | None]) -> None:
    volumes = [burette(name).titre("25 mL").volume() for name in names]
    ratio = combine(lambda a, b: a / b, *volumes)
    assert ratio.u == pytest.approx(math.sqrt(2.0) * volumes[0].u / 0.025, rel=1e-12)


def test_one_nameless_burette_is_itself() -> None:
    nameless = burette(None)
    assert combine(lambda a, b: a - b, nameless.titre("25 mL").volume(), nameless.titre("25 mL").volume()).u < 1e-18
    assert "without a name" in nameless.label


@pytest.mark.parametrize("segments", [(("0 mL", "10 mL"), ("0 mL", "10 mL")), (("0 mL", "10 mL"), ("20 mL", "30 mL"))])
@pytest.mark.parametrize(
    "other",
    [
        Burette("B1", accuracy_class="B", **GLASS),
        Burette("B1", tolerance="0.02 mL", **GLASS),
        Burette("B1", capacity="100 mL", subdivision="0.2 mL", accuracy_class="A"),
    ],
    ids=["class", "own limit", "capacity"],
)
def test_one_name_with_two_sets_of_facts_is_refused(
    other: Burette, segments: tuple[tuple[str, str], tuple[str, str]]
) -> None:
    """Also where the two titres touch no common part of the scale."""
    first, second = burette().titre(*segments[0]).volume(), other.titre(*segments[1]).volume()
    with pytest.raises(DataError, match="burette/B1/calibration") as caught:
        combine(lambda a, b: a / b, first, second)
    assert "two different" in str(caught.value)
    assert "recalibration" in caught.value.remedy


def test_one_name_with_two_capacities_and_no_common_knot_is_refused() -> None:
    small = Burette("B1", capacity="25 mL", subdivision="0.05 mL", accuracy_class="A")
    with pytest.raises(DataError, match="burette/B1/calibration"):
        combine(lambda a, b: a / b, burette().titre("5 mL", "20 mL").volume(), small.titre("1.3 mL", "24 mL").volume())


# ---------------------------------------------------------------------------------------------------- as a dispenser
def test_as_a_dispenser_it_errs_as_in_a_titration() -> None:
    b = burette()
    difference = combine(lambda v, e: v - e, b.titre("20 mL").volume(), b.volume_error(0.020))
    assert difference.u == pytest.approx(0.0, abs=1e-18)
    assert b.largest == 0.050
    assert b.setting_error(1).u == pytest.approx(0.025e-3 / math.sqrt(3.0), rel=1e-12)  # half a step of 0.05 mL
    assert b.setting_error(4).u == pytest.approx(2.0 * b.setting_error(1).u, rel=1e-12)


# --------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda b: b.titre("20.00 mL", "10.00 mL"), DomainError, ["10.00 mL", "20.00 mL", "exchanged", "refilled"]),
        (lambda b: b.titre("0 mL", "51.3 mL"), DomainError, ["51.3 mL", "50 mL", "refilled"]),
        (lambda b: b.titre("60 mL", "51.3 mL"), DomainError, ["60 mL", "50 mL", "refilled"]),
        (lambda b: b.titre("0 mL", "50 mL", refilled=[("0 mL", "50.1 mL")]), DomainError, ["50.1 mL", "beyond"]),
        (lambda b: b.titre("-0.10 mL", "10 mL"), DomainError, ["-0.10 mL", "below zero", "Check the sign"]),
        (lambda b: b.titre("-24.35 mL"), DomainError, ["-24.35 mL", "below zero"]),
        (lambda b: b.titre("nan mL"), UnitError, ["nan mL", "NaN", "'25.00 mL'"]),
        (lambda b: b.titre("24,35 mL"), UnitError, ["24,35 mL", "decimal comma", "'24.35 mL'"]),
        (lambda b: b.titre("24.35"), UnitError, ["24.35", "no unit", "'25.00 mL'"]),
        (lambda b: b.titre(24.35), UnitError, ["24.35", "no unit", "'25.00 mL'"]),
        (lambda b: b.titre("24.35 g"), UnitError, ["24.35 g", "not a unit of volume", "a volume, such as"]),
        (lambda b: b.titre("0 mL", "24.35 ML"), UnitError, ["24.35 ML", "Did you mean mL"]),
        (lambda _: Burette("B", accuracy_class="C", **GLASS), DataError, ["'C'", "'A', 'B'"]),
        (
            lambda _: Burette("B", capacity="30 mL", subdivision="0.1 mL"),
            DataError,
            ["30 mL", "25, 50 mL", "tolerance="],
        ),
        (lambda _: Burette("B", capacity="50 mL", subdivision="0.2 mL"), DataError, ["0.2 mL", "0.1 mL", "tolerance="]),
        (lambda _: Burette("B", standard="ISO 386", **GLASS), DataError, ["ISO 386", "Did you mean 'ISO 385:2005'"]),
        (lambda _: Burette("B", read_to="0.2 mL", **GLASS), DomainError, ["0.2 mL", "0.1 mL or less"]),
        (lambda _: Burette("B", read_to="0 mL", **GLASS), DomainError, ["read_to", "0 mL", "above zero"]),
        (lambda _: Burette("B", capacity="50", subdivision="0.1 mL"), UnitError, ["capacity", "no unit", "mL"]),
        (lambda _: Burette("a/b", **GLASS), DataError, ["'a/b'", "plain name such as 'B1'"]),
        (lambda _: Burette(" ", **GLASS), DataError, ["' '", "plain name"]),
    ],
)
def test_refused_with_what_was_given_and_the_remedy(
    call: Callable[[Burette], object], error: type[AssayError], says: list[str]
) -> None:
    with pytest.raises(error) as caught:
        call(burette())
    assert type(caught.value) is error
    for words in says:
        assert words in str(caught.value)


def test_several_mistakes_are_told_at_once() -> None:
    with pytest.raises(UnitError, match="2 things need mending") as caught:
        burette().titre("1,20 mL", "25.55")
    assert "1,20 mL" in str(caught.value)
    assert "25.55" in str(caught.value)
    assert len(caught.value.problems) == 2


# ------------------------------------------------------------------------------------------------------- shape of error
def test_a_rectangular_error_fills_the_limit_and_is_nothing_at_zero() -> None:
    stated = burette()
    assert stated.titre("25.00 mL").volume().u == pytest.approx(0.05e-3 / math.sqrt(3.0), rel=1e-9)  # on a knot
    # From zero to the first knot at 2.5 mL it grows in proportion.
    assert stated.titre("1.00 mL").volume().u == pytest.approx(0.4 * 0.05e-3 / math.sqrt(3.0), rel=1e-9)
    drawn = stated.titre("25.00 mL").volume().monte_carlo(trials=20_000)
    assert drawn.u == pytest.approx(0.05e-3 / math.sqrt(3.0), rel=0.02)


def test_another_shape_is_refused() -> None:
    with pytest.raises(DomainError, match="triangular or rectangular") as caught:
        Burette("R", capacity="50 mL", subdivision="0.1 mL", shape="normal")
    assert caught.value.argument == "shape"
