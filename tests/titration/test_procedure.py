"""The printed procedure: its order is what keeps it safe."""

from __future__ import annotations

import pytest

from assay import DataError, cautions, iodometry_procedure


def place(words: str) -> int:
    """Return the number of the only step that says these words."""
    (found,) = (k for k, step in enumerate(iodometry_procedure()) if words in step)
    return found


def test_the_order_is_the_safe_one() -> None:
    order = [
        "fume hood",
        "Dilute the sample",
        "Dissolve 2 g of potassium iodide",
        "Pipette the aliquot",
        "Only now add",
    ]
    places = [place(words) for words in [*order, "Titrate at once", "Titrate a blank"]]
    assert places == sorted(places)
    assert len(set(places)) == len(places)


def test_iodide_is_there_before_the_sample_and_the_sample_before_the_acid() -> None:
    assert place("potassium iodide") < place("Pipette the aliquot") < place("acetic acid;")


def test_what_else_must_be_said() -> None:
    text = " ".join(iodometry_procedure())
    for words in ["at most 5 milliequivalents", "Stopper the flask", "never hydrochloric acid", "goggles", "starch"]:
        assert words in text
    assert [step.split(".")[0] for step in iodometry_procedure()] == [str(k) for k in range(1, 8)]


def test_the_first_caution_of_a_dose_is_not_to_mix() -> None:
    first = cautions("dosing hypochlorite")[0]
    for words in ["acid", "ammonia", "ammonium salts", "amines", "urea"]:
        assert words in first


@pytest.mark.parametrize(
    "step",
    ["iodometry of hypochlorite", "handling hypochlorite", "dosing hypochlorite", "thiosulfate waste", "local codes"],
)
def test_every_step_has_its_cautions(step: str) -> None:
    assert all(line.endswith(".") for line in cautions(step))
    assert len(cautions(step)) >= 1


def test_local_rules_come_first() -> None:
    (line,) = cautions("local codes")
    assert "licensed" in line


def test_an_unknown_step_is_refused_with_the_nearest() -> None:
    with pytest.raises(DataError) as caught:
        cautions("dosing hypochlorit")
    assert "dosing hypochlorite" in str(caught.value)
