"""The text of a sheet, and where in it everything stands: messages name table, key and line."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from assay.errors import SheetError

#: Path of a table or key, with the number of an array's item where there is one: ("dose", 0, "into").
Path: TypeAlias = "tuple[str | int, ...]"

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_QUOTED = re.compile(
    r'"""(?:\\.|[^\\])*?"""{1,3}|' + r"'''.*?'''{1,3}|" + r'"(?:\\.|[^"\\\n])*"|' + r"'[^'\n]*'", re.DOTALL
)
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_DOT = re.compile(r"[ \t]*\.[ \t]*")
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A sheet as text and as data.

    Parameters
    ----------
    name : str
        Name of the file, for messages.
    text : str
        The text.
    data : dict
        What it says.
    lines : dict
        Line of each table, key and item, by path.
    headers : frozenset
        Paths of the tables that have a header of their own.

    """

    name: str
    text: str
    data: dict[str, Any]
    lines: dict[Path, int] = field(default_factory=dict)
    headers: frozenset[Path] = frozenset()

    def line_of(self, path: Path) -> int:
        """Return the line of a table, key or item; the nearest above it in the tree if it is not written."""
        for k in range(len(path), 0, -1):
            if path[:k] in self.lines:
                return self.lines[path[:k]]
            # A table may be there only through its parts, as [instruments] is through [instruments.B1].
            parts = [line for other, line in self.lines.items() if other[:k] == path[:k]]
            if parts:
                return min(parts)
        return 1

    def shown(self, path: Path) -> str:
        """Return a path as a person finds it on the sheet."""
        parts = {header[:k] for header in self.headers for k in range(1, len(header) + 1)}
        k = next((k for k in range(len(path), 0, -1) if path[:k] in parts), 0)
        return ", ".join([*_header(path[:k]), *_inside(path[k:])])

    def error(
        self, path: Path, problem: str, *, given: object = None, expected: str = "", remedy: str = ""
    ) -> SheetError:
        """Return an error that names file, line, table and key."""
        where = ", ".join(part for part in (self.name, f"line {self.line_of(path)}", self.shown(path)) if part)
        return SheetError(problem, argument=where, given=given, expected=expected, remedy=remedy)


def _header(path: Path) -> list[str]:
    """Return a table as its header is written, and which one it is where there are several.

    Examples
    --------
    >>> _header(("instruments", "B1")), _header(("dose", 0)), _header(("assay", 1, "sampling"))
    (['[instruments.B1]'], ['[[dose]] 1'], ['[assay.sampling] of [[assay]] 2'])

    """
    if not path:
        return []
    names = ".".join(part for part in path if isinstance(part, str))
    if isinstance(path[-1], int):
        return [f"[[{names}]] {path[-1] + 1}"]
    above = next((k for k in range(len(path), 0, -1) if isinstance(path[k - 1], int)), 0)
    return [f"[{names}] of {_header(path[:above])[0]}" if above else f"[{names}]"]


def _inside(path: Path) -> list[str]:
    """Return keys and items below a header.

    Examples
    --------
    >>> _inside(("titres", 1)), _inside(("dilutions", 0, "flask"))
    (['key titres', 'item 2'], ['key dilutions', 'item 1', 'key flask'])

    """
    return [f"item {part + 1}" if isinstance(part, int) else f"key {part}" for part in path]


def parsed(text: str, name: str) -> Source:
    """Return a sheet's text as data.

    Raises
    ------
    SheetError
        If it is not TOML, or a key is repeated; the message names the line.

    """
    text = text.removeprefix("\ufeff")  # some editors begin a file with a byte-order mark
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(str(error), text, name) from None
    scan = _Scan(text)
    scan.document()
    return Source(name=name, text=text, data=data, lines=scan.lines, headers=frozenset(scan.headers))


_SECOND = ("overwrite", "twice", "already", "mutate", "Duplicate")


def _syntax_error(message: str, text: str, name: str) -> SheetError:
    match = _AT_LINE.search(message)
    lines = text.rstrip("\n").split("\n")
    number = min(int(match.group(1)), len(lines)) if match else len(lines)
    content = lines[number - 1].strip()
    reason = _AT_LINE.sub("", message).replace("(at end of document)", "at the end of the file").strip()
    if any(word in reason for word in _SECOND):
        problem = "this key or table is written a second time."
        remedy = "Keep one of the two; a key stands once in its table."
    else:
        problem = f"this is not TOML: {_told(reason)}."
        remedy = _mended(content)
    return SheetError(problem, argument=f"{name}, line {number}", given=content, remedy=remedy)


def _told(reason: str) -> str:
    """Return a reason of the TOML reader in words for the bench."""
    if "'\\n'" in reason or "Unterminated string" in reason:
        return "a text is not closed, its second quote is missing"
    return f"{reason[:1].lower()}{reason[1:]}"


def _mended(content: str) -> str:
    if re.search(r"=\s*[+-]?\d+,\d", content):
        return 'A number has a decimal point; a reading is a text with its unit, such as "24.35 mL".'
    if re.match(r"\s*date\s*=", content):
        return "A date is written year-month-day, such as date = 2026-11-16."
    return (
        "Texts and readings stand in double quotes, lists in [square brackets], one key on each line. "
        "Look at the lines above as well: a bracket or a comma may be missing there."
    )


class _Scan:
    """Finds the line of every header, key and item of a text that is known to be valid TOML."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.headers: set[Path] = set()
        self._counts: dict[Path, int] = {}
        self._ends_of_lines = [match.start() for match in re.finditer("\n", text)]

    def document(self) -> None:
        """Go through the whole text."""
        table: Path = ()
        self._blank()
        while self.at < len(self.text):
            if self._next("["):
                table = self._table()
            else:
                self._pair(table)
            self._blank()

    def _table(self) -> Path:
        path: Path = ()
        start = self.at - 1
        several = self._next("[")
        self._blank()
        names = self._key()
        for k, name in enumerate(names):
            path = (*path, name)
            if several and k == len(names) - 1:
                self._counts[path] = self._counts.get(path, -1) + 1
            if path in self._counts:
                path = (*path, self._counts[path])
        self._note(path, start)
        self.headers.add(path)
        self.at = self.text.index("]", self.at) + (2 if several else 1)
        return path

    def _pair(self, table: Path) -> None:
        start = self.at
        path = (*table, *self._key())
        self._note(path, start)
        self.at = self.text.index("=", self.at) + 1
        self._value(path)

    def _value(self, path: Path) -> None:
        self._blank()
        if self._next("["):
            k = 0
            while not self._ends("]"):
                self._note((*path, k), self.at)
                self._value((*path, k))
                k += 1
        elif self._next("{"):
            while not self._ends("}"):
                self._pair(path)
        else:
            match = _QUOTED.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            self.at = match.end() if match is not None else len(self.text)

    def _ends(self, bracket: str) -> bool:
        self._blank()
        if self._next(","):
            self._blank()
        return self._next(bracket)

    def _key(self) -> tuple[str, ...]:
        parts: list[str] = []
        while True:
            quoted = _QUOTED.match(self.text, self.at)
            match = quoted or _BARE.match(self.text, self.at)
            if match is None:
                return tuple(parts)
            parts.append(tomllib.loads(f"key = {match.group()}")["key"] if quoted else match.group())
            dot = _DOT.match(self.text, match.end())
            if dot is None:
                self.at = match.end()
                return tuple(parts)
            self.at = dot.end()

    def _blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        self.at = match.end() if match is not None else self.at

    def _next(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def _note(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, bisect_left(self._ends_of_lines, at) + 1)
