"""Standard uncertainty and degrees of freedom of many results at once, from what they share and what each has alone.

A row's sensitivity to a shared influence is never stored: the shared results enter with one slope for each row, and a
small root of their covariance, the same for all rows, stands for all their influences. So the memory is that of the
slopes, whatever the number of influences behind them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from assay.errors import DataError
from assay.kernels.value import Value
from assay.metrology.budget import terms_of
from assay.metrology.coverage import FEW, coverage_dof_from_shares
from assay.metrology.estimate import Estimate
from assay.metrology.identity import same_joint, shared_influences
from assay.metrology.influence import Influence
from assay.metrology.joint import Joint
from assay.metrology.order import in_order
from assay.metrology.row_codes import Indices
from assay.metrology.shapes import Array
from assay.metrology.tape import times

if TYPE_CHECKING:
    from assay.metrology.estimate_batch import EstimateBatch


@dataclass(frozen=True, slots=True, kw_only=True)
class RowInfluence:
    """One influence for each row: the same sort of cause, another one in each.

    Parameters
    ----------
    id : str
        Path of the whole column; two columns with one id are one.
    value : float or array of shape (rows,)
        Best value.
    u : float or array of shape (rows,)
        Standard uncertainty, not negative.
    dof : float or array of shape (rows,)
        Degrees of freedom of ``u``.
    term : str
        What stands behind it: columns of one term make, row by row, one term of the Welch-Satterthwaite formula.
    row_of : callable
        Returns the row to which the id of a single influence belongs; ``None`` if it belongs to none.

    """

    id: str
    value: Value = field(default=0.0, compare=False)
    u: Value = field(compare=False)
    dof: Value = field(compare=False)
    term: str = field(compare=False)
    row_of: Callable[[str], int | None] = field(compare=False)


def same_column(known: Source, other: Source) -> None:
    """Raise `DataError` if one id stands for two columns of influences with different facts.

    Raises
    ------
    DataError
        Naming the id, and both sets of facts in the first row where they differ.

    """
    if known is other or not (isinstance(known, RowInfluence) and isinstance(other, RowInfluence)):
        return
    pairs = ((known.value, other.value), (known.u, other.u), (known.dof, other.dof))
    if not all(np.array_equal(a, b, equal_nan=True) for a, b in pairs):
        row, described = _first_difference(known, other)
        raise DataError(
            f"two different columns of influences have this id: {described[0]}; and {described[1]}, in row {row}.",
            argument="record",
            given=known.id,
            remedy="Give each set of numbers a record of its own.",
        )


def _first_difference(known: RowInfluence, other: RowInfluence) -> tuple[int, list[str]]:
    """Return the first row in which two columns differ, and what each says there."""
    facts = [np.stack(np.broadcast_arrays(c.value, c.u, c.dof), axis=-1).reshape(-1, 3) for c in (known, other)]
    if 1 in {len(column) for column in facts}:
        facts = list(np.broadcast_arrays(*facts))
    rows = min(len(column) for column in facts)
    alike = [np.array_equal(facts[0][k], facts[1][k], equal_nan=True) for k in range(rows)]
    row = alike.index(False) if False in alike else rows - 1
    told = [f"value {value:.9g}, u {u:.6g}, {dof:g} degrees of freedom" for value, u, dof in (c[row] for c in facts)]
    return row, told


@dataclass(frozen=True, slots=True, kw_only=True)
class RowMember:
    """A member of one joint for each row: the deviation of a scale where that row was read.

    Parameters
    ----------
    id : str
        What tells it from others; two with one id are one.
    joint : Joint
        The joint.
    places : array of int, shape (rows,)
        Which of its members.

    """

    id: str
    joint: Joint = field(compare=False)
    places: Indices = field(compare=False)

    @property
    def value(self) -> Value:
        """Best value; one number where the members all have the same."""
        values = set(self.joint.values)
        return values.pop() if len(values) == 1 else np.array(self.joint.values)[self.places]


#: What a row's uncertainty comes from: a result that all rows share, an influence of its own, a member of a joint.
Source: TypeAlias = Estimate | RowInfluence | RowMember
#: Gives, from the slopes of some of the rows, a variance and its degrees of freedom.
_Term = Callable[[slice, Sequence[Value]], tuple[Value, Value]]
#: Rows that are worked on at once: their arrays stay in cache. It changes speed, never the numbers.
BLOCK = 32_768


def blocks(rows: int) -> Iterator[slice]:
    """Yield the rows in blocks."""
    for start in range(0, rows, BLOCK):
        yield slice(start, min(start + BLOCK, rows))


def cut(value: Value, block: slice) -> Value:
    """Return a block of an array, or of a list that has one item for each block; another number as it is."""
    if isinstance(value, list):
        return value[block.start // BLOCK]
    return value[block] if isinstance(value, np.ndarray) else value


def u_and_dof_of(batch: EstimateBatch) -> tuple[Array, Array]:
    """Return standard uncertainty and effective degrees of freedom of each row.

    Raises
    ------
    DataError
        If one influence id stands for two sets of facts.

    References
    ----------
    [jcgm-100-2008] 5.2.2 (u) and G.4.1 (degrees of freedom).

    """
    graph = Graph.of(batch)
    return _combined(_terms_in(graph), graph, len(batch))


def coverage_dof_of_rows(batch: EstimateBatch, dof: Array) -> Array:
    """Return the degrees of freedom of each row for coverage, from its effective ones; see `coverage_dof_from_shares`.

    A sweep of its own: many ask for u alone.
    """
    graph = Graph.of(batch)
    terms = _terms_in(graph)
    coverage = dof.copy()
    for block in blocks(len(batch)):
        with np.errstate(all="ignore"):
            slopes = graph.slopes(block)
            found = [term(block, slopes) for term in terms]
            total: Value = sum((variance for variance, _ in found), 0.0)
            few, loss = np.zeros(block.stop - block.start), np.zeros(block.stop - block.start)
            for variance, own in found:
                if np.min(own) < FEW:
                    share = variance / total * (own < FEW)
                    few += share
                    loss += share * share / own
            of_few = coverage_dof_from_shares(np.minimum(few, 1.0), loss, dof[block])
            coverage[block] = np.where(loss > 0.0, of_few, dof[block])
    return coverage


def _terms_in(graph: Graph) -> list[_Term]:
    """Return what contributes to u², each a function of a block of rows."""
    shared = {k: source for k, source in enumerate(graph.sources) if isinstance(source, Estimate)}
    own: dict[str, list[tuple[int, RowInfluence]]] = {}
    members: dict[str, list[tuple[int, RowMember]]] = {}
    for k, source in enumerate(graph.sources):
        if isinstance(source, RowInfluence):
            own.setdefault(source.term, []).append((k, source))
        elif isinstance(source, RowMember):
            members.setdefault(source.joint.id, []).append((k, source))
    influences = shared_influences(estimate.influences for estimate in shared.values())
    terms = _shared_terms(shared, influences, without=members)
    terms += [_joint_term(entries, shared, influences) for entries in members.values()]
    terms += [_own_term(columns) for columns in own.values()]
    return terms


def rows_met(batch: EstimateBatch) -> set[int]:
    """Return the rows whose own influence stands in a shared result as well, as where all are divided by the first."""
    sources = Graph.of(batch).sources
    ids = {id_ for source in sources if isinstance(source, Estimate) for id_ in source.influences}
    found = {source.row_of(id_) for source in sources if isinstance(source, RowInfluence) for id_ in ids}
    return {row for row in found if row is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Graph:
    """What a batch was computed from, result by result, down to the sources of its uncertainty.

    Parameters
    ----------
    steps : sequence of sequence of (place, partial)
        For each result, the last first: the places of its operands and its derivatives with respect to them. Places
        from 0 are those of ``steps``; the sources follow, with places that are negative, from -1.
    sources : sequence of source
        The sources.

    """

    steps: Sequence[Sequence[tuple[int, Value]]]
    sources: Sequence[Source]

    @classmethod
    def of(cls, batch: EstimateBatch) -> Graph:
        """Return what a batch was computed from."""
        results = list(_results(batch))[::-1]
        places = {id(result): k for k, result in enumerate(results)}
        sources: dict[Source, tuple[int, Source]] = {}
        steps = []
        for result in results:
            step = []
            for operand, partial in result.parents:
                if isinstance(operand, (Estimate, RowInfluence, RowMember)):
                    place, known = sources.setdefault(operand, (-1 - len(sources), operand))
                    same_column(known, operand)
                else:
                    place = places[id(operand)]
                step.append((place, partial))
            steps.append(step)
        return cls(steps=steps, sources=list(sources))

    def slopes(self, block: slice) -> list[Value]:
        """Return the derivative of the last result with respect to each source, for some of the rows."""
        adjoints: list[Value] = [0.0] * len(self.steps)
        slopes: list[Value] = [0.0] * len(self.sources)
        adjoints[0] = 1.0
        for adjoint, step in zip(adjoints, self.steps, strict=True):
            for place, partial in step:
                part = times(adjoint, cut(partial, block))
                into, k = (adjoints, place) if place >= 0 else (slopes, -1 - place)
                known = into[k]
                into[k] = part if known.__class__ is float and known == 0.0 else known + part
        return slopes


def _results(batch: EstimateBatch) -> Iterator[EstimateBatch]:
    """Return the results that a batch was computed from, operands before results, the batch last."""
    return in_order([batch], _batches_behind)


def _batches_behind(batch: EstimateBatch) -> Iterator[EstimateBatch]:
    return (one for one, _ in batch.parents if not isinstance(one, (Estimate, RowInfluence, RowMember)))


def _combined(terms: Sequence[_Term], graph: Graph, rows: int) -> tuple[Array, Array]:
    u, dof = np.zeros(rows), np.full(rows, np.inf)
    for block in blocks(rows):
        with np.errstate(all="ignore"):
            slopes = graph.slopes(block)
            found = [term(block, slopes) for term in terms]
            total: Value = np.zeros(block.stop - block.start)
            for variance, _ in found:
                total += variance
            loss = np.zeros_like(total)
            scale = 1.0 / total
            for variance, own_dof in found:
                if isinstance(own_dof, np.ndarray) or not np.isinf(own_dof):
                    share = variance * scale  # shares, as for one result: nothing overflows, nothing small vanishes
                    share *= share
                    share *= 1.0 / own_dof
                    loss += share
            np.divide(1.0, loss, out=dof[block], where=loss > 0.0)
            np.sqrt(total, out=u[block])
    return u, dof


def _own_term(columns: Sequence[tuple[int, RowInfluence]]) -> _Term:
    def term(block: slice, slopes: Sequence[Value]) -> tuple[Value, Value]:
        variance: Value = 0.0
        dof: Value = np.inf
        for k, column in columns:
            part = slopes[k] * cut(column.u, block)  # an array of its own, so that it can be squared in place
            part *= part
            variance = part if len(columns) == 1 else variance + part
            dof = cut(column.dof, block) if len(columns) == 1 else np.minimum(dof, cut(column.dof, block))
        return variance, dof

    return term


def _shared_terms(
    shared: Mapping[int, Estimate], influences: Mapping[str, Influence], *, without: Iterable[str]
) -> list[_Term]:
    """Return a term for all influences that are taken as known, and one for each other influence or joint."""
    left_out = set(without)
    known: list[Array] = []
    terms: list[_Term] = []
    for _, dof, ids in terms_of(dict.fromkeys(influences, 1.0), influences):
        joint = influences[ids[0]].joint
        if joint is not None and joint.id in left_out:
            continue
        slopes = np.array([[estimate.sensitivities.get(id_, 0.0) for estimate in shared.values()] for id_ in ids])
        scaled = _root_of(ids, influences) @ slopes
        if np.isinf(dof):
            known.append(scaled)
        else:
            terms.append(_squares(scaled, list(shared), dof))
    if known:
        terms.append(_squares(np.vstack(known), list(shared), np.inf))
    return terms


def _root_of(ids: Sequence[str], influences: Mapping[str, Influence]) -> Array:
    """Return a matrix whose square is the covariance of one influence, or of some members of a joint."""
    joint = influences[ids[0]].joint
    if joint is None:
        return np.array([[influences[ids[0]].u]])
    places = [joint.member_ids.index(id_) for id_ in ids]
    eigenvalues, vectors = np.linalg.eigh(np.array(joint.covariance)[np.ix_(places, places)])
    root: Array = np.sqrt(np.maximum(eigenvalues, 0.0))[:, None] * vectors.T
    return root


def _squares(scaled: Array, places: Sequence[int], dof: float) -> _Term:
    """Return the squared length of ``scaled`` times the slopes at some places, row by row.

    Its triangular root gives the same in as few products as there are slopes; and where contributions cancel they do so
    before they are squared, so that no digits are lost.
    """
    root = np.linalg.qr(scaled, mode="r")

    def term(block: slice, slopes: Sequence[Value]) -> tuple[Value, Value]:
        del block
        parts = [slopes[place] for place in places]
        squares: list[Value] = []
        for k, weights in enumerate(root):
            products = [
                slope * weight for weight, slope in zip(weights[k:].tolist(), parts[k:], strict=True) if weight != 0.0
            ]
            if products:
                part = _sum_in_place(products)
                part *= part
                squares.append(part)
        return _sum_in_place(squares) if squares else 0.0, dof

    return term


def _sum_in_place(addends: Sequence[Value]) -> Value:
    """Return a sum that may take the place of its first addend."""
    total = addends[0]
    for addend in addends[1:]:
        if isinstance(addend, np.ndarray) and not isinstance(total, np.ndarray):
            total = total + addend
        else:
            total += addend
    return total


def _joint_term(
    entries: Sequence[tuple[int, RowMember]], shared: Mapping[int, Estimate], influences: Mapping[str, Influence]
) -> _Term:
    """Return the variance from one joint whose members differ from row to row, with what shared results have of it."""
    joint = entries[0][1].joint
    for _, member in entries:
        same_joint(joint, member.joint)
    for influence in influences.values():
        if influence.joint is not None and influence.joint.id == joint.id:
            same_joint(joint, influence.joint)
    covariance = np.array(joint.covariance)
    fixed = {k: np.array([shared[k].sensitivities.get(id_, 0.0) for id_ in joint.member_ids]) for k in shared}
    fixed = {k: weights for k, weights in fixed.items() if weights.any()}
    onto = {k: covariance @ weights for k, weights in fixed.items()}

    def term(block: slice, slopes: Sequence[Value]) -> tuple[Value, Value]:
        here = [(member.places[block], slopes[k]) for k, member in entries]
        variance: Value = 0.0
        for k in fixed:
            part = sum((weight * onto[k].take(places) for places, weight in here), 0.0)
            part = part * 2.0 + sum(slopes[j] * float(fixed[j] @ onto[k]) for j in fixed)
            variance = variance + slopes[k] * part
        for places, weight in here:
            variance = variance + weight * weight * covariance.diagonal().take(places)
        for (places, weight), (others, other_weight) in combinations(here, 2):
            flat = places * covariance.shape[0] + others
            variance = variance + weight * other_weight * (2.0 * covariance).take(flat)
        return np.maximum(variance, 0.0), joint.dof

    return term
