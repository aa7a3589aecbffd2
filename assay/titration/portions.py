"""Replicates of which each has its own weighed portion."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import hypot, inf, nan
from statistics import fmean, stdev

from assay.bench.weighing import Weighing
from assay.errors import DomainError
from assay.metrology.estimate import Estimate
from assay.metrology.replicates import MethodScatter, Rounding, mean_of, scatter_of, scatter_with_others
from assay.titration.blanks import (
    Blank,
    aside_blanks_flag,
    blank_flag,
    blank_of,
    single_of,
)
from assay.titration.titres import (
    AnyTitre,
    Conditions,
    aside_flag,
    check_net,
    rounding_of,
)

#: What makes the result of one portion: its record, its weighing, its titre and the blank.
OneResult = Callable[[str, Weighing, Estimate, Estimate], Estimate]


@dataclass(frozen=True, slots=True, kw_only=True)
class PortionSet:
    """Weighed portions with their titres.

    Parameters
    ----------
    portions : sequence of (Weighing, titre)
        The portions.
    path, label, name : str
        Path of the record, what a person calls the result, and its name in the glossary.

    """

    portions: Sequence[tuple[Weighing, AnyTitre]]
    path: str
    label: str
    name: str

    def mean(self, one: OneResult, blank: Blank, conditions: Conditions) -> Estimate:
        """Return the mean of the results of the portions that count, with its flags.

        The scatter is that of the results found; it contains the repeatability of weighing, reading and end point.

        Raises
        ------
        DomainError
            If there is a single portion without a known scatter, or none.

        """
        kept = [portion for portion in self.portions if portion[1].kept]
        known = conditions.scatter(kept[0][1].unit if kept else "L")
        if not kept:
            scatter_of([])  # refuses
        for _, titre in self.portions:
            check_net(titre.nominal, label=self.label)
        mean_titre = fmean(titre.nominal for _, titre in kept)
        # The blank is corrected like the titres: only both corrected can be compared.
        corrected = fmean(conditions.corrected(titre.measure(self.path), [titre]).value for _, titre in kept)
        ratios = [weighed.nominal / titre.nominal for weighed, titre in kept]
        s, dof = _relative_scatter(ratios, known, mean_titre)
        s *= mean_titre

        def found_with(empty: Estimate) -> tuple[list[Estimate], list[Estimate]]:
            found = []
            for k, (weighed, titre) in enumerate(self.portions):
                record = f"{self.path}/portion {k + 1}"
                at_equivalence = conditions.corrected(titre.measure(record), [titre])
                check_net(at_equivalence.value - empty.value, label=self.label)
                found.append(one(record, weighed, at_equivalence, empty))
            return found, [result for result, (_, t) in zip(found, self.portions, strict=True) if t.kept]

        empty, flags = blank_of(blank, path=self.path, label=self.label, s=s, dof=dof, conditions=conditions)
        found, counted = found_with(empty)
        scatter = scatter_of(
            [result.value for result in counted],
            method=None if known is None else _relative(known, counted[0].value / mean_titre),
            rounding=_rounding(kept, counted),
        )
        of_mean = None
        if single_of(blank) is not None:
            # One s stands behind the mean and its single blank: both again, as one term, and without its rounding.
            s *= scatter.repeatability / (scatter.s or 1.0)
            of_blank = None
            if s > 0.0:
                of_mean, of_blank = scatter_with_others(
                    scatter, record=self.path, name=self.name, label=self.label, others={"blank": s}
                )
            empty, flags = blank_of(
                blank, path=self.path, label=self.label, s=s, dof=dof, conditions=conditions, scattered=of_blank
            )
            found, counted = found_with(empty)
        mean = mean_of(counted, scatter, record=self.path, name=self.name, label=self.label, scattered=of_mean)
        aside = [titre for _, titre in self.portions if not titre.kept]
        flags += blank_flag(corrected, empty.value, self.label, kept[0][1].unit)
        flags += aside_flag(aside, fmean(result.value for result in found), self.label, mean.unit)

        def with_blank(other: float) -> float:
            try:
                counted = found_with(Estimate.exactly(other, name="blank", label="blank"))[1]
            except DomainError:  # a blank that leaves no net titre
                return nan
            return fmean(result.value for result in counted)

        flags += aside_blanks_flag(blank, empty.value, self.label, mean.unit, with_blank)
        return mean.flagged(*flags)


def _relative_scatter(ratios: Sequence[float], known: MethodScatter | None, mean_titre: float) -> tuple[float, float]:
    """Return the relative scatter of titres of unlike portions, and its degrees of freedom, for a single blank."""
    if known is not None:
        return known.s / mean_titre, known.dof
    if len(ratios) < 2:  # noqa: PLR2004  (a scatter needs two)
        return 0.0, inf
    return stdev(ratios) / fmean(ratios), float(len(ratios) - 1)


def _relative(known: MethodScatter, factor: float) -> MethodScatter:
    return MethodScatter(s=known.s * abs(factor), dof=known.dof)


def _rounding(portions: Sequence[tuple[Weighing, AnyTitre]], found: Sequence[Estimate]) -> Rounding:
    """Return rounding and weighing repeatability of one portion, in the unit of the result."""
    rounding = rounding_of([titre for _, titre in portions])
    per_titre = max(abs(c.value) / titre.nominal for c, (_, titre) in zip(found, portions, strict=True))
    weighing = max(
        abs(c.value) * weighed.u_repeatability() / weighed.nominal
        for c, (weighed, _) in zip(found, portions, strict=True)
    )
    return Rounding(shared=rounding.shared * per_titre, own=hypot(rounding.own * per_titre, weighing))
