"""Project: one curve file by itself; its text comes in, what is wrong and what is doubtful about it goes out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from deadfront.project.csv_files import curve_rows, is_invented, read_curve
from deadfront.project.curve_header import STATED, misspelt, read_header
from deadfront.project.errors import Problem, ProjectErrors
from deadfront.project.project import CurveData
from deadfront.project.sheets import Cell, is_comment
from deadfront.project.sources import LARGEST_FILE, Mark, Source, Unreadable, decode, read_bytes

WIDEST_STEP = 1.0
"""Decades of time between neighbouring points up to which a straight line between them is trusted [C]."""

FASTEST_NEEDED = 0.02
"""s; down to about a cycle the crossing of two fuses and the inrush at 0.01 s are read from the curve itself."""

EXAMPLES = {"temperature": "25 degC", "frequency": "60 Hz", "tolerance": "20 %"}
"""Statements that a curve is worth little without, each with one that would do."""

MEANING = {
    "temperature": "the temperature at which the curve is drawn",
    "frequency": "the frequency for which the curve is drawn",
    "tolerance": "by how much larger a current may be needed to melt the fuse in the same time",
}
"""What each of them says."""


@dataclass(frozen=True, slots=True)
class CheckedCurve:
    """A curve file with everything to be said about it.

    name      as the user gave it
    curve     None where something is wrong
    stated    what its comment lines state, by word
    invented  whether it says that its data are invented
    wrong     makes it unfit for a project
    doubtful  does not, but somebody should look
    """

    name: str
    curve: CurveData | None
    stated: dict[str, str]
    invented: bool
    wrong: tuple[Problem, ...]
    doubtful: tuple[Problem, ...]


def check_curve(path: Path) -> CheckedCurve:
    """Read a curve file as a project would, and look for what makes a curve doubtful."""
    name = str(path)
    try:
        source = decode(name, read_bytes(path))
    except Unreadable as error:
        expected = f"a CSV file of at most {LARGEST_FILE >> 20} MiB"
        return CheckedCurve(name, None, {}, False, (Problem(name, 0, 0, "", expected, error.found, ""),), ())
    except ProjectErrors as errors:
        return CheckedCurve(name, None, {}, False, errors.problems, ())
    return check_source(source)


def check_source(source: Source) -> CheckedCurve:
    """The same for a text in memory."""
    wrong: list[Problem] = []
    curve = read_curve(source, source.name, wrong.append, melting_only=True)
    entries = read_header(source, wrong.append)
    words = {word: entries[entry].text for word, entry in STATED.items() if entry in entries}
    doubtful = [*_misspelt(source), *_unstated(source, curve, words)]
    if curve is not None:
        doubtful += [*_wide_steps(source, curve), *_early_end(source, curve)]
    return CheckedCurve(source.name, curve, words, is_invented(source), tuple(wrong), tuple(doubtful))


def _misspelt(source: Source) -> Iterator[Problem]:
    for mark, word, meant in misspelt(source):
        expected = f"{', '.join(STATED)} before the colon, where a comment states something"
        yield source.problem(mark, "", expected=expected, found=f"`{word}`", remedy=f"did you mean `{meant}`?")


def _unstated(source: Source, curve: CurveData | None, words: dict[str, str]) -> Iterator[Problem]:
    """What the file should state and does not; the tolerance only where no clearing times show it."""
    mark = Mark(_header_line(source), 1)
    for word, example in EXAMPLES.items():
        needed = word != "tolerance" or (curve is not None and curve.total_clearing is None)
        if needed and word not in words:
            remedy = f"for example `# {word}: {example}` above the header"
            yield source.problem(
                mark, word, expected=f"a line that states {MEANING[word]}", found="none", remedy=remedy
            )


def _wide_steps(source: Source, curve: CurveData) -> Iterator[Problem]:
    from deadfront.physics.curves import wide_gaps  # here, so that a project without a curve check needs no numpy

    rows = curve_rows(source)
    for column, times in (("min_melt_s", curve.minimum_melting), ("total_clear_s", curve.total_clearing)):
        for gap in wide_gaps(times, WIDEST_STEP) if times is not None else ():
            cell, before = rows[gap.row][column], rows[gap.row - 1][column]
            found = f"a step from {before.text} s to {cell.text} s"
            remedy = "read one more point between them from the published curve"
            yield source.problem(cell.mark, column, expected="a point in each decade", found=found, remedy=remedy)


def _early_end(source: Source, curve: CurveData) -> Iterator[Problem]:
    times = curve.minimum_melting
    if times is not None and times[-1] > FASTEST_NEEDED:
        cell: Cell = curve_rows(source)[-1]["min_melt_s"]
        expected = f"melting times down to {FASTEST_NEEDED:g} s or less"
        remedy = "beyond its last point a curve is continued with constant I2t, which real fuses exceed or miss"
        yield source.problem(cell.mark, "min_melt_s", expected=expected, found=f"{times[-1]:g} s", remedy=remedy)


def _header_line(source: Source) -> int:
    lines = enumerate(source.lines, start=1)
    return next((number for number, line in lines if line.strip() and not is_comment(line)), 1)


def stated_text(words: dict[str, str]) -> str:
    """What a file states, in one line; empty if nothing."""
    return ", ".join(f"{word} {text}" for word, text in words.items())
