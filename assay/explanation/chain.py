"""The numbers of a chain in order of evaluation, each once, with the digits that it needs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from assay.display.digits import Computed, Number, settle
from assay.flags import Flag, merged
from assay.kernels.value import Value
from assay.metrology.estimate import Estimate, Operand
from assay.metrology.order import in_order
from assay.metrology.tape import gradient

# Operands that the glossary gives "in the unit of the replicates".
_OWN_UNIT = {"replicate_scatter", "replicate_resolution"}


@dataclass(slots=True, kw_only=True)
class Link:
    """A number of the chain.

    Parameters
    ----------
    node : Estimate
        The number.
    kind : str
        ``"input"``, ``"exact"``, ``"linear"`` (its formula is not known) or ``"step"``.
    place : int
        Its place among those of its kind, from 1; linear forms are counted with the steps.
    number : Number
        How it is printed.
    unit : str
        Its unit.
    operands : mapping
        What it is computed from, by position or name: links, and plain numbers.
    flags : tuple of Flag
        Its flags.

    """

    node: Estimate
    kind: str
    place: int
    number: Number
    unit: str
    operands: Mapping[int | str, Link | Number] = field(default_factory=dict)
    flags: tuple[Flag, ...] = ()

    @property
    def name(self) -> str:
        """How other steps speak of it."""
        return {"input": f"input {self.place}", "exact": "exact"}.get(self.kind, f"step {self.place}")

    @property
    def new_flags(self) -> tuple[Flag, ...]:
        """Flags that none of its operands has."""
        known = {flag for one in self.operands.values() if isinstance(one, Link) for flag in one.flags}
        return tuple(flag for flag in self.flags if flag not in known)


def linked(estimates: Sequence[Estimate]) -> tuple[list[Link], list[Link]]:
    """Return the numbers from which some results were obtained, operands before results, and the results among them.

    Like operands put into one kernel under one label are one number: equal titres on one burette are told once.
    """
    known: dict[tuple[object, ...], Link] = {}
    found: dict[int, Link] = {}
    for node in in_order(estimates, Estimate.measured_operands):
        operands = {key: _operand(operand, found) for key, operand in _measured_and_floats(node)}
        key = _key(node, operands)
        link = known.get(key)
        if link is None:
            kind = _kind(node)
            place = 1 + sum(_counted(other.kind) == _counted(kind) for other in known.values())
            number = Number(node.value, node.u, computed=kind == "step")
            link = known[key] = Link(
                node=node, kind=kind, place=place, number=number, unit=node.unit, operands=operands
            )
        link.flags = merged([link.flags, node.flags])
        found[id(node)] = link
    links = list(known.values())
    for link in links:
        _give_own_units(link)
    settle([_computed(link) for link in links if link.kind == "step"])
    return links, [found[id(estimate)] for estimate in estimates]


def _give_own_units(link: Link) -> None:
    """Give the deviations of a mean the unit of the mean: the glossary cannot know it."""
    for key, one in link.operands.items():
        if key in _OWN_UNIT and isinstance(one, Link) and one.unit == "1":
            one.unit = link.unit


def _kind(node: Estimate) -> str:
    if node.kernel is not None:
        return "step"
    if not node.sensitivities:
        return "exact"
    return "input" if not node.reloaded and list(node.sensitivities.values()) == [1.0] else "linear"


def _counted(kind: str) -> str:
    return "step" if kind == "linear" else kind


def _measured_and_floats(node: Estimate) -> Iterator[tuple[int | str, Estimate | float]]:
    """Yield the operands that stand in the formula as symbols; whole numbers and tuples are part of the formula."""
    given: list[tuple[int | str, Operand]] = [*enumerate(node.positional), *node.named.items()]
    for key, operand in given:
        if isinstance(operand, (Estimate, float)):
            yield key, operand


def _operand(operand: Estimate | float, found: Mapping[int, Link]) -> Link | Number:
    return found[id(operand)] if isinstance(operand, Estimate) else Number(operand)


def _key(node: Estimate, operands: Mapping[int | str, Link | Number]) -> tuple[object, ...]:
    """Return what must agree for two numbers to be the same one."""
    described = (node.name, node.label, node.value)
    if node.kernel is None:
        return (*described, tuple(node.sensitivities.items()))
    put_in = tuple((key, id(one) if isinstance(one, Link) else one.value) for key, one in operands.items())
    return (*described, id(node.kernel), put_in)


def plain_arguments(node: Estimate) -> tuple[list[Value], dict[str, Value]]:
    """Return the values of the operands of a step, by place and by name."""
    return (
        [operand.value if isinstance(operand, Estimate) else operand for operand in node.positional],
        {name: operand.value if isinstance(operand, Estimate) else operand for name, operand in node.named.items()},
    )


def _computed(link: Link) -> Computed:
    node, kernel = link.node, _kernel(link.node)
    positional, named = plain_arguments(node)
    keys = list(link.operands)

    def function(values: Sequence[float]) -> float:
        arguments, keywords = list(positional), dict(named)
        for key, value in zip(keys, values, strict=True):
            if isinstance(key, int):
                arguments[key] = value
            else:
                keywords[key] = value
        with np.errstate(all="ignore"):
            return kernel(*arguments, **keywords)  # type: ignore[no-any-return]

    with np.errstate(all="ignore"):
        _, slopes = gradient(kernel, positional, named)
    return Computed(
        function=function,
        numbers=[one.number if isinstance(one, Link) else one for one in link.operands.values()],
        slopes=[float(slopes[key]) for key in keys],
        result=link.number,
    )


def _kernel(node: Estimate) -> Callable[..., Value]:
    if node.kernel is None:
        raise ValueError(f"{node.label} has no formula")
    return node.kernel
