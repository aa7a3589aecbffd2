"""How a batch of assays is worked out: from rows of titres to rows of strengths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from assay.bench.burette import Titre
from assay.bench.sampling import Sampling
from assay.bench.setting import OneVolume, check_one_volume
from assay.bench.temperature import LIQUID, LIQUIDS, liquid_place
from assay.bench.titre_batch import TitreBatch
from assay.bench.weighing import Weighing
from assay.errors import DataError, DomainError
from assay.flags import Flag, merged
from assay.kernels.dilution import dilution_factor_from_deliveries, dilution_factor_from_factors
from assay.kernels.replicates import mean_from_replicates, sum_from_values
from assay.kernels.titration import analyte_concentration_from_titre, equivalents_in_aliquot_from_titre
from assay.metrology.batch import evaluate_batch
from assay.metrology.batch_replicates import ScatterBatch, mean_of_batch, scatter_of_batch
from assay.metrology.batch_terms import RowInfluence
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.replicates import Rounding
from assay.metrology.row_codes import RowCodes
from assay.metrology.shapes import Array
from assay.substances.species import Species
from assay.substances.strength import Strength
from assay.substances.written import read_strength
from assay.titration.assays import (
    DILUTION,
    Dilution,
    Sample,
    check_titrant,
    equivalents_along,
    portion_and_factor,
)
from assay.titration.batch_naming import Naming
from assay.titration.blanks import (
    BLANK_ABOVE,
    Blank,
    CommonBlank,
    blank_of,
    blanks_in,
    nominal_blank,
    single_of,
)
from assay.titration.container import refuse_counted, sampling_flags
from assay.titration.plausibility import ABOVE_LABEL, IMPLAUSIBLE, largest_sold
from assay.titration.standardisation import check_unit
from assay.titration.titrant import Titrant
from assay.titration.titres import Conditions, record_path, rounding_of, rounding_of_readings

#: Why a row has no strength, besides what is wrong with its readings.
SINGLE_TITRE = "single-titre"
_OF_BLANK = "blank-"
#: Stands for the path of one row.
_ROW = "row"


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRun:
    """All that a batch of assays is worked out from.

    Parameters
    ----------
    titrant, species, aliquot, titres, dilutions, blank
        As for `assay_hypochlorite_batch`.
    conditions : Conditions
        What holds for all titres.
    naming : Naming
        How the batch and its rows are known.

    """

    titrant: Titrant
    species: Species
    aliquot: OneVolume
    titres: TitreBatch
    dilutions: Sequence[Dilution]
    blank: Blank | TitreBatch
    conditions: Conditions
    naming: Naming

    def __post_init__(self) -> None:
        """Refuse what does not fit together, and see as what the titrant expands."""
        check_titrant(self.titrant, self.species)
        object.__setattr__(self, "conditions", self.conditions.titrating(self.titrant.estimate.value))
        check_unit(self.titrant, [self._like])
        if any(isinstance(dilution.taken, Weighing) for dilution in self.dilutions):
            raise DomainError(
                "the samples of a batch are diluted by pipette: a weighed portion is that of one sample",
                argument="dilutions",
                remedy="Assay weighed samples one by one.",
            )
        check_one_volume(self.aliquot, argument="aliquot")
        if isinstance(self.blank, TitreBatch):
            self._check_blanks(self.blank)
        elif self.blank is not None:
            check_unit(self.titrant, blanks_in(self.blank))

    def _check_blanks(self, blank: TitreBatch) -> None:
        some = blank.replicates[blank.replicates > 0]
        if len(blank) != len(self.titres) or (some.size and (some == 1).any() != (some == 1).all()):
            raise DataError(
                "blanks of their own have a row for each assay: one blank in every row, or two or more in every row",
                argument="blank",
                given=f"{len(blank)} rows of {some.min(initial=0)} to {some.max(initial=0)}",
                expected=f"{len(self.titres)} rows",
                remedy="Split the batch into assays with one blank and assays with more.",
            )

    @property
    def _like(self) -> Titre:
        """A titre of the burette, for what is asked of the burette alone."""
        return Titre(burette=self.titres.burette, segments=((0.0, 0.0),))

    def row(self, assay: Callable[..., Strength], i: int) -> Strength:
        """Return the strength of one row by the single assay."""
        blank = self.blank
        if isinstance(blank, TitreBatch):
            blank = blank.row(i)
        elif blank is not None:
            blank = CommonBlank(titres=blanks_in(blank), path=f"{self.naming.path}/blank")
        return assay(titres=self.titres.row(i), blank=blank, record=self.naming.names[i])

    def _estimate(self, assay: Callable[..., Strength], i: int) -> Estimate:
        return self.row(assay, i).estimate

    def consumed(self) -> Array:
        """Return the amount of titrant that each aliquot consumed, mol, by the readings."""
        blank = self.blank.mean_nominal() if isinstance(self.blank, TitreBatch) else nominal_blank(self.blank)
        consumed: Array = equivalents_in_aliquot_from_titre(
            self.titrant.estimate.value, self.titres.mean_nominal(), blank
        )
        return consumed

    def estimates(
        self, assay: Callable[..., Strength], *, label: str | None, sampling: Sampling | None
    ) -> EstimateBatch:
        """Return the strengths, mol/L, with the codes of rows and the flags of all."""
        refuse_counted(sampling)
        name = self.naming.record
        mean, blank, flags = self.titre_and_blank()
        portion, average = self._portion_and_factor()
        factor = self._diluted_once(average)
        strengths = evaluate_batch(
            analyte_concentration_from_titre,
            name="amount_concentration",
            label=name,
            titrant_concentration=self.titrant.estimate,
            titre=mean,
            blank=blank,
            equivalents=self.species.equivalents,
            aliquot_volume=portion,
            dilution_factor=factor,
        )
        strengths = replace(strengths, row=partial(self._estimate, assay), flags=(*strengths.flags, *flags))
        strengths = strengths.doubted(strengths.value > largest_sold(self.species), IMPLAUSIBLE)
        if label is not None:
            stated = read_strength(label, argument="label", species=self.species)
            strengths = strengths.doubted(strengths.interval()[0] > stated, ABOVE_LABEL)
        unstated = (e.flags for dilution in self.dilutions for e in dilution.new_in_each(_ROW) if e is not None)
        return replace(strengths, flags=merged([strengths.flags, *unstated, sampling_flags(name, sampling)]))

    def titre_and_blank(self) -> tuple[EstimateBatch, EstimateBatch | Estimate, tuple[Flag, ...]]:
        """Return the mean titre of each row and its blank, L, with the flags of the blank."""
        scatter, mean = self._mean_titre()
        blank, flags = self._mean_blank(scatter)
        return mean.without(blank.value >= mean.value, BLANK_ABOVE), blank, flags

    def _portion_and_factor(self) -> tuple[Estimate | EstimateBatch, Estimate | EstimateBatch]:
        """Return the volume of the titrated portion, L, and the factor of all dilutions before it, on average.

        How much a solution expands depends on its strength, so rows of other strengths may have others of both.
        """
        temperature = self.conditions.temperature
        if temperature is None:
            liquids = (LIQUID,) * (len(self.dilutions) + 1)
            return portion_and_factor(self.aliquot, self.dilutions, liquids, None, average=True)
        strengths = equivalents_along(self.aliquot, self.dilutions, self.consumed())
        places = np.stack([liquid_place(strength) for strength in strengths])
        classes, of_row = np.unique(places, axis=1, return_inverse=True)
        made = [
            portion_and_factor(
                self.aliquot, self.dilutions, [LIQUIDS[place] for place in liquids], temperature, average=True
            )
            for liquids in classes.T
        ]
        if len(made) == 1:
            return made[0]
        shares = [(of_row.reshape(-1) == k).astype(float) for k in range(len(made))]
        portions, factors = zip(*made, strict=True)
        return _by_row(portions, shares), _by_row(factors, shares)

    def _diluted_once(self, factor: Estimate | EstimateBatch) -> Estimate | EstimateBatch:
        """Return the factor of all dilutions with what was new in each of each row."""
        for k, dilution in enumerate(self.dilutions, 1):
            taken, made_up = (self._new(error, f"/{DILUTION} {k}") for error in dilution.new_in_each(_ROW))
            if isinstance(taken, float) and isinstance(made_up, float):
                continue
            factor = evaluate_batch(
                dilution_factor_from_deliveries,
                name="dilution_factor",
                label=factor.label,
                unit=factor.unit,
                dilution_factor=factor,
                taken_volume=dilution.nominal[0],
                made_up_volume=dilution.nominal[1],
                taken_deviation=taken,
                made_up_deviation=made_up,
            )
        return factor

    def _new(self, error: Estimate | None, part: str) -> EstimateBatch | float:
        """Return what was new in each row, L: a deviation for each that the error of one dilution is made of."""
        if error is None or not error.influences:
            return 0.0
        columns = []
        for id_, influence in error.influences.items():
            tail = f"{part}{id_.removeprefix(_ROW)}"
            columns.append(
                RowInfluence(
                    id=f"{self.naming.path}{tail}",
                    u=np.full(len(self.titres), abs(error.sensitivities[id_]) * influence.u),
                    dof=influence.dof,
                    term=f"{self.naming.path}{tail}",
                    row_of=partial(self._row_of, tail),
                )
            )
        return evaluate_batch(sum_from_values, *columns, name="setting_error", label=error.label)

    def _mean_titre(self) -> tuple[ScatterBatch, EstimateBatch]:
        """Return the scatter of the titres of each row, and their mean at the equivalence point."""
        method = self.conditions.scatter("L")
        codes = self.titres.codes()
        if method is None:
            codes = codes.without(self.titres.replicates == 1, SINGLE_TITRE)
        scatter = scatter_of_batch(
            self.titres.nominal(), self.titres.replicates, method=method, rounding=_rounding(self.titres)
        )
        mean = self._mean(self.titres, scatter, codes, "", shared_s=True)
        return scatter, self.conditions.corrected(mean, [self._like])

    def _mean_blank(self, scatter: ScatterBatch) -> tuple[EstimateBatch | Estimate, tuple[Flag, ...]]:
        """Return the blank of each row, or that of all."""
        own = replace(self.conditions, method_s=None, method_dof=np.inf)
        blank, name = self.blank, self.naming.record
        if isinstance(blank, TitreBatch):
            codes = blank.codes(of_blank=True).told_of(_OF_BLANK)
            if blank.replicates.max(initial=0) > 1:
                found = scatter_of_batch(blank.nominal(), blank.replicates, rounding=_rounding(blank))
                return own.corrected(self._mean(blank, found, codes, "/blank", shared_s=False), [self._like]), ()
            found = _of_single(scatter, _rounding(blank))
            return own.corrected(self._mean(blank, found, codes, "/blank", shared_s=True), [self._like]), ()
        single = single_of(blank)
        if single is None:
            common = None if blank is None else CommonBlank(titres=blanks_in(blank), path=f"{self.naming.path}/blank")
            return blank_of(common, path=self.naming.path, label=name, s=0.0, dof=np.inf, conditions=own)
        of_single = _of_single(scatter, rounding_of([single]))
        deviation, rounded = self._own(of_single, part="/blank", shared_s=True)
        mean = evaluate_batch(
            mean_from_replicates,
            single.measure(f"{self.naming.path}/blank/1", of="blank"),
            name="titre",
            label=f"blank of {name}",
            replicate_scatter=deviation,
            replicate_resolution=rounded,
        )
        return own.corrected(mean, [self._like]), ()

    def _mean(
        self, titres: TitreBatch, scatter: ScatterBatch, codes: RowCodes, part: str, *, shared_s: bool
    ) -> EstimateBatch:
        deviation, rounded = self._own(scatter, part=part, shared_s=shared_s)
        return mean_of_batch(
            titres.delivered(),
            titres.replicates,
            scatter=deviation,
            resolution=rounded,
            codes=codes,
            name="titre",
            label=f"{part[1:] or 'titre'}s of {self.naming.record}",
        )

    def _own(self, scatter: ScatterBatch, *, part: str, shared_s: bool) -> tuple[RowInfluence, RowInfluence]:
        """Return what each row has alone: the deviation of its mean, and the rounding that it does not show."""
        path = self.naming.path
        dof = scatter.dof
        if not np.all(scatter.u_scatter > 0.0):
            dof = np.where(scatter.u_scatter > 0.0, dof, np.inf)  # nothing has no degrees of freedom to lose
        deviation = RowInfluence(
            id=f"{path}{part}/scatter",
            u=scatter.u_scatter,
            dof=dof,
            term=f"{path}/one scatter" if shared_s else f"{path}{part}/scatter",
            row_of=partial(self._row_of, f"{part}/scatter"),
        )
        id_ = f"{path}{part}/resolution"
        row_of = partial(self._row_of, f"{part}/resolution")
        return deviation, RowInfluence(id=id_, u=scatter.u_resolution, dof=np.inf, term=id_, row_of=row_of)

    def _row_of(self, tail: str, id_: str) -> int | None:
        """Return the row whose own influence has this id."""
        if not (id_.startswith("record/") and id_.endswith(tail)):
            return None
        name = id_.split("/")[1]
        try:
            i = self.naming.names.index(name)
        except ValueError:
            return None
        sample = Sample(aliquot=self.aliquot, titres=self.titres.row(i), portions=(), dilutions=self.dilutions)
        return i if id_ == f"{record_path(name, sample.readings())}{tail}" else None


def _rounding(titres: TitreBatch) -> Rounding:
    """Return the rounding of one titre of each row, by the rule of `rounding_of`."""
    common = titres.common_start()
    alike, random = (rounding_of_readings(titres.burette.step, common=which) for which in (True, False))
    if common.all():
        return alike
    return Rounding(shared=np.where(common, alike.shared, random.shared), own=np.where(common, alike.own, random.own))


def _of_single(scatter: ScatterBatch, rounding: Rounding) -> ScatterBatch:
    """Return the scatter of a single blank: the repeatability of the titres it belongs to, and its own rounding."""
    alone = np.hypot(rounding.shared, rounding.own)
    s = scatter.repeatability
    return ScatterBatch(s=np.hypot(s, alone), repeatability=s, dof=scatter.dof, u_scatter=s, u_resolution=alone)


def _by_row(candidates: Sequence[Estimate], shares: Sequence[Array]) -> EstimateBatch:
    """Return for each row the candidate whose share is one there; the others' is zero."""
    name, label, unit = candidates[0].name, candidates[0].label, candidates[0].unit
    parts = [
        evaluate_batch(dilution_factor_from_factors, candidate, share, name=name, label=label, unit=unit)
        for candidate, share in zip(candidates, shares, strict=True)
    ]
    return evaluate_batch(sum_from_values, *parts, name=name, label=label, unit=unit)
