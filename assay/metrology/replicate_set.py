"""The replicates that stand behind a result, and what each of them is worth in it."""

from __future__ import annotations

import math
import statistics
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from assay.errors import DataError, nearest
from assay.kernels.replicates import mean_from_replicates
from assay.metrology.budget import terms_of
from assay.metrology.estimate import Estimate

_SCATTER, _RESOLUTION = "/scatter", "/resolution"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplicateSet:
    """One set of replicates as it acts on a result; all but ``values`` in the unit of the result.

    Parameters
    ----------
    path : str
        Under which the ids of its influences stand.
    n : int
        How many replicates.
    values : tuple of float
        The replicates in their own unit; empty where the result was read from a file.
    scatter : float
        Standard uncertainty of the result because the mean is of few.
    with_it : float
        What scatters with the same s and is not repeated, such as a single blank.
    dof : float
        Degrees of freedom of the s behind both.
    resolution : float
        Standard uncertainty from the rounding of the mean.
    own : bool
        Whether s is that of these replicates, which further ones change, or one that is known of the method.
    rest : tuple of (float, float)
        All other contributions to u, each with its degrees of freedom: what further replicates leave as it is.

    """

    path: str
    n: int
    values: tuple[float, ...]
    scatter: float
    with_it: float
    dof: float
    resolution: float
    own: bool
    rest: tuple[tuple[float, float], ...]

    @property
    def s(self) -> float:
        """Standard deviation of one replicate as it is read, with its rounding."""
        return math.sqrt(self.n) * math.hypot(self.scatter, self.resolution)


def replicate_set(
    estimate: Estimate, *, of: str | None = None, but: Collection[str] = (), hidden: bool = False
) -> ReplicateSet:
    """Return the replicates behind a result.

    Parameters
    ----------
    estimate : Estimate
        A result from replicates.
    of : str, optional
        Which of several, by the path of their record, or by the beginning of it.
    but : collection of str
        Ids of influences whose replicates are not meant, if ``of`` is left out.
    hidden : bool
        Whether they may scatter by no more than their rounding.

    Raises
    ------
    DataError
        If no replicates stand behind it, several do and none is named, their scatter is hidden by rounding, or their
        number was not saved.

    """
    path = _path_of(estimate, of, but)
    values = _values_of(estimate, path)
    influence = estimate.influences[f"{path}{_SCATTER}"]
    n = len(values) or _number_from(influence.dof, path)
    of_mean, together, resolution, rest = 0.0, 0.0, 0.0, []
    for contribution, dof, ids in terms_of(estimate.sensitivities, estimate.influences):
        if influence.id in ids:
            of_mean, together = abs(estimate.sensitivities[influence.id]) * influence.u, contribution
        elif f"{path}{_RESOLUTION}" in ids:
            resolution = contribution
        else:
            rest.append((contribution, dof))
    if of_mean == 0.0 and not hidden:
        raise DataError(
            "these replicates scatter by no more than their rounding: what further ones would show cannot be foretold",
            argument=path,
            remedy="State method_s with its degrees of freedom from your own records, or read to a finer step.",
        )
    found = ReplicateSet(
        path=path,
        n=n,
        values=values,
        scatter=of_mean,
        with_it=math.sqrt(max(together**2 - of_mean**2, 0.0)),
        dof=influence.dof,
        resolution=resolution,
        own=influence.dof == n - 1.0,
        rest=tuple(rest),
    )
    if not found.own or of_mean == 0.0 or len(values) < 2:  # noqa: PLR2004  (one value shows no scatter)
        return found
    # A known s may have n - 1 degrees of freedom by chance: it is another number.
    slope = of_mean / influence.u
    return replace(found, own=math.isclose(found.s, slope * statistics.stdev(values), rel_tol=1e-6))


def _number_from(dof: float, path: str) -> int:
    if math.isfinite(dof):
        return round(dof) + 1
    raise DataError(
        "how many replicates these are was not saved with the result, and their s is taken as known",
        argument=path,
        remedy="Compute the result again from its readings.",
    )


def _values_of(estimate: Estimate, path: str) -> tuple[float, ...]:
    for node in estimate.walk():
        if node.kernel is mean_from_replicates:
            scatter = node.named["replicate_scatter"]
            if isinstance(scatter, Estimate) and f"{path}{_SCATTER}" in scatter.influences:
                return tuple(one.value for one in node.positional if isinstance(one, Estimate))
    return ()


def _paths(estimate: Estimate) -> Iterator[str]:
    """Yield the paths of the replicates, without single blanks that stand within the path of another."""
    few = {id_.removesuffix(_SCATTER) for id_ in estimate.influences if id_.endswith(_SCATTER)}
    return (path for path in sorted(few) if not any(path.startswith(f"{other}/") for other in few))


def _path_of(estimate: Estimate, of: str | None, but: Collection[str]) -> str:
    known = list(_paths(estimate))
    if not known:
        raise DataError(
            "no replicates stand behind this result: further ones cannot be foretold",
            argument=estimate.label,
            remedy="A result from replicate titres is needed, not one that was entered.",
        )
    if of is None:
        found = [path for path in known if f"{path}{_SCATTER}" not in but] if len(known) > 1 else known
    else:
        found = [path for path in known if path == of] or [path for path in known if path.startswith(of)]
    if len(found) != 1:
        raise DataError(
            "several sets of replicates stand behind this result" if of is None else "this names no one set of them",
            argument="of",
            given=of,
            expected=f"one of {', '.join(known)}",
            remedy=nearest(of, known) if of is not None else "Name the one that would be repeated.",
        )
    return found[0]
