"""From the strength of the portion that was titrated to that of the container it came from."""

from __future__ import annotations

from assay.bench.sampling import Sampling
from assay.errors import DomainError
from assay.flags import Flag
from assay.kernels.sampling import container_strength_from_portion
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.identity import fresh_id, path_part
from assay.titration.assays import portion_only


def strength_of_container(portion: Estimate, sampling: Sampling | None, *, record: str | None) -> Estimate:
    """Return the strength of the container, with what its samples differ by and what was lost; as it is if unstated."""
    if sampling is None or not sampling.is_counted:
        return portion
    path = _path(sampling, record)
    label = portion.label if sampling.name is None else sampling.name
    deviation, lost = sampling.influences(path, label)
    return evaluate(
        container_strength_from_portion,
        name=portion.name,
        label=portion.label,
        unit=portion.unit,
        portion_strength=portion,
        sample_deviation=0.0 if deviation is None else Estimate.from_influence(deviation, name="sample_deviation"),
        lost_share=0.0 if lost is None else Estimate.from_influence(lost, name="lost_share"),
    )


def _path(sampling: Sampling, record: str | None) -> str:
    """Return the path under which a sample is known: by its own name, or by that of its record."""
    if sampling.name is not None:
        return f"sampling/{path_part(sampling.name, argument='name')}"
    if record is None:
        return fresh_id("sampling")
    return f"sampling/record {path_part(record, argument='record')}"


def sampling_flags(label: str, sampling: Sampling | None) -> tuple[Flag, ...]:
    """Return the doubts about how a portion was taken: all, if nothing is said of it."""
    return (portion_only(label),) if sampling is None else sampling.flags(label)


def refuse_counted(sampling: Sampling | None) -> None:
    """Refuse a sampling with influences for a batch, whose rows are samples of their own.

    Raises
    ------
    DomainError
        If it has any.

    """
    if sampling is not None and sampling.is_counted:
        raise DomainError(
            "a batch takes what is said of the sampling, but no loss and no deviation between samples",
            argument="sampling",
            remedy="Assay the rows one by one where these are to be in the budget, or leave them out here.",
        )
