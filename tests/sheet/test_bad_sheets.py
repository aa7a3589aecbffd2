"""Mistakes on a sheet: each is told with file, line, table and key, and with how to mend it.

Each case is the demo sheet with one edit, the text by which the line of the mistake is found, and parts of the message.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from assay.errors import SheetError
from assay.sheet.run import run_sheet, run_text

Edit = Callable[..., str]

STANDARD_PIPETTE = 'flask = "F250"\naliquot = "P25"'
STANDARD_BLANK = 'blank = [["0.00 mL", "0.05 mL"]]\n\n# The drum'
SAMPLE_BLANK = 'blank = [["0.00 mL", "0.05 mL"]]\n\n[assay.sampling]'
SECOND_TITRE = '["0.00 mL", "31.15 mL"]'
DELIVER = 'deliver = "0.100 mol OCl-"'
SAMPLING = (
    '[assay.sampling]\nmethod = "drum rolled, 100 mL drawn through the tap after 50 mL to waste"\ndelay = "15 min"\n'
)
LARGE_PIPETTE = '[instruments.P300]\nkind = "pipette"\ncapacity = "300 mL"\ntolerance = "1 mL"\n\n'
PORTION = '[[standardisation.portion]]\ngross = "21.0 g"\ntare = "20.9 g"\ntitre = "28.00 mL"\n\n'
ALL_TITRES = '  ["0.00 mL", "31.20 mL"],\n  ["0.00 mL", "31.15 mL"],\n  ["0.00 mL", "31.25 mL"],\n'


@dataclass(frozen=True)
class Mistake:
    """One edit of the demo sheet, a text that stands on the line of the mistake alone, and what the message says."""

    edit: tuple[str, str]
    at: str
    says: tuple[str, ...]
    more: tuple[tuple[str, str], ...] = ()


def _m(old: str, new: str, *says: str, at: str | None = None, more: tuple[tuple[str, str], ...] = ()) -> Mistake:
    return Mistake((old, new), new if at is None else at, says, more)


UNITS = {
    "dimension of a capacity": _m(
        'capacity = "10 mL"', 'capacity = "10 g"', "[instruments.P10]", "key capacity", "'10 g'", "volume", "mL"
    ),
    "dimension of a titre": _m(
        SECOND_TITRE, '["0.00 mL", "31.15 g"]', "[assay]", "key titres", "'31.15 g'", "final", "volume"
    ),
    "dimension of a weighing": _m('"21.4312 g"', '"21.4312 mL"', "[standardisation]", "key gross", "mass", "0.1234 g"),
    "dimension of a delay": _m('"15 min"', '"15 mL"', "[assay.sampling]", "key delay", "time", "20 min"),
    "dimension of what there is": _m('"18 L"', '"18 kg"', "[[dose]] 1", "key available", "volume"),
    "dimension of a dose": _m('"0.100 mol OCl-"', '"0.100 L OCl-"', "[[dose]] 1", "key deliver", "0.25 mol OCl-"),
    "bare number in a text": _m(
        '"25.00 mL"]', '"25.00"]', "[standardisation]", "key titres", "'25.00'", "no unit", "25.00 mL"
    ),
    "bare number in a list": _m('"25.00 mL"]', "25.00]", "[standardisation]", "key titres", '["0.00 mL", "24.35 mL"]'),
    "bare number for a titre": _m(
        '["0.00 mL", "25.00 mL"]', "25.05", "[standardisation]", "key titres", "25.05", '["0.00 mL", "24.35 mL"]'
    ),
    "bare number of a weighing": _m('"21.4312 g"', "21.4312", "[standardisation]", "key gross", "quotes", ' g"'),
    "bare number of a capacity": _m('"10 mL"', "10", "[instruments.P10]", "key capacity", "quotes", ' mL"', at="= 10"),
    "bare number of a label": _m(
        '"15 % w/v available chlorine"', "15", "[assay]", "key label", "available chlorine", at="label"
    ),
    "bare per cent on the label": _m(
        '"15 % w/v available chlorine"', '"15 %"', "[assay]", "key label", "'15 % w/v available chlorine'",
        "150 g/L available chlorine", "'15 % w/v NaOCl'",
    ),
    "bare number of a dose": _m(DELIVER, "deliver = 0.1", "[[dose]] 1", "key deliver", "quotes", "mol OCl-"),
    "dose without a substance": _m(DELIVER, 'deliver = "0.1 mol"', "[[dose]] 1", "key deliver", "'available chlorine'"),
    "unknown basis of a dose": _m(DELIVER, 'deliver = "0.1 mol bleach"', "[[dose]] 1", "key deliver", "'OCl-'"),
    "negative dose": _m(DELIVER, 'deliver = "-0.1 mol OCl-"', "[[dose]] 1", "key deliver", "above zero"),
    "decimal comma": _m('"31.15 mL"', '"31,15 mL"', "[assay]", "key titres", "'31,15 mL'", "comma", "'31.15 mL'"),
    "million litres": _m('"31.15 mL"', '"31.15 ML"', "[assay]", "key titres", "'31.15 ML'", "Did you mean mL"),
    "NaN in a text": _m('"31.15 mL"', '"nan mL"', "[assay]", "key titres", "'nan mL'", "NaN"),
    "NaN of TOML": _m('"31.15 mL"', "nan", "[assay]", "key titres", "24.35 mL", at='"0.00 mL", nan'),
    "bare number of a purity": _m('"99.95 % w/w"', "99.95", "[standardisation]", "key purity", "% w/w", at="purity ="),
    "fraction without a unit": _m('"99.95 % w/w"', '"0.9995"', "[standardisation]", "key purity", "0.9995 g/g"),
    "bare per cent of a purity": _m('"99.95 % w/w"', '"99.95 %"', "[standardisation]", "key purity", "'99.95 % w/w'"),
    "purity by volume": _m('"99.95 % w/w"', '"999.5 mL/L"', "[standardisation]", "key purity", "'99.95 % w/w'"),
    "purity above one": _m('"99.95 % w/w"', '"101 % w/w"', "[standardisation]", "key purity", "100 % w/w"),
    "negative half-width": _m('"0.05 % w/w"', '"-0.05 % w/w"', "[standardisation]", "key half_width", "'-0.05 % w/w'"),
    "lot as a number": _m('lot = "2219"', "lot = 2219", "[standardisation]", "key lot", 'lot = "2219"'),
    "negative delay": _m('"15 min"', '"-15 min"', "[assay.sampling]", "key delay"),
}  # fmt: skip

INSTRUMENTS = {
    "unknown class": _m(
        'capacity = "10 mL"\nclass = "B"', 'capacity = "10 mL"\nclass = "C"', "[instruments.P10]", "key class",
        "'C'", "'A'", "'B'", at='class = "C"',
    ),
    "unknown capacity": _m(
        'capacity = "10 mL"', 'capacity = "11 mL"', "[instruments.P10]", "key capacity", "11 mL", "nearest",
        "10", "tolerance",
    ),
    "unknown subdivision": _m(
        'subdivision = "0.1 mL"', 'subdivision = "0.3 mL"', "[instruments.B1]", "key subdivision", "0.3 mL", "0.1 mL"
    ),
    "subdivision of nothing": _m(
        'subdivision = "1 mL"', 'subdivision = "0 mL"', "[instruments.C100]", "key subdivision", "above zero",
        more=(('kind = "cylinder"', 'kind = "cylinder"\ntolerance = "1 mL"'),),
    ),
    "unknown standard of ware": _m(
        'read_to = "0.05 mL"', 'standard = "ISO 386"', "[instruments.B1]", "key standard", "'ISO 385:2005'"
    ),
    "read more coarsely than divided": _m('"0.05 mL"\n', '"0.5 mL"\n', "[instruments.B1]", "key read_to", "0.1 mL",
                                          at='read_to = "0.5 mL"'),
    "unknown kind": _m('kind = "burette"', 'kind = "burete"', "[instruments.B1]", "key kind", "'burete'", "'burette'"),
    "no kind": _m('kind = "burette"\n', "", "[instruments.B1]", "'kind'", "missing", at="[instruments.B1]"),
    "unknown instrument": _m(
        STANDARD_PIPETTE, 'flask = "F250"\naliquot = "P26"', "[standardisation]", "key aliquot", "'P26'", "'P25'",
        at='aliquot = "P26"',
    ),
    "unknown instrument of a dilution": _m(
        'pipette = "P10"', 'pipette = "P11"', "assay", "dilutions", "key pipette", "'P10'"
    ),
    "unknown dispenser": _m('with = "C100"', 'with = "C10"', "[[dose]] 1", "key with", "'C10'", "'C100'"),
    "flask for a pipette": _m(
        STANDARD_PIPETTE, 'flask = "F250"\naliquot = "F250"', "[standardisation]", "key aliquot", "'F250'", "flask",
        "pipette", at='aliquot = "F250"',
    ),
    "balance for a burette": _m(
        'aliquot = "P25"\nburette = "B1"', 'aliquot = "P25"\nburette = "W1"', "[standardisation]", "key burette",
        "balance", "burette", at='burette = "W1"',
    ),
    "flask for a dispenser": _m('with = "C100"', 'with = "F250"', "[[dose]] 1", "key with", "flask"),
    "dilution that concentrates": _m(
        'dilutions = [{ pipette = "P10"', 'dilutions = [{ pipette = "P300"', "assay", "dilutions", "concentrate",
        "300 mL", "exchanged",
        more=(("[instruments.P25]", f"{LARGE_PIPETTE}[instruments.P25]"),),
    ),
    "a name with a slash": _m("[instruments.P10]", '[instruments."P/10"]', "P/10", "slash"),
    "a sample with a slash": _m('"drum 7"', '"drum/7"', "[assay]", "key sample", "slash"),
    "a reading in place of an instrument": _m(
        "[instruments.P10]", '[instruments]\nP9 = "9 mL"\n\n[instruments.P10]', "instruments", "P9", "table", at="P9 ="
    ),
}  # fmt: skip

READINGS = {
    "final below initial": _m(
        SECOND_TITRE, '["31.15 mL", "0.00 mL"]', "[assay]", "key titres", "'0.00 mL'", "below", "31.15 mL", "exchanged"
    ),
    "beyond the burette": _m(
        SECOND_TITRE, '["0.00 mL", "61.15 mL"]', "[assay]", "key titres", "'61.15 mL'", "50 mL", "B1", "refilled"
    ),
    "beyond the burette in a refill": _m(
        SECOND_TITRE, '{ final = "31.15 mL", refilled = [["0.00 mL", "53.20 mL"]] }', "[assay]", "key titres",
        "'53.20 mL'", "50 mL",
    ),
    "refill that is no pair": _m(
        SECOND_TITRE, '{ final = "31.15 mL", refilled = ["0.00 mL", "3.20 mL"] }', "titres", "key refilled",
        'refilled = [["0.00 mL", "3.20 mL"]]',
    ),
    "negative reading": _m(
        SECOND_TITRE, '["-0.10 mL", "31.15 mL"]', "[assay]", "key titres", "'-0.10 mL'", "below zero"
    ),
    "three readings": _m(SECOND_TITRE, '["0.00 mL", "31.15 mL", "32 mL"]', "[assay]", "key titres", "not a titre"),
    "titre without an end": _m(SECOND_TITRE, '{ initial = "1.15 mL" }', "titres", "'final'", "missing"),
    "reason that is no text": _m("rough = true", "void = true", "titres", "key void", "overshot"),
    "rough that is no truth": _m("rough = true", 'rough = "yes"', "titres", "key rough", "true or false"),
    "single titre": _m(
        '  ["0.00 mL", "31.15 mL"],\n  ["0.00 mL", "31.25 mL"],\n', "", "[assay]", "key titres", "single titre",
        "method_s", at='titres = [\n  ["0.00 mL", "31.20 mL"]',
    ),
    "no titre kept": _m(
        ALL_TITRES, '  { final = "31.20 mL", rough = true },\n', "[assay]", "key titres", "kept",
        at='titres = [\n  { final = "31.20 mL"',
    ),
    "no titres at all": _m(f"titres = [\n{ALL_TITRES}]\n", "", "[assay]", "titres", at="[assay]\n"),
    "no blank kept": _m(
        SAMPLE_BLANK, 'blank = [{ final = "0.05 mL", rough = true }]\n\n[assay.sampling]', "[assay]", "key blank",
        at="blank = [{ final",
    ),
    "scatter without a unit": _m(
        "label =", 'method_s = "0.03"\nlabel =', "[assay]", "key method_s", "no unit", at="method_s"
    ),
    "no scatter": _m("label =", 'method_s = "0 mL"\nlabel =', "[assay]", "key method_s", "above zero", at="method_s"),
    "no degrees of freedom": _m(
        "label =", 'method_s = "0.03 mL"\nmethod_dof = 0\nlabel =', "[assay]", "key method_dof", "1 or more",
        at="method_dof",
    ),
    "gross below tare": _m('"21.4312 g"', '"20.4312 g"', "[standardisation]", "key gross", "'20.4312 g'", "20.5402 g",
                           "exchanged"),
    "nothing but blank": _m(
        STANDARD_BLANK, 'blank = [["0.00 mL", "24.95 mL"]]\n\n# The drum', "[standardisation]", "titre", "blank",
        at="titres = [\n  { final", more=(('["0.00 mL", "25.00 mL"]', '["0.00 mL", "24.95 mL"]'),),
    ),
    "two forms of standardisation": _m(
        "# The drum", f"{PORTION}# The drum", "[standardisation]", "portion", at="titres = [\n  { final",
    ),
}  # fmt: skip

NAMES = {
    "unknown standard": _m(
        '"potassium iodate"', '"potassium iodat"', "[standardisation]", "key standard", "'potassium iodate'"
    ),
    "unknown atomic weights": _m(
        "purity =", 'atomic_weights = "ciaaw-2020"\npurity =', "[standardisation]", "key atomic_weights",
        "'ciaaw-2021'", at="atomic_weights",
    ),
    "unknown sample of a dose": _m(
        'into = "water"', 'of = "drum 8"', "[[dose]] 1", "key of", "'drum 8'", "'drum 7'"
    ),
    "two samples of one name": _m(
        SAMPLING,
        '[[assay]]\naliquot = "P25"\nburette = "B1"\ntitres = ["31.2 mL", "31.2 mL", "31.2 mL"]\nsample =  "drum 7"\n',
        "[[assay]] 2", "key sample", "'drum 7'", at='sample =  "drum 7"', more=(("[assay]\n", "[[assay]]\n"),),
    ),
    "formula of no substance": _m(
        DELIVER, 'deliver = { equivalents = 1.2, of = "12.5 g", formula = "C6H12Oq" }', "[[dose]] 1", "deliver",
        "formula", "'Oq'",
    ),
    "mass without a formula": _m(
        DELIVER, 'deliver = { equivalents = 1.2, of = "12.5 g" }', "[[dose]] 1", "deliver", "key of", "'12.5 g'",
        "formula",
    ),
    "equivalents missing": _m(
        DELIVER, 'deliver = { of = "0.1 mol" }', "[[dose]] 1", "deliver", "'equivalents'", "missing"
    ),
    "equivalents that are NaN": _m(
        DELIVER, 'deliver = { equivalents = nan, of = "0.1 mol" }', "[[dose]] 1", "deliver", "key equivalents"
    ),
    "equivalents of nothing": _m(
        DELIVER, 'deliver = { equivalents = 1.2, of = "0 mol" }', "[[dose]] 1", "deliver", "key of", "above zero"
    ),
    "accepting a flag that is not there": _m(
        "[assay.sampling]", '[assay.accept]\nblank-above-titre = "seen"\n\n[assay.sampling]', "[assay.accept]",
        "key blank-above-titre", "no such flag", "'titres-set-aside'", at="blank-above-titre",
    ),
    "accepting without a reason": _m(
        "# The drum", '[standardisation.accept]\ntitres-set-aside = ""\n\n# The drum', "[standardisation.accept]",
        "key titres-set-aside", "reason", at="titres-set-aside",
    ),
}  # fmt: skip

KEYS = {
    "in the sheet": _m("title =", "titel =", "key titel", "'title'"),
    "a table of the sheet": _m("[standardisation]", "[standardization]", "standardization", "'standardisation'"),
    "a table above others": _m("[instruments.B1]", "[instrument.B1]", "instrument", "'instruments'"),
    "in a burette": _m("read_to =", "readto =", "[instruments.B1]", "key readto", "'read_to'"),
    "in a pipette": _m(
        'capacity = "10 mL"', 'capacitiy = "10 mL"', "[instruments.P10]", "key capacitiy", "'capacity'"
    ),
    "in a flask": _m(
        "[instruments.F250]", "[instruments.F250]\nclas = 'B'", "[instruments.F250]", "'class'", at="clas ="
    ),
    "in a cylinder": _m(
        'subdivision = "1 mL"', 'sub_division = "1 mL"', "[instruments.C100]", "key sub_division", "'subdivision'"
    ),
    "in a balance": _m("linearity =", "linearty =", "[instruments.W1]", "key linearty", "'linearity'"),
    "in the standardisation": _m("half_width =", "halfwidth =", "[standardisation]", "key halfwidth", "'half_width'"),
    "in an assay": _m("dilutions =", "dilution =", "[assay]", "key dilution", "'dilutions'"),
    "in a titre": _m('{ final = "25.8 mL"', '{ finel = "25.8 mL"', "titres", "key finel", "'final'"),
    "in a dilution": _m('{ pipette = "P10"', '{ pipet = "P10"', "dilutions", "key pipet", "'pipette'"),
    "in the sampling": _m("delay =", "dealy =", "[assay.sampling]", "key dealy", "'delay'"),
    "in a dose": _m('into = "water"', 'in = "water"', "[[dose]] 1", "key in", "'into'"),
    "in equivalents": _m(DELIVER, 'deliver = { equivalents = 1, off = "1 mol" }', "deliver", "key off", "'of'"),
    "in a portion": _m(
        "# The drum", f"{PORTION}# The drum".replace("gross", "gros"), "portion", "key gros", "'gross'", at="gros =",
        more=(
            (f"{STANDARD_PIPETTE}\n", ""), ('gross = "21.4312 g"\ntare = "20.5402 g"\n', ""),
            ('titres = [\n  { final = "25.8 mL", rough = true },\n  ["0.00 mL", "24.95 mL"],\n', ""),
            ('  ["0.00 mL", "25.00 mL"],\n  ["0.00 mL", "24.95 mL"],\n]\n', ""),
        ),
    ),
}  # fmt: skip

KINDS = {
    "text for a table": _m(SAMPLING, 'sampling = "rolled"\n', "[assay]", "key sampling", "table", "[assay.sampling]"),
    "number for a table": _m("[[dose]]", "[dose_]", "dose_", "'dose'"),
    "list for a text": _m('into = "water"', 'into = ["water"]', "[[dose]] 1", "key into", "text"),
    "text for a number": _m("assurance = 0.95", 'assurance = "95 %"', "[[dose]] 1", "key assurance", "number"),
    "NaN for a number": _m("assurance = 0.95", "assurance = nan", "[[dose]] 1", "key assurance", "0.95"),
    "per cent for a fraction": _m("assurance = 0.95", "assurance = 95", "[[dose]] 1", "key assurance", "95", "0.95"),
    "assurance of a coin": _m("assurance = 0.95", "assurance = 0.3", "[[dose]] 1", "key assurance", "0.5"),
    "per cent for a level": _m("schema = 1", "schema = 1\nlevel = 95", "key level", "0.95", at="level"),
    "level of certainty": _m("schema = 1", "schema = 1\nlevel = 0.9999999999999999", "key level", at="level"),
    "date in quotes": _m("date = 2026-11-16", 'date = "2026-11-16"', "key date", "2026-11-16", "without quotes"),
    "date with a time": _m("date = 2026-11-16", "date = 2026-11-16T10:00:00", "key date", "date = 2026-11-16"),
    "sheet of another schema": _m("schema = 1", "schema = 2", "key schema", "schema = 1"),
    "schema in quotes": _m("schema = 1", 'schema = "1"', "key schema", "schema = 1"),
}  # fmt: skip

DOSES = {
    "into acid": _m('"water"', '"hydrochloric acid"', "[[dose]] 1", "key into", "acid", "chlorine", "No dose"),
    "into ammonia": _m('"water"', '"ammonia solution"', "[[dose]] 1", "key into", "ammonia", "chloramines", "No dose"),
    "into an ammonium salt": _m('"water"', '"NH4Cl buffer"', "[[dose]] 1", "key into", "ammonium", "No dose"),
    "into urea": _m('"water"', '"urea solution"', "[[dose]] 1", "key into", "urea", "nitrogen trichloride", "No dose"),
    "into nothing": _m('into = "water"', 'into = " "', "[[dose]] 1", "key into"),
    "more than the bottle holds": _m(
        '"18 L"', '"0.05 L"', "[[dose]] 1", "key available", "'0.05 L'", "64 mL", "more than there is"
    ),
    "limit below what is asked": _m(
        'into = "water"', 'into = "water"\nlimit = "0.05 mol OCl-"', "[[dose]] 1", "key limit", "below", at="limit"
    ),
    "blocked strength": _m(
        SAMPLE_BLANK, 'blank = [["0.00 mL", "40.05 mL"]]\n\n[assay.sampling]', "[[dose]] 1", "blank-above-titre",
        "40.05 mL", "31.2 mL", "accept = { blank-above-titre", at="[[dose]]",
    ),
    "blocked titrant": _m(
        STANDARD_BLANK, 'blank = [["0.00 mL", "40.05 mL"]]\n\n# The drum', "[standardisation]", "blank-above-titre",
        "accept = { blank-above-titre", at="[standardisation]",
    ),
    "a strength more than any liquor holds": _m(
        'dilutions = [{ pipette = "P10", flask = "F250-2" }]',
        'dilutions = [{ pipette = "P10", flask = "F250-2" }, { pipette = "P25", flask = "F250" }]',
        "[[dose]] 1", "implausible-strength", "dilutions", at="[[dose]]",
    ),
}  # fmt: skip

GROUPS = (UNITS, INSTRUMENTS, READINGS, NAMES, KEYS, KINDS, DOSES)


@pytest.mark.parametrize(
    "mistake", [pytest.param(mistake, id=name) for group in GROUPS for name, mistake in group.items()]
)
def test_told_with_file_line_table_key_and_remedy(edited: Edit, mistake: Mistake) -> None:
    text = edited(mistake.edit, *mistake.more)
    assert text.count(mistake.at) == 1
    line = text[: text.index(mistake.at)].count("\n") + 1
    with pytest.raises(SheetError) as caught:
        run_text(text, name="bench.toml")
    message = str(caught.value)
    assert message.startswith(f"bench.toml, line {line}, "), message
    assert [part for part in mistake.says if part not in message] == [], message
    assert str(pickle.loads(pickle.dumps(caught.value))) == message  # noqa: S301  (what was pickled here)


@pytest.mark.parametrize(
    ("lines", "table", "key"),
    [
        ('title = "Prep room: drum of hypochlorite for the dye-fading practical"\n', "", "title"),
        ("schema = 1\n", "", "schema"),
        ('capacity = "50 mL"\n', "[instruments.B1]", "capacity"),
        ('readability = "0.1 mg"\n', "[instruments.W1]", "readability"),
        ('standard = "potassium iodate"\n', "[standardisation]", "standard"),
        ('purity = "99.95 % w/w"\n', "[standardisation]", "purity"),
        ('tare = "20.5402 g"\n', "[standardisation]", "tare"),
        ('balance = "W1"\n', "[standardisation]", "balance"),
        ('sample = "drum 7"\n', "[assay]", "sample"),
        ('method = "drum rolled, 100 mL drawn through the tap after 50 mL to waste"\n', "[assay.sampling]", "method"),
        ('deliver = "0.100 mol OCl-"\n', "[[dose]]", "deliver"),
        ('with = "C100"\n', "[[dose]]", "with"),
    ],
)
def test_a_missing_key_is_told_at_its_table(edited: Edit, lines: str, table: str, key: str) -> None:
    text = edited((lines, ""))
    line = text.splitlines().index(table) + 1 if table else 1
    with pytest.raises(SheetError) as caught:
        run_text(text, name="bench.toml")
    message = str(caught.value)
    assert message.startswith(f"bench.toml, line {line}")
    assert table in message
    assert f"'{key}' is missing" in message
    assert f"{key} = " in message  # what to add
    assert "Is it written as" not in message  # every key that stands there is a known one


def test_a_missing_date_is_told(edited: Edit) -> None:
    with pytest.raises(SheetError, match=r"^bench\.toml, line 1.*day of the readings is missing.*date = 2026-11-16"):
        run_text(edited(("date = 2026-11-16\n", "")), name="bench.toml")


@pytest.mark.parametrize("table", ["instruments", "standardisation", "assay"])
def test_a_missing_table_is_told(demo: str, table: str) -> None:
    kept = [part for part in demo.split("\n\n") if f"[{table}" not in part]
    with pytest.raises(SheetError, match=rf"^bench\.toml, line \d+.*\[{table}\]"):
        run_text("\n\n".join(kept), name="bench.toml")


def test_two_mistakes_of_one_instrument_are_told_each_with_its_line(edited: Edit) -> None:
    text = edited(('capacity = "50 mL"\nsubdivision = "0.1 mL"', 'capacity = "50"\nsubdivision = "0.1 g"'))
    with pytest.raises(SheetError) as caught:
        run_text(text, name="bench.toml")
    message = str(caught.value)
    assert "2 things need mending" in message
    assert "bench.toml, line 9, [instruments.B1], key capacity = '50'" in message
    assert "bench.toml, line 10, [instruments.B1], key subdivision = '0.1 g'" in message


@pytest.mark.parametrize(
    ("edit", "at", "says"),
    [
        (('practical"', "practical"), "title", ("quote",)),
        (('lot = "2219"', 'lot "2219"'), 'lot "2219"', ("'='",)),
        (('"31.25 mL"],\n]', '"31.25 mL"],\n'), 'blank = [["0.00 mL", "0.05 mL"]]\n\n[assay.', ("brackets",)),
        (("assurance = 0.95", "assurance = 0,95"), "assurance = 0,95", ("point",)),
        (("date = 2026-11-16", "date = 16.11.2026"), "date =", ("2026-11-16",)),
        (("date = 2026-11-16", "date = 2026-13-16"), "date =", ("2026-11-16",)),
        (('lot = "2219"', 'lot = "2219"\nlot = "2220"'), 'lot = "2220"', ("second time", "one of the two")),
        (("[instruments.P25]", "[instruments.F250]"), '[instruments.F250]\nkind = "flask"', ("second time",)),
        (("[[dose]]", "[assay]\n\n[[dose]]"), "[assay]\n\n", ("second time",)),
        (("rough = true", 'rough = true, final = "1 mL"'), 'final = "1 mL"', ("second time",)),
    ],
)  # fmt: skip
def test_what_is_not_toml_is_told_with_its_line(
    edited: Edit, edit: tuple[str, str], at: str, says: tuple[str, ...]
) -> None:
    text = edited(edit)
    line = text[: text.index(at)].count("\n") + 1
    with pytest.raises(SheetError) as caught:
        run_text(text, name="bench.toml")
    message = str(caught.value)
    assert message.startswith(f"bench.toml, line {line} = "), message
    assert [part for part in says if part not in message] == [], message
    assert "\\n" not in message


def test_an_empty_file_is_told() -> None:
    with pytest.raises(SheetError, match=r"^empty\.toml, line 1.*schema = 1"):
        run_text("", name="empty.toml")


class TestFiles:
    def test_a_missing_file_is_told_with_the_nearest(self, tmp_path: Path, demo: str) -> None:
        (tmp_path / "drum7.toml").write_text(demo, encoding="utf-8")
        with pytest.raises(SheetError, match=r"drum_7\.toml': there is no such file\. Did you mean 'drum7\.toml'\?"):
            run_sheet(tmp_path / "drum_7.toml")

    def test_a_missing_folder_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(SheetError, match=r"no such file.*folder"):
            run_sheet(tmp_path / "nowhere" / "drum.toml")

    def test_a_folder_is_told(self, tmp_path: Path) -> None:
        with pytest.raises(SheetError, match=r"cannot be opened"):
            run_sheet(tmp_path)

    def test_a_file_that_is_not_utf_8_is_told(self, tmp_path: Path, demo: str) -> None:
        path = tmp_path / "latin.toml"
        path.write_bytes(demo.replace("Prep room", "Prep room \u00c5").encode("latin-1"))
        with pytest.raises(SheetError, match=r"latin\.toml': the file is not UTF-8.*[Ss]ave it as UTF-8"):
            run_sheet(path)

    def test_a_message_names_the_file_as_it_was_given(self, tmp_path: Path, edited: Edit) -> None:
        path = tmp_path / "drum.toml"
        path.write_text(edited(("schema = 1", "schema = 3")), encoding="utf-8")
        with pytest.raises(SheetError) as caught:
            run_sheet(path)
        assert str(caught.value).startswith(f"{path}, line 2, key schema = 3")
