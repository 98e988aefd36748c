"""Project: what is wrong with a file and what would be right; problems come in, a text a person can act on goes out."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

WIDTH = 80
"""Columns of a terminal that everybody has."""

MOST_SHOWN = 100
"""Problems that the text spells out; the others are counted."""

_INDENT = 4


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    file         name as the user gave it, or a file beside it
    line, column where it stands, from 1; zero where it has no place, as with a missing file
    path         entry (`transformer.impedance`); for a CSV file row and column; empty for the file as a whole
    source_line  that line of the file
    length       characters to underline, from `column`
    """

    file: str
    line: int
    column: int
    path: str
    expected: str
    found: str
    help: str
    source_line: str = ""
    length: int = 1

    @property
    def place(self) -> str:
        """`kestrel-point.yaml:21:14`, as editors and terminals understand it."""
        return f"{self.file}:{self.line}:{self.column}" if self.line else self.file

    def __str__(self) -> str:
        lines = [visible(f"{self.place}  {self.path}".rstrip())]
        if self.line:
            lines += _underlined(self.source_line, self.column, self.length)
        lines += _wrapped(f"expected {visible(self.expected)}, got {visible(self.found)}")
        if self.help:
            lines += ["", *_wrapped(f"help: {visible(self.help)}")]
        return "\n".join(lines)


class ProjectErrors(Exception):  # noqa: N818  it carries errors, one or many
    """A project that cannot be used as it stands; `problems` holds all that is wrong, in the order of the files."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(self.problems)

    def __str__(self) -> str:
        shown = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        if len(self.problems) > MOST_SHOWN:
            shown.append(f"and {len(self.problems) - MOST_SHOWN} more")
        return "\n\n".join(shown)


def visible(text: str) -> str:
    """The text with every character that does not print, or that turns the writing direction, as its escape."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def either(words: Iterable[str]) -> str:
    """Words of the file as a choice: `` `solid`, `isolated` or `resonant` ``."""
    names = [f"`{word}`" for word in words]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def unwritable(error: OSError) -> str:
    """What the system said of a place that could not be written to, as a sentence; a pipe that closed is no fault.

    raises  BrokenPipeError: the error itself, where whoever read the output stopped reading
    """
    if isinstance(error, BrokenPipeError):
        raise error
    place = visible(str(error.filename2 or error.filename or "output"))
    return f"{place}: expected a place that can be written to, got a refusal of the system ({error.strerror})"


def shortened(text: str, length: int = 40) -> str:
    """The text, cut where it would drown the message."""
    return text if len(text) <= length else f"{text[: length - 3]}..."


def _underlined(source: str, column: int, length: int) -> list[str]:
    """The line and a row of carets under the culprit, as a window of the line where it is too long."""
    room = WIDTH - _INDENT
    before, culprit = source[: column - 1].lstrip(), source[column - 1 : column - 1 + length]
    after = source[column - 1 + length :].rstrip()
    left = visible(before)
    middle = visible(culprit)
    kept = room - min(_cells(middle) + min(_cells(visible(after)), 3), room // 2)
    if _cells(left) > kept:
        left = "..." + left[-max(1, (kept - 3) * len(left) // _cells(left)) :]
    line = shortened(left + middle + visible(after), room)
    carets = max(1, min(_cells(middle), _cells(line) - _cells(left)))
    return [f"{' ' * _INDENT}{line}".rstrip(), f"{' ' * (_INDENT + _cells(left))}{'^' * carets}"]


def _cells(text: str) -> int:
    """Columns a terminal needs for the text: East Asian wide characters take two, combining marks none."""
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def _wrapped(sentence: str) -> list[str]:
    return textwrap.wrap(
        sentence, WIDTH, subsequent_indent=" " * _INDENT, break_long_words=True, break_on_hyphens=False
    )
