"""Pipettes, flasks and cylinders: the tolerance of the class, and one thing is one influence."""

from __future__ import annotations

import math
from collections.abc import Callable
from importlib import resources

import pytest

from assay import AssayError, Cylinder, DataError, Dilution, DomainError, Flask, Pipette, UnitError, combine
from assay.bench.ware import where_editions_differ

# Printed tolerances, mL: ISO 648 (pipettes), ISO 1042 (flasks), ISO 4788 (cylinders), ASTM E969, Eichordnung (all from
# memory but the last, which was read).
PRINTED = [
    (Pipette("P", capacity="10 mL", accuracy_class="A"), 10.0, 0.02),
    (Pipette("P", capacity="10 mL"), 10.0, 0.04),
    (Pipette("P", capacity="25 mL", accuracy_class="AS"), 25.0, 0.03),
    (Pipette("P", capacity="25 mL", accuracy_class="b"), 25.0, 0.06),
    (Pipette("P", capacity="1 mL", accuracy_class="A", standard="Eichordnung 1988"), 1.0, 0.007),
    (Pipette("P", capacity="0.01 L", accuracy_class="A"), 10.0, 0.02),
    (Pipette("P", capacity="10 mL", tolerance="0.011 mL"), 10.0, 0.011),
    (Pipette("P", capacity="7.5 mL", tolerance="0.05 mL"), 7.5, 0.05),
    (Flask("F", capacity="250 mL", accuracy_class="A"), 250.0, 0.15),
    (Flask("F", capacity="250 mL"), 250.0, 0.30),
    (Flask("F", capacity="1 L", accuracy_class="A"), 1000.0, 0.4),
    (Flask("F", capacity="100 mL", accuracy_class="A"), 100.0, 0.1),
]


@pytest.mark.parametrize(("vessel", "nominal", "tolerance"), PRINTED)
def test_volume_is_rectangular_within_the_tolerance(vessel: Pipette | Flask, nominal: float, tolerance: float) -> None:
    volume = vessel.volume()
    assert 1000.0 * volume.value == pytest.approx(nominal, rel=1e-14)
    assert 1000.0 * volume.u == pytest.approx(tolerance / math.sqrt(3.0), rel=1e-12)
    assert math.isinf(volume.dof)
    (line,) = volume.budget().lines
    assert line.shape == "rectangular"


def test_the_budget_says_where_a_tolerance_is_from() -> None:
    assert PRINTED[0][0].volume().budget().lines[0].source == "ISO 648:2008 class A, ±0.02 mL, from memory"
    assert PRINTED[4][0].volume().budget().lines[0].source == "Eichordnung 1988 class A, ±0.007 mL"
    assert PRINTED[6][0].volume().budget().lines[0].source == "own tolerance, ±0.011 mL"


def test_a_cylinder_errs_by_its_class_and_by_its_setting() -> None:
    """ISO 4788: 250 mL in 2 mL, class A ±1 mL, class B ±2 mL; the meniscus is set within half a division."""
    cylinder = Cylinder("C", capacity="250 mL", subdivision="2 mL")
    assert cylinder.step == 0.002
    assert cylinder.largest == 0.250
    assert cylinder.volume_error(0.100).u == pytest.approx(2e-3 / math.sqrt(3.0), rel=1e-12)
    assert cylinder.setting_error(1).u == pytest.approx(1e-3 / math.sqrt(3.0), rel=1e-12)
    assert cylinder.setting_error(9).u == pytest.approx(3.0 * cylinder.setting_error(1).u, rel=1e-12)
    class_a = Cylinder("C", capacity="250 mL", subdivision="2 mL", accuracy_class="A")
    assert class_a.volume_error(0.1).u == pytest.approx(1e-3 / math.sqrt(3.0), rel=1e-12)


def test_a_pipette_dispenses_whole_fillings() -> None:
    pipette = Pipette("P", capacity="10 mL", accuracy_class="A")
    assert pipette.step == pipette.largest == 0.010
    assert pipette.setting_error(3).u == 0.0
    assert pipette.volume_error(0.010).u == pipette.volume().u


# ---------------------------------------------------------------------------------------------------------- sharing
@pytest.mark.parametrize("kind", [Pipette, Flask])
def test_one_name_is_one_influence(kind: type[Pipette | Flask]) -> None:
    one, other = (kind("X", capacity="100 mL", accuracy_class="A").volume() for _ in range(2))
    assert combine(lambda a, b: a / b, one, other).u == 0.0
    assert combine(lambda a, b: a + b, one, other).u == pytest.approx(2.0 * one.u, rel=1e-12)


@pytest.mark.parametrize("kind", [Pipette, Flask])
def test_another_name_or_none_is_another_influence(kind: type[Pipette | Flask]) -> None:
    named, second, *nameless = (
        kind(name, capacity="100 mL", accuracy_class="A").volume() for name in ("X", "Y", None, None)
    )
    for a, b in [(named, second), (named, nameless[0]), (nameless[0], nameless[1])]:
        assert combine(lambda x, y: x + y, a, b).u == pytest.approx(math.sqrt(2.0) * named.u, rel=1e-12)


def test_pipette_and_flask_of_one_name_are_two_things() -> None:
    pipette, flask = (kind("X", capacity="100 mL", accuracy_class="A").volume() for kind in (Pipette, Flask))
    total = combine(lambda a, b: a + b, pipette, flask)
    assert total.u == pytest.approx(math.hypot(pipette.u, flask.u), rel=1e-12)


def test_one_name_with_two_sets_of_facts_is_refused() -> None:
    one = Pipette("P1", capacity="10 mL", accuracy_class="A").volume()
    for other in (Pipette("P1", capacity="10 mL"), Pipette("P1", capacity="10 mL", tolerance="0.011 mL")):
        with pytest.raises(DataError, match=r"pipette/P1/calibration.*two different influences"):
            combine(lambda a, b: a / b, one, other.volume())


def test_one_pipette_that_dilutes_and_takes_the_aliquot_counts_twice() -> None:
    """Strength over that of the aliquot is F/p; per volume of aliquot F/p²: the relative error of p counts twice."""
    pipette, flask = Pipette("P10", capacity="10 mL"), Flask("F250", capacity="250 mL")
    factor = Dilution(pipette, flask).factor("r")
    assert factor.value == pytest.approx(25.0, rel=1e-14)
    u_p, u_f = 0.04 / 10.0 / math.sqrt(3.0), 0.30 / 250.0 / math.sqrt(3.0)
    assert factor.relative_u == pytest.approx(math.hypot(u_p, u_f), rel=1e-12)
    per_aliquot = combine(lambda f, v: f / v, factor, pipette.volume())
    assert per_aliquot.relative_u == pytest.approx(math.hypot(2.0 * u_p, u_f), rel=1e-12)


def test_two_dilutions_with_one_flask_and_one_pipette_against_one_another_cancel() -> None:
    pipette, flask = Pipette("P10", capacity="10 mL"), Flask("F250", capacity="250 mL")
    twice = combine(lambda a, b: a / b, Dilution(pipette, flask).factor("r"), Dilution(pipette, flask).factor("r"))
    assert twice.u == pytest.approx(0.0, abs=1e-15)


# --------------------------------------------------------------------------------------------------------- refusals
@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: Pipette("P", capacity="12 mL"), DataError, ["12 mL", "5, 10, 20 mL", "tolerance="]),
        (lambda: Flask("F", capacity="300 mL"), DataError, ["300 mL", "200, 250", "another standard"]),
        (lambda: Cylinder("C", capacity="250 mL", subdivision="3 mL"), DataError, ["3 mL", "2 mL"]),
        (lambda: Pipette("P", capacity="10 mL", accuracy_class="C"), DataError, ["'C'", "'A', 'B'"]),
        (lambda: Flask("F", capacity="250 mL", standard="ISO 9999"), DataError, ["ISO 9999", "'ISO 1042:1998'"]),
        (lambda: Pipette("P", capacity="10"), UnitError, ["'10'", "no unit", "mL"]),
        (lambda: Pipette("P", capacity=10), UnitError, ["10", "no unit", "mL"]),
        (lambda: Pipette("P", capacity="10 g"), UnitError, ["10 g", "not a unit of volume"]),
        (lambda: Flask("F", capacity="250,0 mL"), UnitError, ["250,0 mL", "'250.0 mL'"]),
        (lambda: Flask("F", capacity="-250 mL"), DomainError, ["-250 mL", "above zero"]),
        (lambda: Flask("F", capacity="nan mL"), UnitError, ["nan mL", "NaN"]),
        (lambda: Pipette("P", capacity="10 mL", tolerance="-0.1 mL"), DomainError, ["-0.1 mL", "not negative"]),
        (lambda: Pipette("P", capacity="10 mL", tolerance="10 mL"), DomainError, ["10 mL", "less than the capacity"]),
        (lambda: Flask("a/b", capacity="250 mL"), DataError, ["a/b", "without a slash"]),
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


def test_glass_of_which_something_speaks_for_small_errors_may_be_triangular() -> None:
    for stated, limit in (
        (Pipette("T", capacity="10 mL", accuracy_class="A", shape="triangular"), 0.02e-3),
        (Flask("T", capacity="250 mL", accuracy_class="A", shape="triangular"), 0.15e-3),
    ):
        volume = stated.volume()
        assert volume.u == pytest.approx(limit / math.sqrt(6.0), rel=1e-9)
        assert volume.budget().lines[0].shape == "triangular"


def test_another_shape_is_refused() -> None:
    with pytest.raises(DomainError, match="triangular or rectangular"):
        Flask("R", capacity="250 mL", shape="normal")


# ------------------------------------------------------------------------------------------------------------ editions
def test_the_list_of_editions_that_differ_is_that_of_the_table() -> None:
    listed = resources.files("assay.data").joinpath("README.md").read_text(encoding="utf-8")
    rows = [line for line in listed.partition("| ware | class |")[2].splitlines()[2:] if line.startswith("| ")]
    expected = [
        f"| {item} | {accuracy_class} | {capacity:g} mL | "
        + "; ".join(f"{standard} {', '.join(f'{x:g}' for x in limits)}" for standard, limits in by_standard.items())
        + " |"
        for item, accuracy_class, capacity, by_standard in where_editions_differ()
    ]
    assert rows == expected


def test_a_known_disagreement_is_among_them() -> None:
    """Of a 1 mL pipette of class A three documents have three limits (rows of the table)."""
    found = {(item, letter, size): limits for item, letter, size, limits in where_editions_differ()}
    assert found["one-mark pipette", "A", 1.0] == {
        "ASTM E969": (0.006,), "Eichordnung 1988": (0.007,), "ISO 648:2008": (0.008,),
    }  # fmt: skip
