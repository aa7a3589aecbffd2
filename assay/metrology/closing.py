"""Which parts of a computation are closed to one line each in its budget."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from assay.errors import DataError, DomainError, nearest
from assay.metrology.budget import Closed

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate


def parts_closed(
    result: Estimate, *, depth: int | None, closed: Sequence[str]
) -> tuple[tuple[Closed, ...], frozenset[str]]:
    """Return the parts of a computation that are one line each, and the influences that enter outside them.

    Parameters
    ----------
    result : Estimate
        What the budget is of.
    depth : int or None
        Close what lies so many steps before the result.
    closed : sequence of str
        Close what has one of these labels or names of quantities.

    Raises
    ------
    DomainError
        If the depth is not a whole number, 1 or more, or both are given.
    DataError
        If nothing that the result is computed from has such a name.

    """
    if depth is None and not closed:
        return (), frozenset()
    if depth is None:
        names = [closed] if isinstance(closed, str) else list(closed)
        _check_names(result, names)
        return _cut(result, lambda node, _steps: node.name in names or node.label in names)
    if closed or not float(depth).is_integer() or depth < 1:
        raise DomainError(
            "a budget is closed at a number of steps before the result, or at named parts",
            argument="depth",
            given=f"{depth} with closed={closed!r}" if closed else depth,
            expected="a whole number, 1 or more, or closed=[…]",
            remedy="Leave both out for all influences.",
        )
    return _cut(result, lambda _node, steps: steps == depth)


def _check_names(result: Estimate, names: Sequence[str]) -> None:
    known = {name for node in result.walk() if node is not result for name in (node.name, node.label)}
    for name in names:
        if name not in known:
            raise DataError(
                f"nothing that {result.label} is computed from has this name",
                argument="closed",
                given=name,
                remedy=nearest(name, sorted(known)) if known else "It is an input, or was read from a file.",
            )


def _cut(result: Estimate, closes: Callable[[Estimate, int], bool]) -> tuple[tuple[Closed, ...], frozenset[str]]:
    closed: dict[int, Closed] = {}
    opened: set[str] = set()
    seen = {id(result)}
    level, steps = [result], 0
    while level:
        steps += 1
        following: list[Estimate] = []
        for node in (operand for parent in level for operand in parent.measured_operands()):
            if id(node) in seen:
                continue
            seen.add(id(node))
            is_input = not any(True for _ in node.measured_operands())
            if closes(node, steps) and not (is_input and len(node.influences) == 1):
                closed[id(node)] = Closed(label=node.label, value=node.value, sensitivities=node.sensitivities)
            elif is_input:
                opened.update(node.influences)
            else:
                following.append(node)
        level = following
    if not closed and not opened:  # an input, or a result read from a file, has nothing before it
        opened.update(result.influences)
    return tuple(closed.values()), frozenset(opened)
