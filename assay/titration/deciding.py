"""How many further titres could decide about a strength that is undecided."""

from __future__ import annotations

from typing import NamedTuple

from assay.metrology.deciding import DecisionOutlook, outlook_of
from assay.metrology.estimate import Estimate
from assay.metrology.probability import Limit
from assay.substances.limits import in_basis_of
from assay.substances.strength import Strength


def titres_to_decide(
    result: Strength | Estimate,
    *,
    lower: Limit | None = None,
    upper: Limit | None = None,
    risk: float | None = None,
    guard_factor: float | None = None,
    guard_band: Limit | None = None,
    level: float = 0.95,
    of: str | None = None,
    probability: float = 0.95,
) -> DecisionOutlook:
    """Return how many further titres would decide about a result, and whether any number could.

    The further titres are foretold from those that are there: their mean may lie wherever the scatter leaves it open,
    and their s is as uncertain as its degrees of freedom say. In each of many such futures the result is decided by the
    same rule. What the titres share (glass, standard, titrant, a single blank) stays as it is: it is the floor of u.

    The chance is one over strengths that lie evenly about the limit: of a strength that truly lies on its limit, a
    decision is hardly ever to be had. The study of this advice (``tests/studies/results/deciding.txt``) draws such
    strengths, with 2 to 6 titres whose scatter is a third to five times the u that they share.

    Parameters
    ----------
    result : Strength or Estimate
        A result from replicate titres.
    lower, upper : str, pint.Quantity or float, optional
        The specification limits, those of a strength with their basis: ``"80 g/L available chlorine"``.
    risk, guard_factor, guard_band, level
        The decision rule; see `Estimate.conformity`.
    of : str, optional
        Which replicates, by the path of their record or its beginning, such as ``"record/2026-11-16 drum 7"``; those of
        the sample if it is left out, not those of its titrants.
    probability : float
        Chance of a decision that is asked for, between 0 and 1.

    Returns
    -------
    DecisionOutlook
        The number, the chance of each number, the floor, and what is assumed.

    Raises
    ------
    DataError
        If no replicates stand behind the result, several sets do and none is named, or their scatter is hidden by their
        rounding.
    DomainError
        If the probability is out of range.
    AssayError
        Otherwise as for `Estimate.conformity`.

    References
    ----------
    [jcgm-101-2008] 6.4.9 (scaled t, for a further mean) and [jcgm-106-2012] 8.3 (guard bands), from memory.

    Examples
    --------
    >>> import assay
    >>> scatter = assay.Influence(id="r/scatter", label="mean of 3", value=10.0, u=0.1, dof=2.0, kind="A")
    >>> mean = assay.Estimate.from_influence(scatter, name="value")
    >>> titres_to_decide(mean, lower=9.75, probability=0.75)
    <DecisionOutlook of 'mean of 3': [second-look] undecided; 2 further replicates would decide with a chance of 75 %>
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> titres_to_decide(drum, lower="110.6 g/L available chlorine").verdict
    'cannot decide'

    """
    found = in_unit_of_limits(result, lower=lower, upper=upper, guard_band=guard_band)
    return outlook_of(
        found.estimate,
        lower=found.lower, upper=found.upper, guard_band=found.guard_band,
        risk=risk, guard_factor=guard_factor, level=level, of=of, but=found.titrants, probability=probability,
    )  # fmt: skip


class Limited(NamedTuple):
    """A result in the basis of its limits, these in its unit, and the ids of all that is known of its titrants."""

    estimate: Estimate
    lower: Limit | None
    upper: Limit | None
    guard_band: Limit | None
    titrants: frozenset[str]


def in_unit_of_limits(
    result: Strength | Estimate, *, lower: Limit | None, upper: Limit | None, guard_band: Limit | None = None
) -> Limited:
    """Return a result beside its limits; those of a strength say their basis."""
    if not isinstance(result, Strength):
        return Limited(result, lower, upper, guard_band, frozenset())
    given = {"lower": lower, "upper": upper, "guard_band": guard_band}
    estimate, plain = in_basis_of(result, **given)  # type: ignore[arg-type]  # it refuses what is no text
    titrants = frozenset(id_ for link in result.chain for id_ in link.estimate.influences)
    return Limited(estimate, plain["lower"], plain["upper"], plain["guard_band"], titrants)
