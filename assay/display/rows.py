"""Rows of text as text, HTML and LaTeX: one code path for every table that is shown."""

from __future__ import annotations

import html as markup
from dataclasses import dataclass
from itertools import zip_longest


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """A table ready to be shown.

    Parameters
    ----------
    title : str
        What it shows.
    head : tuple of str
        Column headings.
    body : tuple of tuple of str
        The rows.

    """

    title: str
    head: tuple[str, ...]
    body: tuple[tuple[str, ...], ...]


def text(rows: Rows, *, indent: str = "  ") -> str:
    """Return the rows as aligned text under their title.

    Examples
    --------
    >>> print(text(Rows(title="T", head=("a", "b"), body=(("1", "22"),))))
    T
      a  b
      1  22

    """
    lines = [rows.head, *rows.body]
    widths = [max(map(len, column)) for column in zip_longest(*lines, fillvalue="")]
    shown = [
        (indent + "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=False))).rstrip()
        for line in lines
    ]
    return "\n".join([rows.title, *shown])


def html(rows: Rows, *, before: tuple[str, ...] = (), after: tuple[str, ...] = ()) -> str:
    """Return the rows as an HTML table, with the title as its caption and lines before and after it."""
    head = "".join(f"<th>{markup.escape(cell)}</th>" for cell in rows.head)
    body = "".join("<tr>" + "".join(f"<td>{markup.escape(cell)}</td>" for cell in line) + "</tr>" for line in rows.body)
    caption = markup.escape(rows.title)
    first, last = ("".join(f"<p>{markup.escape(line)}</p>" for line in lines) for lines in (before, after))
    return (
        f"{first}<table><caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{last}"
    )


_LATEX = {
    "\\": r"\textbackslash{}", "&": r"\&", "%": r"\%", "$": r"\$", "#": r"\#", "_": r"\_", "{": r"\{", "}": r"\}",
    "~": r"\textasciitilde{}", "^": r"\textasciicircum{}", "±": r"$\pm$", "∞": r"$\infty$", "²": r"$^2$", "⁻": r"$^-$",
}  # fmt: skip


def escape_latex(line: str) -> str:
    r"""Return text that LaTeX shows as it is.

    Examples
    --------
    >>> escape_latex("5 % & more")
    '5 \\% \\& more'

    """
    return "".join(_LATEX.get(character, character) for character in line)


def latex(rows: Rows, *, before: tuple[str, ...] = (), after: tuple[str, ...] = ()) -> str:
    """Return the rows as a LaTeX tabular, with the title above and lines before and after it."""
    columns = "l" * len(rows.head)
    lines = [" & ".join(escape_latex(cell) for cell in line) + r" \\" for line in (rows.head, *rows.body)]
    body = "\n".join([lines[0], r"\hline", *lines[1:]])
    tabular = f"\\begin{{tabular}}{{{columns}}}\n{body}\n\\end{{tabular}}"
    return "\n\n".join([*map(escape_latex, before), escape_latex(rows.title), tabular, *map(escape_latex, after)])
