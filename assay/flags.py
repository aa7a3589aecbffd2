"""A doubt about the data is a flag: visible, named, and accepted only by name."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from assay.errors import BlockedResultError, DataError, nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A doubt about a result.

    Parameters
    ----------
    code : str
        The name by which the flag is accepted, for example ``"blank-above-titre"``.
    message : str
        What is doubtful, how large it is, and what to do at the bench.
    blocking : bool
        Whether later steps refuse the result until the flag is accepted by its code.
    accepted : str
        The reason given when it was accepted; empty if it was not.

    References
    ----------
    common practice: what is doubtful is told with the result, and what is accepted keeps its reason.

    Examples
    --------
    >>> print(Flag(code="no-blank", message="no blank was titrated."))
    no-blank: no blank was titrated.

    """

    code: str
    message: str
    blocking: bool = False
    accepted: str = ""

    def __str__(self) -> str:
        """Return the flag as one line of a report."""
        state = " (blocks later steps)" if self.blocking and not self.accepted else ""
        accepted = f" Accepted: {self.accepted}." if self.accepted else ""
        return f"{self.code}{state}: {self.message}{accepted}"


def accept(flags: tuple[Flag, ...], code: str, *, because: str) -> tuple[Flag, ...]:
    """Return the flags with the one named ``code`` accepted and the reason recorded.

    Raises
    ------
    DataError
        If no flag has this code, or no reason is given.

    """
    if code not in {flag.code for flag in flags}:
        raise DataError(
            "the result carries no such flag",
            argument="code",
            given=code,
            remedy=nearest(code, [flag.code for flag in flags]) if flags else "It carries no flag at all.",
        )
    if not because.strip():
        raise DataError(
            "a flag is accepted with a reason, which stays with the result",
            argument="because",
            given=because,
            remedy="Write who accepted it and why.",
        )
    return tuple(replace(flag, accepted=because.strip()) if flag.code == code else flag for flag in flags)


def merged(groups: Iterable[tuple[Flag, ...]]) -> tuple[Flag, ...]:
    """Return the flags of several results, each code and message once, in order of first appearance."""
    return tuple(dict.fromkeys(flag for group in groups for flag in group))


def codes_of(flags: Iterable[Flag]) -> str:
    """Return the codes of flags in brackets, for one line, each once; those that block have an exclamation mark."""
    told = (f"[{'!' if flag.blocking and not flag.accepted else ''}{flag.code}] " for flag in flags)
    return "".join(dict.fromkeys(told))


def refuse_blocked(flags: tuple[Flag, ...], *, what: str) -> None:
    """Raise `BlockedResultError` if a blocking flag was not accepted."""
    for flag in flags:
        if flag.blocking and not flag.accepted:
            raise BlockedResultError(
                f"{what} carries the blocking flag {flag.code!r}: {flag.message}",
                remedy=(
                    f"Mend the cause, or accept it by name, {flag.code!r}, where it arose, with the reason: "
                    f".accepting({flag.code!r}, because='…') on the result, accept= in dose() for a mean of assays, "
                    f'on a bench sheet accept = {{ {flag.code} = "…" }} in the table of that titration or dose.'
                ),
            )
