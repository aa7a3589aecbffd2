"""Results in files: what is saved apart and read again in another process is correlated as before."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
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
from assay.metrology.entry import Entry
from assay.metrology.saved import SCHEMA, encoded

S, DOF = 0.02, 20.0  # scatter of one titre, mL, which holds the rounding of 0.05 mL/√12
BLANK = 0.05

KNOTS = np.linspace(0.0, 50.0, 21)
CORRELATION = (6.0 / math.pi) * np.arcsin(np.exp(-((np.subtract.outer(KNOTS, KNOTS) / 5.0) ** 2) / 2.0) / 2.0)
COVARIANCE = 0.05**2 / 3.0 * CORRELATION  # class A, ±0.05 mL, mL²; nothing at zero
COVARIANCE[0, :] = COVARIANCE[:, 0] = 0.0
ROUNDED = 0.05**2 / 12.0  # mL²

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
    return [(S**2 - ROUNDED) * (1.0 / 2.0 + 1.0) / (v - BLANK) ** 2 for v in (first, second)]


def rounding_terms(first: float, second: float) -> list[float]:
    """Return what rounding adds to each: of two titres that agree, rounded alike, and of the blank."""
    return [2.0 * ROUNDED / (v - BLANK) ** 2 for v in (first, second)]


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
    variance = scale + sum(scatter) + sum(rounding_terms(first, second))
    assert value == pytest.approx((first - BLANK) / (second - BLANK), rel=1e-12)
    assert u / value == pytest.approx(math.sqrt(variance), rel=1e-9)
    assert dof == pytest.approx(variance**2 / sum(term**2 / DOF for term in scatter), rel=1e-8)
    assert burette_share == pytest.approx(scale / variance, rel=1e-6, abs=1e-12)

    alone = [float((at(v) - at(BLANK)) @ COVARIANCE @ (at(v) - at(BLANK))) / (v - BLANK) ** 2 for v in pair]
    assert (scale < 0.01 * sum(alone)) == cancels  # against two burettes that know nothing of each other
    if not cancels:
        assert scale > 0.3 * sum(alone)


MADE_ALONE = """
import sys, assay
path, titre, record = sys.argv[1:]
known = assay.Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0002, dof=5.0)
concentration = assay.Estimate.from_influence(known, name="titrant_concentration")
burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
pipette = assay.Pipette("P10", capacity="10 mL")
drum = assay.assay_hypochlorite(
    assay.Titrant(name="thiosulfate", estimate=concentration),
    aliquot=pipette, titres=[burette.titre(titre)] * 2,
    dilutions=[assay.Dilution(pipette, assay.Flask("F250", capacity="250 mL"))],
    blank=burette.titre("0.05 mL"), method_s="0.02 mL", method_dof=20.0, record=record,
)
assay.save(path, drum=drum)
"""


def told_by(script: str, *arguments: object) -> str:
    command = [sys.executable, "-W", "error", "-c", script, *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def test_two_processes_save_what_a_third_finds_correlated(tmp_path: Path) -> None:
    """None of the three knows an object of another: titrant, pipette and flask cancel, because their ids say so."""
    paths = [tmp_path / "monday.json", tmp_path / "tuesday.json"]
    for path, titre in zip(paths, (25.0, 9.0), strict=True):
        told_by(MADE_ALONE, path, f"{titre:.2f} mL", path.stem)
    value, u, _, _ = json.loads(told_by(RATIO, *paths))
    assert value == pytest.approx((25.0 - BLANK) / (9.0 - BLANK), rel=1e-12)
    others = sum(scatter_terms(25.0, 9.0)) + sum(rounding_terms(25.0, 9.0))
    expected = math.sqrt(burette_of_ratio(25.0, 9.0) + others)
    assert u / value == pytest.approx(expected, rel=1e-9)


FROZEN = sorted((Path(__file__).parents[1] / "metrology" / "frozen").glob("schema_*.json"))


def test_there_is_a_frozen_file_of_every_schema() -> None:
    assert [path.name for path in FROZEN] == [f"schema_{k}.json" for k in range(1, SCHEMA + 1)]


@pytest.mark.parametrize("path", FROZEN, ids=lambda path: path.stem)
def test_a_frozen_file_is_read_for_ever(path: Path) -> None:
    """Two results c V of a titrant c = 0.1, u 0.0002; a line a = 2.0, b = 1.0; and the strength of a drum."""
    frozen = load(path)
    assert frozen.assay_version == "0.1.0"
    assert "atomic_weights" in frozen.tables
    titrant, monday, tuesday, line, drum = (frozen[name] for name in ("titrant", "monday", "tuesday", "line", "drum"))
    assert isinstance(titrant, Titrant)
    assert (titrant.name, titrant.estimate.value, titrant.estimate.u) == ("thiosulfate", 0.1, 0.0002)
    assert (titrant.estimate.dof, titrant.unit) == (5.0, "L")
    # 2.5 and 2.0 mmol of titres with 0.2 % each; c gives each another 0.2 %, and has 5 degrees of freedom.
    for result, value in ((monday, 2.5), (tuesday, 2.0)):
        assert (result.value, result.unit) == (value, "mmol")
        assert result.u == pytest.approx(value * 0.002 * math.sqrt(2.0), rel=1e-12)
        assert result.dof == pytest.approx(20.0, rel=1e-12)
    ratio = combine(lambda a, b: a / b, monday, tuesday)
    assert (ratio.value, ratio.dof) == (1.25, math.inf)
    assert ratio.u == pytest.approx(1.25 * 0.002 * math.sqrt(2.0), rel=1e-12)
    assert combine(lambda a, b: a / b, monday, titrant.estimate).u == pytest.approx(0.05, rel=1e-12)
    assert [line.shape for line in tuesday.budget().lines if "tuesday" in line.label] == ["rectangular"]
    # 9 · 0.04 − 6 · 0.03 + 0.09 = 0.27.
    assert (line.value, line.label, line.dof) == (7.0, "line at 3", pytest.approx(3.0, rel=1e-12))
    assert line.u == pytest.approx(math.sqrt(0.27), rel=1e-12)
    assert [(flag.code, flag.accepted) for flag in line.flags] == [("rough", "repeated on the same day")]
    assert isinstance(drum, Strength)
    # 0.1 mol/L · 24.375 mL / (2 · 10 mL) · 250/10.
    assert drum.estimate.value == pytest.approx(0.1 * 24.375 / 20.0 * 25.0, rel=1e-12)
    assert {flag.code for flag in drum.flags} == {"no-blank", "portion-only"}
    assert combine(lambda a, b: a / b, drum.estimate, monday).u > 0.0


def test_the_frozen_file_of_schema_2_has_shapes_and_editions() -> None:
    frozen = load(next(path for path in FROZEN if path.stem == "schema_2"))
    assert frozen.editions == {"atomic_weights": ("ciaaw-2021",)}
    purity, trapezoid, seen = frozen["shapes"].influences.values()
    # Of a normal of 0.999 ± 0.001 that ends at 1; of a trapezoid with half its width as top; of 1, 1 and 4.
    assert (purity.quantile(1.0), purity.quantile(0.0)) == (pytest.approx(1.0, rel=1e-12), -math.inf)
    assert trapezoid.quantile(1.0) == pytest.approx(2.0 + 0.1 * math.sqrt(6.0 / 1.25), rel=1e-12)
    assert (seen.value, seen.u) == (2.0, pytest.approx(math.sqrt(2.0), rel=1e-15))
    assert seen.quantile(0.9) == pytest.approx(4.0, rel=1e-12)


def test_two_files_that_contradict_each_other_are_refused_naming_both(tmp_path: Path) -> None:
    found = []
    for u in (0.0002, 0.0003):
        influence = Influence(id="bottle/thiosulfate", label=f"bottle with u = {u}", value=0.1, u=u)
        save(tmp_path / "t.json", c=Estimate.from_influence(influence, name="titrant_concentration"))
        found.append(load(tmp_path / "t.json")["c"])
    with pytest.raises(DataError, match=r"(?s)bottle with u = 0\.0002.*bottle with u = 0\.0003") as caught:
        combine(lambda a, b: a / b, *found)
    assert caught.value.given == "bottle/thiosulfate"
    assert caught.value.remedy


def test_an_unknown_kind_is_refused_when_the_file_is_read(tmp_path: Path) -> None:
    entry = Entry(kind="strenght", facts={}, estimate=thiosulfate().estimate)
    (tmp_path / "r.json").write_bytes(encoded({"x": entry}, tables={}))
    with pytest.raises(DataError, match="Did you mean 'strength'"):
        load(tmp_path / "r.json")


def test_threads_may_save_one_file_and_it_is_whole(tmp_path: Path) -> None:
    results = {f"r{k}": thiosulfate() for k in range(30)}
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: save(tmp_path / "r.json", **results), range(40)))
    assert list(load(tmp_path / "r.json")) == list(results)
    assert list(tmp_path.iterdir()) == [tmp_path / "r.json"]


def test_results_are_a_mapping_that_shows_what_it_holds(tmp_path: Path) -> None:
    save(tmp_path / "r.json", **{f"r{k}": thiosulfate() for k in range(7)})
    found = load(tmp_path / "r.json")
    assert repr(found) == "<Results: 'r0', 'r1', 'r2', 'r3', 'r4', … (7)>"
    assert found["r3"] is found["r3"]
    assert ("r6" in found, "r7" in found, found.get("r7")) == (True, False, None)


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
        (lambda text: text.replace('"thiosulfate",0.1', '"thiosulfate",0.2', 1), "changed after it was saved"),
        (lambda text: text.replace('"schema":2', '"schema":99', 1), "schema 99"),
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
