"""The uncertainty budget: which input contributes how much."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from assay.display.numbers import significant
from assay.display.rows import Rows, html, latex, text
from assay.metrology.influence import Influence, Joint, same_joint


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetLine:
    """One independent influence, or one joint, in a budget.

    Parameters
    ----------
    label : str
        What a person calls it.
    ids : tuple of str
        Ids of the influences in the line.
    value, u, sensitivity : float
        Of the influence; NaN for a joint of several members, which has no single one.
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
    ('repeatability, titre, 2026-11-16 drum 7 and blank', 0.35)

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

    def largest(self, n: int = 5) -> tuple[BudgetLine, ...]:
        """Return the n largest lines."""
        return self.lines[:n]

    def rows(self, n: int | None = None) -> Rows:
        """Return the budget, or its n largest lines, as rows of text."""
        shown = self.lines if n is None else self.largest(n)
        body = tuple(
            (line.label, significant(line.contribution, 2), f"{100 * line.share:.1f} %", _dof(line.dof), line.source)
            for line in shown
        )
        return Rows(
            title=f"Budget of {self.title}",
            head=("contribution of", f"u / ({self.unit})", "share of u²", "dof", "known from"),
            body=body,
        )

    def __str__(self) -> str:
        return text(self.rows())

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return html(self.rows())

    def _repr_latex_(self) -> str:
        return latex(self.rows())


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


def budget_of(
    sensitivities: Mapping[str, float],
    influences: Mapping[str, Influence],
    *,
    title: str,
    value: float,
    u: float,
    unit: str,
) -> Budget:
    """Return the budget of a result from its sensitivities."""
    lines = [
        _line(ids, contribution, dof, sensitivities, influences, u)
        for contribution, dof, ids in terms_of(sensitivities, influences)
    ]
    often = {label for label, count in Counter(line.label for line in lines).items() if count > 1}
    # Two things that are called alike, such as two titrations without a record, are told apart by what they are.
    lines = [replace(line, label=f"{line.label} [{line.ids[0]}]") if line.label in often else line for line in lines]
    lines.sort(key=lambda line: (-line.contribution, line.label))
    return Budget(title=title, value=value, u=u, unit=unit, lines=tuple(lines))


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
        share=(contribution / u) ** 2 if u > 0.0 else 0.0,
        dof=dof,
        shape=first.shape,
        kind=first.kind,
        source=described.source,
    )
