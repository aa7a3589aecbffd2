"""Rows as text, HTML and LaTeX: aligned, and escaped so that no label can be markup."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from assay.display.rows import Rows, escape_latex, html, latex, text

MARKUP = "<script>alert('x')</script> & \"q\""


def rows(*cells: str, title: str = "T") -> Rows:
    return Rows(title=title, head=("a", "b"), body=tuple((cell, "1") for cell in cells))


def test_text_is_aligned_without_trailing_space() -> None:
    assert text(rows("long cell", "x")) == "T\n  a          b\n  long cell  1\n  x          1"
    assert text(rows()) == "T\n  a  b"
    assert text(rows("x"), indent="") == "T\na  b\nx  1"


class Cells(HTMLParser):
    """Collects tags, and the text within them as a browser would show it."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.shown: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.shown.append("")
        assert not attrs

    def handle_data(self, data: str) -> None:
        self.shown[-1] += data


def parsed(page: str) -> Cells:
    cells = Cells()
    cells.feed(page)
    cells.close()
    return cells


def test_html_shows_what_was_given_and_nothing_else() -> None:
    cells = parsed(html(Rows(title=MARKUP, head=(MARKUP,), body=((MARKUP,),))))
    assert cells.tags == ["table", "caption", "thead", "tr", "th", "tbody", "tr", "td"]
    assert [shown for shown in cells.shown if shown] == [MARKUP] * 3


@given(st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=20))
def test_no_cell_can_open_a_tag(cell: str) -> None:
    cells = parsed(html(rows(cell)))
    assert set(cells.tags) == {"table", "caption", "thead", "tr", "th", "tbody", "td"}
    assert cells.shown[-2] == cell


def test_latex_by_hand() -> None:
    assert latex(rows("5 %", title="A_b")) == (
        "A\\_b\n\n\\begin{tabular}{ll}\na & b \\\\\n\\hline\n5 \\% & 1 \\\\\n\\end{tabular}"
    )


def test_latex_specials_by_hand() -> None:
    assert escape_latex(r"\ & % $ # _ { } ~ ^") == (
        r"\textbackslash{} \& \% \$ \# \_ \{ \} \textasciitilde{} \textasciicircum{}"
    )
    assert escape_latex("± ∞ u²") == r"$\pm$ $\infty$ u$^2$"


@given(st.text(st.sampled_from("\\&%$#_{}~^ab±∞²⁻"), max_size=20))
def test_no_special_character_is_left_bare(line: str) -> None:
    known = r"\\textbackslash\{\}|\\textasciitilde\{\}|\\textasciicircum\{\}|\\[&%$#_{}]|\$(\\pm|\\infty|\^2|\^-)\$"
    assert re.fullmatch(r"[ab]*", re.sub(known, "", escape_latex(line)))
