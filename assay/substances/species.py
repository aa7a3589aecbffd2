"""What can be assayed and dosed, and the ways to state how much of it there is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """One way to state a strength: as what, and per what.

    Parameters
    ----------
    key : str
        How it is written after a number, and called in reports: ``"g/L available chlorine"``.
    unit : str
        The unit alone.
    substance : str
        As what it is expressed.
    formula : str
        Formula whose molar mass counts; empty for an amount.
    entities : float
        Entities of that formula that stand for one of the species.
    percent : bool
        Whether it is grams in 100 mL rather than grams per litre.
    aliases : tuple of str
        Other ways in which the trade writes it.

    """

    key: str
    unit: str
    substance: str
    formula: str = ""
    entities: float = 1.0
    percent: bool = False
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """A reagent that can be assayed and dosed.

    Parameters
    ----------
    name : str
        Its name.
    entity : str
        The entity whose amount is counted.
    measured : str
        What a titration of it really measures.
    bases : tuple of Basis
        The bases of its strength; the first is the one used inside.
    equivalents : float
        Moles of titrant that one mole consumes.
    equivalents_source : str
        Where that number comes from.

    """

    name: str
    entity: str
    measured: str
    bases: tuple[Basis, ...]
    equivalents: float
    equivalents_source: str

    def basis(self, key: str) -> Basis | None:
        """Return the basis that is written like this; ``None`` if there is none."""
        wanted = normal(key)
        for basis in self.bases:
            if wanted in {normal(name) for name in (basis.key, *basis.aliases)}:
                return basis
        return None


def normal(text: str) -> str:
    """Return a written basis with one spelling for what is written in several ways."""
    for written, meant in (("⁻", "-"), ("−", "-"), ("per cent", "%"), ("percent", "%"), ("Cl₂", "Cl2"), (" as ", " ")):
        text = text.replace(written, meant)
    return "".join(text.split()).casefold()


HYPOCHLORITE = Species(
    name="hypochlorite",
    entity="OCl-",
    measured="total oxidant that acts on iodide in dilute acetic acid, expressed as hypochlorite",
    bases=(
        Basis(
            key="mol/L OCl-",
            unit="mol/L",
            substance="OCl-",
            aliases=("mol/L NaOCl", "mol/L hypochlorite", "mol/L ClO-"),
        ),
        Basis(
            key="g/L available chlorine",
            unit="g/L",
            substance="available chlorine",
            formula="Cl2",
            aliases=("g/L Cl2", "g/L available Cl2", "g/L av. Cl2", "g/L active chlorine", "g/L as available chlorine"),
        ),
        Basis(
            key="% w/v available chlorine",
            unit="g/(100 mL)",
            substance="available chlorine",
            formula="Cl2",
            percent=True,
            aliases=("% w/v Cl2", "% w/v available Cl2", "% w/v active chlorine", "trade %", "% trade"),
        ),
        Basis(
            key="g/L NaOCl",
            unit="g/L",
            substance="NaOCl",
            formula="NaOCl",
            aliases=("g/L NaClO", "g/L sodium hypochlorite"),
        ),
        Basis(
            key="% w/v NaOCl",
            unit="g/(100 mL)",
            substance="NaOCl",
            formula="NaOCl",
            percent=True,
            aliases=("% w/v NaClO", "% w/v sodium hypochlorite"),
        ),
    ),
    equivalents=2.0,
    equivalents_source="[usp-32-hypochlorite] Sodium Hypochlorite Solution, Assay",
)

#: The species by name.
SPECIES: Mapping[str, Species] = MappingProxyType({species.name: species for species in (HYPOCHLORITE,)})
