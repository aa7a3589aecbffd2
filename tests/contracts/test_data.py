"""What every table keeps: a source that resolves, a provenance, an uncertainty or a word in its place, and a use."""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path

import pytest

import assay.data
from assay.data import PROVENANCES, SHAPES, Fact, Row, facts, references, table, table_names, text_resource

DATA = Path(assay.data.__file__).parent
LIBRARY = DATA.parent


def is_facts(name: str) -> bool:
    header = text_resource(f"{name}.csv").splitlines()[0].split(",")
    return "fact" in header


VALUES = [name for name in table_names() if not is_facts(name)]
FACTS = [name for name in table_names() if is_facts(name)]
ENTRIES: list[tuple[str, Row | Fact]] = [
    *((name, row) for name in VALUES for row in table(name).rows),
    *((name, row) for name in FACTS for row in facts(name).rows),
]


def described(name: str, entry: Row | Fact) -> str:
    return f"{name}: {entry.index}"


def test_there_are_tables_of_both_kinds() -> None:
    assert VALUES
    assert FACTS
    assert ENTRIES


def test_every_source_resolves() -> None:
    known = references()
    assert [described(*entry) for entry in ENTRIES if entry[1].source not in known] == []


def test_every_provenance_is_one_of_the_words() -> None:
    assert [described(*entry) for entry in ENTRIES if entry[1].provenance not in PROVENANCES] == []


def test_every_row_says_where_in_its_source() -> None:
    without = [
        described(name, entry) for name, entry in ENTRIES if not entry.locator and entry.source != "common-practice"
    ]
    assert without == []


def test_what_was_not_seen_is_not_called_read() -> None:
    # A row may be read although the document itself was not, if a copy of the number was: the entry's `how` says so.
    unseen = {key for key, source in references().items() if source.seen == "memory" and "read in" not in source.how}
    assert [described(*entry) for entry in ENTRIES if entry[1].provenance == "read" and entry[1].source in unseen] == []


def test_common_practice_is_never_called_read() -> None:
    wrong = [
        described(*e) for e in ENTRIES if e[1].source == "common-practice" and e[1].provenance in {"read", "computed"}
    ]
    assert wrong == []


@pytest.mark.parametrize("name", VALUES)
def test_every_value_has_an_uncertainty_or_a_word_in_its_place(name: str) -> None:
    for row in table(name).rows:
        stated = (row.u is not None, row.half_width is not None, row.exact, row.unstated)
        assert stated.count(True) == 1, described(name, row)
        if row.u is not None or row.half_width is not None:
            assert (row.u or row.half_width or 0.0) > 0.0, described(name, row)
            assert row.shape in SHAPES, described(name, row)
        else:
            assert row.shape == "", described(name, row)
        assert row.dof > 0.0, described(name, row)
        assert row.unit, described(name, row)
        if row.half_width is not None:
            assert row.shape != "normal", described(name, row)  # a normal distribution has no half-width


@pytest.mark.parametrize("name", table_names())
def test_no_two_rows_have_the_same_index(name: str) -> None:
    rows = facts(name).rows if name in FACTS else table(name).rows
    assert len({row.cells for row in rows}) == len(rows)


@pytest.mark.parametrize("name", table_names())
def test_columns_with_a_unit_hold_numbers_or_nothing(name: str) -> None:
    found = facts(name) if name in FACTS else table(name)
    for column, unit in zip(found.columns, found.units, strict=True):
        if unit:
            # Zero is a reading like any other (a solution of 0 % is water); a negative one would be a slip.
            assert all(float(cell) >= 0.0 for cell in found.choices(column)), column


@pytest.mark.parametrize("name", table_names())
def test_no_cell_has_spaces_around_it(name: str) -> None:
    cells = [cell for line in csv.reader(text_resource(f"{name}.csv").splitlines()) for cell in line]
    assert [cell for cell in cells if cell != cell.strip()] == []


@pytest.mark.parametrize("name", table_names())
def test_every_table_is_used(name: str) -> None:
    quoted = re.compile(rf"""["']{name}["']""")
    users = [
        path for path in LIBRARY.rglob("*.py") if DATA not in path.parents and quoted.search(path.read_text("utf-8"))
    ]
    assert users, f"no code outside assay/data reads {name!r}"


@pytest.mark.parametrize("name", table_names())
def test_every_table_is_described(name: str) -> None:
    assert f"| `{name}.csv` |" in text_resource("README.md")


# ------------------------------------------------------------------------------------------------------------- sources
def test_references_are_in_alphabetical_order() -> None:
    keys = list(tomllib.loads(text_resource("references.toml")))
    assert keys == sorted(keys)


@pytest.mark.parametrize("key", references())
def test_every_reference_says_what_it_is_and_how_it_was_seen(key: str) -> None:
    source = references()[key]
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key)
    assert source.citation
    assert source.kind
    assert source.how.endswith(".")
    assert source.year is None or 1800 <= source.year <= 2100
    assert not source.doi or re.fullmatch(r"10\.\d{4,9}/\S+", source.doi)
    assert not source.isbn or isbn_13_holds(source.isbn)


def isbn_13_holds(isbn: str) -> bool:
    """Return whether the check digit fits (ISO 2108: weights 1 and 3 in turn, sum divisible by ten)."""
    digits = [int(sign) for sign in isbn if sign.isdigit()]
    return len(digits) == 13 and sum(digit * (1, 3)[place % 2] for place, digit in enumerate(digits)) % 10 == 0


# ----------------------------------------------------------------------------------------------------- single contents
def test_every_element_has_a_weight_or_is_named_as_having_none() -> None:
    with_weight = table("atomic_weights").choices("symbol", edition="ciaaw-2021")
    without = facts("elements_without_weight").choices("symbol")
    assert (len(with_weight), len(without)) == (84, 34)
    assert not set(with_weight) & set(without)


@pytest.mark.parametrize("edition", table("atomic_weights").choices("edition"))
def test_editions_differ_in_values_and_not_in_names(edition: str) -> None:
    newest = {row.index["symbol"]: row for row in table("atomic_weights").select(edition="ciaaw-2021")}
    for row in table("atomic_weights").select(edition=edition):
        assert row.index["name"] == newest[row.index["symbol"]].index["name"]
        # The largest true difference is that of hydrogen, 1.0 against 1.008; a slipped row or digit is larger.
        assert row.value == pytest.approx(newest[row.index["symbol"]].value, rel=0.01)


def test_class_a_is_never_wider_than_class_b() -> None:
    ware = table("volumetric_ware")
    limits = {row.cells: row.half_width or 0.0 for row in ware.rows}
    pairs = []
    for cells, limit in limits.items():
        twin = tuple((column, "A" if cell == "B" else cell) for column, cell in cells)
        if twin != cells and twin in limits:
            pairs.append((limits[twin], limit))
    assert pairs
    assert all(first <= second for first, second in pairs)


def test_a_larger_vessel_is_never_allowed_less() -> None:
    ware = table("volumetric_ware")
    groups: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
    for row in ware.rows:
        key = (row.index["item"], row.index["standard"], row.index["accuracy_class"])
        assert row.half_width is not None
        assert row.value == float(row.index["nominal"])
        groups.setdefault(key, []).append((row.value, row.half_width))
    for key, rows in groups.items():
        for nominal, limit in rows:
            assert all(limit <= other for larger, other in rows if larger > nominal), key


def test_the_ways_of_matching_are_those_described() -> None:
    incompatible = facts("incompatible")
    assert set(incompatible.choices("dispensed")) == {"hypochlorite", "acid", "ammonia", "alkali", "aqueous"}
    assert set(incompatible.choices("match")) == {"word", "ending", "formula", "group", "both", "undiluted"}
    small, formula = "[a-z]+", "[A-Za-z0-9()]*[A-Z][A-Za-z0-9()]*"
    part = f"({small}|{formula})(/({small}|{formula}))*"
    parts = f"{part}( {part})+"
    pattern = {
        "word": small, "ending": small, "formula": formula, "group": formula, "both": parts, "undiluted": parts,
    }  # fmt: skip
    for row in incompatible.rows:
        assert re.fullmatch(pattern[row.index["match"]], row.index["word"]), row.index


def test_no_reagent_is_listed_under_two_names_of_what_it_meets() -> None:
    # The same word must not be called two things for one reagent: the message would depend on the order of the rows.
    incompatible = facts("incompatible")
    for dispensed in incompatible.choices("dispensed"):
        keys = [(row.index["word"], row.index["match"]) for row in incompatible.select(dispensed=dispensed)]
        assert len(set(keys)) == len(keys)


@pytest.mark.parametrize("name", dict.fromkeys(row.index["name"] for row in table("primary_standards").rows))
def test_every_primary_standard_has_the_three_quantities_and_one_formula(name: str) -> None:
    rows = table("primary_standards").select(name=name)
    assert sorted(row.index["quantity"] for row in rows) == ["density", "equivalents per mole", "purity"]
    assert len({row.index["formula"] for row in rows}) == 1
    by_quantity = {row.index["quantity"]: row for row in rows}
    assert by_quantity["equivalents per mole"].exact
    assert by_quantity["equivalents per mole"].index["against"]
    assert by_quantity["purity"].value <= 1.0
    assert by_quantity["purity"].half_width is not None
