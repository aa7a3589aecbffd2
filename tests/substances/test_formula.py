"""Formulas as text: what is read, what is refused, and where the caret stands."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assay.errors import DomainError
from assay.substances.formula import known_symbols, parse_formula

SYMBOLS = sorted(known_symbols())


# ------------------------------------------------------------------------------------------------------ what is read
@pytest.mark.parametrize(
    ("text", "atoms"),
    [
        ("KIO3", {"K": 1, "I": 1, "O": 3}),
        ("NaOCl", {"Na": 1, "O": 1, "Cl": 1}),
        ("Na2S2O3", {"Na": 2, "S": 2, "O": 3}),
        ("C8H5KO4", {"C": 8, "H": 5, "K": 1, "O": 4}),
        ("Ca(OCl)2", {"Ca": 1, "O": 2, "Cl": 2}),
        ("(NH4)2SO4", {"N": 2, "H": 8, "S": 1, "O": 4}),
        ("K4[Fe(CN)6]", {"K": 4, "Fe": 1, "C": 6, "N": 6}),
        ("[Co(NH3)6]{Cl3}", {"Co": 1, "N": 6, "H": 18, "Cl": 3}),
        ("K₄[Fe(CN)₆]·3H₂O", {"K": 4, "Fe": 1, "C": 6, "N": 6, "H": 6, "O": 3}),
        ("2CaSO4·H2O", {"Ca": 2, "S": 2, "O": 9, "H": 2}),
        ("  KCl ", {"K": 1, "Cl": 1}),
        ("CO", {"C": 1, "O": 1}),
        ("Co", {"Co": 1}),
        ("H1", {"H": 1}),
    ],
)
def test_reads(text: str, atoms: dict[str, int]) -> None:
    assert parse_formula(text) == atoms


@pytest.mark.parametrize("dot", ["·", ".", "*", "•", "⋅", "∙", " · ", " . "])
def test_every_dot_of_a_hydrate(dot: str) -> None:
    assert parse_formula(f"Na2S2O3{dot}5H2O") == {"Na": 2, "S": 2, "O": 8, "H": 10}


def test_order_of_first_appearance() -> None:
    assert list(parse_formula("C2H5OH")) == ["C", "H", "O"]
    assert list(parse_formula("Fe(SO4(NH4)2)·6H2O")) == ["Fe", "S", "O", "N", "H"]


def test_an_element_without_weight_is_read() -> None:
    assert parse_formula("NaTcO4") == {"Na": 1, "Tc": 1, "O": 4}


def test_all_symbols_are_known() -> None:
    assert len(SYMBOLS) == 118
    for symbol in SYMBOLS:
        assert parse_formula(symbol) == {symbol: 1}


# --------------------------------------------------------------------------------------------------- what is refused
@pytest.mark.parametrize(
    ("text", "caret_at", "width", "says"),
    [
        ("Nq2CO3", 0, 2, "not the symbol of an element"),
        ("KIXx", 2, 2, "'Xe'"),
        ("Jx", 0, 2, "No symbol starts with 'J'"),
        ("Nacl", 0, 4, "'NaCl'"),
        ("nacl", 0, 1, "'NaCl'"),
        ("NH4oh", 3, 1, "starts with a capital"),
        ("Na(Cl", 2, 1, "never closed"),
        ("((NH4)2SO4", 0, 1, "never closed"),
        ("Na)Cl", 2, 1, "never opened"),
        ("Na(Cl]", 5, 1, "closes a '('"),
        ("Na()Cl", 2, 2, "empty"),
        ("H0", 1, 1, "zero"),
        ("(OH)02", 4, 1, "zero"),
        ("H2O·0H2O", 4, 1, "zero"),
        ("Fe0.95O", 3, 1, "decimal"),
        ("Fe0,95O", 3, 1, "decimal"),
        ("CaSO4.0.5H2O", 5, 1, "decimal"),
        ("Ca1.5O3", 3, 1, "decimal"),
        ("CaSO1.5H2O", 5, 1, "decimal"),
        ("Na2CO3.1.5H2O2", 6, 1, "decimal"),
        ("SO4^2-", 3, 1, "charge"),
        ("Ca2+", 3, 1, "charge"),
        ("SO₄²⁻", 3, 1, "charge"),
        ("NaCl(aq)", 4, 4, "state"),
        ("D2O", 0, 1, "deuterium"),
        ("HTO", 1, 1, "tritium"),
        ("2H2O", 0, 1, "before the formula"),
        ("H2O·", 3, 1, "missing at the end"),
        ("·H2O", 0, 1, "missing before this dot"),
        ("H2O··H2O", 4, 1, "missing before this dot"),
        ("Na Cl", 2, 1, "spaces"),
        ("Na\tCl", 2, 1, "spaces"),
        ("СO2", 0, 1, "CYRILLIC"),  # noqa: RUF001  (a letter that looks like C is the point of the case)
        ("Na~Cl", 2, 1, "not part of a formula"),
        ("", 0, 1, "no formula"),
        ("   ", 3, 1, "no formula"),
        ("H1000000", 1, 1, "no substance"),
        ("((((H99)99)99)99)", 1, 1, "no substance"),
    ],
)
def test_refuses_and_points(text: str, caret_at: int, width: int, says: str) -> None:
    with pytest.raises(DomainError) as raised:
        parse_formula(text)
    message = str(raised.value)
    assert says in message
    _, shown, carets = message.rsplit("\n", 2)
    assert shown == "    " + text.replace("\t", " ")
    assert carets == "    " + " " * caret_at + "^" * width
    assert raised.value.argument == "formula"
    assert raised.value.given == text


def test_the_error_survives_pickling() -> None:
    with pytest.raises(DomainError) as raised:
        parse_formula("Nq")
    assert str(pickle.loads(pickle.dumps(raised.value))) == str(raised.value)  # noqa: S301  (made in the line above)


# --------------------------------------------------------------------------------------------------------------- laws
# A formula is drawn as a tree: a leaf is a symbol, a branch a list of nodes in brackets; both carry a count.
counts = st.integers(min_value=1, max_value=12)
leaves = st.tuples(st.sampled_from(SYMBOLS), counts)
nodes = st.recursive(leaves, lambda inner: st.tuples(st.lists(inner, min_size=1, max_size=3), counts), max_leaves=8)
parts = st.lists(nodes, min_size=1, max_size=4)
adducts = st.lists(st.tuples(counts, parts), min_size=1, max_size=3)

Node = tuple[object, int]


def written(node: Node, draw: st.DataObject) -> str:
    what, count = node
    digits = "" if count == 1 else str(count)
    if draw.draw(st.booleans()):
        digits = digits.translate(str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉"))
    if isinstance(what, str):
        return what + digits
    opening, closing = draw.draw(st.sampled_from(["()", "[]", "{}"]))
    assert isinstance(what, list)
    return opening + "".join(written(inner, draw) for inner in what) + closing + digits


def counted(node: Node, times: int, total: dict[str, int]) -> None:
    what, count = node
    if isinstance(what, str):
        total[what] = total.get(what, 0) + times * count
        return
    assert isinstance(what, list)
    for inner in what:
        counted(inner, times * count, total)


@given(adducts, st.data())
def test_what_is_written_is_read(formula: list[tuple[int, list[Node]]], data: st.DataObject) -> None:
    coefficients = [count if position or len(formula) > 1 else 1 for position, (count, _) in enumerate(formula)]
    text = "·".join(
        ("" if count == 1 else str(count)) + "".join(written(node, data) for node in part)
        for count, (_, part) in zip(coefficients, formula, strict=True)
    )
    total: dict[str, int] = {}
    for count, (_, part) in zip(coefficients, formula, strict=True):
        for node in part:
            counted(node, count, total)
    assume(max(total.values()) <= 999_999)  # beyond, it is refused
    read = parse_formula(text)
    assert read == total
    assert list(read) == list(total)


@given(
    st.text(alphabet=st.one_of(st.sampled_from("CHONaClKI()[]{}0123456789·.*₂²+-^ eaq,"), st.characters()), max_size=20)
)
def test_any_text_is_read_or_refused_with_a_caret_inside_it(text: str) -> None:
    try:
        atoms = parse_formula(text)
    except DomainError as error:
        shown, carets = str(error).split("\n")[-2:]
        assert len(shown) == len(text) + 4
        assert set(carets.lstrip(" ")) == {"^"}
        # Of a text without anything in it, the caret stands where the formula should have begun.
        assert 4 < len(carets) <= len(shown) + (not text.strip())
    else:
        assert atoms
        assert set(atoms) <= known_symbols()
        assert all(count >= 1 for count in atoms.values())
