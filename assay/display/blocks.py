"""Pages of headings, sentences, formulas and tables as text, Markdown, HTML and LaTeX. Knows no result class."""

from __future__ import annotations

import html as markup
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import TypeAlias

from assay.display.rows import Rows, escape_latex
from assay.display.rows import html as html_of_rows
from assay.display.rows import latex as latex_of_rows
from assay.display.rows import text as text_of_rows

_WIDTH = 110


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: of the whole page (level 1), or of a part of it (level 2)."""

    title: str
    level: int = 2


@dataclass(frozen=True, slots=True)
class Sentence:
    """Some lines of prose."""

    written: str


@dataclass(frozen=True, slots=True)
class Mathematics:
    """A symbol or a formula, as text and as LaTeX."""

    text: str
    latex: str


@dataclass(frozen=True, slots=True)
class Equation:
    """What stands left of the sign of equality, and what stands right of it, line by line."""

    left: Mathematics
    right: tuple[Mathematics, ...]


@dataclass(frozen=True, slots=True)
class Listed:
    """Lines that each begin with a symbol, or with none."""

    lines: tuple[tuple[Mathematics | None, str], ...]


Block: TypeAlias = Heading | Sentence | Equation | Listed | Rows


def text(blocks: Sequence[Block]) -> str:
    """Return a page as text.

    Examples
    --------
    >>> y, x = Mathematics("y", "y"), Mathematics("2 * x", "2x")
    >>> print(text([Heading("Result"), Equation(y, (x, Mathematics("3.0 [L]", "")))]))
    Result
      y = 2 * x
        = 3.0 [L]

    """
    lines: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            lines += [""] if lines else []
            lines.append(block.title)
            lines += ["=" * len(block.title)] if block.level == 1 else []
        elif isinstance(block, Sentence):
            lines += wrap(block.written, _WIDTH, initial_indent="  ", subsequent_indent="  ")
        elif isinstance(block, Equation):
            lines += _equation_text(block)
        elif isinstance(block, Listed):
            for symbol, said in block.lines:
                start = f"    {symbol.text}: " if symbol else "  - "
                lines += wrap(said, _WIDTH, initial_indent=start, subsequent_indent="        ")
        else:
            lines += ["", text_of_rows(block)]
    return "\n".join(lines)


def _equation_text(block: Equation) -> Iterator[str]:
    start = f"  {block.left.text} = "
    for right in block.right:
        yield from wrap(
            right.text, _WIDTH, initial_indent=start, subsequent_indent=" " * (len(start) + 2), break_long_words=False,
            break_on_hyphens=False,
        )  # fmt: skip
        start = " " * (len(start) - 2) + "= "


def markdown(blocks: Sequence[Block]) -> str:
    """Return a page as Markdown, with formulas as LaTeX between dollar signs."""
    parts: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            parts.append(f"{'#' * block.level} {block.title}")
        elif isinstance(block, Sentence):
            parts.append(_escape_markdown(block.written))
        elif isinstance(block, Equation):
            parts.append(f"$$\n{_aligned(block)}\n$$")
        elif isinstance(block, Listed):
            parts.append(
                "\n".join(
                    f"- {f'${symbol.latex}$: ' if symbol else ''}{_escape_markdown(said)}"
                    for symbol, said in block.lines
                )
            )
        else:
            parts.append(_table_markdown(block))
    return "\n\n".join(parts) + "\n"


def _table_markdown(rows: Rows) -> str:
    head, *body = (
        "| " + " | ".join(_escape_markdown(cell).replace("|", r"\|") for cell in line) + " |"
        for line in (rows.head, *rows.body)
    )
    return "\n".join([f"**{rows.title}**", "", head, "|" + "---|" * len(rows.head), *body])


def _escape_markdown(line: str) -> str:
    for sign in "\\`*_<$":
        line = line.replace(sign, f"\\{sign}")
    return line


def html(blocks: Sequence[Block]) -> str:
    """Return a page as HTML, with formulas as text, which needs no program that sets mathematics."""
    parts: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            parts.append(f"<h{block.level + 2}>{markup.escape(block.title)}</h{block.level + 2}>")
        elif isinstance(block, Sentence):
            parts.append(f"<p>{markup.escape(block.written)}</p>")
        elif isinstance(block, Equation):
            rows = "".join(
                f"<tr><td><code>{markup.escape(block.left.text) if k == 0 else ''}</code></td>"
                f'<td style="text-align: left"><code>= {markup.escape(right.text)}</code></td></tr>'
                for k, right in enumerate(block.right)
            )
            parts.append(f"<table>{rows}</table>")
        elif isinstance(block, Listed):
            items = "".join(
                f"<li>{f'<code>{markup.escape(symbol.text)}</code>: ' if symbol else ''}{markup.escape(said)}</li>"
                for symbol, said in block.lines
            )
            parts.append(f"<ul>{items}</ul>")
        else:
            parts.append(html_of_rows(block))
    return "".join(parts)


def latex(blocks: Sequence[Block]) -> str:
    """Return a page as LaTeX, for a document that loads amsmath."""
    parts: list[str] = []
    for block in blocks:
        if isinstance(block, Heading):
            command = "section*" if block.level == 1 else "subsection*"
            parts.append(f"\\{command}{{{escape_latex(block.title)}}}")
        elif isinstance(block, Sentence):
            parts.append(escape_latex(block.written))
        elif isinstance(block, Equation):
            parts.append(f"\\[\n{_aligned(block)}\n\\]")
        elif isinstance(block, Listed):
            items = "\n".join(
                # The empty group keeps a line that begins with a bracket from being read as the label of the item.
                f"\\item {f'${symbol.latex}$: ' if symbol else '{}'}{escape_latex(said)}"
                for symbol, said in block.lines
            )
            parts.append(f"\\begin{{itemize}}\n{items}\n\\end{{itemize}}")
        else:
            parts.append(latex_of_rows(block))
    return "\n\n".join(parts) + "\n"


def _aligned(block: Equation) -> str:
    lines = " \\\\\n".join(f"&= {right.latex}" for right in block.right)
    return f"\\begin{{aligned}}\n{block.left.latex} {lines}\n\\end{{aligned}}"
