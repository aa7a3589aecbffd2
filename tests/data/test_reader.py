"""The reader of the tables: finding a row, and saying why there is none."""

from __future__ import annotations

import math
import pickle

import pytest

import assay.data as reader
from assay.data import Table, facts, references, table, table_names, text_resource
from assay.errors import DataError


def made(monkeypatch: pytest.MonkeyPatch, text: str, *, name: str = "made") -> str:
    """Put one file beside the tables for the length of a test; caches are passed by."""
    monkeypatch.setattr(reader, "table_names", lambda: (name,))
    monkeypatch.setattr(reader, "text_resource", lambda _: text)
    return name


HEADER = "item,nominal[mL],value,u,half_width,dof,unit,shape,source,locator,provenance,note\n"


# ------------------------------------------------------------------------------------------------------------- finding
def test_a_row_of_text_columns() -> None:
    row = table("atomic_weights").find(edition="ciaaw-2021", symbol="Na")
    assert (row.value, row.half_width, row.u, row.dof) == (22.98976928, 0.00000002, None, math.inf)
    assert (row.unit, row.shape, row.source, row.provenance) == ("g/mol", "rectangular", "ciaaw-2021", "read")
    assert row.index == {"edition": "ciaaw-2021", "symbol": "Na", "name": "sodium"}
    assert not row.exact
    assert not row.unstated


@pytest.mark.parametrize("nominal", [25, 25.0, "25", "25.00", 0.025 * 1000, 1000 / 40])
def test_columns_with_a_unit_are_compared_as_numbers(nominal: float | str) -> None:
    row = table("volumetric_ware").find(
        item="one-mark pipette", standard="ISO 648:2008", accuracy_class="A", nominal=nominal
    )
    assert (row.value, row.half_width, row.shape) == (25.0, 0.03, "rectangular")


def test_symbols_are_compared_as_they_are_written() -> None:
    weights = table("atomic_weights")
    assert weights.find(edition="ciaaw-2021", symbol="Co").value == 58.933194
    with pytest.raises(DataError, match="no row with edition"):
        weights.find(edition="ciaaw-2021", symbol="CO")


def test_exact_and_unstated_are_told_apart() -> None:
    iodate = table("primary_standards")
    exact = iodate.find(name="potassium iodate", quantity="equivalents per mole")
    assert (exact.value, exact.exact, exact.unstated, exact.u, exact.half_width) == (6.0, True, False, None, None)
    unstated = iodate.find(name="potassium iodate", quantity="density")
    assert (unstated.exact, unstated.unstated, unstated.u) == (False, True, None)


def test_an_empty_text_finds_the_empty_cell() -> None:
    flask = table("volumetric_ware").find(
        item="volumetric flask", standard="ISO 1042:1998", accuracy_class="B", nominal=250, subdivision=""
    )
    assert flask.half_width == 0.30


def test_several_facts_keep_the_order_of_the_file() -> None:
    steps = [fact.index["topic"] for fact in facts("cautions").select(step="iodometry of hypochlorite")]
    assert steps.index("order") < steps.index("acid") < steps.index("at once")


def test_choices() -> None:
    ware = table("volumetric_ware")
    assert ware.choices("accuracy_class") == ("A", "B")
    assert ware.choices("nominal", item="burette", standard="ASTM E287") == ("10", "25", "50", "100")
    assert ware.choices("subdivision", item="volumetric flask") == ()


def test_tables_are_read_once_and_cannot_be_changed() -> None:
    weights = table("atomic_weights")
    assert weights is table("atomic_weights")
    row = weights.find(edition="ciaaw-2021", symbol="Cl")
    row.index["symbol"] = "Br"
    assert row.index["symbol"] == "Cl"
    with pytest.raises(AttributeError):
        row.value = 35.5  # type: ignore[misc]
    assert pickle.loads(pickle.dumps(row)) == row  # noqa: S301  (made in this line)


# ------------------------------------------------------------------------------------------------------------ refusing
def test_no_such_row_offers_the_nearest_text() -> None:
    with pytest.raises(DataError, match="Did you mean 'burette'") as raised:
        table("volumetric_ware").find(item="burete", nominal=25)
    assert raised.value.argument == "item"
    assert raised.value.given == "burete"


def test_no_such_number_lists_what_there_is() -> None:
    with pytest.raises(DataError, match=r"There is: 10, 25, 50, 100 mL\.") as raised:
        table("volumetric_ware").find(item="burette", standard="ASTM E287", accuracy_class="A", nominal=30)
    assert raised.value.argument == "nominal"


def test_a_number_where_no_row_has_one() -> None:
    with pytest.raises(DataError, match="only the empty cell"):
        table("volumetric_ware").find(item="volumetric flask", subdivision=0.1)


def test_more_than_one_row_says_what_is_still_open() -> None:
    with pytest.raises(DataError, match=r"subdivision = 0\.05, 0\.1 mL"):
        table("volumetric_ware").find(item="burette", standard="ISO 385:2005", accuracy_class="B", nominal=25)


def test_a_text_is_no_number() -> None:
    for given in ("twenty", math.nan, math.inf):
        with pytest.raises(DataError, match="a number in mL"):
            table("volumetric_ware").find(item="burette", nominal=given)


def test_no_such_column() -> None:
    with pytest.raises(DataError, match="Did you mean 'symbol'"):
        table("atomic_weights").find(edition="ciaaw-2021", symbl="Cl")
    with pytest.raises(DataError, match="no such index column"):
        table("atomic_weights").choices("value")


def test_no_such_table_or_file() -> None:
    with pytest.raises(DataError, match="Did you mean 'atomic_weights'"):
        table("atomic_weight")
    with pytest.raises(DataError, match="Did you mean 'cautions'"):
        facts("caution")
    for name in ("../errors.py", "__init__.py", "reference.toml", ""):
        with pytest.raises(DataError, match="no such file"):
            text_resource(name)


def test_facts_and_values_have_their_own_readers() -> None:
    with pytest.raises(DataError, match=r"facts\('cautions'\)"):
        table("cautions")
    with pytest.raises(DataError, match=r"table\('atomic_weights'\)"):
        facts("atomic_weights")


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("flask,25,25,,,,mL,triangular,s,l,read,\n", "needs a number in u or in half_width"),
        ("flask,25,25,0.1,0.2,,mL,triangular,s,l,read,\n", "needs a number in u or in half_width"),
        ("flask,25,25,exact,0.2,,mL,,s,l,read,\n", "needs a number in u or in half_width"),
        ("flask,25,25,about,,,mL,,s,l,read,\n", "'about' in column u"),
        ("flask,25,nan,exact,,,mL,,s,l,read,\n", "'nan' in column value"),
        ("flask,25,,exact,,,mL,,s,l,read,\n", "'' in column value"),
        ("flask,25,25,0.1,,many,mL,normal,s,l,read,\n", "'many' in column dof"),
        ("flask,25,25,exact\n", "has 4 cells, the header has 12"),
    ],
)
def test_a_line_that_cannot_be_read_is_named(monkeypatch: pytest.MonkeyPatch, line: str, says: str) -> None:
    name = made(monkeypatch, HEADER + "flask,10,10,exact,,,mL,,s,l,read,\n" + line)
    with pytest.raises(DataError, match="line 3") as raised:
        table.__wrapped__(name)
    assert says in str(raised.value)
    assert raised.value.argument == "made.csv"


def test_u_and_dof_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    name = made(monkeypatch, HEADER + '"flask, wide",10,10,0.02,,4,mL,normal,s,l,read,"a note, with a comma"\n')
    read: Table[reader.Row] = table.__wrapped__(name)
    row = read.find(item="flask, wide")
    assert (row.u, row.half_width, row.dof, row.note) == (0.02, None, 4.0, "a note, with a comma")


# ------------------------------------------------------------------------------------------------------------- sources
def test_references() -> None:
    source = references()["ciaaw-2021"]
    assert (source.year, source.doi) == (2022, "10.1515/pac-2019-0603")
    references().clear()
    assert references()


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ('citation = "A"\nkind = "book"\nseen = "heard"\nhow = "By ear."', "seen = one of"),
        ('citation = "A"\nkind = "book"\nseen = "read"', "cannot be read"),
        ('citation = "A"\nkind = "book"\nseen = "read"\nhow = "All."\npages = 3', "cannot be read"),
    ],
)
def test_an_entry_that_cannot_be_read_is_named(monkeypatch: pytest.MonkeyPatch, fields: str, says: str) -> None:
    made(monkeypatch, f"[made-1999]\n{fields}\n")
    with pytest.raises(DataError, match="made-1999") as raised:
        reader._references.__wrapped__()
    assert says in str(raised.value)


def test_the_names_of_the_tables() -> None:
    assert {"atomic_weights", "volumetric_ware", "incompatible"} <= set(table_names())
    assert all("." not in name for name in table_names())
