"""Duplicate samples: what samples of one target differ by, apart from what their analyses do."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from assay.display.numbers import degrees, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag, codes_of
from assay.kernels.sampling import sampling_variance_from_mean_squares
from assay.metrology.coverage import check_level
from assay.metrology.variance import VarianceAnalysis, nested_analysis

NOT_FOUND = "sampling-not-distinguished"
UNLIKE = "targets-unlike"
#: Targets recommended for the duplicate method, and the strongest over the weakest beyond which one s serves them ill.
_ENOUGH = 8
_UNLIKE = 2.0
FEW = "few-targets"


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class SamplingPrecision:
    """What samples of one target differ by, found by duplicate samples.

    Parameters
    ----------
    variance : VarianceAnalysis
        The nested analysis of variance: targets, samples of a target, analyses of a sample.
    targets, samples, analyses : int
        Targets, samples of each, analyses of each sample.
    flags : tuple of Flag
        Doubts about the data.

    References
    ----------
    [eurachem-ufs] Example A1, from memory.

    Examples
    --------
    >>> sampling_precision([[[98.0, 99.0], [103.0, 102.0]], [[97.0, 97.0], [100.0, 101.0]]])
    <SamplingPrecision of 2 targets: [few-targets] s between samples 2.6 of 99.6 (2.6 %), dof 1.89; s between analyses
    0.61, dof 4>

    """

    variance: VarianceAnalysis
    targets: int
    samples: int
    analyses: int
    flags: tuple[Flag, ...] = ()

    @property
    def mean(self) -> float:
        """Mean of all results, in their unit."""
        return self.variance.mean

    @property
    def sampling_s(self) -> float:
        """Standard deviation between samples of one target, in that unit; 0 where it was not distinguished."""
        return self.variance.components[1].s

    @property
    def sampling_dof(self) -> float:
        """Degrees of freedom of that, 1 or more."""
        return self.variance.components[1].dof

    @property
    def analysis_s(self) -> float:
        """Standard deviation between analyses of one sample."""
        return self.variance.components[2].s

    @property
    def analysis_dof(self) -> float:
        """Degrees of freedom of that."""
        return self.variance.components[2].dof

    @property
    def relative_s(self) -> float:
        """Standard deviation between samples over the mean: what `Sampling` takes as ``between_samples``."""
        return self.sampling_s / self.mean

    def sampling_s_below(self, level: float = 0.95) -> float:
        """Return what the standard deviation between samples is below with some confidence, in the unit of the results.

        Parameters
        ----------
        level : float
            Level of confidence, between 0 and 1.

        References
        ----------
        from memory: the ratio of the mean squares by the quantile of F.

        """
        from scipy.special import chdtri, fdtri  # imported here: scipy loads slowly

        _, samples, analyses = self.variance.components
        missed = 1.0 - check_level(level)
        if analyses.mean_square == 0.0:  # nothing is taken off: a mean square alone is bounded by chi-squared
            lowest = float(chdtri(samples.mean_square_dof, 1.0 - missed)) / samples.mean_square_dof
        else:
            lowest = float(fdtri(samples.mean_square_dof, analyses.mean_square_dof, missed))
        variance = sampling_variance_from_mean_squares(
            samples.mean_square / lowest, analyses.mean_square, self.analyses
        )
        return math.sqrt(max(float(variance), 0.0))

    def rows(self) -> Rows:
        """Return both standard deviations as rows of text."""
        body = tuple(
            (what, significant(s), f"{significant(100.0 * s / self.mean)} %", degrees(dof))
            for what, s, dof in (
                ("between samples", self.sampling_s, self.sampling_dof),
                ("between analyses", self.analysis_s, self.analysis_dof),
            )
        )
        title = (
            f"duplicate samples: {self.targets} targets, {self.samples} samples of each, {self.analyses} analyses of "
            f"each sample; mean {self.mean:.5g}"
        )
        return Rows(title=title, head=("", "s", "of the mean", "dof"), body=body)

    def __repr__(self) -> str:
        of_mean = f"{significant(self.mean, 3)} ({significant(100.0 * self.relative_s)} %)"
        samples = f"s between samples {significant(self.sampling_s)} of {of_mean}, dof {degrees(self.sampling_dof)}"
        analyses = f"s between analyses {significant(self.analysis_s)}, dof {degrees(self.analysis_dof)}"
        return f"<SamplingPrecision of {self.targets} targets: {codes_of(self.flags)}{samples}; {analyses}>"


def sampling_precision(targets: Sequence[Sequence[Sequence[float]]]) -> SamplingPrecision:
    """Return what samples of one target differ by, from duplicate samples of several targets.

    Of each target, a drum or a delivery, two samples are taken independently by the same protocol, and each is analysed
    twice: eight targets are recommended. The balanced analysis of variance then tells the samples from the analyses.
    Its standard deviation between samples, over the mean, is what `Sampling` takes as ``between_samples``.

    Parameters
    ----------
    targets : sequence of sequences of sequences of float
        Results, all in one unit: by target, sample and analysis. Every target has as many samples, two or more, and
        every sample as many analyses, two or more.

    Returns
    -------
    SamplingPrecision
        Both standard deviations with their degrees of freedom, those of the samples by Satterthwaite.

    Raises
    ------
    DataError
        If the design is not balanced.
    DomainError
        If there are not two targets, two samples or two analyses, or a result is not finite and above zero.

    References
    ----------
    [eurachem-ufs] section 9.4.2 and Example A1 (duplicate method), from memory; degrees of freedom of a difference of
    mean squares after [satterthwaite-1946].

    Examples
    --------
    >>> print(sampling_precision([[[98.0, 99.0], [103.0, 102.0]], [[97.0, 97.0], [100.0, 101.0]]]).rows().body)
    (('between samples', '2.6', '2.6 %', '1.89'), ('between analyses', '0.61', '0.61 %', '4'))

    """
    samples, analyses = _design(targets)
    variance = nested_analysis(targets, names=("targets", "samples"))
    by_target = [statistics.fmean(result for sample in target for result in sample) for target in targets]
    flags = []
    if len(targets) < _ENOUGH:
        message = f"{len(targets)} targets were sampled twice; {_ENOUGH} are recommended, and s is the less sure."
        flags.append(Flag(code=FEW, message=message))
    if max(by_target) > _UNLIKE * min(by_target):
        message = (
            f"the targets lie from {min(by_target):.4g} to {max(by_target):.4g}: one s between samples serves them "
            "ill. Sample targets that are alike, or each kind apart."
        )
        flags.append(Flag(code=UNLIKE, message=message))
    found = SamplingPrecision(
        variance=variance, targets=len(targets), samples=samples, analyses=analyses, flags=tuple(flags)
    )
    return found if found.sampling_s > 0.0 else _not_distinguished(found)


def _not_distinguished(found: SamplingPrecision) -> SamplingPrecision:
    most = found.sampling_s_below()
    message = (
        "samples of one target differ by no more than their analyses do: no s between samples was found. With 95 % "
        f"confidence it is below {significant(most)}, {significant(100 * most / found.mean)} % of the mean; state "
        "that where none may be missed."
    )
    return replace(found, flags=(*found.flags, Flag(code=NOT_FOUND, message=message)))


def _design(targets: Sequence[Sequence[Sequence[float]]]) -> tuple[int, int]:
    """Return how many samples each target has and how many analyses each sample, or refuse."""
    samples = {len(target) for target in targets}
    analyses = {len(sample) for target in targets for sample in target}
    if len(samples) > 1 or len(analyses) > 1:
        raise DataError(
            "the design is not balanced",
            argument="targets",
            given=f"{sorted(samples)} samples of a target, {sorted(analyses)} analyses of a sample",
            expected="as many samples of every target, and as many analyses of every sample",
            remedy="Leave out a target that lacks one, and say so in the record.",
        )
    if min([len(targets), *samples, *analyses]) < 2:  # noqa: PLR2004  (what differs takes two)
        raise DomainError(
            "to tell targets, samples and analyses apart takes two of each",
            argument="targets",
            given=f"{len(targets)} targets",
            expected="two targets or more, each [[first, again], [first, again]]",
        )
    for target in targets:
        for result in (result for sample in target for result in sample):
            if not (math.isfinite(result) and result > 0.0):
                raise DomainError("a result is a finite number above zero", argument="targets", given=result)
    return samples.pop(), analyses.pop()
