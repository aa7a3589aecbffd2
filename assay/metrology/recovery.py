"""Recovery: what an assay finds of a control of known strength."""

from __future__ import annotations

from dataclasses import dataclass

from assay.display.numbers import plus_minus, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError
from assay.flags import Flag, codes_of, merged
from assay.kernels.control import recovery_from_found
from assay.metrology.comparison import Comparison, check_comparable, compare
from assay.metrology.coverage import check_level
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate

NOT_ONE = "recovery-not-one"


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Recovery:
    """What an assay found of a control, over what the control holds.

    Parameters
    ----------
    recovery : Estimate
        Found over known; what both share, a burette or an atomic weight, has cancelled as far as it acts alike.
    comparison : Comparison
        The recovery less one, with its scores: one difference against its own expanded uncertainty.
    flags : tuple of Flag
        A flag where the recovery differs from one by more than its U.

    References
    ----------
    [iso-13528-2015] E_n score, from memory.

    Examples
    --------
    >>> import assay
    >>> found, known = (
    ...     assay.Estimate.from_influence(assay.Influence(id=i, label=i, value=v, u=u), name="mass_concentration")
    ...     for i, v, u in (("found", 98.0, 0.5), ("known", 100.0, 0.2))
    ... )
    >>> assay.recovery_of(found, known)
    <Recovery of found: [recovery-not-one] (0.980 ± 0.011), E_n = -1.90>

    """

    recovery: Estimate
    comparison: Comparison
    flags: tuple[Flag, ...] = ()

    @property
    def e_n(self) -> float:
        """The recovery less one over its expanded uncertainty; beyond ±1 it is not one at that level."""
        return self.comparison.e_n

    @property
    def level(self) -> float:
        """Level of confidence of the verdict."""
        return self.comparison.level

    def rows(self) -> Rows:
        """Return the recovery as a row of text."""
        r = self.recovery
        verdict = "one, within its U" if abs(self.e_n) <= 1.0 else "not one"
        return Rows(
            title=f"recovery of {r.label}, U at {100 * self.level:g} %",
            head=("found / known ± U", "E_n", "verdict"),
            body=((plus_minus(r.value, r.expanded(self.level), r.unit), significant(self.e_n, 3), verdict),),
        )

    def __repr__(self) -> str:
        shown = plus_minus(self.recovery.value, self.recovery.expanded(self.level), "1")
        return f"<Recovery of {self.recovery.label}: {codes_of(self.flags)}{shown}, E_n = {significant(self.e_n, 3)}>"


def recovery_of(found: Estimate, known: Estimate, *, level: float = 0.95) -> Recovery:
    """Return the recovery of a control of known strength, tested against one with what both share taken out.

    Parameters
    ----------
    found : Estimate
        What the assay found.
    known : Estimate
        What the control holds, in the same unit and, of a strength, the same basis.
    level : float
        Level of confidence of the verdict, between 0 and 1.

    Returns
    -------
    Recovery
        The recovery with its normalised error, and a flag if it is not one.

    Raises
    ------
    DataError
        If they are not two estimates in one unit, or one and the same result.
    DomainError
        If the control holds nothing, or the level is out of range.

    References
    ----------
    [iso-13528-2015] E_n score, from memory; [jcgm-100-2008] 5.2.2 for what they share.

    Examples
    --------
    >>> import assay
    >>> found, known = (
    ...     assay.Estimate.from_influence(assay.Influence(id=i, label=i, value=v, u=u), name="mass_concentration")
    ...     for i, v, u in (("found", 99.5, 0.5), ("known", 100.0, 0.2))
    ... )
    >>> print(recovery_of(found, known))
    recovery of found, U at 95 %
      found / known ± U  E_n     verdict
      (0.995 ± 0.011)    -0.474  one, within its U

    """
    check_level(level)
    check_comparable([found, known])
    if found is known:
        raise DataError(
            "the control was not assayed: found and known are one result",
            argument="found, known",
            given=found.label,
            remedy="Give as known what the control was made to hold, or its certificate.",
        )
    ratio = evaluate(recovery_from_found, name="recovery", label=found.label, found_value=found, known_value=known)
    one = Estimate.exactly(1.0, name="recovery", label="all of it")
    comparison = compare(ratio, one, level=level)
    flags: tuple[Flag, ...] = ()
    if not comparison.compatible:
        shown = plus_minus(ratio.value, ratio.expanded(level), "1")
        message = (
            f"of the control {known.label} the assay found {shown} at {100 * level:g} % "
            f"(E_n = {significant(comparison.e_n, 3)}): look for the cause before results of this run are given out."
        )
        flags = (Flag(code=NOT_ONE, message=message),)
    return Recovery(recovery=ratio, comparison=comparison, flags=merged([ratio.flags, flags]))
