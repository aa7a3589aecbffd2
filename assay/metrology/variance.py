"""Between days and people: analysis of variance, as influences that a later result can use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from assay.display.numbers import degrees, significant
from assay.display.rows import Rows
from assay.display.told import told_as_rows
from assay.errors import DataError, DomainError
from assay.flags import Flag, codes_of
from assay.kernels.sampling import sampling_variance_from_mean_squares
from assay.metrology.influence import Influence
from assay.metrology.replicates import MethodScatter

NOT_FOUND = "between-not-distinguished"
REPEATABILITY = "repeatability"


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One source of scatter: what groups of one level differ by.

    Parameters
    ----------
    name : str
        Of the level, such as ``"days"``; ``"repeatability"`` for replicates.
    s : float
        Its standard deviation, in the unit of the results; zero where it was not distinguished.
    dof : float
        Degrees of freedom of that, 1 or more.
    mean_square : float
        Mean square of the level.
    mean_square_dof : float
        Degrees of freedom of the mean square.

    References
    ----------
    [iso-5725-2] 7.4 (components), from memory; [satterthwaite-1946] degrees of freedom of a difference of mean squares.

    Examples
    --------
    >>> analysis_of_variance([[10.0, 10.2], [10.6, 10.8]]).components[0].name
    'days'

    """

    name: str
    s: float
    dof: float
    mean_square: float
    mean_square_dof: float


@told_as_rows()
@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class VarianceAnalysis:
    """Scatter between and within groups, level by level; made by `analysis_of_variance`.

    Parameters
    ----------
    mean : float
        Mean of all results.
    components : tuple of Component
        From the outermost level to the replicates.
    replicates : float
        Replicates in a group; of unlike groups the mean that makes the estimates unbiased.
    flags : tuple of Flag
        ``between-not-distinguished`` where groups differ by no more than what lies within them does.

    References
    ----------
    [jcgm-100-2008] H.5; [iso-5725-3] nested designs, from memory.

    Examples
    --------
    >>> found = analysis_of_variance([[10.0, 10.2], [10.6, 10.8], [10.1, 10.1]])
    >>> found
    <VarianceAnalysis: s between days 0.34, dof 1.78; s of repeatability 0.12, dof 3>
    >>> round(found.intermediate_s, 3)
    0.356

    """

    mean: float
    components: tuple[Component, ...]
    replicates: float
    flags: tuple[Flag, ...] = ()

    @property
    def repeatability(self) -> MethodScatter:
        """The s within groups with its degrees of freedom, as an assay takes it for its ``method_s``."""
        within = self.components[-1]
        return MethodScatter(s=within.s, dof=within.dof)

    @property
    def intermediate_s(self) -> float:
        """Standard deviation of single results that differ in all levels: intermediate precision."""
        return math.hypot(*(component.s for component in self.components))

    @property
    def f_ratio(self) -> float:
        """Mean square of the outermost level over that of the one below it."""
        outer, inner = self.components[:2]
        return outer.mean_square / inner.mean_square if inner.mean_square > 0.0 else math.inf

    @property
    def probability(self) -> float:
        """Probability of so large a ratio of mean squares where groups do not differ."""
        from scipy import special  # imported here: scipy loads slowly

        outer, inner = self.components[:2]
        return float(special.fdtrc(outer.mean_square_dof, inner.mean_square_dof, self.f_ratio))

    def between(self, record: str, *, label: str, level: str = "", groups: int = 1, mean: float = 1.0) -> Influence:
        """Return what a result is off because it comes from one group, such as one day, as an influence of its own.

        Parameters
        ----------
        record : str
            The path under which the result is known; the id begins with it, so that another day has another.
        label : str
            What a person calls the result.
        level : str
            Name of the level; the outermost if it is not named.
        groups : int
            Over how many groups the result is a mean.
        mean : float
            By what the standard deviation is divided: 1 for an influence in the unit of the results; the mean of the
            results for one in proportion.

        References
        ----------
        [iso-21748] intermediate precision as a component of uncertainty, from memory.

        """
        known = {component.name: component for component in self.components[:-1]}
        name = level or self.components[0].name
        if name not in known:
            raise DataError(
                "there is no such level", argument="level", given=level, expected=" or ".join(map(repr, known))
            )
        if groups < 1:
            raise DomainError("a result comes from one group or more", argument="groups", given=groups)
        component = known[name]
        return Influence(
            id=f"{record}/between {name}",
            label=f"between {name}, {label}",
            value=0.0,
            u=component.s / math.sqrt(groups) / abs(mean),
            dof=component.dof,
            kind="A",
            source=f"analysis of variance, s between {name} {significant(component.s)}",
        )

    def rows(self) -> Rows:
        """Return the components as rows of text."""
        body = tuple(
            (
                component.name if component.name == REPEATABILITY else f"between {component.name}",
                significant(component.s),
                degrees(component.dof),
                significant(component.mean_square),
                degrees(component.mean_square_dof),
            )
            for component in self.components
        )
        title = (
            f"analysis of variance: mean {self.mean:.6g}, F = {self.f_ratio:.3g}, p = {significant(self.probability)}"
        )
        return Rows(title=title, head=("from", "s", "dof", "mean square", "its dof"), body=body)

    def __repr__(self) -> str:
        told = "; ".join(
            f"s {'of' if c.name == REPEATABILITY else 'between'} {c.name} {significant(c.s)}, dof {degrees(c.dof)}"
            for c in self.components
        )
        return f"<VarianceAnalysis: {codes_of(self.flags)}{told}>"


def analysis_of_variance(groups: Sequence[Sequence[float]], *, name: str = "days") -> VarianceAnalysis:
    """Return the scatter between groups of results and within them, of balanced or unlike groups.

    Parameters
    ----------
    groups : sequence of sequences of float
        Results of each group, all in one unit and of one thing; two groups or more, one of them with two results or
        more.
    name : str
        What the groups are: ``"days"``, ``"analysts"``.

    Returns
    -------
    VarianceAnalysis
        Repeatability and the scatter between groups, with their degrees of freedom.

    Raises
    ------
    DomainError
        If there are fewer than two groups, no replicates at all, or a result is not finite.
    DataError
        If a group is empty.

    References
    ----------
    [jcgm-100-2008] H.5.2; [iso-5725-2] 7.4 for groups of unlike size, from memory.

    Examples
    --------
    >>> print(analysis_of_variance([[24.30, 24.36], [24.50, 24.44], [24.35, 24.37]], name="analysts").rows().body[1][0])
    repeatability

    """
    _check(groups, "groups", name)
    # Exactly: results that agree to nine digits leave few of a float's to what they differ by.
    exact = [[Fraction(value) for value in group] for group in groups]
    sizes = [len(group) for group in exact]
    total = sum(sizes)
    mean = sum(value for group in exact for value in group) / total
    means = [sum(group) / len(group) for group in exact]
    within_dof, between_dof = total - len(groups), len(groups) - 1
    if within_dof == 0:
        raise DomainError(
            "without replicates in any group nothing tells groups from replicates",
            argument="groups",
            given=f"{len(groups)} single results",
            remedy="Titrate twice at least on one of the days.",
        )
    within = sum((value - m) ** 2 for m, group in zip(means, exact, strict=True) for value in group) / within_dof
    between = sum(n * (m - mean) ** 2 for n, m in zip(sizes, means, strict=True)) / between_dof
    alike = (total - sum(n * n for n in sizes) / total) / between_dof
    level = (name, float(between), float(between_dof), alike)
    return _found(float(mean), [level], float(within), float(within_dof), alike)


def nested_analysis(
    batches: Sequence[Sequence[Sequence[float]]], *, names: tuple[str, str] = ("batches", "analysts")
) -> VarianceAnalysis:
    """Return the scatter on two levels above the replicates, such as batches and analysts within each.

    Parameters
    ----------
    batches : sequence of sequences of sequences of float
        Results by outer group, inner group and replicate. Every outer group has as many inner ones, two or more, and
        every inner one as many replicates, two or more.
    names : (str, str)
        What the outer and the inner groups are.

    Returns
    -------
    VarianceAnalysis
        The components from outer groups to replicates.

    Raises
    ------
    DataError
        If the design is not balanced.
    DomainError
        If there are not two of each, or a result is not finite.

    References
    ----------
    [iso-5725-3] balanced fully nested experiments, from memory.

    Examples
    --------
    >>> found = nested_analysis([[[10.0, 10.2], [10.4, 10.4]], [[11.0, 11.1], [11.2, 11.5]]])
    >>> [component.name for component in found.components]
    ['batches', 'analysts', 'repeatability']

    """
    _check([inner for batch in batches for inner in batch], "batches", names[1])
    inner_sizes, sizes = {len(batch) for batch in batches}, {len(inner) for batch in batches for inner in batch}
    if len(inner_sizes) > 1 or len(sizes) > 1:
        raise DataError(
            "the design is not balanced",
            argument="batches",
            given=f"{sorted(inner_sizes)} {names[1]} in one of the {names[0]}, {sorted(sizes)} replicates",
            expected="the same number everywhere",
            remedy="Analyse the outer level alone, from the means of the inner one, by analysis_of_variance.",
        )
    a, b, n = len(batches), inner_sizes.pop(), sizes.pop()
    if min(a, b, n) < 2:  # noqa: PLR2004  (what differs takes two)
        raise DomainError(
            "to tell levels apart takes two of each", argument="batches", given=f"{a} x {b} x {n}", expected="2 x 2 x 2"
        )
    cube = np.array(batches, dtype=float)
    of_inner, of_outer, mean = cube.mean(axis=2), cube.mean(axis=(1, 2)), float(cube.mean())
    within = float(((cube - of_inner[:, :, None]) ** 2).sum()) / (a * b * (n - 1))
    inner = n * float(((of_inner - of_outer[:, None]) ** 2).sum()) / (a * (b - 1))
    outer = n * b * float(((of_outer - mean) ** 2).sum()) / (a - 1)
    levels = [(names[0], outer, a - 1.0, float(n * b)), (names[1], inner, a * (b - 1.0), float(n))]
    return _found(mean, levels, within, a * b * (n - 1.0), float(n))


def _found(
    mean: float, levels: Sequence[tuple[str, float, float, float]], within: float, within_dof: float, replicates: float
) -> VarianceAnalysis:
    """Return the components of levels, each with its mean square, degrees of freedom and results in a group."""
    below = [*((square, dof) for _, square, dof, _ in levels[1:]), (within, within_dof)]
    components, flags = [], []
    for (name, square, dof, size), (lower, lower_dof) in zip(levels, below, strict=True):
        variance = float(sampling_variance_from_mean_squares(square, lower, size))
        if variance <= 0.0:
            message = (
                f"{name} differ by no more than what lies within them does: their s is taken as zero, which is not the "
                "same as proven. More of them would tell."
            )
            flags.append(Flag(code=NOT_FOUND, message=message))
        components.append(
            Component(
                name=name,
                s=math.sqrt(max(variance, 0.0)),
                dof=dof_of_difference(square, dof, lower, lower_dof) if variance > 0.0 else 1.0,
                mean_square=square,
                mean_square_dof=dof,
            )
        )
    components.append(
        Component(
            name=REPEATABILITY, s=math.sqrt(within), dof=within_dof, mean_square=within, mean_square_dof=within_dof
        )
    )
    return VarianceAnalysis(mean=mean, components=tuple(components), replicates=replicates, flags=tuple(flags))


def dof_of_difference(above: float, above_dof: float, below: float, below_dof: float) -> float:
    """Return the degrees of freedom of a variance that is a difference of two mean squares; 1 at the least.

    Parameters
    ----------
    above, below : float
        The mean squares, the larger first.
    above_dof, below_dof : float
        Their degrees of freedom.

    References
    ----------
    [satterthwaite-1946] from memory.

    """
    variance = above**2 / above_dof + below**2 / below_dof
    return max(1.0, (above - below) ** 2 / variance) if variance > 0.0 else 1.0


def _check(groups: Sequence[Sequence[float]], argument: str, name: str) -> None:
    if len(groups) < 2:  # noqa: PLR2004  (what differs takes two)
        raise DomainError(
            f"what {name} differ by takes two of them", argument=argument, given=len(groups), remedy="Add another."
        )
    for group in groups:
        given: object = group
        if isinstance(given, (str, bytes)) or not np.iterable(given) or not len(group):
            raise DataError(
                "each group is a list of results", argument=argument, given=group, remedy="Write [[24.30, 24.35], …]."
            )
        for value in group:
            result: object = value
            if isinstance(result, (str, bytes)) or not math.isfinite(value):
                raise DomainError("a result is a finite number", argument=argument, given=value)
