"""Kinds of quantities: the unit that each has inside, and how a bench writes it."""

from __future__ import annotations

#: Unit inside the library for each kind of quantity, and examples of what a person may write.
INTERNAL: dict[str, tuple[str, str]] = {
    "volume": ("L", "'25.00 mL' or '0.25 L'"),
    "mass": ("g", "'0.1234 g' or '0.1 mg'"),
    "amount": ("mol", "'0.25 mol' or '12.5 mmol'"),
    "amount concentration": ("mol/L", "'0.1 mol/L'"),
    "mass concentration": ("g/L", "'150 g/L'"),
    "density": ("g/L", "'1.160 g/mL'"),
    "time": ("s", "'20 min' or '2 h'"),
    "temperature": ("K", "'20 °C' or '293.15 K'"),
    "temperature difference": ("delta_degC", "'2 K'"),
    "mass fraction": ("g/g", "'99.95 % w/w' or '0.9995 g/g'"),
    "pressure": ("Pa", "'1013 hPa'"),
}

#: Spellings that pint would read as something else than a bench does.
MISREAD = {
    "ML": "mL (ML is a million litres)",
    "Ml": "mL",
    "MMOL": "mmol",
    "G": "g",
    "Mg": "mg (Mg is a million grams)",
    "MG": "mg",
    "gr": "g",
    "gm": "g",
    "cc": "mL",
    "lt": "L",
    "N": "mol/L, after deciding what one equivalent is",
    "M": "mol/L",
    "mM": "mmol/L",
    "µM": "µmol/L",
    "μM": "µmol/L",
    "uM": "µmol/L",
    "molar": "mol/L",
}

#: Spellings to offer for each kind of quantity.
KNOWN: dict[str, tuple[str, ...]] = {
    "volume": ("mL", "L", "µL"),
    "mass": ("g", "mg", "kg"),
    "amount": ("mol", "mmol"),
    "amount concentration": ("mol/L", "mmol/L"),
    "mass concentration": ("g/L", "mg/L"),
    "density": ("g/mL", "kg/L", "g/L"),
    "time": ("s", "min", "h", "day"),
    "temperature": ("°C", "K"),
    "temperature difference": ("K",),
    "mass fraction": ("% w/w", "g/g", "mg/g", "g/kg", "mg/kg"),
    "pressure": ("hPa", "kPa", "mbar", "Pa"),
}

#: What to write instead of a share that does not say per what.
PER_MASS = {
    "%": "Write '{} % w/w' if that is meant.",
    "percent": "Write '{} % w/w' if that is meant.",
    "per cent": "Write '{} % w/w' if that is meant.",
    "‰": "Write '{} g/kg' if that is meant.",
    "ppm": "Write '{} mg/kg' if that is meant.",
    "ppb": "Write '{} µg/kg' if that is meant.",
}

#: Units of the glossary that pint spells otherwise: grams in 100 mL are grams in a decilitre.
SPELLED = {"1": "dimensionless", "g/(100 mL)": "g/dL", "g/g": "dimensionless", "g/(100 g)": "percent"}

#: Shares by mass, as units of one gram in a gram, and how a bench writes those that pint would not know.
SHARES = {"g/g": 1.0, "g/(100 g)": 100.0, "mg/kg": 1e6}
WRITTEN_AS = {"g/(100 g)": "% w/w", "g/(100 mL)": "% w/v"}


def article(kind: str) -> str:
    """Return a kind with its article, for messages."""
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
