"""Mistakes on sheets of acids, caustics and by mass: each is told with file, line, table, key, and what was meant.

Each case is a demo sheet with one edit, the text by which the line of the mistake is found, and parts of the message.
"""

from __future__ import annotations

import pickle
from dataclasses import dataclass

import pytest

from assay.data import text_resource
from assay.errors import SheetError
from assay.sheet.run import run_text

DEMOS = {name: text_resource(f"demo_{name}.toml") for name in ("drum", "acid", "caustic")}

LABEL = 'label = "31 % w/w HCl"'
SPECIES = 'species = "hydrochloric acid"'
DILUTION = 'dilutions = [{ gross = "152.4040 g", tare = "146.2100 g", flask = "F250" }]'
ALIQUOT = 'aliquot = "P10"\n'
TITRE = '["0.00 mL", "20.30 mL"]'
TITRES = 'titres = [\n  ["0.00 mL", "20.25 mL"],\n  ["0.00 mL", "20.30 mL"],\n  ["0.00 mL", "20.25 mL"],\n]\n'
BLANK = 'blank = [["0.00 mL", "0.05 mL"]]\n'
END_POINT = 'end_point = { indicator = "phenolphthalein", operator = "first bench" }\n'
ASSAY_END_POINT = END_POINT + "density"
DENSITY = "density = { assumed = true }\n"
DELIVER = 'deliver = "0.100 mol HCl"'
INTO = 'into = "water"'
LIQUIDS, WIDTH = 'liquids = "22 °C"', 'half_width = "2 K"'
FIRST = 'phenolphthalein = "caustic, phenolphthalein"'
SECOND = 'methyl_orange = "caustic, bromocresol green"'
DRUM_LABEL = 'label = "15 % w/v available chlorine"'
COMPARED = """[[standardisation]]
compared_with = "thiosulfate"
burette = "B1"
known_titres = ["20.00 mL", "20.05 mL", "20.00 mL"]
titres = ["21.00 mL", "21.05 mL", "21.00 mL"]
blank = "0.05 mL"
"""
AGAINST = """[[standardisation]]
species = "hydrochloric acid"
aliquot = "P10"
burette = "B1"
titres = ["24.80 mL", "24.85 mL", "24.80 mL"]
blank = "0.05 mL"
end_point = { indicator = "phenolphthalein", operator = "first bench" }
"""
SEVERAL = ("[standardisation]\n", "[[standardisation]]\n")


@dataclass(frozen=True)
class Mistake:
    """Edits of a demo sheet, a text that stands on the line of the mistake alone, and what the message says."""

    demo: str
    edits: tuple[tuple[str, str], ...]
    at: str
    says: tuple[str, ...]


def _of(demo: str, old: str, new: str, *says: str, at: str = "", more: tuple[tuple[str, str], ...] = ()) -> Mistake:
    return Mistake(demo, ((old, new), *more), at or new, says)


def _acid(old: str, new: str, *says: str, at: str = "", more: tuple[tuple[str, str], ...] = ()) -> Mistake:
    return _of("acid", old, new, *says, at=at, more=more)


def _caustic(old: str, new: str, *says: str, at: str = "", more: tuple[tuple[str, str], ...] = ()) -> Mistake:
    return _of("caustic", old, new, *says, at=at, more=more)


def _drum(old: str, new: str, *says: str, at: str = "", more: tuple[tuple[str, str], ...] = ()) -> Mistake:
    return _of("drum", old, new, *says, at=at, more=more)


# What a bare number may mean, with the g/L. 31 % w/w lies half way between the densities of 30 % (1.1492 g/mL) and
# 32 % (1.159 g/mL): 1.154 g/mL, 357.8 g/L. A mol of HCl is 36.458 g.
LABELS = {
    "bare per cent": _acid(
        LABEL, 'label = "31 %"', "[assay]", "key label", "'31 %'", "'31 % w/v HCl' (310 g/L HCl)",
        "'31 % w/w HCl' (357.8 g/L HCl at 1.154 g/mL)",
    ),
    "bare number": _acid(
        LABEL, 'label = "31"', "key label", "'31'", "a bare number", "310 g/L HCl", "357.8 g/L HCl",
        "'31 mol/L HCl' (1130 g/L HCl, more than any hydrochloric acid holds)", "'31 g/L HCl' (31 g/L HCl)",
    ),
    "number without quotes": _acid(LABEL, "label = 31", "key label", "quotes", "% w/v HCl", at="label = 31"),
    "molar": _acid(LABEL, 'label = "9.5 M"', "key label", "'9.5 M'", "'9.5 mol/L HCl' (346.4 g/L HCl)"),
    "per mass of nothing": _acid(LABEL, 'label = "31 % w/w"', "key label", "'% w/w' alone", "'31 % w/w HCl' (357.8"),
    "amount without a volume": _acid(LABEL, 'label = "9.5 mol HCl"', "key label", "'9.5 mol/L HCl' (346.4 g/L HCl)"),
    "of another reagent": _acid(
        LABEL, 'label = "31 % w/w NaOH"', "key label", "a strength of sodium hydroxide", "the reagent is hydrochloric",
        "'31 % w/w HCl' (357.8 g/L",
    ),
    "as available chlorine": _acid(
        LABEL, 'label = "310 g/L available chlorine"', "key label", "a strength of hypochlorite", "'310 g/L HCl'"
    ),
    "of an acid on hypochlorite": _drum(
        DRUM_LABEL, 'label = "15 % w/v HCl"', "key label", "a strength of hydrochloric acid",
        "'15 % w/v available chlorine' (150 g/L available chlorine)", "(142.9 g/L available chlorine)",
    ),
    "bare per cent of a caustic": _caustic(
        'label = "1.0 mol/L NaOH"', 'label = "4 %"', "[[assay]] 2", "key label", "'4 % w/v NaOH' (40 g/L NaOH)",
        "'4 % w/w NaOH' (41.71 g/L NaOH at 1.043 g/mL)",
    ),
    "beyond any table": _acid(
        LABEL, 'label = "61 % w/w HCl"', "key label", "'61 % w/w HCl'", "beyond the table of densities", "40 % w/w",
        "g/L HCl",
    ),
    "per mass without a table": _acid(
        LABEL, 'label = "65 % w/w HNO3"', "key label", "'65 % w/w HNO3'", "no table of densities", "g/L HNO3",
        more=(
            (SPECIES, 'species = "nitric acid"'), (DELIVER, 'deliver = "0.1 mol HNO3"'),
            ("dilutions = [{ gross", "dilutions = [] # [{ gross"),
        ),
    ),
    "negative": _acid(LABEL, 'label = "-31 % w/w HCl"', "key label", "above zero", "sign"),
    "decimal comma": _acid(LABEL, 'label = "31,5 % w/w HCl"', "key label", "comma", "'31.5 % w/w HCl'"),
    "when filled, bare": _drum(
        DRUM_LABEL, 'density = { assumed = true, filled = "15 %" }', "[assay]", "key density", "key filled", "'15 %'",
        "150 g/L available chlorine",
    ),
    "when filled, a number": _drum(
        DRUM_LABEL, "density = { assumed = true, filled = 150 }", "key filled", "quotes", "150 g/L available chlorine"
    ),
    "when filled, of an acid": _acid(
        DENSITY, 'density = { assumed = true, filled = "31 % w/w HCl" }', "key density", "key filled",
        "only hypochlorite", "Leave it out",
    ),
}  # fmt: skip

SPECIES_AND_TITRANTS = {
    "misspelt acid": _acid(SPECIES, 'species = "hydrocloric acid"', "key species", "'hydrocloric acid'",
                           "Did you mean 'hydrochloric acid'"),
    "misspelt hypochlorite, which has no indicator": _drum(
        'sample = "drum 7"', 'species = "hypochlorit"\nsample = "drum 7"', "key species", "Did you mean 'hypochlorite'",
        at='species = "hypochlorit"',
    ),
    "an acid that is not known": _acid(SPECIES, 'species = "HF"', "key species", "'HF'", "'hydrochloric acid'"),
    "an acid where its titrant is missing": _caustic(
        'species = "sodium hydroxide"\nlabel = "1.0 mol/L NaOH"\n', 'species = "nitric acid"\n',
        "[[assay]] 2", "nitric acid is titrated with sodium hydroxide", "Add a [[standardisation]] of sodium hydroxide",
        at='[[assay]]\nsample = "caustic, bromocresol green"',
    ),
    "a titrant of another name": _acid(
        'sample = "hardware acid"', 'sample = "hardware acid"\ntitrant = "sodium hydroxid"', "key titrant",
        "'sodium hydroxid'", "Did you mean 'sodium hydroxide'?", at="titrant =",
    ),
    "the wrong titrant by name": _caustic(
        'species = "sodium hydroxide"\nlabel = "1.0 mol/L NaOH"\n',
        'species = "acetic acid"\ntitrant = "hydrochloric acid"\n', "[[assay]] 2", "key titrant",
        "acetic acid is titrated with sodium hydroxide", at='titrant = "hydrochloric acid"',
    ),
    "an unknown standard": _acid(
        'standard = "potassium hydrogen phthalate"', 'standard = "potassium hydrogen phtalate"', "[standardisation]",
        "key standard", "Did you mean 'potassium hydrogen phthalate'",
    ),
    "a base for a titrant, without the acid for it": _acid(
        "# The acid is", AGAINST.replace("hydrochloric acid", "sodium hydroxide") + "# The acid is",
        "[[standardisation]] 2", "sodium hydroxide is titrated with hydrochloric acid", more=(SEVERAL,),
        at='[[standardisation]]\nspecies = "sodium hydroxide"',
    ),
    "one titrant standardised twice": _acid(
        "# The acid is", f"{AGAINST}\n{AGAINST.replace(']]', ']] # again', 1)}# The acid is", "[[standardisation]] 3",
        "hydrochloric acid was standardised above as well", "Keep one of the two", more=(SEVERAL,), at="# again",
    ),
    "a misspelt titrant to standardise": _acid(
        "# The acid is", AGAINST.replace("hydrochloric", "hydrochlorid") + "# The acid is", "[[standardisation]] 2",
        "key species", "'hydrochlorid acid'", "Did you mean 'hydrochloric acid'", more=(SEVERAL,),
        at='species = "hydrochlorid acid"',
    ),
    "hypochlorite for a titrant": _acid(
        "# The acid is", AGAINST.replace("hydrochloric acid", "hypochlorite") + "# The acid is",
        "[[standardisation]] 2", "hypochlorite is titrated with thiosulfate", more=(SEVERAL,),
        at='[[standardisation]]\nspecies = "hypochlorite"',
    ),
    "a sample's keys on a titrant": _acid(
        "# The acid is", f'{AGAINST}label = "0.1 mol/L HCl"\n# The acid is', "[[standardisation]] 2", "key label",
        "unknown key", more=(SEVERAL,), at='label = "0.1 mol/L HCl"',
    ),
    "compared with a titrant that is not there": _drum(
        "# The drum", COMPARED.replace('"thiosulfate"', '"thiosulphate"') + "# The drum", "[[standardisation]] 2",
        "key compared_with", "'thiosulphate'", "Did you mean 'thiosulfate'?", at="compared_with", more=(SEVERAL,),
    ),
    "a scatter of a comparison without a unit": _drum(
        "# The drum", f'{COMPARED}method_s = "0.03"\n# The drum', "[[standardisation]] 2", "key method_s",
        "method_s", at="method_s", more=(SEVERAL,),
    ),
    "a source for an acid": _acid(
        SPECIES, f'{SPECIES}\nsource = "calcium hypochlorite"', "[assay]", "key source", "unknown key", at="source ="
    ),
}  # fmt: skip

END_POINTS = {
    "not named": _acid(ASSAY_END_POINT, "density", "[assay]", "the indicator is not named", "end_point = { indicator",
                       at="[assay]\n"),
    "misspelt indicator": _acid(
        ASSAY_END_POINT, ASSAY_END_POINT.replace("phenolphthalein", "phenolphtalein"), "key end_point",
        "key indicator", "'phenolphtalein'", "Did you mean 'phenolphthalein'", at="phenolphtalein",
    ),
    "as a text": _acid(ASSAY_END_POINT, 'end_point = "phenolphthalein"\ndensity', "key end_point", "a table is needed",
                       at='end_point = "phenolphthalein"'),
    "misspelt operator": _acid(
        ASSAY_END_POINT, ASSAY_END_POINT.replace("operator", "operater"), "key operater", "'operator'", at="operater"
    ),
    "no indicator in it": _acid(
        ASSAY_END_POINT, 'end_point = { operator = "second" }\ndensity', "key end_point", "'indicator' is missing",
        'indicator = "phenolphthalein"', at='operator = "second"',
    ),
    "excess without a unit": _acid(
        ASSAY_END_POINT, 'end_point = { indicator = "phenolphthalein", excess = "0.05" }\ndensity', "key excess",
        "'0.05'", "no unit", "mL", at="excess",
    ),
    "u without quotes": _acid(
        ASSAY_END_POINT, 'end_point = { indicator = "phenolphthalein", u = 0.05 }\ndensity', "key u", "quotes",
        'u = "0.03 mL"', at="u = 0.05",
    ),
    "negative u": _acid(
        ASSAY_END_POINT, 'end_point = { indicator = "phenolphthalein", u = "-0.05 mL" }\ndensity', "key u",
        "'-0.05 mL'", "not negative", at="u = ",
    ),
    "an operator with a slash": _acid(
        ASSAY_END_POINT, ASSAY_END_POINT.replace("first bench", "A/B"), "key operator", "'A/B'", "slash", at="A/B"
    ),
    "of iodometry": _drum(
        'sample = "drum 7"', 'sample = "drum 7"\nend_point = { indicator = "starch" }', "key end_point", "starch",
        "Leave it out", at="end_point",
    ),
    "of another acid": _acid(
        ASSAY_END_POINT, ASSAY_END_POINT.replace("phenolphthalein", "methyl orange"), "[[dose]] 1",
        "indicator-unsuitable", "methyl orange", "equivalence point of acetic acid",
        "phenolphthalein or thymolphthalein", "accept = { indicator-unsuitable",
        more=((SPECIES, 'species = "acetic acid"'), (f"{LABEL}\n", ""), (DELIVER, 'deliver = "0.1 mol CH3COOH"')),
        at="[[dose]]",
    ),
}  # fmt: skip

TEMPERATURES = {
    "without a unit": _acid(LIQUIDS, 'liquids = "22"', "[temperature]", "key liquids", "'22'", "no unit", "20 °C"),
    "without quotes": _acid(LIQUIDS, "liquids = 22", "key liquids", "quotes", 'liquids = "22 °C"'),
    "of another scale": _acid(LIQUIDS, 'liquids = "72 °F"', "key liquids", "'72 °F'", "°C"),
    "too warm": _acid(LIQUIDS, 'liquids = "35 °C"', "key liquids", "'35 °C'", "10 °C to 30 °C"),
    "misspelt": _acid(LIQUIDS, 'liquid = "22 °C"', "key liquid", "'liquids'", at="liquid ="),
    "a difference in degrees Celsius": _acid(WIDTH, 'half_width = "2 °C"', "key half_width", "'2 °C'", "'2 K'"),
    "a difference without quotes": _acid(WIDTH, "half_width = 2", "key half_width", "quotes", 'half_width = "2 K"'),
    "a missing difference": _acid(f"{WIDTH}\n", "", "[temperature]", "'half_width' is missing", '"2 K"',
                                  at="[temperature]"),
    "a negative difference": _acid(WIDTH, 'half_width = "-2 K"', "key half_width", "'-2 K'", "not negative"),
    "a second temperature": _acid("[temperature]", "[[temperature]]", "stands once", "[temperature]"),
    "unknown material": _acid(
        'read_to = "0.05 mL"', 'material = "boro-silicate"', "[instruments.B1]", "key material", "'boro-silicate'",
        "Did you mean 'borosilicate'?",
    ),
}  # fmt: skip

BY_MASS = {
    "weighed and pipetted": _acid(
        DILUTION, DILUTION.replace("{ gross", '{ pipette = "P10", gross'), "key dilutions", "item 1", "key pipette",
        "weighed and pipetted", at='pipette = "P10"',
    ),
    "gross below tare": _acid('"152.4040 g"', '"142.404 g"', "key dilutions", "key gross", "'142.404 g'", "146.2100 g",
                              "exchanged"),
    "no tare": _acid(', tare = "146.2100 g"', "", "key dilutions", "'tare' is missing", at="dilutions = [{ gross"),
    "no balance": _acid(
        f'balance = "W1"\n{DILUTION}', DILUTION, "key dilutions", "'balance' is missing", 'balance = "W1"',
    ),
    "a burette for a balance": _acid(
        f'balance = "W1"\n{DILUTION}', f'balance = "B1"\n{DILUTION}', "key balance", "'B1'", "burette", "balance",
        at='balance = "B1"',
    ),
    "a later dilution weighed": _acid(
        DILUTION, DILUTION.replace(" }]", ' }, { gross = "2 g", tare = "1 g", flask = "F250" }]'), "key dilutions",
        "later dilutions are pipetted", at="dilutions =",
    ),
    "portions beside aliquots": _acid(
        "[assay.sampling]", '[[assay.portion]]\ngross = "2 g"\ntare = "1 g"\ntitre = "20 mL"\n\n[assay.sampling]',
        "[assay]", "key titres", "weighed portions",
        at='titres = [\n  ["0.00 mL", "20.25 mL"]',
    ),
    "a portion without a titre": _acid(
        "[assay.sampling]", '[[assay.portion]]\ngross = "2 g"\ntare = "1 g"\n\n[assay.sampling]',
        "[[assay.portion]] 1", "each portion has one titre", "before", at="[[assay.portion]]",
        more=((f"{DILUTION}\n", ""), (ALIQUOT, ""), (TITRES, "")),
    ),
    "titres of two kinds": _acid(
        TITRE, '{ before = "80.00 g", after = "60.00 g" }', "key titres", "20.25 mL", "20 g", "one kind",
        at='titres = [\n  ["0.00 mL", "20.25 mL"]',
    ),
    "by mass with a titrant per litre": _acid(
        TITRES, 'titres = [{ before = "80.00 g", after = "60.00 g" }, { before = "80.00 g", after = "60.10 g" }]\n',
        "key titres", "'20 g'", "per litre", "by volume", at="titres = [{ before",
        more=((f"{BLANK}{ASSAY_END_POINT}", f'blank = {{ before = "9.05 g", after = "9.00 g" }}\n{ASSAY_END_POINT}'),),
    ),
    "a bottle that gained": _acid(
        TITRE, '{ before = "60.00 g", after = "80.00 g" }', "key titres", "item 2", "key before", "'60.00 g'",
        "80.00 g", "exchanged",
    ),
    "a bottle in millilitres": _acid(
        TITRE, '{ before = "80.00 mL", after = "60.00 g" }', "key titres", "key before", "'80.00 mL'", "mass"
    ),
    "a bottle that was not weighed again": _acid(TITRE, '{ before = "80.00 g" }', "key titres", "'after' is missing"),
    "a reading without its burette": _acid(
        f'{ALIQUOT}burette = "B1"\n', ALIQUOT, "key titres", "'burette' is missing", 'burette = "B1"',
        at='["0.00 mL", "20.25 mL"],\n  ["0.00 mL", "20.30 mL"]',
    ),
}  # fmt: skip

DENSITIES = {
    "none where a dose needs it": _acid(
        DENSITY, "", "[[dose]] 1", "needs the density", "measured density", "assumed from a table", "density = {",
        at="[[dose]]",
    ),
    "as a text": _acid(DENSITY, 'density = "1.15 g/mL"\n', "key density", "a table is needed", at="density ="),
    "misspelt": _acid(DENSITY, "density = { assume = true }\n", "key assume", "'assumed'", at="density ="),
    "nothing known": _acid(
        DENSITY, "density = { assumed = false }\n", "key density", "'value' is missing", '"1.160 g/mL"', at="density ="
    ),
    "without a unit": _acid(
        DENSITY, 'density = { value = "1.15", half_width = "0.002 g/mL", temperature = "20 °C" }\n', "key value",
        "'1.15'", "no unit", "1.160 g/mL", at="density =",
    ),
    "a thousand times too dense": _acid(
        DENSITY, 'density = { value = "1150 g/mL", half_width = "2 g/mL", temperature = "20 °C" }\n', "key value",
        "'1150 g/mL'", "Did you mean '1.15 g/mL'?", at="density =",
    ),
    "without a half-width": _acid(
        DENSITY, 'density = { value = "1.15 g/mL", temperature = "20 °C" }\n', "'half_width' is missing",
        '"0.002 g/mL"', at="density =",
    ),
    "without a temperature": _acid(
        DENSITY, 'density = { value = "1.15 g/mL", half_width = "0.002 g/mL" }\n', "'temperature' is missing",
        '"20 °C"', at="density =",
    ),
    "weighed in no volume": _acid(
        DENSITY, 'density = { gross = "20 g", tare = "10 g", temperature = "20 °C" }\n', "'pipette' is missing",
        at="density =",
    ),
    "weighed with the vessel": _acid(
        DENSITY, 'density = { gross = "131.5 g", tare = "10 g", pipette = "P10", temperature = "20 °C" }\n',
        "key density", "no reagent has such a density", "12.15 g/mL", "vessel", at="density =",
    ),
    "no table": _acid(
        SPECIES, 'species = "nitric acid"', "key density", "key assumed", "no table of densities", "Weigh the sample",
        at="density =", more=((f"{LABEL}\n", ""), (DELIVER, 'deliver = "0.1 mol HNO3"')),
    ),
    "when filled, beside one that was measured": _drum(
        DRUM_LABEL, 'density = { value = "1.18 g/mL", half_width = "0.01 g/mL", temperature = "20 °C", '
        'filled = "150 g/L available chlorine" }', "key density", "key filled", "would not be used", "assumed = true",
    ),
    "of a drum of which nothing is known": _drum(
        DRUM_LABEL, "density = { assumed = true }", "key density", "strength when filled", "not known", "label's"
    ),
}  # fmt: skip

CAUSTICS = {
    "a sample that was not assayed": _caustic(
        FIRST, 'phenolphthalein = "caustic, phenolphtalein"', "[caustic]", "key phenolphthalein",
        "'caustic, phenolphtalein'", "Did you mean 'caustic, phenolphthalein'?",
    ),
    "an unknown key": _caustic(
        "methyl_orange =", "methyl_red =", "[caustic]", "key methyl_red", "Did you mean 'methyl_orange'?"
    ),
    "a missing end point": _caustic(f"{SECOND}\n", "", "[caustic]", "'methyl_orange' is missing", at="[caustic]"),
    "without a name": _caustic('name = "old caustic"\n', "", "[caustic]", "'name' is missing", at="[caustic]"),
    "end points exchanged": _caustic(
        FIRST, 'phenolphthalein = "caustic, bromocresol green"', "[caustic]", "key phenolphthalein",
        "bromocresol green", "another end point", "exchanged",
        more=((SECOND, 'methyl_orange = "caustic, phenolphthalein"'),),
    ),
    "one assay twice": _caustic(
        SECOND, 'methyl_orange = "caustic, phenolphthalein"', "[caustic]", "key methyl_orange", "another end point",
        "entered twice",
    ),
    "two of one name": _caustic(
        "[[dose]]", f'[[caustic]]\nname =  "old caustic"\n{FIRST} # again\n{SECOND}\n\n[[dose]]', "[[caustic]] 2",
        "key name", "'old caustic'", "Name them apart", at='name =  "old caustic"',
        more=(("[caustic]\n", "[[caustic]]\n"),),
    ),
    "of two alkalis": _caustic(
        'sample = "caustic, bromocresol green"\nspecies = "sodium hydroxide"\nlabel = "1.0 mol/L NaOH"\n',
        'sample = "caustic, bromocresol green"\nspecies = "potassium hydroxide"\n', "[caustic]", "key methyl_orange",
        "not of one alkali", at=SECOND,
    ),
    "averaged for a dose": _caustic(
        'of = "old caustic"\n', "", "[[dose]] 1", "discordant-assays", "0.90902", "0.9437", at="[[dose]]"
    ),
    "dosed by a name that nothing has": _caustic(
        'of = "old caustic"', 'of = "old caustik"', "[[dose]] 1", "key of", "'old caustik'",
        "Did you mean 'old caustic'",
    ),
}  # fmt: skip

DOSES = {
    "of another reagent": _acid(DELIVER, 'deliver = "0.100 mol NaOH"', "key deliver", "'0.100 mol NaOH'", "'HCl'"),
    "of nothing": _acid(DELIVER, 'deliver = "0.100 mol"', "key deliver", "'0.25 mol HCl'", "'17.7 g HCl'"),
    "as available chlorine": _acid(DELIVER, 'deliver = "7 g available chlorine"', "key deliver", "'17.7 g HCl'"),
    "without quotes": _acid(DELIVER, "deliver = 0.1", "key deliver", "quotes", '"0.100 mol HCl"'),
    "missing": _acid(f"{DELIVER}\n", "", "[[dose]] 1", "'deliver' is missing", 'deliver = "0.100 mol HCl"',
                     at="[[dose]]"),
    "no portion": _acid("portions = 12", "portions = 0", "key portions", "a whole number, 1 or more"),
    "half a portion": _acid("portions = 12", "portions = 12.5", "key portions", "12.5", "whole number"),
    "portions in quotes": _acid("portions = 12", 'portions = "12"', "key portions", "without quotes"),
    "a spare portion missing": _acid("spare = 2", "spare = -1", "key spare", "-1", "a whole number, 0 or more"),
    "another promise": _acid('binding = "all"', 'binding = "any"', "key binding", "'any'", "'each' or 'all'"),
    "misspelt portions": _acid("portions = 12", "portion = 12", "key portion", "'portions'"),
    "more than there is, for the class": _acid(
        'available = "1 L"', 'available = "150 mL"', "key available", "'150 mL'", "161 mL in 14 portions"
    ),
    "acid into hypochlorite": _acid(
        INTO, 'into = "bleach"', "[[dose]] 1", "key into", "'bleach'", "chlorine gas", "No dose is given", "licensed"
    ),
    "acid into concentrated caustic": _acid(INTO, 'into = "50 % NaOH"', "key into", "boil and spatter", "No dose"),
    "into concentrated acid": _acid(
        INTO, 'into = "98 % sulfuric acid"', "key into", "concentrated acid", "goes into the water, never the reverse"
    ),
    "caustic into concentrated acid": _caustic(INTO, 'into = "conc. HCl"', "key into", "boil and spatter", "No dose"),
    "caustic into an ammonium salt": _caustic(INTO, 'into = "NH4Cl solution"', "key into", "ammonia gas", "No dose"),
    "caustic into aluminium": _caustic(INTO, 'into = "aluminium pan"', "key into", "aluminium", "hydrogen", "No dose"),
    "hypochlorite into that acid": _drum(INTO, 'into = "dilute hydrochloric acid"', "key into", "chlorine gas"),
    "hypochlorite into concentrated caustic": _drum(INTO, 'into = "conc. NaOH"', "key into", "boils and spatters"),
}  # fmt: skip

GROUPS = {
    "label": LABELS,
    "titrant": SPECIES_AND_TITRANTS,
    "end point": END_POINTS,
    "temperature": TEMPERATURES,
    "by mass": BY_MASS,
    "density": DENSITIES,
    "caustic": CAUSTICS,
    "dose": DOSES,
}


@pytest.mark.parametrize(
    "mistake",
    [pytest.param(m, id=f"{group}: {name}") for group, mistakes in GROUPS.items() for name, m in mistakes.items()],
)
def test_told_with_file_line_table_key_and_what_was_meant(mistake: Mistake) -> None:
    text = DEMOS[mistake.demo]
    for old, new in mistake.edits:
        assert old in text, old
        # The assay stands below the standardisation, the dose last: what both have is edited in the lower one.
        start = text.rindex(old)
        text = text[:start] + new + text[start + len(old) :]
    assert text.count(mistake.at) == 1
    line = text[: text.index(mistake.at)].count("\n") + 1
    with pytest.raises(SheetError) as caught:
        run_text(text, name="bench.toml")
    message = str(caught.value)
    assert message.startswith(f"bench.toml, line {line}"), message
    assert [part for part in mistake.says if part not in message] == [], message
    assert str(pickle.loads(pickle.dumps(caught.value))) == message  # noqa: S301  (what was pickled here)


@pytest.mark.parametrize("demo", DEMOS)
def test_the_sheets_without_a_mistake_run(demo: str) -> None:
    assert run_text(DEMOS[demo], name="bench.toml").doses
