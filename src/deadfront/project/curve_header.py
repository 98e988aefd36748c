"""Project: what the comment lines of a curve file state; lines come in, entries of the fuse go out."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator

from deadfront.project.errors import Problem
from deadfront.project.model import Fuse
from deadfront.project.quantities import Quantity, QuantityError
from deadfront.project.shape import entries
from deadfront.project.sheets import Cell, is_comment
from deadfront.project.sources import Mark, Source

STATED = {
    "temperature": "reference_temperature",
    "frequency": "reference_frequency",
    "tolerance": "melting_tolerance",
    "arcing time": "arcing_time",
}
"""What a line `# temperature: 25 degC` above the header may state, and the entry of the fuse that it stands for."""

_LINE = re.compile(r'^[ "]*#+\s*([A-Za-z][A-Za-z ]*?)\s*:\s*([^"]*?)[ ",]*$')

Report = Callable[[Problem], None]


def read_header(source: Source, report: Report) -> dict[str, Cell]:
    """Entries of a fuse that the comment lines above a curve state, as the project file would write them.

    A number that is none, and a second line about the same thing, are reported; every other comment is passed over.
    """
    found: dict[str, Cell] = {}
    for word, cell in _stated(source):
        entry = STATED.get(word)
        if entry is None:
            continue
        if entry in found:
            expected, remedy = f"one line `# {word}:`", "delete one of the two"
            report(source.problem(cell.mark, word, expected=expected, found="a second one", remedy=remedy))
            continue
        try:
            stated_quantity(entry, cell.text)
        except QuantityError as error:
            remedy = error.help(f"# {word}")
            report(source.problem(cell.mark, word, expected=error.expected, found=error.found, remedy=remedy))
            continue
        found[entry] = cell
    return found


def stated_quantity(entry: str, text: str) -> Quantity:
    """A text as the number that an entry of a fuse takes; QuantityError where it is none."""
    measured = entries(Fuse)[entry].measured
    assert measured is not None  # every entry of `STATED` is a number
    return measured.read(text)


def contradicts(entry: str, own: str, stated: str) -> bool:
    """Whether two texts of an entry are two numbers; a text that is none is reported where the entry is checked."""
    try:
        one, other = stated_quantity(entry, own), stated_quantity(entry, stated)
    except QuantityError:
        return False
    return (one.low, one.high) != (other.low, other.high)


def misspelt(source: Source) -> Iterator[tuple[Mark, str, str]]:
    """Comment lines that look like a statement but are none: place, word, and the word that was meant."""
    for word, cell in _stated(source):
        near = difflib.get_close_matches(word, STATED, n=1, cutoff=0.75)
        if near and word not in STATED:
            column = source.line(cell.mark.line).lower().index(word) + 1
            yield Mark(cell.mark.line, column, len(word)), word, near[0]


def _stated(source: Source) -> Iterator[tuple[str, Cell]]:
    """Comment lines of the form `# word: value`, above the first line that is no comment."""
    for number, line in enumerate(source.lines, start=1):
        if line.strip() and not is_comment(line):
            return
        match = _LINE.match(line)
        if match:
            column = match.start(2) + 1 if match[2] else match.start(1) + 1
            yield match[1].lower(), Cell(match[2], Mark(number, column, max(1, len(match[2]))))
