"""Repeatability over occasions, and whether titres agree: told, never used to select them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from assay.errors import DataError, DomainError
from assay.flags import Flag
from assay.metrology.coverage import check_level
from assay.metrology.replicates import pooled_scatter
from assay.titration.titres import AnyTitre, Conditions, check_titres
from assay.units import Written, quantity, read

if TYPE_CHECKING:
    import pint

NOT_CONCORDANT = "titres-not-concordant"
_SHOWN = {"L": (1000.0, "mL"), "g": (1.0, "g")}
_KIND = {"L": "volume", "g": "mass"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Standard deviation of one titre, pooled over occasions: what a method states as its s.

    Parameters
    ----------
    standard_deviation : float
        In L, or g.
    dof : float
        Degrees of freedom: one fewer than titres on each occasion, added up.
    unit : str
        ``"L"`` or ``"g"``.
    occasions : int
        On how many occasions there were two titres or more.

    References
    ----------
    [jcgm-100-2008] H.3.6 and 4.2.4: a pooled estimate of variance, weighted by its degrees of freedom.

    Examples
    --------
    >>> print(Repeatability(standard_deviation=3.1e-5, dof=12.0, unit="L", occasions=6))
    s = 0.031 mL, pooled over 6 occasions, dof 12

    """

    standard_deviation: float
    dof: float
    unit: str
    occasions: int

    @property
    def s(self) -> pint.Quantity[Any]:
        """The standard deviation, as an assay takes it for its ``method_s``."""
        return quantity(self.standard_deviation, self.unit)

    def __str__(self) -> str:
        scale, unit = _SHOWN[self.unit]
        s = f"s = {self.standard_deviation * scale:.3g} {unit}"
        return f"{s}, pooled over {self.occasions} occasions, dof {self.dof:g}"


def pooled_repeatability(occasions: Sequence[Sequence[AnyTitre]]) -> Repeatability:
    """Return the repeatability of one titre from titres of several occasions, whatever was titrated on each.

    Each occasion gives its own mean; only what scatters about it is pooled. It holds the rounding of the readings, as
    the s of one occasion does. Use it as ``method_s=pooled.s, method_dof=pooled.dof`` where burette, step of reading,
    indicator and person are those of the occasions.

    Parameters
    ----------
    occasions : sequence of sequences of titres
        Titres of each occasion; those marked rough or void do not count.

    Returns
    -------
    Repeatability
        The standard deviation with its degrees of freedom.

    Raises
    ------
    DataError
        If something is not a titre, or titres by volume and by mass are mixed.
    DomainError
        If no occasion has two titres that count, or all agree to the last digit.

    References
    ----------
    [jcgm-100-2008] H.3.6 and 4.2.4: a pooled estimate of variance, weighted by its degrees of freedom.

    Examples
    --------
    >>> from assay import Burette
    >>> b = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> monday, friday = ("24.30 mL", "24.40 mL"), ("9.95 mL", "9.95 mL")
    >>> print(pooled_repeatability([[b.titre(reading) for reading in day] for day in (monday, friday)]))
    s = 0.05 mL, pooled over 2 occasions, dof 2

    """
    listed = [check_titres(titres, argument=f"occasion {k}") for k, titres in enumerate(occasions, start=1)]
    kept = [[titre for titre in titres if titre.kept] for titres in listed]
    check_titres([titre for titres in kept for titre in titres], argument="occasions")
    several = [titres for titres in kept if len(titres) > 1]
    pooled = pooled_scatter([[titre.nominal for titre in titres] for titres in several])
    return Repeatability(standard_deviation=pooled.s, dof=pooled.dof, unit=several[0][0].unit, occasions=len(several))


@dataclass(frozen=True, slots=True, kw_only=True)
class Concordance:
    """Whether titres agree as they should; a statement about all of them, by which none is chosen.

    Parameters
    ----------
    n : int
        How many titres.
    spread : float
        Largest less smallest, L or g.
    within : float
        What they may differ by, L or g.
    rule : str
        Where that comes from.
    unit : str
        ``"L"`` or ``"g"``.
    flags : tuple of Flag
        A flag where they differ by more.

    References
    ----------
    [iso-5725-6] 5.2.2 (critical range), from memory; a stated range is common practice.

    Examples
    --------
    >>> from assay import Burette
    >>> b = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> found = judge_concordance([b.titre("24.30 mL"), b.titre("24.35 mL"), b.titre("24.55 mL")], within="0.10 mL")
    >>> found.n, found.concordant, [flag.code for flag in found.flags]
    (3, False, ['titres-not-concordant'])

    """

    n: int
    spread: float
    within: float
    rule: str
    unit: str
    flags: tuple[Flag, ...]

    @property
    def concordant(self) -> bool:
        """Whether they agree."""
        return not self.flags


def judge_concordance(
    titres: Sequence[AnyTitre],
    *,
    within: Written | None = None,
    method_s: Written | None = None,
    method_dof: float = math.inf,
    level: float = 0.95,
) -> Concordance:
    """Return whether titres agree within a stated range, or within what a known repeatability allows.

    It judges and chooses nothing. To titrate until three agree and to average those three states a scatter that was
    chosen for being small: in the coverage study such an interval holds the truth far less often than it says.

    Parameters
    ----------
    titres : sequence of titres
        Two or more that count; those marked rough or void are not looked at.
    within : str or quantity, optional
        What they may differ by, such as ``"0.10 mL"``.
    method_s : str or quantity, optional
        Instead: known standard deviation of one titre. Titres may then differ by the critical range for their number.
    method_dof : float
        Its degrees of freedom.
    level : float
        Share of sets of titres without fault that the critical range passes.

    Returns
    -------
    Concordance
        The range found, the range allowed, and a flag if it is exceeded.

    Raises
    ------
    DataError
        If both or neither of ``within`` and ``method_s`` are given, or something is not a titre.
    DomainError
        If fewer than two titres count.

    References
    ----------
    [iso-5725-6] 5.2.2 (critical range: the quantile of the range of n over s), from memory.

    Examples
    --------
    >>> from assay import Burette
    >>> b = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> judge_concordance([b.titre("24.30 mL"), b.titre("24.45 mL")], within="0.10 mL").concordant
    False

    """
    kept = [titre for titre in check_titres(titres, argument="titres") if titre.kept]
    if len(kept) < 2:  # noqa: PLR2004  (to agree takes two)
        raise DomainError("whether titres agree takes two of them", argument="titres", given=len(kept))
    if (within is None) == (method_s is None):
        raise DataError(
            "titres are judged by a stated range or by a known repeatability, one of the two",
            argument="within, method_s",
            remedy='Write within="0.10 mL", or method_s="0.03 mL" with its degrees of freedom.',
        )
    unit = kept[0].unit
    scale, shown = _SHOWN[unit]
    if within is not None:
        most = read(within, _KIND[unit], argument="within")
        rule = f"the stated {most * scale:.4g} {shown}"
    else:
        known = Conditions(method_s=method_s, method_dof=method_dof).scatter(unit)
        assert known is not None  # noqa: S101  (method_s is given; this tells the type checker)
        most = known.s * range_factor(len(kept), known.dof, check_level(level))
        rule = f"the critical range of {len(kept)} titres, {most * scale:.4g} {shown} at {100 * level:g} %"
    values = [titre.nominal for titre in kept]
    # Readings are decimal: what lies on the limit must not fall beyond it by a rounding of the last bit.
    spread = round(max(values) - min(values), 12)
    flags: tuple[Flag, ...] = ()
    if spread > most * (1.0 + 1e-9):
        message = (
            f"the {len(kept)} titres differ by {spread * scale:.4g} {shown}, more than {rule}. All of them count: "
            "their scatter is in the uncertainty. Look for the cause; set one aside only for a reason that was seen."
        )
        flags = (Flag(code=NOT_CONCORDANT, message=message),)
    return Concordance(n=len(kept), spread=spread, within=most, rule=rule, unit=unit, flags=flags)


def range_factor(n: int, dof: float, level: float) -> float:
    """Return the quantile of the range of n normal values over their standard deviation, known from ``dof``."""
    from scipy.stats import studentized_range  # imported here: it loads for half a second

    return float(studentized_range.ppf(level, n, min(dof, 1e5)))
