"""What a function did once, as a chain of operations that can be done again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import FunctionType
from typing import NamedTuple, cast

from assay.kernels.value import Value
from assay.metrology.tape import Recorded, needed_for, record


class _Place(NamedTuple):
    """An operand that is an argument of the chain, or the result of an earlier operation."""

    place: int


class _Link(NamedTuple):
    """One operation: what computes it, from what, and which earlier results nobody needs after it."""

    function: Callable[..., Value]
    operands: tuple[Value | _Place, ...]
    done: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A function as the operations that it did: called, it does them again, on numbers, arrays or recorded values.

    A list of results that numpy adds up, a counter, a cache or an in-place addition in the function's own text is
    harmless then: what was done once to plain numbers is what is done to each draw of them.

    Parameters
    ----------
    name, summary : str
        Name of the function, and the first line of its docstring.
    own : bool
        Whether it is a user's function, and not one of this library.
    links : tuple
        The operations in order.
    outcome : int or other
        Where the result stands among arguments and operations, or the result if no argument has a part in it.

    """

    name: str
    summary: str
    own: bool
    links: tuple[_Link, ...]
    outcome: Value | _Place

    def __call__(self, *arguments: Value) -> Value:
        """Return the value of the chain for these arguments."""
        if not isinstance(self.outcome, _Place):
            return self.outcome
        values: list[Value] = list(arguments)
        for function, operands, done in self.links:
            values.append(function(*[values[o.place] if isinstance(o, _Place) else o for o in operands]))
            for place in done:
                values[place] = None  # an array of draws is large
        return values[self.outcome.place]


def chain_of(function: Callable[..., Value], values: Sequence[float]) -> Chain:
    """Return what a function does to plain values, as a chain that can be done again.

    Raises
    ------
    DomainError
        If it does something that cannot be recorded.

    """
    result, leaves = record(function, values, {})
    name = getattr(function, "__name__", type(function).__name__)
    # Of a function of numpy the first line tells how to call it, not what it does.
    doc = function.__doc__ if isinstance(function, FunctionType) else None
    summary = (doc or "").strip().partition("\n")[0]
    own = not str(getattr(function, "__module__", "")).startswith("assay.")
    if not isinstance(result, Recorded):
        return Chain(name=name, summary=summary, own=own, links=(), outcome=result)
    needed = needed_for(result)
    places = {leaf.index: _Place(k) for k, leaf in enumerate(leaves.values())}
    places |= {node.index: _Place(len(leaves) + k) for k, node in enumerate(needed)}
    last = {operand.index: node.index for node in needed for operand in node.inputs}
    links = [
        _Link(
            cast("Callable[..., Value]", node.function),  # only an argument has none
            tuple(places[o.index] if isinstance(o, Recorded) else o for o in node.operands),
            tuple({places[o.index].place for o in node.inputs if last[o.index] == node.index}),
        )
        for node in needed
    ]
    return Chain(name=name, summary=summary, own=own, links=tuple(links), outcome=places[result.index])
