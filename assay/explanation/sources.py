"""What a kernel's docstring says of it: what it computes, and where that was published."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Iterable, Iterator

from assay.data import references
from assay.metrology.chain import Chain

_SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
_KEY = re.compile(r"\[([\w.-]+)\]")


def purpose(kernel: Callable[..., object]) -> str:
    """Return what a kernel computes, as a sentence; empty if it does not say.

    Examples
    --------
    >>> from assay.kernels.dilution import concentration_from_amount
    >>> purpose(concentration_from_amount)
    'The amount concentration of a solution made up in a flask.'

    """
    if isinstance(kernel, Chain) and not kernel.own:
        return kernel.summary
    if isinstance(kernel, Chain):
        named = "" if kernel.name == "<lambda>" else f", {kernel.name}"
        return f"A formula of your own{named}. {kernel.summary}".rstrip()
    summary = " ".join((inspect.getdoc(kernel) or "").partition("\n\n")[0].split()).removeprefix("Return ")
    return f"{summary[:1].upper()}{summary[1:]}"


def published(kernel: Callable[..., object]) -> list[str]:
    """Return the entries of a kernel's References.

    Examples
    --------
    >>> from assay.kernels.dilution import concentration_from_amount
    >>> published(concentration_from_amount)
    ['common practice: amount over volume of solution.']

    """
    if isinstance(kernel, Chain):
        return []
    parts = _SECTION.split(inspect.getdoc(kernel) or "")
    section = dict(zip(parts[1::2], parts[2::2], strict=True)).get("References", "")
    return [" ".join(entry.split()) for entry in re.split(r"\n(?=\[)|\n\s*\n", section) if entry.strip()]


def cited(entries: Iterable[str]) -> Iterator[str]:
    """Yield the sources that some entries cite by key, each once, in full."""
    known = references()
    for key in dict.fromkeys(key for entry in entries for key in _KEY.findall(entry)):
        if key in known:
            yield f"[{key}] {known[key].citation}"
