"""Results that are told as rows: as text, in a notebook and in LaTeX, with doubts before and notes after."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from assay.display.rows import html, latex, text

_C = TypeVar("_C", bound=type)


def told_as_rows(*, indent: str = "  ") -> Callable[[_C], _C]:
    """Return a decorator that gives a class with ``rows()`` its text, HTML and LaTeX; what it defines itself stays.

    Before the rows stand the lines of ``_first_lines()``, or without that method the flags; after them those of
    ``_last_lines()``, if there is that method.

    Parameters
    ----------
    indent : str
        What the lines after the rows begin with, as text.

    Examples
    --------
    >>> from assay.display.rows import Rows
    >>> @told_as_rows()
    ... class Weighed:
    ...     flags = ("few: one weighing",)
    ...
    ...     def rows(self):
    ...         return Rows(title="weighed", head=("g",), body=(("1.2",),))
    ...
    ...     def _last_lines(self):
    ...         return ("In air.",)
    >>> print(Weighed())
    ! few: one weighing
    weighed
      g
      1.2
      In air.

    """

    def as_text(result: Any) -> str:  # noqa: ANN401  (any class that has rows)
        after = (f"{indent}{line}" for line in _last(result))
        return "\n".join([*_first(result), text(result.rows()), *after])

    def as_html(result: Any) -> str:  # noqa: ANN401
        return html(result.rows(), before=_first(result), after=_last(result))

    def as_latex(result: Any) -> str:  # noqa: ANN401
        return latex(result.rows(), before=_first(result), after=_last(result))

    def decorated(cls: _C) -> _C:
        for name, method in (("__str__", as_text), ("_repr_html_", as_html), ("_repr_latex_", as_latex)):
            if name not in vars(cls):
                setattr(cls, name, method)
        return cls

    return decorated


def flag_lines(result: Any) -> tuple[str, ...]:  # noqa: ANN401  (any result)
    """Return the flags of a result as lines."""
    return tuple(f"! {flag}" for flag in getattr(result, "flags", ()))


def _first(result: Any) -> tuple[str, ...]:  # noqa: ANN401
    own: Callable[[], tuple[str, ...]] | None = getattr(result, "_first_lines", None)
    return flag_lines(result) if own is None else own()


def _last(result: Any) -> tuple[str, ...]:  # noqa: ANN401
    own: Callable[[], tuple[str, ...]] | None = getattr(result, "_last_lines", None)
    return () if own is None else own()
