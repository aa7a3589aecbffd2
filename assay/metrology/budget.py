"""The uncertainty budget: which input contributes how much."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from assay.display.numbers import significant
from assay.display.rows import Rows, html, latex, text
from assay.errors import DataError, nearest
from assay.metrology.identity import same_joint
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint

if TYPE_CHECKING:
    from assay.metrology.estimate import Estimate


_CANCELS = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One line of a budget: an independent influence, a joint, a closed result, or a group of these.

    Parameters
    ----------
    label : str
        What a person calls it.
    ids : tuple of str
        Ids of the influences in the line.
    value, u, sensitivity : float
        Of the influence, or of the closed result, whose u is then without what other lines share with it; NaN for
        several together, which have no single one.
    contribution : float
        Standard uncertainty that it gives the result, in the result's unit.
    share : float
        Its square over the square of u, 0 to 1.
    dof : float
        Its degrees of freedom.
    shape, kind, source : str
        As for `Influence`.

    References
    ----------
    [jcgm-100-2008] 5.1.3: a contribution is a sensitivity times a standard uncertainty.

    Examples
    --------
    >>> import assay
    >>> line = assay.run_demo("drum").strengths["drum 7"].budget().lines[0]
    >>> line.label, round(line.share, 2)
    ('calibration of pipette P10 (10 mL)', 0.33)

    """

    label: str
    ids: tuple[str, ...]
    value: float
    u: float
    sensitivity: float
    contribution: float
    share: float
    dof: float
    shape: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Budget:
    """The lines of a budget, largest contribution first.

    Parameters
    ----------
    title : str
        What the budget is of.
    value, u : float
        The result and its standard uncertainty.
    unit : str
        Unit of both.
    lines : tuple of BudgetLine
        The lines; their squared contributions add to u squared.

    References
    ----------
    [jcgm-100-2008] 5.1.2: the squares of the contributions of independent inputs add to the square of u.

    Examples
    --------
    >>> import assay
    >>> budget = assay.run_demo("drum").strengths["drum 7"].budget()
    >>> round(sum(line.share for line in budget.lines), 9)
    1.0

    """

    title: str
    value: float
    u: float
    unit: str
    lines: tuple[BudgetLine, ...]

    def grouped(self, by: str) -> Budget:
        """Return the same budget with the lines put together that have something in common.

        A closed line whose influences belong to several groups stands by itself: group the open budget to part it.

        Parameters
        ----------
        by : str
            ``"instrument"``: by the named thing, such as one burette, one lot, one table or one record of readings;
            ``"sort"``: by the sort of thing, such as all burettes; ``"kind"``: by type A and type B evaluation;
            ``"day"``: by the date in the name of the record or of the recalibration, where there is one.

        Raises
        ------
        DataError
            If there is no such grouping.

        """
        try:
            group_of = _GROUPINGS[by]
        except KeyError:
            raise DataError(
                "unknown grouping of a budget", argument="by", given=by, remedy=nearest(by, _GROUPINGS)
            ) from None
        groups: dict[str, list[BudgetLine]] = {}
        for line in self.lines:
            found = group_of(line)
            groups.setdefault(found.pop() if len(found) == 1 else line.label, []).append(line)
        return replace(
            self,
            title=f"{self.title}, by {by}",
            lines=_ordered(_grouped(label, lines, self.u) for label, lines in groups.items()),
        )

    def largest(self, n: int = 5) -> tuple[BudgetLine, ...]:
        """Return the n largest lines."""
        return self.lines[:n]

    def rows(self, n: int | None = None) -> Rows:
        """Return the budget, or its n largest lines and the rest together, as rows of text."""
        shown = self.lines if n is None else self.largest(n)
        body = [
            (line.label, self._shown(line), f"{100 * line.share:.1f} %", _dof(line.dof), line.source) for line in shown
        ]
        rest = self.lines[len(shown) :]
        if len(rest) == 1:  # "1 smaller one together" would tell less
            return self.rows()
        if rest:
            share = sum(line.share for line in rest)
            told = f"{len(rest)} smaller ones together"
            body.append((told, significant(math.sqrt(share) * self.u, 2), f"{100 * share:.1f} %", "", ""))
        return Rows(
            title=f"Budget of {self.title}",
            head=("contribution of", f"u / ({self.unit})", "share of u²", "dof", "known from"),
            body=tuple(body),
        )

    def _shown(self, line: BudgetLine) -> str:
        """Return a contribution as text; one that cancels leaves its rounding error, which is not shown as a number."""
        return significant(line.contribution, 2) if line.contribution > _CANCELS * self.u else "0"

    def __str__(self) -> str:
        return text(self.rows())

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return html(self.rows())

    def _repr_latex_(self) -> str:
        return latex(self.rows())


def _named_things(line: BudgetLine) -> set[str]:
    return {" ".join(id_.split("/", 2)[:2]) for id_ in line.ids}


def _sorts(line: BudgetLine) -> set[str]:
    return {id_.split("/", 1)[0] for id_ in line.ids}


def _kinds(line: BudgetLine) -> set[str]:
    return set() if line.kind == _SEVERAL else {f"type {line.kind}"}


def _days(line: BudgetLine) -> set[str]:
    return {found[0] if (found := _DATE.search(id_)) else "no day" for id_ in line.ids}


_SEVERAL = "several"
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_GROUPINGS: Mapping[str, Callable[[BudgetLine], set[str]]] = MappingProxyType(
    {"instrument": _named_things, "sort": _sorts, "kind": _kinds, "day": _days}
)


def _ordered(lines: Iterable[BudgetLine]) -> tuple[BudgetLine, ...]:
    return tuple(sorted(lines, key=lambda line: (-line.contribution, line.label)))


def _grouped(label: str, lines: Sequence[BudgetLine], u: float) -> BudgetLine:
    if len(lines) == 1:
        return replace(lines[0], label=label)
    contribution, dof = combined_dof([(line.contribution, line.dof) for line in lines])
    return BudgetLine(
        label=label,
        ids=tuple(id_ for line in lines for id_ in line.ids),
        value=math.nan,
        u=math.nan,
        sensitivity=math.nan,
        contribution=contribution,
        share=_share(contribution, u),
        dof=dof,
        shape=_common([line.shape for line in lines]),
        kind=_common([line.kind for line in lines]),
        source=_common([line.source for line in lines]),
    )


def _common(texts: Sequence[str]) -> str:
    return texts[0] if len(set(texts)) == 1 else _SEVERAL


def _share(contribution: float, u: float) -> float:
    return (contribution / u) ** 2 if u > 0.0 else 0.0


def combined_dof(terms: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return u and its effective degrees of freedom from independent contributions, each with its own.

    References
    ----------
    [jcgm-100-2008] G.4.1, equation G.2b.

    """
    u = math.hypot(*(contribution for contribution, _ in terms))
    # Shares instead of fourth powers: nothing overflows, and nothing small vanishes.
    loss: float = sum(((c / u) ** 4 / dof for c, dof in terms), 0.0) if u > 0.0 else 0.0
    return u, (1.0 / loss if loss > 0.0 else math.inf)


def _dof(dof: float) -> str:
    return "∞" if math.isinf(dof) else f"{dof:.3g}"


def terms_of(
    sensitivities: Mapping[str, float], influences: Mapping[str, Influence]
) -> Iterator[tuple[float, float, tuple[str, ...]]]:
    """Yield contribution, degrees of freedom and ids of each independent influence and of each joint as a whole."""
    joints: dict[str, tuple[Joint, list[str]]] = {}
    for id_, influence in influences.items():
        if influence.joint is None:
            yield abs(sensitivities[id_]) * influence.u, influence.dof, (id_,)
        else:
            joint, ids = joints.setdefault(influence.joint.id, (influence.joint, []))
            same_joint(joint, influence.joint)
            ids.append(id_)
    for joint, ids in joints.values():
        places = [joint.member_ids.index(id_) for id_ in ids]
        slopes = [sensitivities[id_] for id_ in ids]
        variance = sum(
            a * b * joint.covariance[i][j]
            for a, i in zip(slopes, places, strict=True)
            for b, j in zip(slopes, places, strict=True)
        )
        yield math.sqrt(max(variance, 0.0)), joint.dof, tuple(ids)


#: In the place of a closed result: what enters outside all of them.
_OPEN = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """A result that is to be one line of the budget of a later one.

    Parameters
    ----------
    label : str
        What a person calls it.
    value : float
        Its value.
    sensitivities : mapping of str to float
        Derivative of the value with respect to each of its influences.

    """

    label: str
    value: float
    sensitivities: Mapping[str, float]


def budget_of(result: Estimate, *, closed: Sequence[Closed] = (), opened: frozenset[str] = frozenset()) -> Budget:
    """Return the budget of a result from its sensitivities.

    The influences and joints that act through one of the ``closed`` results alone are one line, under its name; what
    two of them share, or what also enters outside them (``opened``), stands as a line of its own, so that the squares
    of the lines still add to u squared.
    """
    users: dict[str, set[int]] = {id_: {_OPEN} for id_ in opened}
    for place, part in enumerate(closed):
        for id_ in part.sensitivities:
            users.setdefault(id_, set()).add(place)
    owned: dict[int, list[BudgetLine]] = {}
    lines: list[BudgetLine] = []
    sensitivities, u = result.sensitivities, result.u
    for contribution, dof, ids in terms_of(sensitivities, result.influences):
        line = _line(ids, contribution, dof, sensitivities, result.influences, u)
        places = set().union(*(users.get(id_, {_OPEN}) for id_ in ids))
        if len(places) == 1 and _OPEN not in places:
            owned.setdefault(places.pop(), []).append(line)
        else:
            lines.append(line)
    lines.extend(_closed(closed[place], found, sensitivities, u) for place, found in owned.items())
    return Budget(title=result.label, value=result.value, u=u, unit=result.unit, lines=_ordered(_told_apart(lines)))


def _told_apart(lines: Sequence[BudgetLine]) -> list[BudgetLine]:
    """Return the lines with names of their own: two titrations without a record are told apart by what they are."""
    often = {label for label, count in Counter(line.label for line in lines).items() if count > 1}
    return [replace(line, label=f"{line.label} [{line.ids[0]}]") if line.label in often else line for line in lines]


def _closed(result: Closed, lines: Sequence[BudgetLine], sensitivities: Mapping[str, float], u: float) -> BudgetLine:
    """Return the line of a closed result.

    Its influences act through it alone, so each gives the same derivative by it: the largest gives it best.
    """
    grouped = _grouped(result.label, lines, u)
    ids = [id_ for id_ in grouped.ids if result.sensitivities[id_] != 0.0]
    largest = max(ids, key=lambda id_: abs(result.sensitivities[id_]), default=None)
    slope = math.nan if largest is None else sensitivities[largest] / result.sensitivities[largest]
    return replace(
        grouped,
        value=result.value,
        sensitivity=slope,
        u=grouped.contribution / abs(slope) if slope else math.nan,
        source=_common([line.source for line in lines]) if len(lines) == 1 else f"{len(lines)} influences",
    )


def _line(  # noqa: PLR0917  (the parts of one line)
    ids: tuple[str, ...],
    contribution: float,
    dof: float,
    sensitivities: Mapping[str, float],
    influences: Mapping[str, Influence],
    u: float,
) -> BudgetLine:
    first = influences[ids[0]]
    single = len(ids) == 1
    described = first if first.joint is None else first.joint
    return BudgetLine(
        label=described.label,
        ids=ids,
        value=first.value if single else math.nan,
        u=first.u if single else math.nan,
        sensitivity=sensitivities[ids[0]] if single else math.nan,
        contribution=contribution,
        share=_share(contribution, u),
        dof=dof,
        shape=first.shape,
        kind=first.kind,
        source=described.source,
    )
