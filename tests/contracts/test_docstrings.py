"""Docstrings tell the truth: parameters as in the signature, units as in the glossary, references that resolve."""

from __future__ import annotations

import ast
import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import assay
import assay.kernels
from assay.glossary import TERMS

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "assay").rglob("*.py"))
REFERENCES = tomllib.loads((ROOT / "assay" / "data" / "references.toml").read_text(encoding="utf-8"))

_HEADER = re.compile(r"^(?P<title>[A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
_ENTRY = re.compile(r"^(?P<names>\*{0,2}\w+(?:, \*{0,2}\w+)*)\s*(?::\s*(?P<type>.+))?$")
_UNIT = re.compile(r"\[(?P<unit>[^\[\]]+)\]\s*$")
_KEY = re.compile(r"(?<!\w)\[(?P<key>[a-z][a-z0-9.-]*-[a-z0-9.-]+)\]")
_MARKS = ("common practice", "from memory")

# Rooms within the kernels that hold no formula.
_WITHOUT_FORMULA = {"assay.kernels.ranges", "assay.kernels.value"}


def sections(docstring: str) -> dict[str, str]:
    """Return the numpydoc sections by title; what stands before the first one under the empty title."""
    parts = _HEADER.split(inspect.cleandoc(docstring))
    return {"": parts[0], **{title: body.strip("\n") for title, body in zip(parts[1::2], parts[2::2], strict=True)}}


def entries(section: str) -> dict[str, str]:
    """Return the type text of each name in a Parameters, Attributes or Returns section."""
    found: dict[str, str] = {}
    for line in section.splitlines():
        if line and not line[0].isspace() and (match := _ENTRY.match(line)):
            for name in match["names"].split(", "):
                found[name.lstrip("*")] = match["type"] or ""
    return found


def unit_in(text: str) -> str | None:
    """Return the unit in brackets at the end of a line, or None."""
    match = _UNIT.search(text)
    return match["unit"] if match else None


def signature_names(function: Callable[..., Any]) -> list[str]:
    """Return the names of the parameters that a caller gives."""
    names = list(inspect.signature(function).parameters)
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def says_it_returns(function: Callable[..., Any]) -> bool:
    """Return whether the annotation promises a value."""
    return inspect.signature(function).return_annotation not in ("None", None, "NoReturn", "Never")


def kernels() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Yield every formula, with its full name."""
    for module_info in pkgutil.iter_modules(assay.kernels.__path__, "assay.kernels."):
        if module_info.name in _WITHOUT_FORMULA:
            continue
        module = importlib.import_module(module_info.name)
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module_info.name and not name.startswith("_"):
                yield f"{module_info.name}.{name}", function


KERNELS = dict(kernels())
PUBLIC = {name: getattr(assay, name) for name in assay.__all__ if callable(getattr(assay, name))}
FUNCTIONS = {name: thing for name, thing in PUBLIC.items() if not inspect.isclass(thing)} | KERNELS
CLASSES = {name: thing for name, thing in PUBLIC.items() if inspect.isclass(thing)}
ERRORS = {name for name, thing in CLASSES.items() if issubclass(thing, assay.AssayError)}
METHODS = {
    f"{owner}.{name}": inspect.unwrap(getattr(member, "__func__", member))
    for owner, cls in CLASSES.items()
    for name, member in vars(cls).items()
    if not name.startswith("_") and callable(getattr(member, "__func__", member)) and not inspect.isclass(member)
}
PROPERTIES = {
    f"{owner}.{name}": member
    for owner, cls in CLASSES.items()
    for name, member in vars(cls).items()
    if not name.startswith("_") and isinstance(member, property)
}


def test_there_is_something_to_check() -> None:
    assert KERNELS
    assert FUNCTIONS.keys() - KERNELS.keys()
    assert CLASSES
    assert METHODS


@pytest.mark.parametrize("name", FUNCTIONS)
def test_function_tells_its_parameters_and_what_it_returns(name: str) -> None:
    function = FUNCTIONS[name]
    told = sections(function.__doc__ or "")
    assert told[""].strip()
    assert list(entries(told.get("Parameters", ""))) == signature_names(function)
    assert not says_it_returns(function) or told.keys() & {"Returns", "Yields"}


@pytest.mark.parametrize("name", CLASSES)
def test_class_tells_its_parameters(name: str) -> None:
    cls = CLASSES[name]
    assert cls.__doc__
    told = sections(cls.__doc__)
    given = list(entries(told.get("Parameters", ""))) + list(entries(told.get("Attributes", "")))
    if dataclasses.is_dataclass(cls):
        assert given == [field.name for field in dataclasses.fields(cls) if not field.name.startswith("_")]
    elif "__init__" in vars(cls):
        assert list(entries(told.get("Parameters", ""))) == signature_names(cls)


@pytest.mark.parametrize("name", METHODS)
def test_method_tells_what_it_does(name: str) -> None:
    """A method of one or two words may say it in a sentence; if it lists parameters, the list is complete."""
    method = METHODS[name]
    told = sections(method.__doc__ or "")
    assert told[""].strip()
    if "Parameters" in told:
        assert list(entries(told["Parameters"])) == signature_names(method)


@pytest.mark.parametrize("name", PROPERTIES)
def test_property_has_a_docstring(name: str) -> None:
    assert (PROPERTIES[name].__doc__ or "").strip()


@pytest.mark.parametrize("name", KERNELS)
def test_kernel_speaks_the_glossary(name: str) -> None:
    """Every quantity it takes is a term of the glossary and has its unit; so has the result, if it is a term."""
    kernel = KERNELS[name]
    told = sections(kernel.__doc__ or "")
    # Whole numbers are counts, exact and without a unit; all else is a quantity.
    parameters = {
        parameter: text
        for parameter, text in entries(told.get("Parameters", "")).items()
        if text not in {"int", "tuple of int"}
    }
    assert not [parameter for parameter in parameters if parameter not in TERMS], "not in the glossary"
    assert {parameter: unit_in(text) for parameter, text in parameters.items()} == {
        parameter: TERMS[parameter].unit for parameter in parameters
    }
    output = kernel.__name__.partition("_from_")[0]
    returned = unit_in(told.get("Returns", "").partition("\n")[0])
    assert returned is not None
    assert output not in TERMS or returned == TERMS[output].unit


@pytest.mark.parametrize("name", KERNELS)
def test_kernel_has_reference_and_example(name: str) -> None:
    told = sections(KERNELS[name].__doc__ or "")
    assert told.get("References", "").strip()
    assert ">>> " in told.get("Examples", "")


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_has_an_example(name: str) -> None:
    """A doctested one: what is printed is compared, or the error that is raised."""
    told = sections(PUBLIC[name].__doc__ or "")
    examples = doctest.DocTestParser().get_examples(told.get("Examples", ""))
    assert any(example.want or example.exc_msg for example in examples)


@pytest.mark.parametrize("name", [name for name in PUBLIC if name not in ERRORS])
def test_every_public_name_has_its_source(name: str) -> None:
    """An error tells a fault; all else rests on a source, on practice or on memory, and says so."""
    assert reference_entries(sections(PUBLIC[name].__doc__ or "").get("References", ""))


def reference_entries(section: str) -> list[str]:
    """Return the entries of a References section: each begins with a bracket, or after an empty line."""
    return [entry for entry in re.split(r"\n(?=\[)|\n\s*\n", section.strip()) if entry.strip()]


@pytest.mark.parametrize("source", SOURCES)
def test_references_resolve(source: str) -> None:
    """A reference is ``[key] locator`` with a key of references.toml, or says that it is practice or recalled."""
    faults = []
    for node in ast.walk(ast.parse((ROOT / source).read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        for entry in reference_entries(sections(ast.get_docstring(node) or "").get("References", "")):
            cited = _KEY.match(entry)
            located = cited is not None and bool(entry[cited.end() :].strip())
            if not (located or any(mark in entry for mark in _MARKS)):
                faults.append(f"neither [key] with a locator nor {' nor '.join(_MARKS)}: {entry}")
    assert not faults


@pytest.mark.parametrize("source", SOURCES)
def test_cited_keys_are_known(source: str) -> None:
    """The same for every key in brackets, wherever in the file it is cited."""
    # In an example, a result shows the codes of its flags in brackets as well.
    text = re.sub(r"<[A-Z]\w+ [^>]*>", "", (ROOT / source).read_text(encoding="utf-8"))
    cited = {match["key"] for match in _KEY.finditer(text)}
    assert not cited - REFERENCES.keys()
