"""One chain of eleven influences, from ready quantities to value, u, budget and degrees of freedom."""

from __future__ import annotations

import math
from functools import cache

from assay.kernels.dilution import amount_from_aliquot, concentration_from_amount, dilution_factor_from_volumes
from assay.kernels.titration import analyte_concentration_from_titre, titrant_concentration_from_standard
from assay.kernels.weighing import amount_from_mass
from assay.metrology.budget import Budget
from assay.metrology.estimate import Estimate
from assay.metrology.evaluation import evaluate
from assay.metrology.influence import Influence

# Name, value, u and degrees of freedom of each input; invented, in g, L and mol.
INPUTS = (
    ("mass", 0.8910, 1.9e-4, math.inf),
    ("purity", 0.9995, 2.9e-4, math.inf),
    ("molar_mass", 213.99977, 0.00173, math.inf),
    ("flask", 0.250, 1.2e-4, math.inf),
    ("pipette", 0.025, 2.4e-5, math.inf),
    ("titre", 0.02497, 2.9e-5, 2.0),
    ("blank", 5e-5, 2.9e-5, 2.0),
    ("sample_pipette", 0.010, 1.6e-5, math.inf),
    ("sample_flask", 0.250, 1.2e-4, math.inf),
    ("sample_titre", 0.0312, 4.1e-5, 2.0),
    ("sample_blank", 5e-5, 2.9e-5, 2.0),
)
UNITS = {"mass": "g", "molar_mass": "g/mol", "purity": "dimensionless"}


@cache
def _estimates() -> dict[str, Estimate]:
    return {
        name: Estimate.from_influence(Influence(id=name, label=name, value=value, u=u, dof=dof), name="value")
        for name, value, u, dof in INPUTS
    }


def ours() -> tuple[float, float, Budget, float]:
    """Return value, u, budget and degrees of freedom from ready estimates."""
    x = _estimates()
    amount = evaluate(
        amount_from_mass, name="amount", label="n", mass=x["mass"], purity=x["purity"], molar_mass=x["molar_mass"]
    )
    solution = evaluate(
        concentration_from_amount, name="standard_concentration", label="c", amount=amount, made_up_volume=x["flask"]
    )
    taken = evaluate(
        amount_from_aliquot,
        name="standard_amount",
        label="n",
        standard_concentration=solution,
        aliquot_volume=x["pipette"],
    )
    titrant = evaluate(
        titrant_concentration_from_standard,
        name="titrant_concentration",
        label="t",
        standard_amount=taken,
        equivalents=6.0,
        titre=x["titre"],
        blank=x["blank"],
    )
    factor = evaluate(
        dilution_factor_from_volumes,
        name="dilution_factor",
        label="F",
        taken_volume=x["sample_pipette"],
        made_up_volume=x["sample_flask"],
    )
    strength = evaluate(
        analyte_concentration_from_titre,
        name="amount_concentration",
        label="c",
        titrant_concentration=titrant,
        titre=x["sample_titre"],
        blank=x["sample_blank"],
        equivalents=2.0,
        aliquot_volume=x["pipette"],
        dilution_factor=factor,
    )
    return strength.value, strength.u, strength.budget(), strength.dof


@cache
def _quantities() -> dict[str, object]:
    import pint
    from uncertainties import ufloat

    registry = pint.get_application_registry()
    return {name: registry.Quantity(ufloat(value, u, name), UNITS.get(name, "L")) for name, value, u, _ in INPUTS}


_DOF = {name: dof for name, _, _, dof in INPUTS}


def peer() -> tuple[float, float, list[tuple[str, float]], float]:
    """Return the same from pint quantities of ufloats."""
    x: dict[str, object] = _quantities()
    amount = x["mass"] * x["purity"] / x["molar_mass"]
    taken = amount / x["flask"] * x["pipette"]
    titrant = 6.0 * taken / (x["titre"] - x["blank"])
    factor = x["sample_flask"] / x["sample_pipette"]
    strength = titrant * (x["sample_titre"] - x["sample_blank"]) / (2.0 * x["pipette"]) * factor
    number = strength.to("mol/L").magnitude
    u = number.std_dev
    lines = sorted(
        ((variable.tag, part) for variable, part in number.error_components().items()), key=lambda line: -line[1]
    )
    loss = sum(part**4 / _DOF[tag] for tag, part in lines)
    return number.nominal_value, u, lines, u**4 / loss
