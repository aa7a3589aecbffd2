"""Results in files: what is saved apart and read again in another process is correlated as before."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from assay import (
    Burette,
    DataError,
    Dilution,
    Estimate,
    Flask,
    Influence,
    Pipette,
    Strength,
    Titrant,
    assay_hypochlorite,
    combine,
    load,
    save,
)

S, DOF = 0.02, 20.0  # scatter of one titre, mL: above the rounding of 0.05 mL/√12, so that nothing else is added
BLANK = 0.05

KNOTS = np.linspace(0.0, 50.0, 21)
CORRELATION = (6.0 / math.pi) * np.arcsin(np.exp(-((np.subtract.outer(KNOTS, KNOTS) / 5.0) ** 2) / 2.0) / 2.0)
COVARIANCE = 0.025**2 / 3.0 * CORRELATION  # class A, ±0.05 mL, mL²

RATIO = """
import json, sys, assay
first = assay.load(sys.argv[1])["drum"].estimate
second = assay.load(sys.argv[2])["drum"].estimate
ratio = assay.combine(lambda a, b: a / b, first, second)
burette = sum(line.share for line in ratio.budget().lines if line.ids[0].startswith("burette/"))
print(json.dumps([ratio.value, ratio.u, ratio.dof, burette]))
"""


def thiosulfate() -> Titrant:
    influence = Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0002, dof=5.0)
    return Titrant(name="thiosulfate", estimate=Estimate.from_influence(influence, name="titrant_concentration"))


def assayed(titre: float, record: str) -> Strength:
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    pipette = Pipette("P10", capacity="10 mL")
    return assay_hypochlorite(
        thiosulfate(),
        aliquot=pipette,
        titres=[burette.titre(f"{titre:.2f} mL")] * 2,
        dilutions=[Dilution(pipette, Flask("F250", capacity="250 mL"))],
        blank=burette.titre(f"{BLANK:.2f} mL"),
        method_s=f"{S} mL",
        method_dof=DOF,
        record=record,
    )


def at(reading: float) -> np.ndarray:
    """Return the share of each knot in the deviation at a reading, mL."""
    return np.maximum(1.0 - np.abs(KNOTS - reading) / 2.5, 0.0)


def burette_of_ratio(first: float, second: float) -> float:
    """Return the relative variance that the shared burette gives the ratio: of e1/V1 - e2/V2, blanks deducted."""
    share = (at(first) - at(BLANK)) / (first - BLANK) - (at(second) - at(BLANK)) / (second - BLANK)
    return float(share @ COVARIANCE @ share)


def scatter_terms(first: float, second: float) -> list[float]:
    """Return the relative variance of each mean of two titres with its single blank: one s stands behind both."""
    return [S**2 * (1.0 / 2.0 + 1.0) / (v - BLANK) ** 2 for v in (first, second)]


@pytest.mark.parametrize(
    ("pair", "cancels"),
    [((24.35, 24.35), True), ((24.35, 24.55), True), ((25.00, 9.00), False), ((10.00, 40.00), False)],
)
def test_ratio_of_two_assays_saved_apart_and_read_in_a_new_process(
    pair: tuple[float, float], *, cancels: bool, tmp_path: Path
) -> None:
    """Titrant, pipette and flask cancel; the burette cancels as far as the two titres end in the same place."""
    first, second = pair
    paths = [tmp_path / "monday.json", tmp_path / "tuesday.json"]
    for path, titre in zip(paths, pair, strict=True):
        save(path, drum=assayed(titre, path.stem))
    told = subprocess.run(
        [sys.executable, "-W", "error", "-c", RATIO, *map(str, paths)], capture_output=True, text=True, check=True
    )
    value, u, dof, burette_share = json.loads(told.stdout)

    scale, scatter = burette_of_ratio(first, second), scatter_terms(first, second)
    variance = scale + sum(scatter)
    assert value == pytest.approx((first - BLANK) / (second - BLANK), rel=1e-12)
    assert u / value == pytest.approx(math.sqrt(variance), rel=1e-9)
    assert dof == pytest.approx(variance**2 / sum(term**2 / DOF for term in scatter), rel=1e-8)
    assert burette_share == pytest.approx(scale / variance, rel=1e-6, abs=1e-12)

    alone = [float((at(v) - at(BLANK)) @ COVARIANCE @ (at(v) - at(BLANK))) / (v - BLANK) ** 2 for v in pair]
    assert (scale < 0.01 * sum(alone)) == cancels  # against two burettes that know nothing of each other
    if not cancels:
        assert scale > 0.3 * sum(alone)


def test_everything_but_the_formulas_comes_back(tmp_path: Path) -> None:
    drum, titrant = assayed(24.35, "a"), thiosulfate()
    plain = drum.in_basis("g/L available chlorine")
    save(tmp_path / "r.json", drum=drum, titrant=titrant, grams=plain)
    back = load(tmp_path / "r.json")
    assert list(back) == ["drum", "titrant", "grams"]
    assert isinstance(back["drum"], Strength)
    assert isinstance(back["titrant"], Titrant)
    assert isinstance(back["grams"], Estimate)
    for before, after in [(drum.estimate, back["drum"].estimate), (plain, back["grams"])]:
        assert (after.value, after.u, after.dof, after.unit, after.label) == (
            before.value, before.u, before.dof, before.unit, before.label,
        )  # fmt: skip
        assert after.flags == before.flags
        lines = [[(line.label, line.contribution, line.dof) for line in e.budget().lines] for e in (before, after)]
        assert lines[0] == lines[1]
        assert combine(lambda a, b: a - b, before, after).u == pytest.approx(0.0, abs=1e-15)
    assert back["drum"].facts == drum.facts
    assert back["titrant"].name == "thiosulfate"


def test_an_assay_with_a_reloaded_titrant_is_the_assay_with_the_first(tmp_path: Path) -> None:
    save(tmp_path / "t.json", titrant=thiosulfate())
    titrant = load(tmp_path / "t.json")["titrant"]
    burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    pair = [
        assay_hypochlorite(
            t, aliquot=Pipette("P10", capacity="10 mL"), titres=[burette.titre("20 mL")], method_s="0.02 mL", record="a"
        ).estimate
        for t in (titrant, thiosulfate())
    ]
    assert combine(lambda a, b: a / b, *pair).u == pytest.approx(0.0, abs=1e-15)


def test_an_accepted_flag_stays_accepted(tmp_path: Path) -> None:
    accepted = assayed(24.35, "a").accepting("portion-only", because="only the portion matters here")
    save(tmp_path / "r.json", drum=accepted)
    (flag,) = load(tmp_path / "r.json")["drum"].flags
    assert flag.accepted == "only the portion matters here"


def test_a_sampled_reloaded_result_says_that_it_is_linear(tmp_path: Path) -> None:
    drum = assayed(24.35, "a")
    save(tmp_path / "r.json", drum=drum)
    run = load(tmp_path / "r.json")["drum"].estimate.monte_carlo(trials=10_000)
    assert run.linear_form_of == (drum.label,)
    assert run.u == pytest.approx(drum.estimate.u, rel=0.05)


def test_saving_replaces_the_file_whole_and_leaves_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    path.write_text("what was there before", encoding="utf-8")
    save(path, titrant=thiosulfate())
    assert list(tmp_path.iterdir()) == [path]
    assert "titrant" in load(path)


# --------------------------------------------------------------------------------------------------------- refusals
def test_nothing_to_save_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="nothing to save") as caught:
        save(tmp_path / "r.json")
    assert "save(path, drum=strength)" in caught.value.remedy


def test_results_that_contradict_one_another_are_not_saved(tmp_path: Path) -> None:
    """Also where they use different parts of a burette that goes by one name."""
    volumes = [
        Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class=letter).titre(*ends).volume()
        for letter, ends in (("A", ("0 mL", "10 mL")), ("B", ("20 mL", "30 mL")))
    ]
    with pytest.raises(DataError, match="burette/B1/calibration"):
        save(tmp_path / "r.json", first=volumes[0], second=volumes[1])


@pytest.mark.parametrize(
    ("mend", "says"),
    [
        (lambda text: text[: len(text) // 2], "not a whole file"),
        (lambda _: "", "not a whole file"),
        (lambda text: text.replace('"value": 0.1', '"value": 0.2', 1), "changed after it was saved"),
        (lambda text: text.replace('"schema": 1', '"schema": 99', 1), "schema 99"),
    ],
)
def test_a_damaged_file_is_refused(mend: object, says: str, tmp_path: Path) -> None:
    path = tmp_path / "r.json"
    save(path, titrant=thiosulfate())
    whole = path.read_text(encoding="utf-8")
    path.write_text(mend(whole), encoding="utf-8")
    assert path.read_text(encoding="utf-8") != whole
    with pytest.raises(DataError, match=says) as caught:
        load(path)
    assert "r.json" in str(caught.value)
    assert caught.value.remedy


def test_a_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"missing\.json"):
        load(tmp_path / "missing.json")
