"""Read the published checks and work each out with the library's own kernels, molar masses and bench objects.

A row gives its printed inputs as text and the steps that lead from them to the answer. A step is one of

``kernel``       a kernel by name, with its parameters;
``formula``      the molar mass of a formula;
``flask``        the volume of a flask with a tolerance;
``combine``      a sum, a difference, a product or a ratio, as a user would write with `assay.combine`;
``standardise``  weighed portions of a primary standard and their titres, through `assay.standardise_by_portions`;
``assay``        pipettes, flasks and burette readings of a hypochlorite, through `assay.assay_hypochlorite`;
``replicates``   the mean of replicate readings.

``@name`` stands for an input or for the result of an earlier step, ``M(KIO3)`` for a molar mass. An input that is a
table is an influence, the same one wherever the row uses it; two inputs that are named apart are independent.
"""

from __future__ import annotations

import importlib
import inspect
import math
import pkgutil
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

import assay.kernels
from assay import (
    Balance,
    Burette,
    Dilution,
    Estimate,
    Flask,
    Influence,
    Pipette,
    PrimaryStandard,
    Titrant,
    assay_hypochlorite,
    combine,
    molar_mass,
    standardise_by_portions,
)
from assay.glossary import TERMS
from assay.metrology.estimate import evaluate
from assay.metrology.replicates import mean_of, scatter_of
from assay.substances.molar_mass import DEFAULT_EDITION
from assay.substances.species import HYPOCHLORITE
from assay.substances.strength import read_strength
from assay.units import kind_of, read, split

HERE = Path(__file__).parent

#: Unit of a library result to the unit in which a source prints it. Exact, by definition of the units.
FACTORS: Mapping[tuple[str, str], Decimal] = {
    ("g", "mg"): Decimal(1000),
    ("g", "lb"): 1 / Decimal("453.59237"),
    ("mol", "mmol"): Decimal(1000),
    ("L", "mL"): Decimal(1000),
    ("L", "gal"): 1 / Decimal("3.785411784"),
    ("L", "qt"): 1 / Decimal("0.946352946"),
    ("L", "fl oz"): 1 / Decimal("0.0295735295625"),
    ("g/L", "mg/mL"): Decimal(1),
    ("g/L", "g/mL"): Decimal("0.001"),
    ("g/L", "µg/mL"): Decimal(1000),
    ("g/L", "mg/L"): Decimal(1000),
    ("g/L", "g/(100 mL)"): Decimal("0.1"),
    ("1", "%"): Decimal(100),
}

#: Kind of quantity of `assay.units` for a unit of the glossary.
_KINDS = {
    "L": "volume",
    "g": "mass",
    "mol": "amount",
    "mol/L": "amount concentration",
    "g/L": "mass concentration",
    "g/g": "mass fraction",
}

#: Glossary name of what a kernel returns, where it is not the kernel's own first word.
_RETURNS = {
    "analyte_concentration": "amount_concentration",
    "concentration": "amount_concentration",
    "dispensed_volume": "volume",
    "equivalents_in_aliquot": "amount",
    "percent": "mass_per_volume_percent",
    "set_volume": "volume",
    "mean": "value",
}

_OPERATIONS: Mapping[str, Callable[..., Any]] = {
    "sum": lambda *x: sum(x[1:], x[0]),
    "difference": lambda a, b: a - b,
    "product": lambda *x: math.prod(x[1:], start=x[0]),
    "ratio": lambda a, b: a / b,
}


@dataclass(frozen=True, kw_only=True)
class Check:
    """One printed number, and how the library comes to it.

    Parameters
    ----------
    kind : str
        Name of the file it stands in.
    id, quantity : str
        Its name, and what was printed.
    printed, unit : str
        The number with the very digits of the source, and its unit.
    steps : list of dict
        The steps; the last one gives the answer.
    source, locator, provenance : str
        Key of the references, place in the source, and how the number was seen.
    inputs : dict
        What the source gives, as text.
    answer : str
        What of the last result was printed; see `answer`.
    of : list of str
        For ``answer = "contribution"``: the inputs whose contribution it is.
    edition : str
        Atomic weights.
    carried : str
        What the source rounded midway and is taken over as printed.
    disagrees, recomputed : str
        Why the print is wrong, and the right value with its own digits.
    note : str
        What a reader has to know besides.

    """

    kind: str
    id: str
    quantity: str
    printed: str
    unit: str
    steps: list[dict[str, Any]]
    source: str
    locator: str
    provenance: str
    inputs: dict[str, Any] = field(default_factory=dict)
    answer: str = "value"
    of: list[str] = field(default_factory=list)
    edition: str = DEFAULT_EDITION
    carried: str = ""
    disagrees: str = ""
    recomputed: str = ""
    note: str = ""


def read_checks(folder: Path = HERE) -> list[Check]:
    """Return the rows of all files.

    ``chain`` in a row stands for steps that several rows share, before the row's own; ``given`` for inputs that several
    rows share, which the row's own replace by name.
    """
    files = {path.stem: tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.toml"))}
    chains = {name: steps for content in files.values() for name, steps in content.get("chain", {}).items()}
    givens = {name: inputs for content in files.values() for name, inputs in content.get("given", {}).items()}
    checks = []
    for kind, content in files.items():
        for row in content["check"]:
            own = {key: value for key, value in row.items() if key not in {"chain", "given", "steps", "inputs"}}
            steps = [*(chains[row["chain"]] if "chain" in row else ()), *row.get("steps", ())]
            inputs = {**(givens[row["given"]] if "given" in row else {}), **row.get("inputs", {})}
            checks.append(Check(kind=kind, steps=steps, inputs=inputs, **own))
    return checks


# -------------------------------------------------------------------------------------------------------------- numbers
def half_unit(printed: str) -> Decimal:
    """Return half a unit of the last printed digit.

    Examples
    --------
    >>> half_unit("3.722"), half_unit("35450"), half_unit("7.47e-05")
    (Decimal('0.0005'), Decimal('0.5'), Decimal('5E-8'))

    """
    exponent = Decimal(printed).as_tuple().exponent
    if not isinstance(exponent, int):
        raise TypeError(f"{printed!r} is no finite number")
    return Decimal(1).scaleb(exponent) / 2


def agrees(ours: float, printed: str) -> bool:
    """Return whether ours lies within half a unit of the last printed digit.

    Both roundings of a tie agree: 8.5155 with 8.515 and with 8.516. A float is no exact decimal, so a few units of its
    own last place are allowed for; the digits that a source prints are far coarser.

    Examples
    --------
    >>> agrees(8.5155, "8.515"), agrees(8.5155, "8.516"), agrees(8.5156, "8.515")
    (True, True, False)

    """
    return abs(Decimal(ours) - Decimal(printed)) <= half_unit(printed) + 8 * Decimal(math.ulp(ours))


def answer(check: Check) -> float:
    """Return our value of what a row prints, in the unit of the row."""
    result = _Working(check).last()
    if check.answer == "dof":
        return result.dof
    if check.answer == "coverage factor":
        return result.coverage_factor(0.95)
    number, unit = {
        "value": (result.value, result.unit),
        "u": (result.u, result.unit),
        "contribution": (_contribution(result, check), result.unit),
        "relative u": (result.relative_u, "1"),
        "relative U": (result.relative_u * result.coverage_factor(0.95), "1"),
    }[check.answer]
    return number if unit == check.unit else float(Decimal(number) * FACTORS[unit, check.unit])


def _contribution(result: Estimate, check: Check) -> float:
    """Return what the named inputs, or the atomic weights, contribute to u; they are independent of each other."""
    prefixes = [name if name == "atomic-weight" else f"published/{check.id}/{name}" for name in check.of]
    return math.hypot(
        *(
            sensitivity * result.influences[id_].u
            for id_, sensitivity in result.sensitivities.items()
            if any(id_ == prefix or id_.startswith(f"{prefix}/") for prefix in prefixes)
        )
    )


# -------------------------------------------------------------------------------------------------------------- working
def kernels() -> dict[str, Callable[..., Any]]:
    """Return every kernel by its name."""
    modules = [
        importlib.import_module(found.name) for found in pkgutil.iter_modules(assay.kernels.__path__, "assay.kernels.")
    ]
    return {
        name: function
        for module in modules
        for name, function in inspect.getmembers(module, inspect.isfunction)
        if function.__module__ == module.__name__ and "_from_" in name
    }


KERNELS = kernels()


class _Working:
    """The steps of one row, worked out one after another."""

    def __init__(self, check: Check) -> None:
        self._check = check
        self._results: dict[str, Estimate] = {}
        self._steps: Mapping[str, Callable[[dict[str, Any]], Estimate]] = {
            "kernel": self._kernel,
            "formula": self._formula,
            "flask": self._flask,
            "combine": self._combine,
            "standardise": self._standardise,
            "assay": self._assay,
            "replicates": self._replicates,
        }

    def last(self) -> Estimate:
        """Return the result of the last step."""
        result = None
        for step in self._check.steps:
            result = self._steps[next(key for key in step if key in self._steps)](step)
            self._results[step.get("name", "")] = result
        if result is None:
            raise ValueError(f"{self._check.id} has no steps")
        return result

    # ---------------------------------------------------------------------------------------------------------- reading
    def _given(self, written: Any) -> Any:  # noqa: ANN401  (what TOML holds)
        """Return an input by its name; anything else as it is."""
        if isinstance(written, str) and written.startswith("@"):
            return self._check.inputs[written[1:]]
        return written

    def _operand(self, written: Any, parameter: str) -> Estimate | float:  # noqa: ANN401  (what TOML holds)
        """Return the operand that is written for a parameter of the glossary."""
        if isinstance(written, str) and written[1:] in self._results:
            return self._results[written[1:]]
        label = written[1:] if isinstance(written, str) and written.startswith("@") else parameter
        given = self._given(written)
        if isinstance(given, dict):
            return Estimate.from_influence(self._influence(given, label, parameter), name=parameter)
        if given.startswith("M("):
            return molar_mass(given[2:-1], edition=self._check.edition)
        return _number(given, parameter)

    def _influence(self, given: dict[str, Any], label: str, parameter: str) -> Influence:
        numbers = {key: _number(given[key], parameter) for key in ("value", "u", "half_width") if key in given}
        id_ = f"published/{self._check.id}/{label}"
        if "half_width" in numbers:
            return Influence.within(id_, label=label, **numbers, shape=given.get("shape", "rectangular"))
        return Influence(id=id_, label=label, **numbers, dof=given.get("dof", math.inf))

    # ------------------------------------------------------------------------------------------------------------ steps
    def _kernel(self, step: dict[str, Any]) -> Estimate:
        kernel = KERNELS[step["kernel"]]
        output = step["kernel"].split("_from_")[0]
        variable = next((p for p in inspect.signature(kernel).parameters.values() if p.kind is p.VAR_POSITIONAL), None)
        positional = [self._operand(w, variable.name) for w in step.get("positional", [])] if variable else []
        named = {
            key: tuple(written) if key == "counts" else self._operand(written, key)
            for key, written in step.items()
            if key not in {"name", "kernel", "positional"}
        }
        name = _RETURNS.get(output, output)
        return evaluate(kernel, *positional, name=name, label=step.get("name", output), **named)

    def _formula(self, step: dict[str, Any]) -> Estimate:
        return molar_mass(step["formula"], edition=self._check.edition)

    def _flask(self, step: dict[str, Any]) -> Estimate:
        return Flask(capacity=self._given(step["flask"]), tolerance=self._given(step["tolerance"])).volume()

    def _combine(self, step: dict[str, Any]) -> Estimate:
        operands = [self._operand(written, "value") for written in step["of"]]
        return combine(_OPERATIONS[step["combine"]], *operands, label=step.get("name", ""), unit=step.get("unit", "1"))

    def _standardise(self, step: dict[str, Any]) -> Estimate:
        standard = PrimaryStandard(step["standardise"], purity="1 g/g", half_width="0 g/g", edition=self._check.edition)
        balance = Balance(readability="0.1 mg", repeatability="0.1 mg", linearity="0.2 mg")
        weighing = balance.by_difference(self._given(step["mass"]), "0 g")
        portions = [(weighing, _burette().titre("0 mL", self._given(step["titre"])))]
        return standardise_by_portions(standard, portions=portions, method_s="0.02 mL").estimate

    def _assay(self, step: dict[str, Any]) -> Estimate:
        concentration = _number(self._given(step["titrant"]), "titrant_concentration")
        titrant = Titrant(
            name="thiosulfate",
            estimate=Estimate.exactly(concentration, name="titrant_concentration", label="thiosulfate as printed"),
        )
        strength = assay_hypochlorite(
            titrant,
            dilutions=[
                Dilution(_pipette(self._given(taken)), Flask(capacity=self._given(made_up), accuracy_class="A"))
                for taken, made_up in step.get("dilutions", [])
            ],
            aliquot=_pipette(self._given(step["aliquot"])),
            titres=[_burette().titre("0 mL", self._given(step["assay"]))],
            method_s="0.02 mL",
        )
        return strength.in_basis(step["basis"])

    def _replicates(self, step: dict[str, Any]) -> Estimate:
        values = [float(written) for written in self._given(step["replicates"])]
        estimates = [Estimate.exactly(value, name="value", label="reading") for value in values]
        path = f"published/{self._check.id}"
        return mean_of(estimates, scatter_of(values), record=path, name="replicate_mean", label="mean")


def _burette() -> Burette:
    return Burette(capacity="50 mL", subdivision="0.1 mL", accuracy_class="A")


def _pipette(capacity: str) -> Pipette:
    return Pipette(capacity=capacity, accuracy_class="A")


def _number(written: str, parameter: str) -> float:
    """Return a printed quantity as a plain number in the unit that the library uses for a parameter."""
    unit = TERMS[parameter].unit
    parts = split(written, argument=parameter, example="'25.00 mL'")
    if parameter == "value":  # an operand of the user's own arithmetic: of whatever kind its unit says
        kind = "mass fraction" if parts.rest == "% w/w" else kind_of(parts.rest)
        return read(written, kind, argument=parameter) if parts.rest else float(parts.number)
    if unit in {"1", "g/mol"}:
        if parts.rest != unit.removeprefix("1"):
            raise ValueError(f"{written!r} is not in {unit}")
        return float(parts.number)
    if unit == "mol/L" and HYPOCHLORITE.basis(parts.rest) is not None:
        return read_strength(written, argument=parameter)
    return read(written, _KINDS[unit], argument=parameter)
