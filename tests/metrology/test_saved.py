"""The saved form: numbers exactly, correlation whole, and no file that is not what was saved."""

from __future__ import annotations

import json
import math
import re
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import assay
from assay.errors import DataError
from assay.flags import Flag
from assay.metrology.entry import Entry
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import combine
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.saved import SCHEMA, _digest, decoded, encoded


def number(id_: str, value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="value")


def saved(**results: Estimate) -> str:
    entries = {name: Entry(kind="estimate", facts={}, estimate=result) for name, result in results.items()}
    return encoded(entries, tables={"atomic_weights": "ab12"}).decode()


def reloaded(text: str) -> dict[str, Estimate]:
    return {name: entry.estimate for name, entry in decoded(text, where="made.json").entries.items()}


def line_fit() -> list[Estimate]:
    joint = Joint(
        id="fit",
        label="line",
        member_ids=("fit/a", "fit/b"),
        values=(2.0, 1.0),
        covariance=((0.04, -0.03), (-0.03, 0.09)),
        dof=3.0,
    )
    return [Estimate.from_influence(member, name="value") for member in joint.members()]


# ---------------------------------------------------------------------------------------------------------- round trip
@given(
    value=st.floats(allow_nan=False, allow_infinity=False),
    u=st.floats(0.0, allow_infinity=False, allow_nan=False),
    dof=st.floats(1.0, allow_nan=False),
)
def test_numbers_come_back_exactly(value: float, u: float, dof: float) -> None:
    (influence,) = reloaded(saved(x=number("id µ/“x”", value, u, dof)))["x"].influences.values()
    assert (influence.id, influence.u, influence.dof) == ("id µ/“x”", u, dof)
    assert math.copysign(1.0, influence.value) == math.copysign(1.0, value)
    assert influence.value == value


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=5, unique=True))
def test_results_come_back_exactly(values: list[float]) -> None:
    product = combine(lambda *x: sum(x) / 3.0, *(number(f"i{k}", value, 0.1, 4.0) for k, value in enumerate(values)))
    copy = reloaded(saved(product=product))["product"]
    assert (copy.value, copy.u, copy.dof) == (product.value, product.u, product.dof)
    assert copy.sensitivities == product.sensitivities
    assert copy.budget() == product.budget()


def test_everything_else_comes_back_too() -> None:
    flagged = combine(lambda a, b: a * 3.0 + b, *line_fit(), label="at 3", unit="mol/L").flagged(
        Flag(code="rough", message="read in a hurry", blocking=True, accepted="repeated")
    )
    entry = Entry(kind="titrant", facts={"species": "thiosulfate"}, estimate=flagged)
    copy = decoded(encoded({"titrant": entry}, tables={}), where="made.json").entries["titrant"]
    assert (copy.kind, copy.facts) == ("titrant", {"species": "thiosulfate"})
    assert (copy.estimate.name, copy.estimate.label, copy.estimate.unit) == ("value", "at 3", "mol/L")
    assert copy.estimate.flags == flagged.flags
    assert copy.estimate.influences == flagged.influences
    assert copy.estimate.reloaded


def test_a_file_says_what_it_was_made_with() -> None:
    document = json.loads(saved(x=number("x", 1.0, 0.1)))
    assert document["evaluations"] == [["normal", None, "B", ""]]  # infinite degrees of freedom
    assert document["schema"] == SCHEMA == 2
    assert document["assay_version"] == assay_version()
    assert document["tables"] == {"atomic_weights": "ab12"}
    made = decoded(saved(x=number("x", 1.0, 0.1)), where="made.json")
    assert (made.assay_version, made.tables, made.kinds) == (assay_version(), {"atomic_weights": "ab12"}, {"estimate"})


def test_editions_are_found_by_the_ids() -> None:
    entry = Entry(kind="estimate", facts={}, estimate=number("atomic-weight/2021/O", 16.0, 0.1))
    text = encoded({"x": entry}, tables={}, editions=lambda ids: {"atomic_weights": {i.split("/")[1] for i in ids}})
    assert decoded(text, where="made.json").editions == {"atomic_weights": ["2021"]}


@given(
    st.one_of(
        st.just(("trapezoidal", (0.5,))),
        st.floats(2.001, 1e9).map(lambda dof: ("t", (dof,))),
        st.tuples(st.floats(-3.0, 0.0), st.floats(0.5, 3.0)).map(lambda ends: ("truncated normal", ends)),
        st.floats(-3.0, 3.0).map(lambda low: ("truncated normal", (low, math.inf))),
        st.floats(-3.0, 3.0).map(lambda high: ("truncated normal", (-math.inf, high))),
        st.floats(0.01, 3.0).map(lambda sigma: ("log-normal", (sigma,))),
        st.tuples(st.floats(0.5, 9.0), st.floats(0.5, 9.0)).map(lambda exponents: ("beta", exponents)),
        st.lists(st.floats(-1e3, 1e3), min_size=2, unique=True).map(lambda values: ("sample", tuple(values))),
    )
)
def test_shapes_come_back_with_their_parameters(shape: tuple[str, tuple[float, ...]]) -> None:
    name, parameters = shape
    given_ = Influence(id="x", label="x", value=1.0, u=0.1, shape=name, parameters=parameters)
    (influence,) = reloaded(saved(x=Estimate.from_influence(given_, name="value")))["x"].influences.values()
    assert influence == given_


@pytest.mark.parametrize("name", ["x", "a/b", "/x", "x/", "/", "", "lot/A17/purity", "µ\n“é”", "\U0001f9ea"])
def test_any_id_comes_back(name: str) -> None:
    assert list(reloaded(saved(x=number(name, 1.0, 0.1)))["x"].influences) == [name]


def test_numbers_of_numpy_are_saved_as_numbers() -> None:
    joint = Joint(
        id="fit",
        label="line",
        member_ids=("fit/a", "fit/b"),
        values=(np.int64(2), np.float32(0.5)),
        covariance=((np.float64(0.04), 0), (0, 1)),
    )
    member = joint.members()[0]
    (copy,) = reloaded(saved(a=Estimate.from_influence(member, name="value")))["a"].influences.values()
    assert copy == member


def test_a_member_that_says_more_than_its_joint_comes_back_with_that() -> None:
    first = line_fit()[0].influences["fit/a"]
    other = replace(first, source="read off the printed line", kind="B", label="slope, as read")
    (copy,) = reloaded(saved(a=Estimate.from_influence(other, name="value")))["a"].influences.values()
    assert copy == other
    assert copy.joint == first.joint


def test_a_derivative_belongs_to_its_influence_in_whatever_order() -> None:
    a, b = number("a", 1.0, 0.1), number("b", 2.0, 0.2)
    influences = {**a.influences, **b.influences}
    mixed = replace(a, sensitivities={"b": 3.0, "a": 5.0}, influences=influences)
    assert reloaded(saved(mixed=mixed))["mixed"].sensitivities == {"a": 5.0, "b": 3.0}


# -------------------------------------------------------------------------------------------------------- compact form
def test_what_results_share_stands_once() -> None:
    titrant = number("bottle/thiosulfate", 0.1, 0.001)
    results = {
        f"r{k}": combine(lambda c, v: c * v, titrant, number(f"titre/{k}", 20.0 + k, 0.05), unit="mmol")
        for k in range(50)
    }
    entries = {
        name: Entry(kind="strength", facts={"lot": "A17"}, estimate=result, parts={"titrant": titrant})
        for name, result in results.items()
    }
    text = encoded(entries, tables={}).decode()
    assert [text.count(word) for word in ('"thiosulfate"', '"bottle"', "A17", "mmol", '"titre"')] == [1] * 5
    copies = decoded(text, where="made.json").entries
    parts = [copies[name].parts["titrant"] for name in results]
    assert all(part is parts[0] for part in parts)
    assert parts[0].influences == titrant.influences
    assert encoded(copies, tables={}) == text.encode()


def test_every_result_has_a_line_and_is_made_once() -> None:
    text = saved(x=number("x", 1.25, 0.1), y=number("y", 2.0, 0.1))
    assert sum(line.startswith(('["x"', '["y"')) for line in text.splitlines()) == 2
    entries = decoded(text, where="made.json").entries
    assert (len(entries), list(entries), "x" in entries, "z" in entries) == (2, ["x", "y"], True, False)
    assert entries["x"] is entries["x"]
    with pytest.raises(KeyError):
        entries["z"]


def test_an_input_is_itself_again() -> None:
    shaped = Influence(id="x", label="x", value=2.0, u=0.1, shape="trapezoidal", parameters=(0.5,))
    before = Estimate.from_influence(shaped, name="value")
    after = reloaded(saved(x=before))["x"]
    assert not after.reloaded
    assert after.monte_carlo(trials=1_000) == before.monte_carlo(trials=1_000)


def test_results_of_two_threads_are_one() -> None:
    entries = decoded(saved(**{f"r{k}": number(f"x{k}", 1.0, 0.1) for k in range(200)}), where="made.json").entries
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda _: [entries[name] for name in entries], range(8)))
    assert all(one is other for row in made for one, other in zip(row, made[0], strict=True))


def assay_version() -> str:
    from importlib.metadata import version

    return version("assay")


def test_the_file_is_plain_json() -> None:
    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    json.loads(saved(x=number("x", 1.0, 0.1)), parse_constant=refuse)


def test_reloaded_is_the_same_thing_as_before() -> None:
    slope, intercept = line_fit()
    copies = reloaded(saved(slope=slope, intercept=intercept))
    assert combine(lambda a, b: a - b, slope, copies["slope"]).u == 0.0
    # x = 3: 9·0.04 − 6·0.03 + 0.09 = 0.27.
    at_three = combine(lambda a, b: 3.0 * a + b, copies["slope"], copies["intercept"])
    assert at_three.u == pytest.approx(math.sqrt(0.27), rel=1e-12)
    assert at_three.dof == pytest.approx(3.0, rel=1e-12)


def test_reloaded_it_samples_its_linear_form_and_says_so() -> None:
    bent = combine(lambda x: x * x, number("x", 0.0, 1.0), label="square")
    run = reloaded(saved(bent=bent))["bent"].monte_carlo(trials=1_000)
    assert run.linear_form_of == ("square",)
    assert (run.value, run.u) == (0.0, 0.0)  # the slope at zero; sampled through the formula the mean is 1


ANOTHER_PROCESS = """
import sys
from assay.metrology.evaluation import combine
from assay.metrology.saved import decoded
one, two = (decoded(open(name, encoding="utf-8").read(), where=name).entries["assay"].estimate for name in sys.argv[1:])
ratio = combine(lambda a, b: a / b, one, two)
print(repr(ratio.u), repr((one.ufloat / two.ufloat).std_dev))
"""


def test_correlation_is_kept_in_another_process(tmp_path: Path) -> None:
    titrant = number("titrant", 0.1, 0.001)
    for name, titre, u in (("one", 25.0, 0.05), ("two", 20.0, 0.04)):
        result = combine(lambda c, v: c * v, titrant, number(f"titre/{name}", titre, u))
        (tmp_path / name).write_text(saved(assay=result), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", ANOTHER_PROCESS, str(tmp_path / "one"), str(tmp_path / "two")],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(assay.__file__).parents[1],
    )
    # The titrant cancels: the ratio 1.25 has the relative u of the two titres, 0.2 % each.
    expected = 1.25 * math.sqrt(2.0) * 0.002
    assert [float(text) for text in done.stdout.split()] == pytest.approx([expected, expected], rel=1e-12)


# ------------------------------------------------------------------------------------------------------------- refused
def test_one_id_with_two_sets_of_facts_cannot_be_saved() -> None:
    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,") as caught:
        saved(x=number("x", 1.0, 0.1), y=number("x", 1.0, 0.2))
    assert caught.value.given == "x"


def signed(text: str, change: Callable[[dict[str, Any]], None]) -> str:
    """Return the text with a change, and with the digest that belongs to it: what a forger would do."""
    document = json.loads(text)
    change(document)
    document["sha256"] = _digest(document)
    return json.dumps(document)


def test_one_id_twice_with_other_facts_is_refused_naming_both() -> None:
    def repeat(document: dict[str, Any]) -> None:
        folder, name, label, value, _u, evaluation = document["results"][0][2][0]
        document["results"][0][2].append([folder, name, label, value, 0.2, evaluation])

    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,") as caught:
        reloaded(signed(saved(x=number("x", 1.0, 0.1)), repeat))
    assert caught.value.given == "x"
    assert caught.value.remedy


def test_one_id_twice_with_the_same_facts_is_refused() -> None:
    def repeat(document: dict[str, Any]) -> None:
        document["results"][1][2].append(document["results"][0][2][0])

    with pytest.raises(DataError, match="stands twice") as caught:
        reloaded(signed(saved(x=number("x", 1.0, 0.1), y=number("y", 1.0, 0.1)), repeat))
    assert caught.value.given == "x"
    assert caught.value.remedy


def test_two_results_of_one_name_are_refused() -> None:
    def repeat(document: dict[str, Any]) -> None:
        document["results"].append([*document["results"][0][:1], [], [], *document["results"][0][3:]])

    with pytest.raises(DataError, match="'x'") as caught:
        reloaded(signed(saved(x=number("x", 1.0, 0.1)), repeat))
    assert caught.value.remedy


def test_two_joints_of_one_id_are_refused() -> None:
    def repeat(document: dict[str, Any]) -> None:
        document["evaluations"].append(["normal", 9.0, "B", "another fit"])
        document["results"][0][1].append([*document["results"][0][1][0][:-1], 1])

    with pytest.raises(DataError, match=r"(?s)different joints.*no source.*another fit") as caught:
        reloaded(signed(saved(slope=line_fit()[0]), repeat))
    assert caught.value.given == "fit"


def test_a_facts_that_contradict_this_process_are_refused_when_combined() -> None:
    copy = reloaded(saved(x=number("x", 1.0, 0.1)))["x"]
    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,"):
        combine(lambda a, b: a + b, copy, number("x", 1.0, 0.2))


def test_two_files_that_contradict_each_other_are_refused_when_combined_naming_both() -> None:
    one, two = (reloaded(saved(x=number("x", 1.0, u)))["x"] for u in (0.1, 0.2))
    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,") as caught:
        combine(lambda a, b: a - b, one, two)
    assert caught.value.given == "x"
    assert "recalibration" in caught.value.remedy


WHOLE = saved(x=number("x", 1.25, 0.1), y=number("y", 2.0, 0.1, 4.0))


@given(st.integers(0, len(WHOLE.encode()) - 1))
@example(0)
@example(len(WHOLE.encode()) - 1)
def test_a_file_that_was_cut_off_is_refused(length: int) -> None:
    with pytest.raises(DataError, match="not a whole file") as caught:
        decoded(WHOLE.encode()[:length], where="made.json")
    assert caught.value.argument == "made.json"
    assert caught.value.remedy


LETTERS = [k for k, sign in enumerate(WHOLE) if sign.isalnum()]


@given(st.sampled_from(LETTERS), st.sampled_from("0123456789abcdefxyzABXZ"))
def test_a_file_of_which_a_letter_or_a_digit_was_changed_is_refused(place: int, sign: str) -> None:
    if WHOLE[place] == sign:
        return
    with pytest.raises(DataError) as caught:
        reloaded(WHOLE[:place] + sign + WHOLE[place + 1 :])
    assert caught.value.argument == "made.json"
    assert caught.value.remedy


@given(st.integers(0, len(WHOLE.encode()) - 1), st.integers(0, 255))
def test_a_file_of_which_any_byte_was_changed_is_refused_or_says_the_same(place: int, byte: int) -> None:
    raw = bytearray(WHOLE.encode())
    raw[place] = byte
    try:
        found = {name: entry.estimate for name, entry in decoded(bytes(raw), where="made.json").entries.items()}
    except DataError as error:
        assert error.remedy  # noqa: PT017  (nothing at all need be raised: a space may stand for a line break)
        return
    whole = reloaded(WHOLE)
    assert {name: (e.value, e.u, e.dof, e.label) for name, e in found.items()} == {
        name: (e.value, e.u, e.dof, e.label) for name, e in whole.items()
    }


@pytest.mark.parametrize("options", [{"indent": 2}, {"separators": (",", ":")}, {"ensure_ascii": True, "indent": "\t"}])
def test_a_file_that_was_laid_out_anew_says_the_same(options: dict[str, Any]) -> None:
    text = saved(x=number("µ", 1.25, 0.1))
    backwards = dict(reversed(json.loads(text).items()))
    assert reloaded(json.dumps(backwards, **options))["x"].influences == reloaded(text)["x"].influences
    with pytest.raises(DataError, match="SHA-256"):
        reloaded(json.dumps(backwards, **options).replace("1.25", "1.26"))


@pytest.mark.parametrize(
    ("before", "after"),
    [("1.25", "1.26"), ("null", "7.0"), ("null", "NaN"), ("1.25", "1e999"), ('"B"', '"A"'), ('"x"', '"z"')],
)
def test_a_file_that_was_edited_is_refused(before: str, after: str) -> None:
    assert before in WHOLE
    with pytest.raises(DataError, match="SHA-256") as caught:
        reloaded(WHOLE.replace(before, after, 1))
    assert caught.value.argument == "made.json"
    assert caught.value.remedy


@pytest.mark.parametrize(
    "text", ["null", "[]", "3", "{}", '"schema"', '{"schema": 1}', "schema = 1", "\x00", "[" * 100_000]
)
def test_what_is_no_file_of_results_is_refused(text: str) -> None:
    with pytest.raises(DataError, match="not a whole file") as caught:
        reloaded(text)
    assert caught.value.remedy


@pytest.mark.parametrize("schema", [0, 3, "1", None, True, 2.0, [2]])
def test_another_schema_is_refused_with_the_way_out(schema: object) -> None:
    with pytest.raises(DataError, match=re.escape(f"schema {schema!r}")) as caught:
        reloaded(signed(WHOLE, lambda document: document.update(schema=schema)))
    assert "assay_version" in caught.value.remedy
    assert assay_version() in caught.value.remedy


@pytest.mark.parametrize(
    "missing",
    ["texts", "folders", "facts", "flags", "quantities", "evaluations", "parts", "results", "tables", "assay_version"],
)
def test_a_file_with_a_part_missing_is_refused(missing: str) -> None:
    with pytest.raises(DataError, match=r"made\.json"):
        reloaded(signed(WHOLE, lambda document: document.pop(missing)))


@pytest.mark.parametrize(
    ("column", "wrong"), [(2, [[0, 0]]), (3, 99), (4, 99), (5, [0, 9]), (6, 9), (9, [1.0, 2.0]), (10, [7]), (10, None)]
)
def test_a_result_that_does_not_hold_together_is_refused(column: int, wrong: object) -> None:
    def spoil(document: dict[str, Any]) -> None:
        document["results"][0][column] = wrong

    with pytest.raises(DataError, match=r"although (its|the) SHA-256") as caught:
        reloaded(signed(saved(x=number("x", 1.0, 0.1)), spoil))
    assert caught.value.remedy


def test_what_cannot_be_written_is_refused_with_the_remedy() -> None:
    half = number("x", 1.0, 0.1)
    steep = replace(half, sensitivities={"x": math.inf})
    for result in (replace(half, label="\ud800"), steep):
        with pytest.raises(DataError, match="cannot be written") as caught:
            saved(x=result)
        assert caught.value.remedy
