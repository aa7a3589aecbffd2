"""The demo sheet as text, and edits of it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from assay.data import text_resource


@pytest.fixture(scope="session")
def demo() -> str:
    return text_resource("demo_drum.toml")


@pytest.fixture(scope="session")
def edited(demo: str) -> Callable[..., str]:
    """Return a function that replaces texts, each of which stands in the demo sheet, at its first place."""

    def edit(*edits: tuple[str, str]) -> str:
        text = demo
        for old, new in edits:
            assert old in text, old
            text = text.replace(old, new, 1)
        return text

    return edit
