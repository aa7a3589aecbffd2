"""Errors: each part an attribute, each a builtin too, each picklable, several told at once."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Callable

import pytest

from assay import errors
from assay.errors import AssayError, DomainError, Problems, SheetError, UnitError, nearest

BUILTINS = {
    "UnitError": ValueError,
    "BasisError": ValueError,
    "DomainError": ValueError,
    "DataError": LookupError,
    "ConvergenceError": ArithmeticError,
    "BlockedResultError": RuntimeError,
    "IncompatibleMixtureError": ValueError,
    "SheetError": ValueError,
    "MissingDependencyError": ImportError,
}
TREE = [value for value in vars(errors).values() if isinstance(value, type) and issubclass(value, AssayError)]


def test_the_tree_is_the_one_in_the_docstring() -> None:
    assert {cls.__name__ for cls in TREE} == {"AssayError", *BUILTINS}
    for name, builtin in BUILTINS.items():
        assert issubclass(getattr(errors, name), builtin)
        drawn = next(line for line in (errors.__doc__ or "").splitlines() if f"── {name} " in line)
        assert drawn.endswith(f"({builtin.__name__})")


def pickled(error: AssayError) -> AssayError:
    return pickle.loads(pickle.dumps(error))  # noqa: S301  (made on this line)


@pytest.mark.parametrize("cls", TREE)
@pytest.mark.parametrize("again", [pickled, copy.copy, copy.deepcopy])
def test_every_error_survives_pickling(cls: type[AssayError], again: Callable[[AssayError], AssayError]) -> None:
    inner = cls("inner", given=2.0)
    error = cls(
        "too large", argument="titre", given="99 mL", expected="up to 50 mL", remedy="Refill.", problems=(inner,)
    )
    copied = again(error)
    assert type(copied) is cls
    assert str(copied) == str(error)
    assert (copied.problem, copied.argument, copied.given) == ("too large", "titre", "99 mL")
    assert (copied.expected, copied.remedy) == ("up to 50 mL", "Refill.")
    assert str(copied.problems[0]) == str(inner)


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (AssayError("it broke"), "it broke"),
        (AssayError("it broke", remedy="Mend it."), "it broke. Mend it."),
        (AssayError("is it broken?", remedy="Mend it."), "is it broken? Mend it."),
        (AssayError("too large", argument="x"), "x: too large"),
        (AssayError("too large", given="9"), "'9': too large"),
        (
            AssayError("too large", argument="x", given=9.5, expected="up to 9", remedy="Refill."),
            "x = 9.5: too large. Expected up to 9. Refill.",
        ),
    ],
)
def test_a_message_says_what_limit_and_remedy(error: AssayError, message: str) -> None:
    assert str(error) == message


# ------------------------------------------------------------------------------------------------------------- problems
def failing(error: AssayError) -> None:
    raise error


def test_nothing_collected_nothing_raised() -> None:
    problems = Problems()
    assert problems.attempt(max, 1, 2) == 2
    assert problems.attempt(int, "12", base=3) == 5
    problems.raise_any()


def test_one_problem_is_raised_as_it_is() -> None:
    problems = Problems()
    error = UnitError("a bare number", argument="capacity")
    problems.attempt(failing, error)
    with pytest.raises(UnitError) as caught:
        problems.raise_any()
    assert caught.value is error


def test_several_are_told_at_once() -> None:
    problems = Problems()
    first = UnitError("a bare number", argument="capacity")
    second = DomainError("negative", argument="titre")
    problems.attempt(failing, first)
    problems.add(second)
    with pytest.raises(UnitError) as caught:
        problems.raise_any()
    assert caught.value.problems == (first, second)
    assert str(caught.value) == "2 things need mending:\n  - capacity: a bare number\n  - titre: negative"
    assert pickled(caught.value).problems[1].argument == "titre"


def test_an_error_of_another_kind_is_not_collected() -> None:
    problems = Problems()
    with pytest.raises(ZeroDivisionError):
        problems.attempt(lambda: 1 / 0)


def test_a_sheet_error_is_caught_as_what_it_is() -> None:
    with pytest.raises(ValueError, match="line 3"):
        raise SheetError("line 3: unknown key")


@pytest.mark.parametrize(
    ("given", "choices", "phrase"),
    [
        ("burete", ["burette", "pipette", "flask"], "Did you mean 'burette'?"),
        ("pipete", ["pipette A", "pipette B", "flask"], "Did you mean 'pipette B' or 'pipette A'?"),
        ("C", ["B", "A", "A"], "Known: 'A', 'B'."),
        ("", ["A"], "Known: 'A'."),
    ],
)
def test_the_nearest_choices_are_offered(given: str, choices: list[str], phrase: str) -> None:
    assert set(nearest(given, choices).split("'")) == set(phrase.split("'"))
    assert nearest(given, choices).startswith(phrase.split("'", maxsplit=1)[0])
