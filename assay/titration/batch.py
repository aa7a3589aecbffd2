"""Many assays at once: titres in rows, strengths in rows, by the kernels and the rules of a single assay."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import inf

import numpy as np

from assay.bench.sampling import Sampling
from assay.bench.setting import OneVolume
from assay.bench.temperature import Temperature
from assay.bench.titre_batch import TitreBatch
from assay.flags import Flag
from assay.metrology.estimate import Estimate
from assay.metrology.estimate_batch import EstimateBatch
from assay.metrology.row_codes import Codes, Mask
from assay.metrology.shapes import Array
from assay.substances.species import HYPOCHLORITE, Species
from assay.substances.strength import Strength, expressed
from assay.titration.acid_base import acid_or_base, assay_acid_base, found_by
from assay.titration.assays import Dilution
from assay.titration.batch_naming import naming_of
from assay.titration.batch_run import BatchRun
from assay.titration.blanks import Blank
from assay.titration.end_point import EndPoint
from assay.titration.iodometry import LARGEST_ALIQUOT, SODIUM, TOO_STRONG, assay_hypochlorite, is_liquor, source_flag
from assay.titration.titrant import Titrant
from assay.titration.titres import Conditions
from assay.units import Written


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class StrengthBatch:
    """Strengths of many samples of one sort, one in each row; made by the assays of a batch.

    Numbers are plain arrays; ``batch[i]`` is the strength of one row with everything that a single assay gives, and
    equals it. A row without a number holds NaN, is masked and says why by a code.

    Parameters
    ----------
    species : Species
        What it is.
    estimates : EstimateBatch [mol/L]
        Amounts of the species' entity per volume.
    names : sequence of str
        Names of the rows.
    assayed : callable
        Returns the strength of one row by the single assay, by its index.

    References
    ----------
    common practice: the reaction of each species; each row is the strength that its single assay gives.

    Examples
    --------
    Made by `assay_hypochlorite_batch` and `assay_acid_base_batch`; the first shows one.

    >>> from assay import Burette, Estimate, Influence, Pipette, Titrant, TitreBatch
    >>> known = Influence(id="bottle/T1", label="thiosulfate", value=0.1, u=0.0001)
    >>> titrant = Titrant(
    ...     name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration")
    ... )
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> titres = TitreBatch(burette=burette, final=[[24.30, 24.40], [24.35, 24.45]], unit="mL")
    >>> pipette = Pipette("P10", capacity="10 mL")
    >>> samples = assay_hypochlorite_batch(titrant, aliquot=pipette, titres=titres, names=["drum 1", "drum 2"])
    >>> samples.value.round(4).tolist()
    [0.1218, 0.122]

    """

    species: Species
    estimates: EstimateBatch
    names: Sequence[str]
    assayed: Callable[[int], Strength]

    @property
    def value(self) -> Array:
        """Amounts per volume, mol/L, of shape (assays,); NaN where there is none."""
        return self.estimates.value

    @property
    def u(self) -> Array:
        """Standard uncertainties, mol/L, of shape (assays,)."""
        return self.estimates.u

    @property
    def dof(self) -> Array:
        """Effective degrees of freedom, of shape (assays,)."""
        return self.estimates.dof

    @property
    def mask(self) -> Mask:
        """Where there is no number, of shape (assays,)."""
        return self.estimates.mask

    @property
    def code(self) -> Codes:
        """Why there is no number, or what is doubtful about one, of shape (assays,); empty for the others."""
        return self.estimates.code

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Doubts about all rows."""
        return self.estimates.flags

    def in_basis(self, key: str) -> EstimateBatch:
        """Return the strengths in another basis, such as ``"g/L available chlorine"``.

        Raises
        ------
        BasisError, BlockedResultError
            As for `Strength.in_basis`.

        """
        good = np.flatnonzero(~self.mask)
        if good.size:
            self[int(good[0])].in_basis(key)  # what is refused for one is refused for all, in the same words
        basis = self.species.stated_in(key)
        stated = expressed(self.estimates, basis, label=f"{self.estimates.label}, {basis.key}")
        return replace(stated, row=partial(self._row_in_basis, key))

    def _row_in_basis(self, key: str, i: int) -> Estimate:
        return self[i].in_basis(key)

    def correlation(self, i: int, j: int) -> float:
        """Return the correlation of two rows, -1 to 1."""
        return self.estimates.correlation(i, j)

    def records(self) -> list[dict[str, object]]:
        """Return a record for each row, as a data frame takes them: row, name, value, u, dof, unit and code."""
        pairs = zip(self.names, self.estimates.records(), strict=True)
        return [{"row": record["row"], "name": name, **record} for name, record in pairs]

    def __len__(self) -> int:
        return len(self.estimates)

    def __getitem__(self, i: int) -> Strength:
        """Return the strength of one row.

        Raises
        ------
        DataError
            If the row has no number.

        """
        return self.assayed(self.estimates.check_row(i))

    def __repr__(self) -> str:
        return repr(self.estimates).replace("EstimateBatch", "StrengthBatch", 1)

    def __str__(self) -> str:
        return str(self.estimates)

    def _repr_html_(self) -> str:
        return self.estimates._repr_html_()


def assay_hypochlorite_batch(
    titrant: Titrant,
    *,
    aliquot: OneVolume,
    titres: TitreBatch,
    dilutions: Sequence[Dilution] = (),
    blank: Blank | TitreBatch = None,
    label: str | None = None,
    source: str = SODIUM,
    sampling: Sampling | None = None,
    temperature: Temperature | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
    names: Sequence[str] | None = None,
) -> StrengthBatch:
    """Return the strengths of many samples of hypochlorite, each treated in the same way; see `assay_hypochlorite`.

    Titrant, burette, pipette and flasks are the same influences in all rows, so rows are correlated with each other, as
    single assays would be; scatter and resolution are those of each row.

    Parameters
    ----------
    titrant : Titrant
        Standardised thiosulfate.
    aliquot : Pipette, or ware set to a volume
        What takes each titrated aliquot, such as ``syringe.measure("5.0 mL")``.
    titres : TitreBatch
        The titres, a row for each sample.
    dilutions : sequence of Dilution
        The dilutions between each sample and its aliquots, by pipette, in order.
    blank : titre, a sequence, or TitreBatch, optional
        Titres of the reagents alone: one blank or one set of blanks that serves all rows, or a row of blanks for each.
        Of a single blank for all, each row counts the scatter with its own s, as one assay does.
    label, source, sampling, temperature, method_s, method_dof
        As for `assay_hypochlorite`.
    record : str, optional
        Name of the whole, such as ``"spring term"``; its rows are known as ``"spring term, row 1"`` and so on.
    names : sequence of str, optional
        Names of the rows instead; a row is then known as a single assay of this ``record`` is.

    Returns
    -------
    StrengthBatch
        Of hypochlorite. A row has no number, and a code, where a reading is missing or beyond the scale, a titre is not
        above zero, the blank is not below it, there is no titre, or a single one without ``method_s``.

    Raises
    ------
    BlockedResultError
        If the titrant carries a blocking flag.
    DomainError
        If the titrant is not thiosulfate, or a dilution is by mass.
    DataError
        If names and titres do not agree in number, or a name stands twice.

    References
    ----------
    As for `assay_hypochlorite`: common practice, one molecule of chlorine oxidises iodide to iodine that takes two of
    thiosulfate.

    Examples
    --------
    >>> from assay import Burette, Estimate, Influence, Pipette, Titrant
    >>> known = Influence(id="bottle/T1", label="thiosulfate", value=0.1, u=0.0001)
    >>> thiosulfate = Titrant(
    ...     name="thiosulfate", estimate=Estimate.from_influence(known, name="titrant_concentration")
    ... )
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")
    >>> batch = assay_hypochlorite_batch(
    ...     thiosulfate,
    ...     aliquot=Pipette("P10", capacity="10 mL", accuracy_class="A"),
    ...     titres=TitreBatch(burette=burette, final=[[24.30, 24.40], [0.0, 24.35]], unit="mL"),
    ...     blank=burette.titre("0.05 mL"),
    ... )
    >>> batch.value.round(4).tolist(), batch.code.tolist()
    ([0.1215, nan], ['', 'titre-not-positive'])

    """
    assay = partial(
        assay_hypochlorite, titrant, aliquot=aliquot, dilutions=dilutions, label=label, source=source,
        sampling=sampling, temperature=temperature, method_s=method_s, method_dof=method_dof,
    )  # fmt: skip
    run = BatchRun(
        titrant=titrant, species=HYPOCHLORITE, aliquot=aliquot, titres=titres, dilutions=dilutions, blank=blank,
        conditions=Conditions(temperature=temperature, method_s=method_s, method_dof=method_dof),
        naming=naming_of(titres, blank, record, names),
    )  # fmt: skip
    estimates = run.estimates(assay, label=label, sampling=sampling)
    estimates = estimates.doubted(run.consumed() > LARGEST_ALIQUOT, TOO_STRONG)
    flags = () if is_liquor(source) else (source_flag(source, label),)
    return _strengths(run, assay, estimates, flags)


def assay_acid_base_batch(
    titrant: Titrant,
    species: str,
    *,
    end_point: EndPoint,
    aliquot: OneVolume,
    titres: TitreBatch,
    dilutions: Sequence[Dilution] = (),
    blank: Blank | TitreBatch = None,
    label: str | None = None,
    sampling: Sampling | None = None,
    temperature: Temperature | None = None,
    method_s: Written | None = None,
    method_dof: float = inf,
    record: str | None = None,
    names: Sequence[str] | None = None,
) -> StrengthBatch:
    """Return the strengths of many samples of one acid or base, each treated in the same way; see `assay_acid_base`.

    Parameters
    ----------
    titrant : Titrant
        Sodium hydroxide for an acid, hydrochloric acid for a base.
    species : str
        As for `assay_acid_base`.
    end_point : EndPoint
        Indicator and operator, the same for all rows.
    aliquot, titres, dilutions, blank
        As for `assay_hypochlorite_batch`.
    label, sampling, temperature, method_s, method_dof
        As for `assay_acid_base`.
    record, names
        As for `assay_hypochlorite_batch`.

    Returns
    -------
    StrengthBatch
        Of the species.

    Raises
    ------
    DataError
        If the species is unknown, names and titres do not agree in number, or a name stands twice.
    DomainError
        If the titrant is not the one for this species, or a dilution is by mass.
    BlockedResultError
        If the titrant carries a blocking flag.

    References
    ----------
    As for `assay_acid_base`: common practice, protons exchanged at the end point.

    Examples
    --------
    >>> from assay import Burette, EndPoint, Estimate, Influence, Pipette, Titrant, TitreBatch
    >>> known = Influence(id="bottle/A1", label="sodium hydroxide", value=0.1, u=0.0002)
    >>> titrant = Titrant(
    ...     name="sodium hydroxide", estimate=Estimate.from_influence(known, name="titrant_concentration")
    ... )
    >>> burette = Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> acid = assay_acid_base_batch(
    ...     titrant,
    ...     "hydrochloric acid",
    ...     end_point=EndPoint("phenolphthalein"),
    ...     aliquot=Pipette("P10", capacity="10 mL"),
    ...     titres=TitreBatch(burette=burette, final=[[20.10, 20.20], [19.80, 19.90]], unit="mL"),
    ... )
    >>> acid.value.round(4).tolist()
    [0.2015, 0.1985]

    """
    found = acid_or_base(species)
    assay = partial(
        assay_acid_base, titrant, species, end_point=end_point, aliquot=aliquot, dilutions=dilutions, label=label,
        sampling=sampling, temperature=temperature, method_s=method_s, method_dof=method_dof,
    )  # fmt: skip
    run = BatchRun(
        titrant=titrant, species=found, aliquot=aliquot, titres=titres, dilutions=dilutions, blank=blank,
        conditions=Conditions(
            end_point=end_point, temperature=temperature, method_s=method_s, method_dof=method_dof
        ),
        naming=naming_of(titres, blank, record, names),
    )  # fmt: skip
    estimates = run.estimates(assay, label=label, sampling=sampling)
    return _strengths(run, assay, estimates, (*end_point.flags_for(found), *found_by(found, end_point)))


def _strengths(
    run: BatchRun, assay: Callable[..., Strength], estimates: EstimateBatch, flags: tuple[Flag, ...]
) -> StrengthBatch:
    return StrengthBatch(
        species=run.species,
        estimates=replace(estimates, flags=(*estimates.flags, *flags)),
        names=run.naming.names,
        assayed=partial(run.row, assay),
    )
