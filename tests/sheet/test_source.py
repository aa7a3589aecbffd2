"""Where in a sheet everything stands."""

from __future__ import annotations

import pytest

from assay.errors import SheetError
from assay.sheet.source import parsed

SHEET = '''\
# a comment with a [table] and a key = 1
schema = 1
title = """
[not a table]
not = "a key"
"""
"quoted key" = 1 # [nor] is = this
note = "a # in a text, and ] and } and ="

[instruments.B1]
kind = "burette"

[instruments."F 2"]
kind = 'flask'

[[assay]]
sample = "one"
titres = [
  ["0.00 mL", "25.00 mL"], # the first ] of them
  { final = "26.00 mL", rough = true },
  [
    "0.00 mL",
    "25.00 mL",
  ],
]
dilutions = [{ pipette = "P10", flask = "F1" }]

[assay.sampling]
method = "x"

[[assay]]
sample = "two"
accept.code = "why"
  [assay.sampling]
  method = "y"
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("schema",), 2),
        (("title",), 3),
        (("quoted key",), 7),
        (("note",), 8),
        (("instruments", "B1"), 10),
        (("instruments", "B1", "kind"), 11),
        (("instruments", "F 2", "kind"), 14),
        (("assay", 0), 16),
        (("assay", 0, "sample"), 17),
        (("assay", 0, "titres"), 18),
        (("assay", 0, "titres", 0), 19),
        (("assay", 0, "titres", 1, "rough"), 20),
        (("assay", 0, "titres", 2), 21),
        (("assay", 0, "titres", 2, 1), 23),
        (("assay", 0, "dilutions", 0, "flask"), 26),
        (("assay", 0, "sampling"), 28),
        (("assay", 0, "sampling", "method"), 29),
        (("assay", 1, "sample"), 32),
        (("assay", 1, "accept", "code"), 33),
        (("assay", 1, "sampling", "method"), 35),
    ],
)
def test_every_key_table_and_item_has_its_line(path: tuple[str | int, ...], line: int) -> None:
    assert parsed(SHEET, "s.toml").line_of(path) == line


def test_a_missing_key_is_told_at_its_table() -> None:
    assert parsed(SHEET, "s.toml").line_of(("assay", 1, "burette")) == 31


def test_a_table_without_a_header_of_its_own_is_told_at_its_first_part() -> None:
    assert parsed(SHEET, "s.toml").line_of(("instruments",)) == 10


def test_lines_are_the_same_with_windows_line_ends() -> None:
    windows = parsed(SHEET.replace("\n", "\r\n"), "s.toml")
    assert windows.lines == parsed(SHEET, "s.toml").lines


def test_a_line_separator_of_unicode_within_a_text_is_no_new_line() -> None:
    source = parsed('title = "a\u2028b"\nx = 1\n', "s.toml")
    assert source.line_of(("x",)) == 2


def test_an_error_about_the_whole_sheet_names_the_file() -> None:
    assert str(parsed(SHEET, "s.toml").error((), "something is missing.")).startswith("s.toml, line 1")


@pytest.mark.parametrize(
    ("path", "parts"),
    [
        (("assay", 1, "sample"), ("line 32", "[[assay]] 2", "key sample")),
        (("instruments", "B1", "kind"), ("line 11", "[instruments.B1]", "key kind")),
        (("schema",), ("line 2", "key schema")),
        (("assay", 1, "sampling", "method"), ("line 35", "assay.sampling", "2", "key method")),
    ],
)
def test_an_error_names_table_and_key_as_they_are_written(path: tuple[str | int, ...], parts: tuple[str, ...]) -> None:
    message = str(parsed(SHEET, "s.toml").error(path, "this is wrong."))
    assert message.startswith("s.toml, ")
    assert [part for part in parts if part not in message] == []


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('a = 1\nb = "open\nc = 2\n', 2),
        ("a = 1\nb 2\n", 2),
        ("a = 1\n\na = 2\n", 3),
        ("[a]\nx = 1\n[b]\n[a]\n", 4),
        ("a = 1\nb = { c = 1, c = 2 }\n", 2),
        ("a = 1\n= 2\n", 2),
        ("a = [1,\n2\n", 2),
        ("a = 0,95\n", 1),
        ('a = """\nopen\n', 2),
    ],
)
def test_what_is_not_toml_is_told_with_its_line(text: str, line: int) -> None:
    with pytest.raises(SheetError) as caught:
        parsed(text, "s.toml")
    assert caught.value.argument == f"s.toml, line {line}"
    assert caught.value.remedy


@pytest.mark.parametrize(
    "text", ["a = 1\na = 2\n", "[a]\n[a]\n", "a = { c = 1, c = 2 }\n", "a = 1\n[a]\n", "[a]\nb = 1\n[a.b]\n"]
)
def test_what_is_written_twice_is_told_so(text: str) -> None:
    with pytest.raises(SheetError, match=r"second time.*[Kk]eep one"):
        parsed(text, "s.toml")
