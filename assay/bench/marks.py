"""What a titre is marked as: rough, or void for a reason."""

from __future__ import annotations

from typing import TypedDict

from assay.errors import DataError


class Marks(TypedDict):
    """Whether a titre was a trial run, and the reason why it does not count; empty if it does."""

    rough: bool
    void: str


def marks(*, rough: object, void: object) -> Marks:
    """Return what a titre is marked as.

    Raises
    ------
    DataError
        If ``rough`` is not true or false, or the reason no text.

    """
    if not isinstance(rough, bool):
        raise DataError(
            "a titre is rough or it is not", argument="rough", given=rough, expected="True or False",
            remedy="Write rough=True for a trial run, or leave it out.",
        )  # fmt: skip
    if not isinstance(void, str):
        raise DataError(
            "the reason why a titre does not count is a text", argument="void", given=str(void),
            remedy="Write void='overshot', or leave it out.",
        )  # fmt: skip
    return Marks(rough=rough, void=void.strip())
