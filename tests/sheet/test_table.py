"""A table of a sheet, read key by key."""

from __future__ import annotations

from typing import NoReturn

import pytest

from assay.errors import DomainError, Problems, SheetError, UnitError
from assay.sheet.source import parsed
from assay.sheet.table import Table

TEXT = """\
[assay]
sample = "drum"
number = 2
flag = true
class = "C"
list = [1, 2]

[assay.sampling]
method = "rolled"

[[dose]]
into = "water"

[[dose]]
into = "brine"
"""


@pytest.fixture
def root() -> Table:
    source = parsed(TEXT, "t.toml")
    return Table(source=source, path=(), data=source.data)


@pytest.fixture
def table(root: Table) -> Table:
    return root.table("assay")


def test_values_are_given_as_they_stand(table: Table) -> None:
    assert table.text("sample") == "drum"
    assert table.number("number", 0.0) == 2.0
    assert table.truth("flag") is True
    assert table.items("list") == [1, 2]
    assert table.table("sampling").text("method") == "rolled"
    assert table.has("sample")


def test_a_missing_key_gives_its_default(table: Table) -> None:
    assert table.text("other", "none") == "none"
    assert table.text("other", "") == ""
    assert table.maybe("other") is None
    assert table.number("other", 0.5) == 0.5
    assert table.truth("other") is False
    assert table.items("other") == []
    assert not table.has("other")


def test_tables_of_an_array_know_their_number(root: Table) -> None:
    doses = root.tables("dose")
    assert [dose.text("into") for dose in doses] == ["water", "brine"]
    assert "line 15, [[dose]] 2, key into" in str(doses[1].error("into", "no."))


def test_one_table_counts_as_an_array_of_one_and_a_missing_one_as_none(root: Table) -> None:
    assert [table.text("sample") for table in root.tables("assay")] == ["drum"]
    assert root.tables("nothing") == []


@pytest.mark.parametrize(
    ("method", "key", "line"),
    [
        ("text", "number", 3),
        ("text", "flag", 4),
        ("truth", "sample", 2),
        ("items", "sample", 2),
        ("table", "sample", 2),
    ],
)
def test_a_wrong_kind_of_value_is_told_at_its_key(table: Table, method: str, key: str, line: int) -> None:
    with pytest.raises(SheetError, match=rf"^t\.toml, line {line}, \[assay\], key {key}"):
        getattr(table, method)(key)


@pytest.mark.parametrize("key", ["sample", "flag", "list"])
def test_what_is_no_number_is_no_number(table: Table, key: str) -> None:
    with pytest.raises(SheetError, match=rf"key {key}.*number"):
        table.number(key, 1.0)


def test_a_missing_key_is_told_with_its_table_and_how_to_add_it(table: Table) -> None:
    with pytest.raises(SheetError, match=r"^t\.toml, line 1, \[assay\]: the key 'burette' is missing\. Add burette ="):
        table.text("burette")


def test_an_unknown_key_is_told_with_the_nearest(table: Table) -> None:
    with pytest.raises(SheetError, match=r"line 5, \[assay\], key class: unknown key\. Did you mean 'clasp'\?"):
        table.only("sample", "number", "flag", "clasp", "list", "sampling")


def test_a_value_that_is_no_table_is_told(root: Table) -> None:
    root.data["dose"] = 3
    with pytest.raises(SheetError, match=r"\[\[dose\]\]"):
        root.tables("dose")


def _raising(error: Exception) -> NoReturn:
    raise error


def test_an_error_of_the_library_is_placed_at_the_key_of_its_argument(table: Table) -> None:
    error = DomainError("not in the table", argument="accuracy_class", given="C", expected="A or B", remedy="Look.")
    with pytest.raises(SheetError) as caught:
        table.call("sample", _raising, error)
    assert str(caught.value).startswith("t.toml, line 5, [assay], key class = 'C': ")
    assert (caught.value.given, caught.value.expected, caught.value.remedy) == ("C", "A or B", "Look.")


def test_an_error_without_a_key_of_its_own_is_placed_at_the_key_of_the_call(table: Table) -> None:
    with pytest.raises(SheetError, match=r"line 2, \[assay\], key sample = '3': elsewhere: bad"):
        table.call("sample", _raising, DomainError("bad", argument="elsewhere", given="3"))


def test_an_error_of_a_sheet_passes_unchanged(table: Table) -> None:
    error = table.error("class", "no.")
    with pytest.raises(SheetError) as caught:
        table.call("sample", _raising, error)
    assert caught.value is error


def test_several_errors_are_told_each_with_its_line(table: Table) -> None:
    def check() -> None:
        problems = Problems()
        problems.add(UnitError("a bare number has no unit.", argument="sample", given="2"))
        problems.add(DomainError("this is above zero", argument="number", given="0"))
        problems.raise_any()

    with pytest.raises(SheetError) as caught:
        table.call("", check)
    first, second = caught.value.problems
    assert str(first).startswith("t.toml, line 2, [assay], key sample")
    assert str(second).startswith("t.toml, line 3, [assay], key number")
    assert str(first) in str(caught.value)
    assert str(second) in str(caught.value)


def test_no_other_exception_is_caught(table: Table) -> None:
    with pytest.raises(ZeroDivisionError):
        table.call("sample", _raising, ZeroDivisionError())
