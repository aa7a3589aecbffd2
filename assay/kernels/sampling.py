"""From the portion that was titrated to the container it came from."""

from __future__ import annotations

from assay.kernels.ranges import NOT_NEGATIVE, POSITIVE, valid
from assay.kernels.value import Value


@valid(sample_deviation=(-0.5, 1.0), lost_share=(0.0, 0.9))
def container_strength_from_portion(portion_strength: Value, sample_deviation: Value, lost_share: Value) -> Value:
    """Return the strength of a container from that of the portion that was titrated.

    Parameters
    ----------
    portion_strength : float or array [mol/L]
        Strength found; mol/g if it was measured per mass.
    sample_deviation : float or array [1]
        Strength of the samples taken less that of the container, over that of the container.
    lost_share : float or array [1]
        Share of the strength that was lost between sampling and titration.

    Returns
    -------
    float or array [mol/L]
        Strength of the container when it was sampled.

    References
    ----------
    [eurachem-ufs] section 6 (sampling as a source of its own), from memory; the loss is common practice.

    Examples
    --------
    >>> container_strength_from_portion(0.99, 0.0, 0.01)
    1.0

    """
    return portion_strength / ((1.0 + sample_deviation) * (1.0 - lost_share))


@valid(sample_mean_square=NOT_NEGATIVE, analysis_mean_square=NOT_NEGATIVE, analyses=POSITIVE)
def sampling_variance_from_mean_squares(
    sample_mean_square: Value, analysis_mean_square: Value, analyses: Value
) -> Value:
    """Return the variance between samples of one target; negative where analysis alone explains what they differ.

    Parameters
    ----------
    sample_mean_square : float or array [1]
        Mean square between the samples of a target, in the square of the unit of the results.
    analysis_mean_square : float or array [1]
        Mean square between the analyses of a sample, in the same unit.
    analyses : float or array [1]
        Analyses of each sample.

    Returns
    -------
    float or array [1]
        The variance, in the square of the unit of the results.

    References
    ----------
    [eurachem-ufs] Example A1 (duplicate method, balanced design), from memory.

    Examples
    --------
    >>> sampling_variance_from_mean_squares(9.0, 1.0, 2.0)
    4.0

    """
    return (sample_mean_square - analysis_mean_square) / analyses
