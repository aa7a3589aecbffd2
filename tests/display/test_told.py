"""Results that are told as rows, in every form: doubts before, notes after."""

from __future__ import annotations

from assay import dixon
from assay.display.rows import Rows
from assay.display.told import told_as_rows


@told_as_rows()
class Weighed:
    flags = ("few: one weighing",)

    def rows(self) -> Rows:
        return Rows(title="weighed", head=("g",), body=(("1.2",),))

    def _last_lines(self) -> tuple[str, ...]:
        return ("In air.",)

    def _repr_latex_(self) -> str:
        return "its own"


def test_doubts_stand_before_and_notes_after_in_text_and_html() -> None:
    assert str(Weighed()).splitlines() == ["! few: one weighing", "weighed", "  g", "  1.2", "  In air."]
    shown = Weighed()._repr_html_()  # type: ignore[attr-defined]
    assert shown.index("few: one weighing") < shown.index("1.2") < shown.index("In air.")


def test_what_a_class_defines_itself_stays() -> None:
    assert Weighed()._repr_latex_() == "its own"


def test_a_suspected_outlier_is_told_in_every_form() -> None:
    found = dixon([24.30, 24.35, 24.32, 24.34, 25.10])
    for form in (str(found), found._repr_html_(), found._repr_latex_()):  # type: ignore[attr-defined]
        assert "suspected-outlier" in form
