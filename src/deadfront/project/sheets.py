"""Project: the rows of a CSV file; text comes in, cells with their places go out, and a note of each fault."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from deadfront.project.errors import Problem, shortened
from deadfront.project.sources import Mark, Source

SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}
"""What other programs put between columns, and how a sentence calls it."""

_CELL = re.compile(r'"((?:[^"]|"")*)"|([^",]*)')


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of a row: its text, and where it stands."""

    text: str
    mark: Mark


Row = dict[str, Cell]


@dataclass(slots=True)
class Sheet:
    """A CSV file while it is read: commas between columns, one header line, comment lines that begin with `#`."""

    source: Source
    problems: list[Problem] = field(default_factory=list)

    def say(self, mark: Mark, column: str, expected: str, found: str, remedy: str = "") -> None:
        """Note a fault."""
        self.problems.append(self.source.problem(mark, column, expected=expected, found=found, remedy=remedy))

    def read(self, columns: Iterable[str], required: tuple[str, ...]) -> tuple[list[Cell], list[Row]] | None:
        """Header and rows; None, and notes, where the header, a row's length or a quotation mark is wrong."""
        lines = [
            (number, line)
            for number, line in enumerate(self.source.lines, start=1)
            if line.strip() and not is_comment(line)
        ]
        if not lines:
            self.say(Mark(1, 1), "", f"a header such as `{','.join(required)}`", "no lines")
            return None
        number, line = lines[0]
        if wrong := next((mark for mark in SEPARATORS if mark in line and "," not in line), None):
            at = Mark(number, line.index(wrong) + 1)
            remedy = "save the file with commas, and with points in its numbers"
            self.say(at, "", "columns separated by commas", SEPARATORS[wrong], remedy)
            return None
        header = self._cells(number, line)
        if header is None or not self._header_fits(header, list(columns), required):
            return None
        rows = [self._row(header, number, line) for number, line in lines[1:]]
        if not rows:
            self.say(header[0].mark, "", "rows below the header", "none")
        whole = [row for row in rows if row is not None]
        return (header, whole) if rows and len(whole) == len(rows) else None

    def _row(self, header: list[Cell], number: int, line: str) -> Row | None:
        cells = self._cells(number, line)
        if cells is None:
            return None
        if len(cells) != len(header):
            remedy = "a decimal comma counts as a column; write points in numbers" if len(cells) > len(header) else ""
            self.say(Mark(number, 1, len(line)), "", f"{len(header)} columns", f"{len(cells)}", remedy)
            return None
        return {name.text: cell for name, cell in zip(header, cells, strict=True)}

    def _header_fits(self, header: list[Cell], columns: list[str], required: tuple[str, ...]) -> bool:
        """Whether each column is known, stands once, and none is lacking."""
        before = len(self.problems)
        seen: set[str] = set()
        for cell in header:
            near = difflib.get_close_matches(cell.text, columns, n=1)
            if cell.text in seen:
                self.say(cell.mark, "", "each column once", f"a second `{cell.text}`", "delete one of the two")
            elif cell.text not in columns:
                remedy = f"did you mean `{near[0]}`?" if near else f"the columns are {', '.join(columns)}"
                self.say(cell.mark, "", "a known column", f"`{shortened(cell.text)}`", remedy)
            seen.add(cell.text)
        misspelt = seen - {*columns}
        for name in required:
            if name not in seen and not difflib.get_close_matches(name, misspelt, n=1):
                self.say(header[0].mark, "", f"a column `{name}`", "none of that name", f"add `{name}` to this line")
        return len(self.problems) == before and seen >= {*required}

    def _cells(self, number: int, line: str) -> list[Cell] | None:
        """Fields of a line; a field in double quotes may hold commas, and doubled quotes."""
        cells: list[Cell] = []
        position = 0
        while True:
            start = len(line) - len(line[position:].lstrip(" ")) if line[position:].strip() else position
            match = _CELL.match(line, start)
            assert match is not None  # the second alternative matches an empty field
            rest = re.match(r" *(,|$)", line[match.end() :])
            if rest is None:
                at = Mark(number, match.end() + 1)
                self.say(at, "", "a comma or the end of the line", f"`{line[match.end()]}`")
                return None
            text = match[2] if match[1] is None else match[1].replace('""', '"')
            cells.append(Cell(text.strip(), Mark(number, start + 1, max(1, len(match[0].rstrip())))))
            position = match.end() + len(rest[0])
            if not rest[1]:
                return cells


def is_comment(line: str) -> bool:
    """Whether a line is a comment, also where a spreadsheet has put it in quotes."""
    return line.lstrip(' "').startswith("#")
