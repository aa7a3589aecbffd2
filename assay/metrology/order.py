"""The order in which results were computed from one another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TypeVar

_N = TypeVar("_N")


def in_order(results: Sequence[_N], operands_of: Callable[[_N], Iterable[_N]]) -> Iterator[_N]:
    """Yield everything that results were computed from, each once: operands before results, in the order of formulas.

    No recursion: a long sum of one's own is a chain of thousands.

    Parameters
    ----------
    results : sequence
        Where it begins; they come last.
    operands_of : callable
        Returns from what a result was computed directly.

    Examples
    --------
    >>> list(in_order(["sum"], {"sum": ["a", "twice a"], "twice a": ["a"], "a": []}.__getitem__))
    ['a', 'twice a', 'sum']

    """
    seen: set[int] = set()
    stack = [(node, False) for node in reversed(results)]
    while stack:
        node, ready = stack.pop()
        if ready:
            yield node
        elif id(node) not in seen:
            seen.add(id(node))
            stack.append((node, True))
            stack.extend((operand, False) for operand in reversed(list(operands_of(node))))
