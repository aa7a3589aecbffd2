"""The worked examples of the guide to uncertainty beside the same readings under the rules of this library.

The guide takes every input as independent of the others. Here the same thing is one influence wherever it acts: all
liquids of one day have one temperature, one burette has one scale whose error is a function of the reading, and one
person has one eye. The readings, the limits of error and the triangles within them are the guide's in both.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from assay.bench.balance import Balance
from assay.bench.burette import Burette
from assay.bench.temperature import Temperature, at_20
from assay.bench.vessels import Flask, Pipette
from assay.checks.evaluate import Outcome, outcomes, result_of
from assay.checks.rows import Check, read_checks
from assay.kernels.dilution import concentration_from_amount
from assay.kernels.strength import mass_concentration_from_amount_concentration
from assay.kernels.volume import volume_from_nominal
from assay.kernels.weighing import amount_from_mass
from assay.metrology.budget import terms_of
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence
from assay.substances.molar_mass import molar_mass
from assay.titration.acid_base import assay_acid_base
from assay.titration.end_point import EndPoint
from assay.titration.standardisation import standardise_by_portions
from assay.titration.standards import PrimaryStandard
from assay.titration.titrant import Titrant

#: Name of every instrument, lot and person of the guide: one name, one influence.
_NAME = "guide"

#: Causes, and how the ids of their influences begin here.
_HOUSE: Mapping[str, tuple[str, ...]] = {
    "repeatability": ("record/", "flask/guide/filling"),
    "mass": ("balance/",),
    "purity": ("lot/",),
    "molar mass": ("atomic-weight/",),
    "burette": ("burette/",),
    "pipette": ("pipette/",),
    "flask": ("flask/guide/calibration",),
    "temperature": ("temperature/", "table/thermal expansion/"),
    "end point": ("operator/",),
}

#: The same causes, and the inputs of the rows that enter the guide's examples.
_GUIDE: Mapping[str, tuple[str, ...]] = {
    "repeatability": ("rep", "filling"),
    "mass": ("gross", "tare", "m"),
    "purity": ("P",),
    "molar mass": ("atomic-weight",),
    "burette": ("burette", "burette_1", "burette_2"),
    "pipette": ("pipette",),
    "flask": ("flask",),
    "temperature": ("temperature", "temperature_1", "temperature_2", "temperature_3"),
    "end point": ("excess_1", "excess_2"),
}

#: A contribution below this part of u is rounding: a molar mass by which is multiplied and divided.
_NOTHING = 1e-9

_GLASS = "a solution grows by a little more than water, and the glass with it, which the guide neglects"
_ONE_TEMPERATURE = (
    "one temperature for titrant, sample and phthalate: of three volumes, one over the other two, one is left; and "
    f"{_GLASS}"
)
_ONE_SCALE = "one burette: both titres begin at one zero and end on one scale, so part of its error cancels"
_BETWEEN = (
    "the error is interpolated between points of the scale a twentieth of the burette apart, which takes a little off"
)
_ONE_EYE = "one person judged both end points with one indicator: most of the error cancels in the ratio of the titres"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What one cause contributes to u, under both sets of assumptions.

    Parameters
    ----------
    name : str
        The cause.
    guide, house : float
        Its contribution with the guide's assumptions and with those of this library, in the unit of the result.
    why : str
        Why the two differ; empty if they do not.

    """

    name: str
    guide: float
    house: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One example of the guide, under both sets of assumptions.

    Parameters
    ----------
    example, unit : str
        What it is, and the unit of all its numbers but those that were printed otherwise.
    value, u : Outcome
        Value and u as they are printed, by the guide or by another who worked its example out, and ours with its
        assumptions, in the unit that is printed.
    guide, house : Estimate
        The result with the guide's assumptions and with those of this library.
    causes : tuple of Cause
        What each cause contributes; for either, the squares add to the square of u.
    rounded : Check or None
        The u that the guide prints itself, where it rounded midway and another printed it unrounded.

    """

    example: str
    unit: str
    value: Outcome
    u: Outcome
    guide: Estimate
    house: Estimate
    causes: tuple[Cause, ...]
    rounded: Check | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Example:
    """How one example is entered: the rows of its value and its u, this library's answer, and reasons by cause."""

    title: str
    value: str
    u: str
    house: Callable[[], Estimate]
    why: Mapping[str, str]
    rounded: str = ""


def guide_comparison() -> tuple[Comparison, ...]:
    """Return examples A1, A2 and A3 of the guide with its assumptions and with those of this library.

    References
    ----------
    [eurachem-cg4] Examples A1, A2 and A3; the 20 mL of the burette are from memory.

    Examples
    --------
    >>> a2 = guide_comparison()[1]
    >>> print(f"{a2.guide.u:.6f} {a2.house.u:.6f} {a2.unit}")
    0.000101 0.000102 mol/L

    """
    rows = {check.id: check for check in read_checks()}
    return tuple(_compared(example, rows) for example in _EXAMPLES)


def _compared(example: _Example, rows: Mapping[str, Check]) -> Comparison:
    value, u = outcomes((rows[example.value], rows[example.u]))
    guide, house = result_of(rows[example.u]), example.house()
    left = _by_cause(guide, {cause: tuple(map(_path(rows[example.u]), names)) for cause, names in _GUIDE.items()})
    right = _by_cause(house, _HOUSE)
    causes = tuple(
        Cause(name=name, guide=left[name], house=right[name], why=example.why.get(name, ""))
        for name in _HOUSE
        if max(left[name], right[name]) > _NOTHING * house.u
    )
    return Comparison(
        example=example.title,
        unit=house.unit,
        value=value,
        u=u,
        guide=guide,
        house=house,
        causes=causes,
        rounded=rows[example.rounded] if example.rounded else None,
    )


def _path(check: Check) -> Callable[[str], str]:
    """Return what makes the beginning of an id from the name of an input; flask and molar mass come from objects."""
    return lambda name: f"{name}/" if name in {"flask", "atomic-weight"} else f"published/{check.id}/{name}"


def _by_cause(result: Estimate, causes: Mapping[str, Sequence[str]]) -> dict[str, float]:
    """Return what each cause contributes to u; an influence that belongs to none, or to two, is a mistake of ours."""
    squares = dict.fromkeys(causes, 0.0)
    for contribution, _, ids in terms_of(result.sensitivities, result.influences):
        [cause] = (
            cause
            for cause, beginnings in causes.items()
            if any(ids[0] == begins or (begins.endswith("/") and ids[0].startswith(begins)) for begins in beginnings)
        )
        squares[cause] += contribution**2
    return {cause: math.sqrt(square) for cause, square in squares.items()}


# ---------------------------------------------------------------------------------------------------- standard solution
def _standard_solution() -> Estimate:
    """Return the cadmium standard of example A1, mg/L; cadmium is no primary standard of this library's table."""
    mass = _input("balance/guide/weighing", "mass", value=0.10028, u=0.00005)
    purity = Estimate.from_influence(
        Influence.within("lot/cadmium/guide/purity", label="purity", value=0.9999, half_width=0.0001), name="purity"
    )
    filled = evaluate(
        volume_from_nominal,
        name="volume",
        label="filled flask",
        nominal_volume=Flask(_NAME, capacity="100 mL", tolerance="0.1 mL", shape="triangular").volume(),
        volume_error=_input("flask/guide/filling", "volume_error", value=0.0, u=0.00002),
    )
    weight = molar_mass("Cd")
    amount = evaluate(amount_from_mass, name="amount", label="cadmium", mass=mass, purity=purity, molar_mass=weight)
    concentration = evaluate(
        concentration_from_amount,
        name="amount_concentration",
        label="cadmium",
        amount=amount,
        made_up_volume=at_20(filled, "borosilicate", _temperature("4 K")),
    )
    return evaluate(
        mass_concentration_from_amount_concentration,
        name="mass_concentration",
        label="cadmium",
        amount_concentration=concentration,
        molar_mass=weight,
        entities=1.0,
    )


def _input(id_: str, name: str, *, value: float, u: float) -> Estimate:
    return Estimate.from_influence(Influence(id=id_, label=name, value=value, u=u), name=name)


def _temperature(half_width: str) -> Temperature:
    return Temperature("20 °C", half_width=half_width, day=_NAME)


# ----------------------------------------------------------------------------------------------------------- titrations
def _hydroxide(temperature: str, *, n: int = 1, end_point: EndPoint | None = None) -> Titrant:
    """Return the sodium hydroxide of example A2, from n portions that all read alike."""
    balance = Balance(_NAME, readability="0.1 mg", repeatability="0.1 mg", linearity="0.15 mg")
    phthalate = PrimaryStandard(
        "potassium hydrogen phthalate", lot=_NAME, purity="1.0000 g/g", half_width="0.0005 g/g", edition="eurachem-cg4"
    )
    portion = (balance.by_difference("60.5450 g", "60.1562 g"), _burette().titre("0.00 mL", "18.64 mL"))
    return standardise_by_portions(
        phthalate,
        portions=[portion] * n,
        end_point=end_point,
        temperature=_temperature(temperature),
        method_s="0.00932 mL",  # 0.05 % of the titre
        record=_NAME,
    )


def _hydrochloric_acid(*, n: int = 1, end_point: EndPoint | None = None) -> Estimate:
    """Return the hydrochloric acid of example A3, from n titrations and as many standardisations that all read alike.

    The guide's 0.1 % for the whole are divided: 0.05 % are those of example A2 for the standardisation, what is left,
    √(0.1² - 0.05²) % = 0.0866 %, belongs to the titration of the acid.
    """
    titrant = _hydroxide("4 K", n=n, end_point=end_point)
    return assay_acid_base(
        titrant,
        "hydrochloric acid",
        # A potentiometric end point, as far as the guide's first answer goes: no eye, so no uncertainty of it.
        end_point=end_point or EndPoint("phenolphthalein", operator=_NAME, u="0 mL"),
        aliquot=Pipette(_NAME, capacity="15 mL", tolerance="0.02 mL", shape="triangular"),
        titres=[_burette().titre("0.00 mL", "14.89 mL")] * n,
        temperature=_temperature("4 K"),
        method_s=f"{14.89 * 0.001 * math.sqrt(0.75):.9f} mL",
        record=_NAME,
    ).estimate


def _burette() -> Burette:
    # Reading is part of the guide's repeatability, which is stated as a whole, and only the mean of its titres is told:
    # that the titres entered here agree says nothing about how they were rounded. A step of all but nothing leaves
    # the rounding where the guide counts it.
    return Burette(
        _NAME, capacity="20 mL", subdivision="0.05 mL", read_to="0.000001 mL", tolerance="0.03 mL", shape="triangular"
    )


def _visual() -> EndPoint:
    return EndPoint("phenolphthalein", operator=_NAME, excess="0.05 mL", u="0.03 mL")


_EXAMPLES = (
    _Example(
        title="A1: standard solution of cadmium",
        value="cg4-a1-value",
        u="cg4-a1-u-unrounded",
        rounded="cg4-a1-u",
        house=_standard_solution,
        why={"temperature": f"{_GLASS}. Nothing is used twice, so nothing else changes"},
    ),
    _Example(
        title="A2: sodium hydroxide against potassium hydrogen phthalate",
        value="cg4-a2-value",
        u="cg4-a2-u",
        house=lambda: _hydroxide("3 K").estimate,
        why={
            "temperature": f"±3 K is taken as rectangular here, as 95 % of a normal there; and {_GLASS}",
            "burette": _BETWEEN,
        },
    ),
    _Example(
        title="A3: hydrochloric acid, one titration",
        value="cg4-a3-value",
        u="cg4-a3-u-third",
        house=_hydrochloric_acid,
        why={"temperature": _ONE_TEMPERATURE, "burette": _ONE_SCALE},
    ),
    _Example(
        title="A3: hydrochloric acid, three titrations",
        value="cg4-a3-value",
        u="cg4-a3-triplicate",
        house=lambda: _hydrochloric_acid(n=3),
        why={"temperature": _ONE_TEMPERATURE, "burette": _ONE_SCALE},
    ),
    _Example(
        title="A3: hydrochloric acid, three titrations to visual end points 0.05 mL late",
        value="cg4-a3-excess-value",
        u="cg4-a3-excess-u",
        house=lambda: _hydrochloric_acid(n=3, end_point=_visual()),
        why={"temperature": _ONE_TEMPERATURE, "burette": _ONE_SCALE, "end point": _ONE_EYE},
    ),
)
