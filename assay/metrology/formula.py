"""The third way to evaluate a kernel: the same recording, as a formula that can be written down."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assay.display.formulas import Constant, Node, Operand, operation
from assay.kernels.value import Value
from assay.metrology.tape import Record, Recorded, needed_for, record

#: Operations within one another beyond which a part of a formula gets a name of its own.
_DEEPEST = 8
_FLAT = ({"add", "subtract", "negative", "positive"}, {"multiply", "divide", "reciprocal"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A kernel as it is written down.

    Parameters
    ----------
    outcome : Node
        What it computes, from operands and named parts.
    parts : tuple of (Operand, Node)
        Parts that are used more than once, or lie deep, each from what stands before it.
    operands : tuple
        Keys of the operands, by position or name, in the order of the arguments.

    """

    outcome: Node
    parts: tuple[tuple[Operand, Node], ...]
    operands: tuple[int | str, ...]


def formula_of(function: Callable[..., Value], positional: Sequence[Value], named: Mapping[str, Value]) -> Formula:
    """Return the formula of a function, as it was computed for these arguments."""
    with np.errstate(all="ignore"):
        result, leaves = record(function, positional, named)
    operands = tuple(leaves)
    if not isinstance(result, Recorded):
        return Formula(outcome=Constant(float(result)), parts=(), operands=operands)
    return _written(Record(result, leaves), operands)


def _written(recorded: Record, operands: tuple[int | str, ...]) -> Formula:
    result: Recorded = recorded.result
    nodes = needed_for(result)
    uses = Counter(id(operand) for node in nodes for operand in node.inputs)
    written: dict[int, Node] = {id(leaf): Operand(key) for key, leaf in recorded.leaves.items()}
    depth: dict[int, int] = {}
    parts: list[tuple[Operand, Node]] = []
    for node in nodes:
        found = operation(node.operation, [_operand(o, written) for o in node.operands])
        depth[id(node)] = max((_depth(node, o, depth) for o in node.inputs), default=0)
        shared = uses[id(node)] > 1 and not isinstance(found, (Operand, Constant))
        if node is not result and (shared or depth[id(node)] > _DEEPEST):
            parts.append((Operand(_part(len(parts))), found))
            found, depth[id(node)] = parts[-1][0], 0
        written[id(node)] = found
    return Formula(outcome=written[id(result)], parts=tuple(parts), operands=operands)


def _part(number: int) -> Hashable:
    return ("part", number + 1)


def _operand(operand: Value, written: Mapping[int, Node]) -> Node:
    return written[id(operand)] if isinstance(operand, Recorded) else Constant(float(operand))


def _depth(node: Recorded, operand: Recorded, depth: Mapping[int, int]) -> int:
    """Return how deep an operation lies above an operand; a sum of sums is one sum."""
    flat = any({node.operation, operand.operation} <= kind for kind in _FLAT)
    return depth.get(id(operand), 0) + (0 if flat else 1)
