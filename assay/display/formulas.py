"""Formulas as text and as LaTeX: brackets where they are needed, and only there. Knows no result class."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

# How tightly a piece of a formula holds together; a looser piece within a tighter one needs brackets.
SUM, PRODUCT, QUANTITY, ATOM = range(4)


class Piece(NamedTuple):
    """A piece of a formula as it is written, and how tightly it holds together."""

    written: str
    level: int = ATOM


@dataclass(frozen=True, slots=True)
class Operand:
    """What a formula is of: shown as a symbol, or as a number with its unit."""

    key: Hashable


@dataclass(frozen=True, slots=True)
class Constant:
    """A number that belongs to the formula itself."""

    value: float


@dataclass(frozen=True, slots=True)
class Sum:
    """Terms with their signs, +1 or -1."""

    terms: tuple[tuple[int, Node], ...]


@dataclass(frozen=True, slots=True)
class Product:
    """Factors above and below the line of a fraction."""

    over: tuple[Node, ...]
    under: tuple[Node, ...] = ()


@dataclass(frozen=True, slots=True)
class Power:
    """A base and its exponent."""

    base: Node
    exponent: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function by its name in numpy, or a look-up by its own."""

    name: str
    arguments: tuple[Node, ...]


Node: TypeAlias = Operand | Constant | Sum | Product | Power | Call
#: Writes an operand, or a constant.
Writer: TypeAlias = Callable[[Operand | Constant], Piece]


def operation(name: str, operands: Sequence[Node]) -> Node:
    """Return an operation on formulas, by the name of numpy's function; sums and products become flat.

    Examples
    --------
    >>> x, y = Operand("x"), Operand("y")
    >>> operation("subtract", [x, operation("add", [y, Constant(0.0)])])
    Sum(terms=((1, Operand(key='x')), (-1, Operand(key='y'))))

    """
    if name in _BUILD:
        return _BUILD[name](*operands)
    return Call(name, tuple(operands))


def _added(a: Node, b: Node, sign: int = 1) -> Node:
    terms = [*_terms(a), *((sign * s, node) for s, node in _terms(b))]
    kept = tuple(term for term in terms if not (isinstance(term[1], Constant) and term[1].value == 0.0))
    if len(kept) == 1 and kept[0][0] == 1:
        return kept[0][1]
    return Sum(kept) if kept else Constant(0.0)


def _terms(node: Node) -> tuple[tuple[int, Node], ...]:
    return node.terms if isinstance(node, Sum) else ((1, node),)


def _divided(a: Node, b: Node) -> Node:
    (over, under), (lower, upper) = _factors(a), _factors(b)
    return _product(over + upper, under + lower)


def _multiplied(a: Node, b: Node) -> Node:
    (over, under), (more, below) = _factors(a), _factors(b)
    return _product(over + more, under + below)


def _factors(node: Node) -> tuple[tuple[Node, ...], tuple[Node, ...]]:
    return (node.over, node.under) if isinstance(node, Product) else ((node,), ())


def _product(over: Iterable[Node], under: Iterable[Node]) -> Node:
    """Return a product without the factors that are one."""
    above, below = (
        tuple(node for node in nodes if not (isinstance(node, Constant) and node.value == 1.0))
        for nodes in (over, under)
    )
    if below or len(above) > 1:
        return Product(above, below)
    return above[0] if above else Constant(1.0)


def _raised(base: Node, exponent: Node) -> Node:
    if not isinstance(exponent, Constant):
        return Power(base, exponent)
    power = exponent.value
    if power < 0.0:
        return _product((), (_raised(base, Constant(-power)),))
    if power == 1.0:
        return base
    return Power(base, exponent)


_BUILD: dict[str, Callable[..., Node]] = {
    "add": _added,
    "subtract": lambda a, b: _added(a, b, -1),
    "negative": lambda a: _added(Constant(0.0), a, -1),
    "positive": lambda a: a,
    "multiply": _multiplied,
    "divide": _divided,
    "reciprocal": lambda a: _divided(Constant(1.0), a),
    "power": _raised,
    "square": lambda a: Power(a, Constant(2.0)),
}


def _collected(nodes: Iterable[Node]) -> list[tuple[Node, int]]:
    """Return each node with how often it stands there; only operands are looked for."""
    counts = Counter(node for node in nodes if isinstance(node, Operand))
    seen: dict[Node, int] = {}
    listed: list[tuple[Node, int]] = []
    for node in nodes:
        if not isinstance(node, Operand):
            listed.append((node, 1))
        elif node not in seen:
            seen[node] = counts[node]
            listed.append((node, counts[node]))
    return listed


def _repeats_gathered(node: Node) -> Node:
    """Return a sum with n·x for x + x + …, a product with xⁿ for x·x·…."""
    if isinstance(node, Sum):
        signed = [
            (sign, found, count)
            for sign in (1, -1)
            for found, count in _collected([term for s, term in node.terms if s == sign])
        ]
        # In the order in which they stand, the first of each.
        order = {term: k for k, term in reversed(list(enumerate(node.terms)))}
        signed.sort(key=lambda item: order[item[0], item[1]])
        return Sum(tuple((s, n if count == 1 else Product((Constant(count), n))) for s, n, count in signed))
    if isinstance(node, Product):
        over, under = (
            tuple(n if count == 1 else Power(n, Constant(count)) for n, count in _collected(nodes))
            for nodes in (node.over, node.under)
        )
        return Product(over, under)
    return node


def text(node: Node, write: Writer) -> Piece:
    """Return a formula in the notation of Python, with numpy's names of functions.

    Examples
    --------
    >>> def name(node): return Piece(f"{node.value:g}" if isinstance(node, Constant) else node.key)
    >>> a, b, c = Operand("a"), Operand("b"), Operand("c")
    >>> text(operation("divide", [operation("subtract", [a, b]), operation("multiply", [b, c])]), name).written
    '(a - b) / (b * c)'
    >>> text(operation("power", [operation("negative", [a]), Constant(-2.0)]), name).written
    '1 / (-a)**2'

    """
    node = _repeats_gathered(node)

    def inner(one: Node) -> Piece:
        return text(one, write)

    if isinstance(node, Sum):
        return Piece(_signed(node, inner, "({})"), SUM)
    if isinstance(node, Product):
        over = " * ".join(_held(inner(one), PRODUCT, "({})") for one in node.over) or "1"
        return Piece(over + _below([inner(one) for one in node.under]), PRODUCT)
    if isinstance(node, Power):
        base, exponent = (_held(inner(one), ATOM, "({})") for one in (node.base, node.exponent))
        return Piece(f"{base}**{exponent}", QUANTITY)
    if isinstance(node, Call):
        return Piece(f"{node.name}({', '.join(inner(one).written for one in node.arguments)})")
    return write(node)


def _below(under: Sequence[Piece]) -> str:
    """Return what stands behind the line of a fraction that is written in one line."""
    if not under:
        return ""
    if len(under) == 1:
        return f" / {_held(under[0], QUANTITY, '({})')}"
    return f" / ({' * '.join(_held(piece, PRODUCT, '({})') for piece in under)})"


def latex(node: Node, write: Writer, *, times: str = r"\,") -> Piece:
    r"""Return a formula in the mathematical mode of LaTeX.

    Parameters
    ----------
    node : Node
        The formula.
    write : callable
        Writes an operand or a constant as LaTeX.
    times : str
        What stands between factors: a thin space between symbols, a cross between numbers.

    Examples
    --------
    >>> def name(node): return Piece(f"{node.value:g}" if isinstance(node, Constant) else node.key)
    >>> a, b = Operand("a"), Operand("b")
    >>> latex(operation("divide", [Constant(2.0), operation("add", [a, b])]), name).written
    '\\frac{2}{a + b}'

    """
    node = _repeats_gathered(node)
    brackets = r"\left({}\right)"

    def inner(one: Node) -> Piece:
        return latex(one, write, times=times)

    if isinstance(node, Sum):
        return Piece(_signed(node, inner, brackets), SUM)
    if isinstance(node, Product):
        over = _joined([inner(one) for one in node.over], times, brackets)
        if not node.under:
            return Piece(over, PRODUCT)
        return Piece(rf"\frac{{{over}}}{{{_joined([inner(one) for one in node.under], times, brackets)}}}", PRODUCT)
    if isinstance(node, Power):
        base = _held(inner(node.base), ATOM, brackets)
        return Piece(f"{{{base}}}^{{{inner(node.exponent).written}}}", QUANTITY)
    if isinstance(node, Call):
        return _called([inner(one) for one in node.arguments], node.name)
    return write(node)


def _signed(node: Sum, inner: Callable[[Node], Piece], brackets: str) -> str:
    """Return the terms of a sum with their signs between them."""
    written = ""
    for k, (sign, term) in enumerate(node.terms):
        piece = inner(term)
        shown = piece.written if k == 0 and sign > 0 else _held(piece, PRODUCT, brackets)
        if k:
            written += " + " if sign > 0 else " - "
        elif sign < 0:
            written += "-"
        written += shown
    return written


def _held(piece: Piece, level: int, brackets: str) -> str:
    return piece.written if piece.level >= level else brackets.replace("{}", piece.written, 1)


def _joined(pieces: Sequence[Piece], times: str, brackets: str) -> str:
    """Return factors with what stands between them; a lone one, above or below a line, needs no brackets."""
    if len(pieces) == 1:
        return pieces[0].written
    held = [_held(piece, PRODUCT, brackets) for piece in pieces]
    written = held[0] if held else "1"
    for factor in held[1:]:
        written += (r" \times " if factor[:1].isdigit() else f" {times} ") + factor
    return written


_LATEX_NAMES = {
    "log": r"\ln", "log10": r"\log_{10}", "log2": r"\log_{2}", "exp": r"\exp", "sin": r"\sin", "cos": r"\cos",
    "tan": r"\tan", "arcsin": r"\arcsin", "arccos": r"\arccos", "arctan": r"\arctan", "sinh": r"\sinh",
    "cosh": r"\cosh", "tanh": r"\tanh",
}  # fmt: skip


def _called(arguments: Sequence[Piece], name: str) -> Piece:
    inside = r",\, ".join(piece.written for piece in arguments)
    if name in {"absolute", "fabs"}:
        return Piece(rf"\left|{inside}\right|")
    if name in {"sqrt", "cbrt"}:
        return Piece(rf"\sqrt{'[3]' if name == 'cbrt' else ''}{{{inside}}}")
    shown = _LATEX_NAMES.get(name) or "\\mathrm{" + name.replace("_", r"\_") + "}"
    return Piece(rf"{shown}\left({inside}\right)", QUANTITY)
