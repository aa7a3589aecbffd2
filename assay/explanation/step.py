"""One step of an explanation: its formula with symbols, with numbers put in, and what stands behind each symbol."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass

from assay.display.blocks import Block, Equation, Heading, Listed, Mathematics, Sentence
from assay.display.blocks import text as text_of_page
from assay.display.digits import Number
from assay.display.formulas import Constant, Node, Operand, Piece, latex, text
from assay.display.numbers import degrees, value_and_u
from assay.display.symbols import number_pieces, numbered, shortest, symbol_pieces
from assay.explanation.chain import Link, plain_arguments
from assay.explanation.sources import published, purpose
from assay.glossary import TERMS
from assay.kernels.value import Value
from assay.metrology.chain import Chain
from assay.metrology.formula import Formula, formula_of

#: A piece of text and a piece of LaTeX.
Pair = tuple[Piece, Piece]


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Step:
    """One step of an explanation.

    Parameters
    ----------
    number : int
        Its number, from 1.
    label : str
        What a person calls its result.
    symbol : Mathematics
        Symbol of its result.
    parts : tuple of Equation
        Parts of the formula that have a name of their own, each with symbols and with numbers.
    symbols, values : Mathematics
        The formula with symbols, and with numbers and units put in.
    printed : str
        The result, to the digits with which later steps use it.
    page : tuple of Block
        The step as it is shown.

    """

    number: int
    label: str
    symbol: Mathematics
    parts: tuple[Equation, ...]
    symbols: Mathematics
    values: Mathematics
    printed: str
    page: tuple[Block, ...]

    def __str__(self) -> str:
        return text_of_page(self.page)

    __repr__ = __str__


def step_of(link: Link, kernel: Callable[..., Value]) -> Step:
    """Return a step of which the formula is known."""
    node = link.node
    formula = formula_of(kernel, *plain_arguments(node))
    symbols = _symbols(link, kernel)
    values = {key: number_pieces(_number(one).printed, _unit(key, one)) for key, one in link.operands.items()}
    left = _left(node.name, symbols)
    parts = tuple(
        Equation(_part(part), (_written(one, formula, symbols), _written(one, formula, values, times=r"\times")))
        for part, one in formula.parts
    )
    shown = _written(formula.outcome, formula, symbols)
    put_in = _written(formula.outcome, formula, values, times=r"\times")
    result = _mathematics(number_pieces(link.number.printed, link.unit))
    lines = tuple(dict.fromkeys((shown, put_in, result)))
    page: list[Block] = [Heading(f"Step {link.place}: {node.label}")]
    page += [Sentence(said) for said in (purpose(kernel),) if said]
    page += [*parts, Equation(left, lines), Sentence(f"Stated as {stated(link)}")]
    page += _behind(link, symbols)
    page += [Sentence(f"Formula: {'; '.join(sources)}") for sources in (published(kernel),) if sources]
    page += flagged(link)
    return Step(
        number=link.place,
        label=node.label,
        symbol=left,
        parts=parts,
        symbols=shown,
        values=put_in,
        printed=link.number.printed,
        page=tuple(page),
    )


def stated(link: Link) -> str:
    """Return value, u and degrees of freedom of a number, by the rule of the house."""
    node = link.node
    unit = "" if link.unit == "1" else f" {link.unit}"
    if not node.u > 0.0:
        return f"{node.value:.10g}{unit}, exact." if not node.sensitivities else f"{node.value:.10g}{unit}, u = 0."
    value, u = value_and_u(node.value, node.u)
    return f"{value}{unit}, u = {u}{unit}, degrees of freedom {degrees(node.dof)}."


def flagged(link: Link) -> list[Block]:
    """Return the flags that a number is the first to have."""
    flags = tuple((None, f"flag {flag}") for flag in link.new_flags)
    return [Listed(flags)] if flags else []


def _number(one: Link | Number) -> Number:
    return one.number if isinstance(one, Link) else one


def _unit(key: int | str, one: Link | Number) -> str:
    if isinstance(one, Link):
        return one.unit
    return TERMS[key].unit if isinstance(key, str) and key in TERMS else "1"


def _symbols(link: Link, kernel: Callable[..., Value]) -> dict[int | str, Pair]:
    """Return the symbol of each operand, no two alike."""
    found: dict[int | str, str] = {}
    for place, (key, one) in enumerate(link.operands.items(), 1):
        symbol = _symbol(key, one, kernel)
        found[key] = symbol if symbol not in found.values() else numbered(symbol, place)
    return {key: symbol_pieces(symbol) for key, symbol in found.items()}


def _symbol(key: int | str, one: Link | Number, kernel: Callable[..., Value]) -> str:
    if isinstance(key, str):
        return TERMS[key].symbol
    if isinstance(kernel, Chain):
        return numbered("x", key + 1)
    parameter = _parameter(kernel, key)
    if parameter.name in TERMS:
        symbol = TERMS[parameter.name].symbol
        return numbered(symbol, key + 1) if parameter.kind is parameter.VAR_POSITIONAL else symbol
    return TERMS[one.node.name].symbol if isinstance(one, Link) else numbered("x", key + 1)


def _parameter(kernel: Callable[..., Value], place: int) -> inspect.Parameter:
    """Return the parameter that takes an operand given by its place."""
    by_place = [p for p in inspect.signature(kernel).parameters.values() if p.kind is not p.KEYWORD_ONLY]
    return by_place[min(place, len(by_place) - 1)]


def _left(name: str, symbols: Mapping[int | str, Pair]) -> Mathematics:
    """Return the symbol of a result, with a prime if one of its operands has the same."""
    pair = symbol_pieces(TERMS[name].symbol)
    if any(pair[0].written == other.written for other, _ in symbols.values()):
        pair = symbol_pieces(f"{TERMS[name].symbol}'")
    return _mathematics(pair)


def _part(part: Operand) -> Mathematics:
    _, number = part.key if isinstance(part.key, tuple) else ("", 0)
    return _mathematics(symbol_pieces(numbered("t", number)))


def _mathematics(pair: Pair) -> Mathematics:
    return Mathematics(pair[0].written, pair[1].written)


def _written(node: Node, formula: Formula, operands: Mapping[int | str, Pair], *, times: str = r"\,") -> Mathematics:
    shown: dict[Hashable, Pair] = {part.key: symbol_pieces(_part(part).latex) for part, _ in formula.parts}
    shown.update(operands.items())

    def pair(one: Operand | Constant) -> Pair:
        return number_pieces(shortest(one.value), "1") if isinstance(one, Constant) else shown[one.key]

    return Mathematics(
        text(node, lambda one: pair(one)[0]).written, latex(node, lambda one: pair(one)[1], times=times).written
    )


def _behind(link: Link, symbols: Mapping[int | str, Pair]) -> list[Block]:
    """Return what each symbol stands for and where it comes from."""
    lines = []
    for key, one in link.operands.items():
        if isinstance(one, Link):
            said = f"{one.node.label} ({one.name})"
        else:
            said = f"{TERMS[key].meaning} (as given)" if isinstance(key, str) else "a number as given"
        lines.append((_mathematics(symbols[key]), said))
    return [Listed(tuple(lines))] if lines else []
