"""Operation: where each entry of a JSON text stands. Text that is JSON in, marks by path out."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from json.decoder import scanstring  # type: ignore[attr-defined]  # of the standard library, without a stub

from deadfront.project.sources import Mark, Source

DEEPEST = 64
"""Objects and lists within each other; a sentence of sentences of sentences takes a dozen."""

_BLANK = re.compile(r"[ \t\n\r]*")
_LINE_END = re.compile(r"\r\n|\r|\n")
_WORD = re.compile(r"[^\s,\]}]+")


@dataclass(frozen=True, slots=True)
class Entry:
    """Where an entry stands: its name, its value (an object's or a list's first character)."""

    key: Mark
    value: Mark


@dataclass(slots=True)
class Places:
    """Entries by path, `devices[2].moves[0].to`; names that stand twice; the first place that is too deep."""

    entries: dict[str, Entry] = field(default_factory=dict)
    twice: list[tuple[str, Mark]] = field(default_factory=list)
    too_deep: Mark | None = None


def places(source: Source) -> Places:
    """Walk a text that a JSON parser has taken."""
    walker = _Walker(source)
    walker.value(_skip(source.text, 0), "", None, 0)
    return walker.found


class _Walker:
    def __init__(self, source: Source) -> None:
        self.text = source.text
        self.starts = [0, *(found.end() for found in _LINE_END.finditer(source.text))]
        self.found = Places()

    def mark(self, start: int, end: int) -> Mark:
        line = bisect_right(self.starts, start)
        return Mark(line, start - self.starts[line - 1] + 1, max(1, end - start))

    def value(self, at: int, path: str, key: Mark | None, depth: int) -> int:
        """The place behind the value that begins at `at`."""
        opening = self.text[at]
        if opening in "{[" and depth == DEEPEST:
            self.found.too_deep = self.found.too_deep or self.mark(at, at + 1)
            return len(self.text)
        if opening in "{[":
            own = self.mark(at, at + 1)
            self.found.entries[path] = Entry(key or own, own)
            return self.members(at, path, depth) if opening == "{" else self.items(at, path, depth)
        word = _WORD.match(self.text, at)
        end = scanstring(self.text, at + 1)[1] if opening == '"' else word.end() if word else at + 1
        own = self.mark(at, end)
        self.found.entries[path] = Entry(key or own, own)
        return int(end)

    def members(self, at: int, path: str, depth: int) -> int:
        at = _skip(self.text, at + 1)
        while at < len(self.text) and self.text[at] != "}":
            name, end = scanstring(self.text, at + 1)
            key, inner = self.mark(at, end), f"{path}.{name}" if path else name
            if inner in self.found.entries:
                self.found.twice.append((inner, key))
            at = self.next(self.value(_skip(self.text, _skip(self.text, end) + 1), inner, key, depth + 1))
        return at + 1

    def items(self, at: int, path: str, depth: int) -> int:
        at, number = _skip(self.text, at + 1), 0
        while at < len(self.text) and self.text[at] != "]":
            at = self.next(self.value(at, f"{path}[{number}]", None, depth + 1))
            number += 1
        return at + 1

    def next(self, at: int) -> int:
        """The place of the next member or of the end, behind a comma if there is one."""
        at = _skip(self.text, at)
        return _skip(self.text, at + 1) if self.text[at : at + 1] == "," else at


def _skip(text: str, at: int) -> int:
    blank = _BLANK.match(text, at)
    return at if blank is None else blank.end()
