"""The explanation of a result: inputs, steps, flags and sources, in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeAlias, runtime_checkable

from assay.display import blocks
from assay.display.blocks import Block, Equation, Heading, Listed, Mathematics, Sentence
from assay.display.numbers import degrees, significant, value_and_u
from assay.display.rows import Rows
from assay.display.symbols import number_pieces, symbol_pieces
from assay.dosing.volumes import Dose, DosedVolume, shown
from assay.errors import DataError
from assay.explanation.chain import Link, linked
from assay.explanation.sources import cited, published
from assay.explanation.step import Step, flagged, stated, step_of
from assay.flags import merged
from assay.glossary import TERMS
from assay.metrology.comparison import Comparison
from assay.metrology.consistency import Consistency
from assay.metrology.estimate import Estimate
from assay.titration.acid_base import Caustic

_MOST_INFLUENCES = 12  # of a linear form that are listed
_QUANTILES = (
    "The volumes themselves are quantiles of the volume that each of many draws needs (JCGM 101:2008, 7.7), rounded to "
    "a graduation on the safe side. What each of them delivers is explained here."
)
_LINEAR = (
    "Its formula is not known here: it was read from a file, or made from a ufloat. What is known is its linear form, "
    "the value plus each sensitivity times the deviation of that influence, and a Monte Carlo run samples that."
)


@runtime_checkable
class Result(Protocol):
    """A result that has an estimate: a strength, a titrant, a density."""

    @property
    def estimate(self) -> Estimate:
        """The number."""


Explainable: TypeAlias = Estimate | Result | Dose | DosedVolume | Caustic | Comparison | Consistency


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Explanation:
    """How one or several numbers were obtained; made by `explain`.

    Parameters
    ----------
    title : str
        Of what.
    steps : tuple of Step
        The steps of which the formula is known, in order of evaluation.
    page : tuple of Block
        The whole as it is shown.

    """

    title: str
    steps: tuple[Step, ...]
    page: tuple[Block, ...]

    def __str__(self) -> str:
        return blocks.text(self.page)

    def __repr__(self) -> str:
        return f"<Explanation of {self.title}: {len(self.steps)} steps>"

    def markdown(self) -> str:
        """Return it as Markdown, with formulas as LaTeX between dollar signs."""
        return blocks.markdown(self.page)

    def latex(self) -> str:
        """Return it as LaTeX, for a document that loads amsmath."""
        return blocks.latex(self.page)

    def _repr_html_(self) -> str:
        return blocks.html(self.page)

    def _repr_latex_(self) -> str:
        return self.latex()


def explain(result: Explainable) -> Explanation:
    """Return how a result was obtained, step by step, with values and units put in.

    Each step is the formula that was evaluated, not a description of it. Numbers are printed with as many digits as it
    takes for each printed step to give its printed result.

    Parameters
    ----------
    result : Estimate, or a result that has one
        Such as a strength, a titrant, a density, a dose or the outcome of `combine`. Of a comparison the difference is
        explained, of a consistency the mean.

    Returns
    -------
    Explanation
        ``print(…)`` shows it as text; ``markdown()`` and ``latex()`` return it for a document.

    Raises
    ------
    DataError
        If it is not one result, such as a bench sheet.

    References
    ----------
    [jcgm-100-2008] 7.1.4 and 7.2.7: a report shows enough for the evaluation to be repeated.

    Examples
    --------
    >>> from assay import Influence, combine
    >>> m = Estimate.from_influence(Influence(id="m", label="mass of salt", value=5.85, u=0.01), name="mass")
    >>> v = Estimate.from_influence(Influence(id="v", label="volume of flask", value=0.1, u=1e-4), name="volume")
    >>> step = explain(combine(lambda m, v: m / v, m, v, label="salt water", unit="g/L")).steps[0]
    >>> print(step.symbols.text, "=", step.values.text, "=", step.printed)
    x_1 / x_2 = 5.85 [g] / 0.1 [L] = 58.50

    """
    estimates = _estimates_of(result)
    links, results = linked(list(estimates.values()))
    steps = {id(link): step_of(link, link.node.kernel) for link in links if link.node.kernel is not None}
    title = " and ".join(dict.fromkeys(estimate.label for estimate in estimates.values()))
    page: list[Block] = [Heading(f"How {title} was obtained", level=1)]
    page += [Sentence(f"{name}: {stated(link)}") for name, link in zip(estimates, results, strict=True)]
    page += [Sentence(_QUANTILES)] if isinstance(result, Dose) else []
    flags = result.flags if isinstance(result, Dose) else merged([link.flags for link in results])
    page += [Listed(tuple((None, f"flag {flag}") for flag in flags))] if flags else []
    page += _inputs(links)
    for link in links:
        if link.kind in {"step", "linear"}:
            page += steps[id(link)].page if link.kind == "step" else _linear_form(link)
    page += _closing(links)
    return Explanation(title=title, steps=tuple(steps.values()), page=tuple(page))


def _estimates_of(result: Explainable) -> dict[str, Estimate]:
    """Return the estimates of a result, by what they are told apart by."""
    if isinstance(result, (Comparison, Consistency)):
        result = result.difference if isinstance(result, Comparison) else result.mean
    if isinstance(result, Estimate):
        return {result.label: result}
    if isinstance(result, Dose):
        return {f"{volume.kind}, {shown(volume.volume)}, delivers": volume.delivered for volume in result.volumes}
    if isinstance(result, DosedVolume):
        return {result.delivered.label: result.delivered}
    if isinstance(result, Caustic):
        return {estimate.label: estimate for estimate in (result.hydroxide, result.carbonate)}
    if isinstance(result, Result):
        return {result.estimate.label: result.estimate}
    raise DataError(
        f"{type(result).__name__} is not one result",
        argument="result",
        expected="an estimate, or a result that has one: a strength, a titrant, a density, a dose",
        remedy="Of a bench sheet give one result, such as sheet.doses[0]; of a batch one row, such as batch[0]; "
        "of a decision the result that was decided on.",
    )


def _inputs(links: Sequence[Link]) -> Iterator[Block]:
    """Yield the table of inputs, if there are any."""
    body = []
    for link in links:
        if link.kind == "input":
            (influence,) = link.node.influences.values()
            _, u = value_and_u(influence.value, influence.u)
            unit = "" if link.unit == "1" else link.unit
            shown = (link.number.printed, u if influence.u else "0", unit, degrees(influence.dof), str(influence.shape))
            body.append((str(link.place), link.node.label, *shown, influence.source))
    if body:
        head = ("input", "what it is", "value", "u", "unit", "dof", "shape", "known from")
        yield Rows(title="Inputs", head=head, body=tuple(body))


def _linear_form(link: Link) -> Iterator[Block]:
    """Yield what is known of a number without its formula."""
    node = link.node
    text, latex = symbol_pieces(TERMS[node.name].symbol)
    value, latex_value = number_pieces(link.number.printed, link.unit)
    yield Heading(f"Step {link.place}: {node.label}")
    yield Sentence(_LINEAR)
    right = Mathematics(
        f"{value.written} + Σ sensitivity * deviation", rf"{latex_value.written} + \sum_i c_i\,\delta x_i"
    )
    yield Equation(Mathematics(text.written, latex.written), (right,))
    yield Sentence(f"Stated as {stated(link)}")
    effects = {id_: abs(slope) * node.influences[id_].u for id_, slope in node.sensitivities.items()}
    largest = sorted(effects, key=lambda id_: -effects[id_])
    body = tuple(
        (
            node.influences[id_].label,
            significant(node.sensitivities[id_], 4),
            significant(node.influences[id_].u, 2),
            significant(effects[id_], 2),
            node.influences[id_].source,
        )
        for id_ in largest[:_MOST_INFLUENCES]
    )
    more = len(largest) - len(body)
    title = "Its influences, largest effect first" + (f"; {more} smaller ones are left out" if more else "")
    yield Rows(title=title, head=("influence", "sensitivity", "u", "effect on it", "known from"), body=body)
    yield from flagged(link)


def _closing(links: Sequence[Link]) -> Iterator[Block]:
    """Yield the sources, in full."""
    sources = [entry for link in links if link.node.kernel is not None for entry in published(link.node.kernel)]
    known_from = [influence.source for link in links for influence in link.node.influences.values()]
    full = tuple(cited([*sources, *known_from]))
    if full:
        yield Heading("Sources")
        yield Listed(tuple((None, source) for source in full))
