"""What can be assayed and dosed, and the ways to state how much of it there is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from assay.data import facts
from assay.errors import BasisError, DataError, nearest


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
    per_mass : bool
        Whether it is per mass of solution, so that a density stands between it and a strength per volume.
    scale : float
        Units of the basis in one g/L, or in one g/g: 0.1 for per cent w/v, 100 for per cent w/w.
    aliases : tuple of str
        Other ways in which the trade writes it.

    """

    key: str
    unit: str
    substance: str
    formula: str = ""
    entities: float = 1.0
    per_mass: bool = False
    scale: float = 1.0
    aliases: tuple[str, ...] = ()

    @property
    def percent(self) -> bool:
        """Whether it is a per cent."""
        return self.key.startswith("%")


@dataclass(frozen=True, slots=True, kw_only=True)
class Species:
    """A reagent that can be assayed and dosed.

    Parameters
    ----------
    name : str
        Its name.
    kind : str
        ``"hypochlorite"``, ``"acid"``, ``"alkali"`` or ``"ammonia"``: which cautions and which incompatibilities hold.
    entity : str
        The entity whose amount is counted.
    measured : str
        What a titration of it really measures.
    bases : tuple of Basis
        The bases of its strength; the first is the one used inside.
    titrant : str
        What it is titrated with.
    equivalents : float
        Moles of titrant that one mole consumes.
    equivalents_source : str
        Where that number comes from.
    indicators : tuple of str
        Indicators whose colour changes near enough to its equivalence point.
    ceiling : float [g/L]
        Mass concentration in the second basis above which no such reagent is sold.
    ceiling_by_mass : float [% w/w]
        Mass fraction in the first basis by mass above which no such reagent is sold; 100 where it is sold pure.

    """

    name: str
    kind: str
    entity: str
    measured: str
    bases: tuple[Basis, ...]
    titrant: str
    equivalents: float
    equivalents_source: str
    indicators: tuple[str, ...] = ()
    ceiling: float = float("inf")
    ceiling_by_mass: float = 100.0

    @property
    def basis_by_mass(self) -> Basis:
        """The first basis by mass, in which its ceiling by mass is given."""
        return next(basis for basis in self.bases if basis.per_mass)

    def stated_in(self, key: str) -> Basis:
        """Return the basis that is written like this.

        Raises
        ------
        BasisError
            If there is none, with the nearest.

        """
        basis = self.basis(key)
        if basis is None:
            raise BasisError(
                f"{self.name} is not stated in this basis",
                argument="basis",
                given=key,
                remedy=nearest(key, [known.key for known in self.bases]),
            )
        return basis

    def basis(self, key: str) -> Basis | None:
        """Return the basis that is written like this; ``None`` if there is none."""
        wanted = normal(key)
        for basis in self.bases:
            if wanted in {normal(name) for name in (basis.key, *basis.aliases)}:
                return basis
        return None


_MASS, _VOLUME = r"(?:w|m|wt|mass|weight)\.?", r"(?:v|vol|volume)\.?"
_ENDS = r"(?![A-Za-z/])"
#: Ways in which a bench writes one unit, each with the one way of this library (common practice).
_SPELLINGS = tuple(
    (re.compile(rf"(?:{pattern}){_ENDS}[\s,]*", re.IGNORECASE), unit)
    for pattern, unit in (
        (rf"%\s*\(?{_MASS}/{_VOLUME}\)?|\(?{_MASS}/{_VOLUME}\)?\s*%|g\s*/\s*\(?100\s*mL\)?|g/dL", "% w/v"),
        (rf"%\s*\(?{_MASS}/{_MASS}\)?|\(?{_MASS}/{_MASS}\)?\s*%|g\s*/\s*\(?100\s*g\)?", "% w/w"),
        (r"%\s*\(?by (?:mass|weight)\)?|%\s*\(?(?:wt\.?|mass|weight)\)?|(?:wt\.?|mass|weight)[\s-]*%", "% w/w"),
    )
)
#: The same behind what it is of, as in "% NaOCl (w/v)" and "% HCl by mass".
_BEHIND = tuple(
    (re.compile(rf"%\s*(?P<of>\S.*?)[\s,]*(?:\(\s*(?:{pattern})\s*\)|\b(?:{pattern}))", re.IGNORECASE), unit)
    for pattern, unit in ((f"{_MASS}/{_VOLUME}", "% w/v"), (f"{_MASS}/{_MASS}|by (?:mass|weight)", "% w/w"))
)


def spelled(text: str) -> str:
    """Return a written basis with one spelling of its unit, which then stands in front.

    Examples
    --------
    >>> spelled("wt% NaOCl"), spelled("% m/v as Cl₂"), spelled("% HCl by mass")
    ('% w/w NaOCl', '% w/v Cl2', '% w/w HCl')

    """
    for written, meant in (("⁻", "-"), ("−", "-"), ("per cent", "%"), ("percent", "%"), ("Cl₂", "Cl2"), (" as ", " ")):
        text = text.replace(written, meant)
    text = " ".join(text.split())
    for pattern, unit in _SPELLINGS:
        if match := pattern.match(text):
            return f"{unit} {text[match.end() :]}".strip()
    for pattern, unit in _BEHIND:
        if match := pattern.fullmatch(text):
            return f"{unit} {match['of']}"
    return text


def normal(text: str) -> str:
    """Return a written basis with one spelling for what is written in several ways."""
    return "".join(spelled(text).split()).casefold()


def names_sodium_hypochlorite(written: str) -> bool:
    """Return whether a written basis, amount or strength is as NaOCl, which another source does not hold.

    Examples
    --------
    >>> names_sodium_hypochlorite("6 g NaClO"), names_sodium_hypochlorite("6 g available chlorine")
    (True, False)

    """
    return any(name in normal(written) for name in ("naocl", "naclo", "sodiumhypochlorite"))


def _family(substance: str, formula: str, names: tuple[str, ...]) -> tuple[Basis, ...]:
    """Return the bases of one substance by mass: g/L, per cent w/v, per cent w/w."""

    def made(unit_key: str, unit: str, scale: float, *, per_mass: bool = False) -> Basis:
        return Basis(
            key=f"{unit_key} {substance}",
            unit=unit,
            substance=substance,
            formula=formula,
            per_mass=per_mass,
            scale=scale,
            aliases=tuple(f"{unit_key} {name}" for name in names),
        )

    return (
        made("g/L", "g/L", 1.0),
        made("% w/v", "g/(100 mL)", 0.1),
        made("% w/w", "g/(100 g)", 100.0, per_mass=True),
    )


_CHLORINE = _family(
    "available chlorine",
    "Cl2",
    ("Cl2", "available Cl2", "av. Cl2", "active chlorine"),
)
_SODIUM_HYPOCHLORITE = _family("NaOCl", "NaOCl", ("NaClO", "sodium hypochlorite"))

HYPOCHLORITE = Species(
    name="hypochlorite",
    kind="hypochlorite",
    entity="OCl-",
    measured="total oxidant that acts on iodide in dilute acetic acid, expressed as hypochlorite",
    bases=(
        Basis(
            key="mol/L OCl-",
            unit="mol/L",
            substance="OCl-",
            aliases=("mol/L NaOCl", "mol/L hypochlorite", "mol/L ClO-"),
        ),
        _CHLORINE[0],
        Basis(
            key=_CHLORINE[1].key,
            unit=_CHLORINE[1].unit,
            substance="available chlorine",
            formula="Cl2",
            scale=0.1,
            aliases=(*_CHLORINE[1].aliases, "trade %", "% trade"),
        ),
        _SODIUM_HYPOCHLORITE[0],
        _SODIUM_HYPOCHLORITE[1],
        _CHLORINE[2],
        _SODIUM_HYPOCHLORITE[2],
        Basis(
            key="mg/kg available chlorine",
            unit="mg/kg",
            substance="available chlorine",
            formula="Cl2",
            per_mass=True,
            scale=1e6,
            aliases=("mg/kg Cl2", "mg/kg active chlorine"),
        ),
    ),
    titrant="thiosulfate",
    equivalents=2.0,
    equivalents_source="[usp-32-hypochlorite] Assay",
    # Common practice: fresh liquor holds 150 to 180 g/L; EN 901 covers up to 18 % active chlorine.
    ceiling=250.0,
    ceiling_by_mass=20.0,
)

# Common practice: an indicator fits if its colour changes on the steep part of the curve. Two strong partners allow
# any from methyl orange to phenolphthalein; a weak acid needs one above pH 8, a weak base one below pH 6. Those between
# fit an alkali without carbonate only, which no titration shows: its assay says so.
_STRONG = ("methyl orange", "bromocresol green", "methyl red", "bromothymol blue", "phenol red", "phenolphthalein")
_WEAK_ACID = ("phenolphthalein", "thymolphthalein")
_WEAK_BASE = ("methyl orange", "bromocresol green", "methyl red")


def _acid_or_base(
    name: str,
    formula: str,
    *,
    kind: str,
    titrant: str,
    equivalents: float,
    indicators: tuple[str, ...],
    ceiling: float,
    measured: str,
    ceiling_by_mass: float = 100.0,
    aliases: tuple[str, ...] = (),
) -> Species:
    names = (name, *aliases)
    return Species(
        name=name,
        kind=kind,
        entity=formula,
        measured=measured,
        bases=(
            Basis(
                key=f"mol/L {formula}",
                unit="mol/L",
                substance=formula,
                aliases=tuple(f"mol/L {other}" for other in names),
            ),
            *_family(formula, formula, names),
        ),
        titrant=titrant,
        equivalents=equivalents,
        equivalents_source="common practice: protons exchanged",
        indicators=indicators,
        ceiling=ceiling,
        ceiling_by_mass=ceiling_by_mass,
    )


_ACID = "total acid that consumes sodium hydroxide to the colour change of the indicator, expressed as {}"
_ALKALI = (
    "total alkali that consumes hydrochloric acid to the colour change of the indicator, expressed as {}: with "
    "phenolphthalein the hydroxide and half the carbonate, with methyl orange or bromocresol green the hydroxide and "
    "all the carbonate, with bromothymol blue or phenol red a share between"
)

_OTHERS = (
    _acid_or_base(
        "hydrochloric acid", "HCl", kind="acid", titrant="sodium hydroxide", equivalents=1.0, indicators=_STRONG,
        ceiling=480.0, measured=_ACID.format("hydrochloric acid"), ceiling_by_mass=40.0, aliases=("hydrogen chloride",),
    ),
    _acid_or_base(
        "sulfuric acid", "H2SO4", kind="acid", titrant="sodium hydroxide", equivalents=2.0, indicators=_STRONG,
        ceiling=1850.0, measured=_ACID.format("sulfuric acid"), aliases=("sulphuric acid",),
    ),
    _acid_or_base(
        "nitric acid", "HNO3", kind="acid", titrant="sodium hydroxide", equivalents=1.0, indicators=_STRONG,
        ceiling=1510.0, measured=_ACID.format("nitric acid"),
    ),
    _acid_or_base(
        "acetic acid", "CH3COOH", kind="acid", titrant="sodium hydroxide", equivalents=1.0, indicators=_WEAK_ACID,
        ceiling=1070.0, measured=_ACID.format("acetic acid"), aliases=("C2H4O2", "HOAc"),
    ),
    _acid_or_base(
        "sodium hydroxide", "NaOH", kind="alkali", titrant="hydrochloric acid", equivalents=1.0, indicators=_STRONG,
        ceiling=800.0, measured=_ALKALI.format("sodium hydroxide"), aliases=("caustic soda",),
    ),
    _acid_or_base(
        "potassium hydroxide", "KOH", kind="alkali", titrant="hydrochloric acid", equivalents=1.0, indicators=_STRONG,
        ceiling=800.0, measured=_ALKALI.format("potassium hydroxide"),
    ),
    _acid_or_base(
        "ammonia", "NH3", kind="ammonia", titrant="hydrochloric acid", equivalents=1.0, indicators=_WEAK_BASE,
        ceiling=320.0, measured="total alkali that consumes hydrochloric acid to the colour change of the indicator, "
        "expressed as ammonia", ceiling_by_mass=36.0,
    ),
)  # fmt: skip

#: The species by name. Ceilings are the mass concentrations and mass fractions of the strongest grades sold, rounded up
#: (common practice): water holds no more of hydrogen chloride and of ammonia, hypochlorite is sold as liquor; acetic,
#: nitric and sulfuric acid, sodium and potassium hydroxide are sold pure or nearly so.
SPECIES: Mapping[str, Species] = MappingProxyType({species.name: species for species in (HYPOCHLORITE, *_OTHERS)})

_SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉⁻−", "0123456789--")


def _name(written: str) -> str:
    return " ".join(written.translate(_SUBSCRIPTS).split()).casefold()


@cache
def _names() -> Mapping[str, tuple[str, Species]]:
    """Return every name by which a species is known, as it is compared, with its spelling."""
    own = [(name, species) for species in SPECIES.values() for name in (species.name, species.entity)]
    traded = [(row.index["name"], SPECIES[row.fact]) for row in facts("trade_names").rows]
    return MappingProxyType({_name(name): (name, species) for name, species in (*own, *traded)})


def is_species(written: str) -> bool:
    """Return whether a reagent is known by this name; see `species_named`."""
    return _name(written) in _names()


def species_named(written: str, *, argument: str = "species", what: str = "reagent") -> Species:
    """Return a species by its name, its formula or a name of the trade; capitals make no difference.

    Parameters
    ----------
    written : str
        Such as ``"hydrochloric acid"``, ``"HCl"`` or ``"muriatic acid"``.
    argument, what : str
        Name of the argument, and what it was expected to name, for messages.

    Raises
    ------
    DataError
        If no reagent is known by it.

    References
    ----------
    common practice: names of the trade.

    Examples
    --------
    >>> species_named("muriatic acid").name
    'hydrochloric acid'

    """
    names = _names()
    if _name(written) in names:
        return names[_name(written)][1]
    remedy = nearest(written, (spelling for spelling, _ in names.values()), listed=SPECIES)
    raise DataError(f"unknown {what}.", argument=argument, given=written, remedy=remedy)
