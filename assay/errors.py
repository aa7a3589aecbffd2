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

    Examples
    --------
    >>> import assay
    >>> try:
    ...     assay.molar_mass("H2O2?")
    ... except assay.AssayError as error:
    ...     print(error.argument, error.given)
    formula H2O2?

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
    """A unit is missing, unknown or of another dimension, or the number before it cannot be read.

    Examples
    --------
    >>> import assay
    >>> assay.Pipette("P10", capacity="10")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.UnitError: capacity = '10': a bare number has no unit. Expected a volume. Write for ...

    """


class BasisError(AssayError, ValueError):
    """A strength does not say what it is, as what it is expressed and per what.

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> drum.in_basis("%")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.BasisError: basis = '%': hypochlorite is not stated in this basis. Known: '% w/v ...

    """


class DomainError(AssayError, ValueError):
    """A value lies outside the range that its use allows.

    Examples
    --------
    >>> import assay
    >>> burette = assay.Burette("B1", capacity="50 mL", subdivision="0.1 mL")
    >>> burette.titre("24.35 mL", "0.00 mL")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.DomainError: final reading = '0.00 mL': it lies below the initial reading, 24.35 mL. ...

    """


class DataError(AssayError, LookupError):
    """A fact is not in the tables, or one name was given two different sets of facts.

    Examples
    --------
    >>> import assay
    >>> assay.EndPoint("phenolphtalein")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.DataError: indicator = 'phenolphtalein': not in the table of indicators. Did you mean ...

    """


class ConvergenceError(AssayError, ArithmeticError):
    """A solution was sought and not found.

    Examples
    --------
    >>> raise ConvergenceError("no volume meets both.", argument="deliver")
    Traceback (most recent call last):
        ...
    assay.errors.ConvergenceError: deliver: no volume meets both.

    """


class BlockedResultError(AssayError, RuntimeError):
    """A result with a blocking flag was used without accepting the flag by name.

    Examples
    --------
    >>> import assay
    >>> from assay.flags import refuse_blocked
    >>> doubt = assay.Flag(code="blank-above-titre", message="the blank is 30 mL.", blocking=True)
    >>> refuse_blocked((doubt,), what="the titrant")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.BlockedResultError: the titrant carries the blocking flag 'blank-above-titre': the ...

    """


class IncompatibleMixtureError(AssayError, ValueError):
    """A dose was asked for into something with which it forms a dangerous mixture.

    Examples
    --------
    >>> import assay
    >>> drum = assay.run_demo("drum").strengths["drum 7"]
    >>> cylinder = assay.Cylinder("C100", capacity="100 mL", subdivision="1 mL")
    >>> assay.dose(drum, deliver="0.1 mol OCl-", into="vinegar", dispenser=cylinder)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    assay.errors.IncompatibleMixtureError: into = 'vinegar': hypochlorite is never dispensed into acid: ...

    """


class SheetError(AssayError, ValueError):
    """A bench sheet cannot be read; the message names file, table, key and line.

    Examples
    --------
    >>> import assay
    >>> assay.run_demo("drumm")
    Traceback (most recent call last):
        ...
    assay.errors.SheetError: demo = 'drumm': there is no such demo sheet. Did you mean 'drum'?

    """


class MissingDependencyError(AssayError, ImportError):
    """An optional package is needed for this and is not installed.

    Examples
    --------
    >>> raise MissingDependencyError("pictures need matplotlib.", remedy="Install it.")
    Traceback (most recent call last):
        ...
    assay.errors.MissingDependencyError: pictures need matplotlib. Install it.

    """


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


def nearest(given: str, choices: Iterable[str], *, listed: Iterable[str] | None = None) -> str:
    """Return a phrase that offers the choices most like what was given, or all of them if none is.

    Where one thing has several names, ``listed`` are the ones to list in place of all.

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
    return "Known: " + ", ".join(repr(choice) for choice in (choices if listed is None else sorted(set(listed)))) + "."
