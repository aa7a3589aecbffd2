"""Many assays at once, against the single assays of the same readings."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assay import (
    AssayError,
    Balance,
    BasisError,
    BlockedResultError,
    Burette,
    DataError,
    Dilution,
    DomainError,
    EndPoint,
    Estimate,
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    Sampling,
    Strength,
    StrengthBatch,
    Temperature,
    Titrant,
    TitreBatch,
    UnitError,
    assay_acid_base,
    assay_acid_base_batch,
    assay_hypochlorite,
    assay_hypochlorite_batch,
    combine,
    combine_batch,
    standardise_by_portions,
)
from assay.metrology.covariance import correlation

REL = 1e-12
SAMPLED = Sampling(method="drum rolled, drawn through the tap", delay="20 min")
burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="B")
pipette = Pipette("P10", capacity="10 mL", accuracy_class="A")
flask = Flask("F250", capacity="250 mL", accuracy_class="A")
warm = Temperature("24 °C", half_width="1 K", day="2026-11-16")


def thiosulfate() -> Titrant:
    """Return a titrant that was standardised on the same burette, at another place of its scale."""
    balance = Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
    standard = PrimaryStandard("potassium iodate", purity="99.9 % w/w", half_width="0.1 % w/w", lot="A17")
    portions = [
        (balance.by_difference(f"{20.0 + mass:.4f} g", "20.0000 g"), burette.titre(f"{final:.2f} mL"))
        for mass, final in ((0.1214, 34.05), (0.1202, 33.60), (0.1221, 34.30))
    ]
    blank = [burette.titre(f"{final:.2f} mL") for final in (0.05, 0.10)]
    return standardise_by_portions(standard, portions=portions, blank=blank, record="thiosulfate")


TITRANT = thiosulfate()


def batch_of(titres: TitreBatch, **options: object) -> StrengthBatch:
    whole = {"dilutions": [Dilution(pipette, flask)], "blank": burette.titre("0.05 mL"), "sampling": SAMPLED}
    return assay_hypochlorite_batch(TITRANT, aliquot=pipette, titres=titres, **{**whole, **options})


def rows(*finals: list[float], **options: object) -> TitreBatch:
    widest = max(map(len, finals))
    padded = [[*row, *[math.nan] * (widest - len(row))] for row in finals]
    return TitreBatch(burette=burette, final=padded, counts=[len(row) for row in finals], unit="mL", **options)


def agrees(batch: StrengthBatch, i: int, single: Strength) -> None:
    assert batch.value[i] == pytest.approx(single.estimate.value, rel=REL)
    assert batch.u[i] == pytest.approx(single.estimate.u, rel=REL)
    assert batch.dof[i] == pytest.approx(single.estimate.dof, rel=REL)


# -------------------------------------------------------------------------------------- a row is what a single assay is
@st.composite
def readings(draw: st.DrawFn, *, random_starts: bool) -> tuple[list[list[float]], list[list[float]]]:
    """Return initial and final readings in mL of some assays, read to 0.05 mL, alike or not."""
    initials, finals = [], []
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, 40)) if random_starts else 0
        end = draw(st.integers(start + 60, 990))
        n = draw(st.integers(2, 4))
        moved = [draw(st.integers(0, 4)) if random_starts else 0 for _ in range(n)]
        initials.append([0.05 * (start + shift) for shift in moved])
        finals.append([0.05 * (end + shift + draw(st.integers(-3, 3))) for shift in moved])
    return initials, finals


def padded(listed: list[list[float]]) -> np.ndarray:
    return np.array([[*row, *[math.nan] * (4 - len(row))] for row in listed])


BLANKS: dict[str, Callable[[], Any]] = {
    "no blank": lambda: None,
    "a single blank": lambda: burette.titre("0.05 mL"),
    "a single blank, refilled": lambda: burette.titre("0.00 mL", "0.10 mL", refilled=[("0.10 mL", "0.15 mL")]),
    "three blanks": lambda: [burette.titre(f"{final} mL") for final in ("0.05", "0.10", "0.05")],
    "a rough blank and one that counts": lambda: [burette.titre("0.30 mL", rough=True), burette.titre("0.05 mL")],
}
CONDITIONS: dict[str, dict[str, Any]] = {
    "as read": {},
    "known scatter": {"method_s": "0.04 mL", "method_dof": 8.0},
    "scatter below the step": {"method_s": "0.01 mL"},
    "warm": {"temperature": warm},
}


@pytest.mark.parametrize("random_starts", [False, True])
@pytest.mark.parametrize("blank", BLANKS)
@pytest.mark.parametrize("conditions", CONDITIONS)
@settings(max_examples=8)  # of each of forty combinations
@given(data=st.data())
def test_each_row_is_the_single_assay_of_its_readings(
    data: st.DataObject, blank: str, conditions: str, *, random_starts: bool
) -> None:
    """Written as texts for the single assay and as an array for the batch: the same readings, to the last bit."""
    initials, finals = data.draw(readings(random_starts=random_starts))
    options = {"dilutions": [Dilution(pipette, flask)], "sampling": SAMPLED, **CONDITIONS[conditions]}
    starts = padded(initials) if random_starts else None
    counts = [len(row) for row in finals]
    titres = TitreBatch(burette=burette, final=padded(finals), initial=starts, counts=counts, unit="mL")
    names = [f"drum {k}" for k in range(len(finals))]
    given_blank = BLANKS[blank]()
    batch = assay_hypochlorite_batch(TITRANT, aliquot=pipette, titres=titres, blank=given_blank, names=names, **options)
    for k, name in enumerate(names):
        pairs = zip(initials[k], finals[k], strict=True)
        single = assay_hypochlorite(
            TITRANT,
            aliquot=pipette,
            titres=[burette.titre(f"{a:.2f} mL", f"{b:.2f} mL") for a, b in pairs],
            blank=given_blank,
            record=name,
            **options,
        )
        agrees(batch, k, single)
        assert batch[k].estimate.value == single.estimate.value
        assert [flag.code for flag in batch[k].flags] == [flag.code for flag in single.flags]
        own = f"record/{name}/"
        assert {id_ for id_ in batch[k].estimate.influences if id_.startswith(own) and "blank" not in id_} == {
            id_ for id_ in single.estimate.influences if id_.startswith(own) and "blank" not in id_
        }


@settings(max_examples=40)
@given(data=st.data())
def test_each_row_with_blanks_of_its_own(data: st.DataObject) -> None:
    finals = data.draw(st.lists(st.lists(st.integers(300, 900), min_size=3, max_size=3), min_size=1, max_size=3))
    n = data.draw(st.integers(1, 3))
    blanks = [data.draw(st.lists(st.integers(0, 4), min_size=n, max_size=n)) for _ in finals]
    batch = batch_of(
        rows(*([0.05 * x for x in row] for row in finals)),
        blank=TitreBatch(burette=burette, final=[[0.05 * x for x in row] for row in blanks], unit="mL"),
    )
    for k, row in enumerate(finals):
        single = assay_hypochlorite(
            TITRANT,
            aliquot=pipette,
            titres=[burette.titre(f"{0.05 * x:.2f} mL") for x in row],
            dilutions=[Dilution(pipette, flask)],
            blank=[burette.titre(f"{0.05 * x:.2f} mL") for x in blanks[k]],
            sampling=SAMPLED,
            record="x",
        )
        agrees(batch, k, single)
        agrees(batch, k, batch[k])


@settings(max_examples=40)
@given(finals=st.lists(st.lists(st.integers(200, 900), min_size=2, max_size=3), min_size=1, max_size=3))
def test_acids_and_bases(finals: list[list[int]]) -> None:
    influence = Influence(id="bottle/NaOH", label="sodium hydroxide", value=0.1, u=0.0001, dof=5.0)
    titrant = Titrant(
        name="sodium hydroxide", estimate=Estimate.from_influence(influence, name="titrant_concentration")
    )
    options = {
        "end_point": EndPoint("phenolphthalein", operator="K", excess="0.05 mL"), "aliquot": pipette,
        "dilutions": [Dilution(pipette, flask)], "blank": burette.titre("0.05 mL"), "temperature": warm,
    }  # fmt: skip
    titres = rows(*([0.05 * x for x in row] for row in finals))
    batch = assay_acid_base_batch(titrant, "hydrochloric acid", titres=titres, **options)
    for k in range(len(finals)):
        single = assay_acid_base(titrant, "hydrochloric acid", titres=titres.row(k), record="x", **options)
        agrees(batch, k, single)
        assert {flag.code for flag in single.flags} == {flag.code for flag in batch.flags}
    assert batch.in_basis("g/L HCl").value == pytest.approx(
        [batch[k].in_basis("g/L HCl").value for k in range(len(finals))]
    )


def test_value_against_plain_arithmetic() -> None:
    batch = batch_of(rows([24.30, 24.45, 24.36], [20.0, 20.1]))
    c = TITRANT.estimate.value
    assert batch.value.tolist() == pytest.approx(
        [c * net / 20.0 * 25.0 for net in (24.37 - 0.05, 20.05 - 0.05)], rel=REL
    )


def test_u_against_the_formula_written_out() -> None:
    """One titrant, a burette without error, a pipette twice, a flask: as for the single assay."""
    exact = Burette("B2", capacity="50 mL", subdivision="0.1 mL", tolerance="0.000001 mL")
    known = Influence(id="bottle/thiosulfate", label="thiosulfate", value=0.1, u=0.0001)
    titrant = Titrant(name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration"))
    finals = np.array([[24.30, 24.45, 24.36], [31.0, 31.2, 31.3]])
    batch = assay_hypochlorite_batch(
        titrant, aliquot=pipette, titres=TitreBatch(burette=exact, final=finals, unit="mL"),
        dilutions=[Dilution(pipette, flask)], blank=exact.titre("0.05 mL"),
    )  # fmt: skip
    s, net = finals.std(axis=1, ddof=1), finals.mean(axis=1) - 0.05
    u_pipette, u_flask = 0.02 / math.sqrt(3.0) / 10.0, 0.15 / math.sqrt(3.0) / 250.0
    known_part = 0.001**2 + (2.0 * u_pipette) ** 2 + u_flask**2
    scatter = (s**2 / 3.0 + s**2) / net**2
    np.testing.assert_allclose(batch.u / batch.value, np.sqrt(known_part + scatter), rtol=1e-7)
    estimated = (s**2 - 0.05**2 / 12.0) * (1.0 / 3.0 + 1.0) / net**2  # without the rounding, which is known
    np.testing.assert_allclose(batch.dof, (known_part + scatter) ** 2 / (estimated**2 / 2.0), rtol=1e-6)


# ----------------------------------------------------------------------------------------------------------- bad rows
BAD: dict[str, tuple[list[float], int, str]] = {
    "NaN among its readings": ([24.3, math.nan, 24.4], 3, "missing-reading"),
    "infinity": ([24.3, math.inf, 24.4], 3, "missing-reading"),
    "no titre": ([math.nan, math.nan, math.nan], 0, "no-titre"),
    "a single titre": ([24.3, math.nan, math.nan], 1, "single-titre"),
    "a number beyond its count": ([24.3, 24.4, 24.5], 2, "reading-beyond-count"),
    "a titre of zero": ([24.3, 0.0, 24.4], 3, "titre-not-positive"),
    "a negative reading": ([24.3, -24.3, 24.4], 3, "reading-below-zero"),
    "beyond the scale": ([24.3, 50.1, 24.4], 3, "beyond-scale"),
    "a blank as large as the titre": ([0.05, 0.05, 0.05], 3, "blank-above-titre"),
    "a blank above the titre": ([0.04, 0.03, 0.02], 3, "blank-above-titre"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_row_gets_a_code_and_the_others_survive(name: str) -> None:
    bad, count, code = BAD[name]
    good = [24.30, 24.45, 24.36]
    whole = batch_of(TitreBatch(burette=burette, final=[good, good], unit="mL"))
    batch = batch_of(TitreBatch(burette=burette, final=[good, bad, good], counts=[3, count, 3], unit="mL"))
    assert batch.code.tolist() == ["", code, ""]
    assert batch.mask.tolist() == [False, True, False]
    for numbers, of_good in ((batch.value, whole.value), (batch.u, whole.u), (batch.dof, whole.dof)):
        assert math.isnan(numbers[1])
        assert numbers[[0, 2]].tolist() == of_good.tolist()
    with pytest.raises(DataError, match=code):
        batch[1]
    assert batch.records()[1]["code"] == code


def test_all_bad_rows_at_once() -> None:
    finals = [bad for bad, _, _ in BAD.values()]
    counts = [count for _, count, _ in BAD.values()]
    batch = batch_of(TitreBatch(burette=burette, final=finals, counts=counts, unit="mL"))
    assert batch.code.tolist() == [code for _, _, code in BAD.values()]
    assert batch.mask.all()
    assert f"{len(BAD)} without a number" in repr(batch)


def test_a_final_below_its_initial_reading() -> None:
    titres = TitreBatch(burette=burette, final=[[24.3, 24.4]] * 2, initial=[[0.0, 0.0], [0.0, 24.5]], unit="mL")
    assert batch_of(titres).code.tolist() == ["", "titre-not-positive"]


def test_a_bad_blank_is_told_as_one() -> None:
    blank = TitreBatch(burette=burette, final=[0.0, math.nan, -0.05], unit="mL")
    batch = batch_of(rows(*[[24.3, 24.4]] * 3), blank=blank)
    assert batch.code.tolist() == ["", "blank-missing-reading", "blank-reading-below-zero"]


def test_a_single_titre_counts_with_a_known_scatter() -> None:
    batch = batch_of(rows([24.35], [24.30, 24.40]), method_s="0.04 mL", method_dof=8.0)
    assert not batch.mask.any()
    agrees(batch, 0, batch[0])


def test_doubtful_rows_keep_their_numbers() -> None:
    """At 0.1 mol/L and 25-fold dilution, 40 mL are 5 mol/L or 355 g/L Cl2; undiluted, 50 mL exceed 5 meq."""
    batch = batch_of(rows([24.3, 24.4], [40.0, 40.1]))
    assert batch.code.tolist() == ["", "implausible-strength"]
    assert not batch.mask.any()
    assert "implausible-strength" in {flag.code for flag in batch[1].flags}
    undiluted = batch_of(rows([24.3, 24.4], [49.9, 50.0]), dilutions=[])
    strong = ["aliquot-too-strong" in {flag.code for flag in undiluted[k].flags} for k in range(2)]
    assert (undiluted.code == "aliquot-too-strong").tolist() == strong
    labelled = batch_of(rows([24.3, 24.4], [12.0, 12.1]), label="125 g/L available chlorine")
    assert labelled.code.tolist() == ["above-label", ""]
    assert [flag.code for flag in labelled[0].flags] == ["above-label"]


# ------------------------------------------------------------------------------------------------- what rows share
def test_rows_are_correlated_as_single_assays_are() -> None:
    batch = batch_of(rows([24.30, 24.45], [24.10, 24.15], [31.0, 31.1]), names=["a", "b", "c"])
    for i, j in ((0, 1), (0, 2), (1, 2)):
        assert batch.correlation(i, j) == pytest.approx(correlation(batch[i].estimate, batch[j].estimate), rel=1e-9)
    assert 0.1 < batch.correlation(0, 2) < batch.correlation(0, 1) + 1e-3
    assert batch.correlation(0, 0) == pytest.approx(1.0)


def test_a_difference_of_two_rows_is_that_of_single_assays() -> None:
    """Titrant, pipette, flask and the burette's scale cancel as far as the readings are alike."""
    batch = batch_of(rows([24.30, 24.45], [24.10, 24.15], [31.0, 31.1]), names=["a", "b", "c"])
    ratio = combine_batch(lambda a, b: a / b, batch.estimates, batch[0].estimate)
    for k in range(3):
        single = combine(lambda a, b: a / b, batch[k].estimate, batch[0].estimate)
        assert ratio.value[k] == pytest.approx(single.value, rel=REL)
        assert ratio.u[k] == pytest.approx(single.u, rel=1e-9, abs=1e-15)
        assert ratio[k].u == pytest.approx(single.u, rel=1e-9, abs=1e-15)
    assert ratio.u[0] == pytest.approx(0.0, abs=1e-15)


def test_a_named_row_is_the_single_assay_of_that_record() -> None:
    """The same readings under the same name are the same influences: their difference has no uncertainty."""
    batch = batch_of(rows([24.30, 24.45], [31.0, 31.1]), names=["drum 7", "drum 8"])
    single = assay_hypochlorite(
        TITRANT, aliquot=pipette, titres=[burette.titre("24.30 mL"), burette.titre("24.45 mL")],
        dilutions=[Dilution(pipette, flask)], blank=burette.titre("0.05 mL"), sampling=SAMPLED, record="drum 7",
    )  # fmt: skip
    difference = combine_batch(lambda a, b: a - b, batch.estimates, single.estimate)
    assert difference.u[0] == pytest.approx(0.0, abs=1e-15)
    assert difference.u[1] > 0.0
    assert combine(lambda a, b: a - b, batch[0].estimate, single.estimate).u == pytest.approx(0.0, abs=1e-15)


def test_blanks_that_serve_all_rows_are_one_cause() -> None:
    """The scatter of shared blanks is shared: it is there in both rows, and drops out of their difference."""
    blank = [burette.titre(f"{final} mL") for final in ("0.00", "2.00", "0.10")]
    batch = batch_of(rows([24.30, 24.35], [24.30, 24.35]), blank=blank, record="term")
    own = {id_.rsplit("/", 1)[0] for id_ in batch[0].estimate.influences if id_.startswith("record/term, row 1/")}
    (common,) = {
        id_ for id_ in batch[0].estimate.influences if id_.startswith("record/term/") and id_.endswith("/scatter")
    }
    assert common in batch[1].estimate.influences
    assert len(own) == 1  # scatter and resolution of its titres, and nothing of the blanks
    difference = combine_batch(lambda a, b: a - b, batch.estimates, batch[0].estimate)
    # What is left are the means of two pairs, 0.05 mL apart, s/√2 each, and the step of reading that s shows.
    s, slope = 0.05e-3 / math.sqrt(2.0), batch.value[0] / (24.325e-3 - 0.7e-3)
    assert difference.u[1] == pytest.approx(slope * s / math.sqrt(2.0) * math.sqrt(2.0), rel=1e-9)


def test_two_batches_of_one_record_are_one() -> None:
    first, again = (batch_of(rows([24.30, 24.45], [31.0, 31.1]), record="term") for _ in range(2))
    assert combine_batch(lambda a, b: a - b, first.estimates, again.estimates).u == pytest.approx([0.0, 0.0], abs=1e-12)
    other = batch_of(rows([24.30, 24.45], [31.0, 31.1]), record="another term")
    assert (combine_batch(lambda a, b: a - b, first.estimates, other.estimates).u > 1e-4).all()


# --------------------------------------------------------------------------------------------------- ways in and out
def test_quantities_and_plain_numbers_are_the_same_readings() -> None:
    registry = pint.UnitRegistry()
    numbers = np.array([[24.30, 24.45], [31.0, 31.1]])
    found = [
        batch_of(titres, record="term").value.tolist()
        for titres in (
            TitreBatch(burette=burette, final=numbers, unit="mL"),
            TitreBatch(burette=burette, final=numbers * registry.mL),
            TitreBatch(burette=burette, final=numbers / 1000.0, unit="L"),
            TitreBatch(burette=burette, final=np.ma.masked_invalid(numbers), unit="mL"),
            TitreBatch(burette=burette, final=numbers.tolist(), unit="mL"),
        )
    ]
    assert all(values == found[0] for values in found)


def test_masked_numbers_are_missing() -> None:
    numbers = np.ma.masked_array([[24.30, 24.45], [31.0, 31.1]], mask=[[False, True], [False, False]])
    assert TitreBatch(burette=burette, final=numbers, unit="mL").code().tolist() == ["missing-reading", ""]


def test_records_for_a_data_frame() -> None:
    batch = batch_of(rows([24.30, 24.45], [0.0, 31.1]), names=["drum 7", "drum 8"])
    first, second = batch.records()
    assert list(first) == ["row", "name", "value", "u", "dof", "unit", "code"]
    assert (first["name"], first["value"], first["unit"], first["code"]) == ("drum 7", batch.value[0], "mol/L", "")
    assert (second["row"], second["name"], second["code"]) == (1, "drum 8", "titre-not-positive")
    numbered = batch_of(rows([24.30, 24.45], [24.2, 24.4]), record="term").records()
    assert [record["name"] for record in numbered] == ["term, row 1", "term, row 2"]


def test_in_another_basis() -> None:
    batch = batch_of(rows([24.30, 24.45], [0.0, 31.1]))
    stated = batch.in_basis("% w/v available chlorine")
    single = batch[0].in_basis("% w/v available chlorine")
    assert (stated.value[0], stated.u[0], stated.dof[0]) == pytest.approx((single.value, single.u, single.dof), rel=REL)
    assert stated.unit == single.unit
    assert stated.code.tolist() == ["", "titre-not-positive"]
    assert stated[0].value == single.value


def test_a_batch_can_be_sent_to_another_process() -> None:
    batch = batch_of(rows([24.30, 24.45], [0.0, 31.1]), record="term")
    again = pickle.loads(pickle.dumps(batch))  # noqa: S301  (of this very process)
    assert again.value.tolist()[0] == batch.value[0]
    assert (again.u[0], again.dof[0], again.code.tolist()) == (batch.u[0], batch.dof[0], batch.code.tolist())
    assert correlation(again[0].estimate, batch[0].estimate) == pytest.approx(1.0)


def test_text() -> None:
    batch = batch_of(rows([24.30, 24.45], [0.0, 31.1]), record="term", blank=None, sampling=None)
    assert repr(batch).startswith(
        "<StrengthBatch 'term': [no-blank] [portion-only] 2 rows in mol/L, 1 without a number"
    )
    assert "titre-not-positive" in str(batch)
    assert "titre-not-positive" in batch._repr_html_()


# ---------------------------------------------------------------------------------------------------------- refusals
TWO = rows([24.3, 24.4], [24.3, 24.4])


@pytest.mark.parametrize(
    ("call", "error", "says"),
    [
        (lambda: TitreBatch(burette=burette, final=[[24.3, 24.4]]), UnitError, ["final", "no unit", "unit='mL'"]),
        (lambda: TitreBatch(burette=burette, final=[[24.3]], unit="ML"), UnitError, ["'ML'", "mL"]),
        (lambda: TitreBatch(burette=burette, final=[[24.3]], unit="g"), UnitError, ["'g' is not a unit of volume"]),
        (lambda: TitreBatch(burette=burette, final=[["a"]], unit="mL"), UnitError, ["not an array of numbers"]),
        (
            lambda: TitreBatch(burette=burette, final=[[1.0], [1.0, 2.0]], unit="mL"),
            UnitError,
            ["rows of equal length"],
        ),
        (
            lambda: TitreBatch(burette=burette, final=np.ones(2) * pint.UnitRegistry().g),
            UnitError,
            ["gram is not a unit of volume"],
        ),
        (
            lambda: TitreBatch(burette=burette, final=np.ones(2) * pint.UnitRegistry().mL, unit="mL"),
            UnitError,
            ["told twice"],
        ),
        (lambda: TitreBatch(burette=burette, final=np.ones((1, 1, 1)), unit="mL"), DataError, ["(1, 1, 1)", "row"]),
        (lambda: TitreBatch(burette=burette, final=[], unit="mL"), DataError, ["(0,)"]),
        (
            lambda: TitreBatch(burette=burette, final=[[1.0, 2.0]], initial=[[0.0]], unit="mL"),
            DataError,
            ["initial", "(1, 2)"],
        ),
        (lambda: TitreBatch(burette=burette, final=[[1.0, 2.0]], counts=[3], unit="mL"), DomainError, ["0 to 2"]),
        (lambda: TitreBatch(burette=burette, final=[[1.0, 2.0]], counts=[1.5], unit="mL"), DomainError, ["1.5"]),
        (lambda: TitreBatch(burette=burette, final=[[1.0, 2.0]], counts=[1, 1], unit="mL"), DomainError, ["1 whole"]),
        (lambda: batch_of(TWO, names=["a"]), DataError, ["1 names", "2 different"]),
        (lambda: batch_of(TWO, names=["a", "a"]), DataError, ["'a'", "2 different"]),
        (lambda: batch_of(TWO, names=["a", "b/c"]), DataError, ["b/c"]),
        (lambda: batch_of(TWO, label="12.5 %"), BasisError, ["'12.5 %'"]),
        (lambda: batch_of(TWO).in_basis("g/L HCl"), BasisError, ["g/L HCl"]),
        (lambda: batch_of(TWO).in_basis("% w/w NaOCl"), BasisError, ["density"]),
        (
            lambda: batch_of(TWO, source="calcium hypochlorite").in_basis("g/L NaOCl"),
            BlockedResultError,
            ["calcium hypochlorite"],
        ),
        (lambda: batch_of(TWO, blank="0.05 mL"), DataError, ["burette.titre("]),
        (
            lambda: batch_of(TWO, blank=TitreBatch(burette=burette, final=[0.05], unit="mL")),
            DataError,
            ["blank", "1 rows", "2 rows"],
        ),
        (lambda: batch_of(TWO, blank=rows([0.05], [0.05, 0.10])), DataError, ["Split the batch"]),
        (
            lambda: batch_of(
                TWO,
                dilutions=[
                    Dilution(
                        Balance("W1", readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg").by_difference(
                            "30 g", "20 g"
                        ),
                        flask,
                    )
                ],
            ),
            DomainError,
            ["one by one"],
        ),
        (
            lambda: assay_acid_base_batch(
                TITRANT, "hydrochloric acid", end_point=EndPoint("phenolphthalein"), aliquot=pipette, titres=TWO
            ),
            DomainError,
            ["sodium hydroxide", "thiosulfate"],
        ),
        (
            lambda: assay_acid_base_batch(
                TITRANT, "cough syrup", end_point=EndPoint("phenolphthalein"), aliquot=pipette, titres=TWO
            ),
            DataError,
            ["cough syrup"],
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
