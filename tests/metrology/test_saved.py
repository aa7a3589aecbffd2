"""The saved form: numbers exactly, correlation whole, and no file that is not what was saved."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import assay
from assay.errors import DataError
from assay.flags import Flag
from assay.metrology.estimate import Estimate, combine
from assay.metrology.influence import Influence, Joint
from assay.metrology.entry import Entry
from assay.metrology.saved import SCHEMA, _digest, decoded, encoded


def number(id_: str, value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=id_, value=value, u=u, dof=dof), name="value")


def saved(**results: Estimate) -> str:
    entries = {name: Entry(kind="estimate", facts={}, estimate=result) for name, result in results.items()}
    return encoded(entries, tables={"atomic_weights": "ab12"})


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


def test_infinite_degrees_of_freedom_are_null() -> None:
    document = json.loads(saved(x=number("x", 1.0, 0.1)))
    assert document["influences"][0]["dof"] is None
    assert document["schema"] == SCHEMA == 1
    assert document["assay_version"] == assay_version()
    assert document["tables"] == {"atomic_weights": "ab12"}


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
from assay.metrology.estimate import combine
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
        document["influences"].append({**document["influences"][0], "u": 0.2})

    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,"):
        reloaded(signed(saved(x=number("x", 1.0, 0.1)), repeat))


def test_two_results_of_one_name_are_refused() -> None:
    def repeat(document: dict[str, Any]) -> None:
        document["results"].append({**document["results"][0], "value": 9.0})

    with pytest.raises(DataError, match="'x'"):
        reloaded(signed(saved(x=number("x", 1.0, 0.1)), repeat))


def test_two_joints_of_one_id_are_refused() -> None:
    def repeat(document: dict[str, Any]) -> None:
        document["joints"].append({**document["joints"][0], "dof": 9.0})

    with pytest.raises(DataError, match="fit"):
        reloaded(signed(saved(slope=line_fit()[0]), repeat))


def test_a_facts_that_contradict_this_process_are_refused_when_combined() -> None:
    copy = reloaded(saved(x=number("x", 1.0, 0.1)))["x"]
    with pytest.raises(DataError, match=r"(?s)u 0\.1,.*u 0\.2,"):
        combine(lambda a, b: a + b, copy, number("x", 1.0, 0.2))


WHOLE = saved(x=number("x", 1.25, 0.1), y=number("y", 2.0, 0.1, 4.0))


@pytest.mark.parametrize("share", [0.0, 0.01, 0.3, 0.6, 0.99])
def test_a_file_that_was_cut_off_is_refused(share: float) -> None:
    with pytest.raises(DataError, match="not a whole file") as caught:
        reloaded(WHOLE[: int(share * len(WHOLE))])
    assert caught.value.argument == "made.json"
    assert caught.value.remedy


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


@pytest.mark.parametrize("schema", [0, 2, "1", None])
def test_another_schema_is_refused_with_the_way_out(schema: object) -> None:
    with pytest.raises(DataError, match=f"schema {schema!r}") as caught:
        reloaded(signed(WHOLE, lambda document: document.update(schema=schema)))
    assert "assay_version" in caught.value.remedy


@pytest.mark.parametrize("missing", ["influences", "joints", "results"])
def test_a_file_with_a_part_missing_is_refused(missing: str) -> None:
    with pytest.raises(DataError, match=r"made\.json"):
        reloaded(signed(WHOLE, lambda document: document.pop(missing)))
