"""How a sample was taken, as it stands on a sheet."""

from __future__ import annotations

import math

from assay.bench.sampling import Sampling
from assay.metrology.duplicates import SamplingPrecision, sampling_precision
from assay.sheet.table import Table

_TEXTS = ("delay", "name", "temperature", "loss_in")
_FORM = "Write duplicates = [[[101.2, 100.8], [99.6, 99.9]], …]: targets, two samples of each, two analyses of each."


def sampling_of(table: Table) -> Sampling:
    """Return how a sample was taken."""
    table.only(
        "method", *_TEXTS, "samples", "places", "mixing", "between_samples", "between_dof", "duplicates", "loss"
    )  # fmt: skip
    between = _between(table)
    texts = {key: table.maybe(key) for key in _TEXTS}
    with table.reading():
        return Sampling(
            method=table.text("method"),
            samples=table.whole("samples", 1),
            places=table.text("places", ""),
            mixing=table.text("mixing", ""),
            between_samples=between,
            between_dof=table.number("between_dof", math.inf),
            loss=table.number("loss") if table.has("loss") else None,
            **texts,
        )


def _between(table: Table) -> float | SamplingPrecision | None:
    """Return what samples differ by: as stated, or found by duplicate samples."""
    if not table.has("duplicates"):
        if table.has("between_dof") and not table.has("between_samples"):
            raise table.error(
                "between_dof",
                "degrees of freedom belong to a standard deviation.",
                remedy="Add between_samples = 0.004.",
            )
        return table.number("between_samples") if table.has("between_samples") else None
    for key in ("between_samples", "between_dof"):
        if table.has(key):
            raise table.error(
                key, "there are duplicate samples as well; this would not be used.", remedy="Keep one of the two."
            )
    targets = table.items("duplicates")
    for target in targets:
        samples = target if isinstance(target, list) else [target]
        for sample in samples:
            results = sample if isinstance(sample, list) else [sample]
            if samples is not target or results is not sample or not all(_is_number(result) for result in results):
                raise table.error("duplicates", "this is not a list of targets.", given=str(target), remedy=_FORM)
    return table.call("duplicates", sampling_precision, targets)


def _is_number(result: object) -> bool:
    return isinstance(result, (int, float)) and not isinstance(result, bool)
