"""The exception tree.

::

    AssayError
    ├── UnitError                 a unit is missing, unknown or of another dimension   (ValueError)
    ├── BasisError                a strength does not say what, as what, per what      (ValueError)
    ├── DomainError               a value lies outside the range its use allows        (ValueError)
    ├── DataError                 a fact is unknown, or told twice in different ways   (LookupError)
    ├── ConvergenceError          a solution was sought and not found                  (ArithmeticError)
    ├── BlockedResultError        a flagged result was used without acceptance         (RuntimeError)
    ├── IncompatibleMixtureError  a dose into something that makes it dangerous        (ValueError)
    ├── SheetError                a bench sheet cannot be read                         (ValueError)
    └── MissingDependencyError    an optional package is not installed                 (ImportError)

Every message says what was given, what was expected and how to mend it. The parts are attributes as well, and every
exception survives pickling.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

_T = TypeVar("_T")


class AssayError(Exception):
    """Base of every error that the library raises on purpose.

    Parameters
    ----------
    problem : str
        What is wrong, as one sentence.
    argument : str
        Name of the argument, key or table that carries the fault; empty if there is no single one.
    given : object
        What was given; ``None`` if nothing sensible can be shown.
    expected : str
        What would have been accepted.
    remedy : str
        What to write or do instead.
    problems : tuple of AssayError
        The separate errors, where several were collected into this one.

    """

    def __init__(
        self,
        problem: str,
        *,
        argument: str = "",
        given: object = None,
        expected: str = "",
        remedy: str = "",
        problems: tuple[AssayError, ...] = (),
    ) -> None:
        self.problem = problem
        self.argument = argument
        self.given = given
        self.expected = expected
        self.remedy = remedy
        self.problems = problems
        super().__init__(self._message())

    def _message(self) -> str:
        head = self.argument
        if self.given is not None:
            head = f"{head} = {self.given!r}" if head else repr(self.given)
        problem = self.problem
        if (self.expected or self.remedy) and problem[-1:] not in {".", ":", "!", "?", ";"}:
            problem += "."
        parts = [f"{head}: {problem}" if head else problem]
        if self.expected:
            parts.append(f"Expected {self.expected}.")
        if self.remedy:
            parts.append(self.remedy)
        return " ".join(parts)

    def __reduce__(self) -> tuple[Callable[..., AssayError], tuple[Any, ...]]:
        fields = {
            "argument": self.argument,
            "given": self.given,
            "expected": self.expected,
            "remedy": self.remedy,
            "problems": self.problems,
        }
        return _rebuild, (type(self), self.problem, fields)


def _rebuild(cls: type[AssayError], problem: str, fields: dict[str, Any]) -> AssayError:
    return cls(problem, **fields)


class UnitError(AssayError, ValueError):
    """A unit is missing, unknown or of another dimension, or the number before it cannot be read."""


class BasisError(AssayError, ValueError):
    """A strength does not say what it is, as what it is expressed and per what."""


class DomainError(AssayError, ValueError):
    """A value lies outside the range that its use allows."""


class DataError(AssayError, LookupError):
    """A fact is not in the tables, or one name was given two different sets of facts."""


class ConvergenceError(AssayError, ArithmeticError):
    """A solution was sought and not found."""


class BlockedResultError(AssayError, RuntimeError):
    """A result with a blocking flag was used without accepting the flag by name."""


class IncompatibleMixtureError(AssayError, ValueError):
    """A dose was asked for into something with which it forms a dangerous mixture."""


class SheetError(AssayError, ValueError):
    """A bench sheet cannot be read; the message names file, table, key and line."""


class MissingDependencyError(AssayError, ImportError):
    """An optional package is needed for this and is not installed."""


class Problems:
    """Collect the errors of several checks, then raise them as one.

    A person who mistyped three arguments is told of all three at once.

    Examples
    --------
    >>> problems = Problems()
    >>> problems.attempt(float, "2")
    2.0
    >>> problems.raise_any()

    """

    def __init__(self) -> None:
        self._errors: list[AssayError] = []

    def attempt(self, check: Callable[..., _T], *args: Any, **kwargs: Any) -> _T:  # noqa: ANN401  (arguments of any function pass through)
        """Return what ``check`` returns; keep its `AssayError` for `raise_any` if it raises one."""
        try:
            return check(*args, **kwargs)
        except AssayError as error:
            self._errors.append(error)
            # The value is never used: raise_any() stands between this and the first use.
            return None  # type: ignore[return-value]

    def add(self, error: AssayError) -> None:
        """Keep an error made elsewhere."""
        self._errors.append(error)

    def raise_any(self) -> None:
        """Raise what was collected: one error as it is, several as one that lists them."""
        if not self._errors:
            return
        if len(self._errors) == 1:
            raise self._errors[0]
        listed = "\n".join(f"  - {error}" for error in self._errors)
        raise type(self._errors[0])(f"{len(self._errors)} things need mending:\n{listed}", problems=tuple(self._errors))


def nearest(given: str, choices: Iterable[str]) -> str:
    """Return a phrase that offers the choices most like what was given, or all of them if few.

    Examples
    --------
    >>> nearest("burete", ["burette", "pipette", "flask"])
    "Did you mean 'burette'?"
    >>> nearest("C", ["A", "B"])
    "Known: 'A', 'B'."

    """
    choices = sorted(set(choices))
    close = difflib.get_close_matches(given, choices, n=3, cutoff=0.6)
    if close:
        return "Did you mean " + " or ".join(repr(choice) for choice in close) + "?"
    return "Known: " + ", ".join(repr(choice) for choice in choices) + "."
