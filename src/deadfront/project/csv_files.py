"""Project: the CSV files beside a project file; text comes in, curves and catalogue rows with their places go out."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from deadfront.project.errors import Problem, either, shortened
from deadfront.project.model import Cable, MotorGroup, Slot
from deadfront.project.project import CurveData
from deadfront.project.quantities import QuantityError
from deadfront.project.shape import Shape, entries
from deadfront.project.sources import Mark, Source, unfit_name

INVENTED = "INVENTED demonstration data"
"""What the first comment line of a file of invented data says."""

FEWEST_POINTS = 3
"""Points of a curve; two are one straight line in logarithmic scales, which no fuse or breaker has."""

LATEST_END = 1.0
"""s; a curve must come down at least this far: faults are cleared below it, and nothing may be extrapolated."""

LEAST_SPAN = 10.0
"""Slowest over fastest time of a curve: one decade; below that it is a piece of a curve."""

LARGEST_CURRENT = 1e6
"""A; far above any fault current at these voltages, so that a wrong unit shows."""

LONGEST_TIME = 1e6
"""s; eleven days, so that a wrong unit shows."""

SUFFIXES = {
    "ohm_per_km": "ohm/km",
    "ohm_per_kft": "ohm/kft",
    "mm2": "mm2",
    "kcmil": "kcmil",
    "degc": "degC",
    "degf": "degF",
    "kw": "kW",
    "mw": "MW",
    "hp": "hp",
    "percent": "%",
}
"""Unit of a column, by the end of its name; a share without one is a fraction."""

_CURVE_COLUMNS = ("current_a", "min_melt_s", "total_clear_s")
_NOT_IN_CATALOGUE = ("length", "catalogue", "type", "parallel")
_CELL = re.compile(r'"((?:[^"]|"")*)"|([^",]*)')
_NUMBER = re.compile(r"[+-]?[0-9]{1,20}(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,2})?")


@dataclass(frozen=True, slots=True)
class Cell:
    """One field of a row: its text, and where it stands."""

    text: str
    mark: Mark


Row = dict[str, Cell]
Report = Callable[[Problem], None]


@dataclass(frozen=True, slots=True)
class Rows:
    """Named rows of a catalogue or schedule: the place of each name, and the entries given."""

    places: dict[str, Mark]
    values: dict[str, dict[str, Cell]]


def is_invented(source: Source) -> bool:
    """Whether the file's first comment line says that its data are invented."""
    comment = next((line for line in source.lines if _is_comment(line)), "")
    return INVENTED in comment


def read_curve(source: Source, name: str, report: Report) -> CurveData | None:
    """A time-current curve: columns current_a, min_melt_s, total_clear_s, rows by rising current.

    A breaker's file leaves out min_melt_s. Currents rise strictly; times never rise; melting is never later than
    clearing; FEWEST_POINTS points; the last clearing time at most LATEST_END and the times spanning LEAST_SPAN.
    None where anything is reported.
    """
    problems: list[Problem] = []
    table = _table(source, dict.fromkeys(_CURVE_COLUMNS), ("current_a", "total_clear_s"), problems.append)
    if table is None:
        _pass_on(problems, report)
        return None
    header, rows = table
    numbers = {cell.text: _positive(source, cell.text, rows, problems.append) for cell in header}
    for faults in (_row_problems, _curve_problems):
        if not problems:
            problems.extend(faults(source, rows, numbers))
    _pass_on(problems, report)
    if problems:
        return None
    melting = tuple(numbers["min_melt_s"]) if "min_melt_s" in numbers else None
    return CurveData(tuple(numbers["current_a"]), melting, tuple(numbers["total_clear_s"]), name)


def read_cables(source: Source, report: Report) -> Rows:
    """A catalogue of cables: column `type`, then entries of a cable with the unit at the end of the column's name."""
    return _named_rows(source, "type", Cable, _NOT_IN_CATALOGUE, report)


def read_motors(source: Source, report: Report) -> Rows:
    """A schedule of motor groups: column `name`, then entries of a group with the unit at the end of the name."""
    return _named_rows(source, "name", MotorGroup, (), report)


def columns_of(slot: type[Slot], left_out: tuple[str, ...] = ()) -> dict[str, tuple[str, str]]:
    """Columns that a file about this slot may have: entry and unit by column name."""
    columns: dict[str, tuple[str, str]] = {}
    for name, shape in entries(slot).items():
        if name in left_out:
            continue
        if shape.measured is None:
            columns[name] = (name, "")
            continue
        dimension = shape.measured.dimension
        if dimension in ("number", "share"):
            columns[name] = (name, "pu" if dimension == "share" else "")
        for suffix, unit in SUFFIXES.items():
            if shape.measured.accepts(unit):
                columns[f"{name}_{suffix}"] = (name, unit)
    return columns


def _named_rows(source: Source, key: str, slot: type[Slot], left_out: tuple[str, ...], report: Report) -> Rows:
    columns = columns_of(slot, left_out)
    found = Rows({}, {})
    table = _table(source, {key: None} | dict.fromkeys(columns), (key,), report)
    if table is None:
        return found
    header, rows = table
    if _twice_given(source, [cell for cell in header if cell.text != key], columns, report):
        return found
    shapes = entries(slot)
    for row in rows:
        name = row[key]
        unfit = unfit_name(name.text) if key == "name" or not name.text else ""
        if unfit:
            _report(source, report, name, key, f"a {key} of plain words", unfit)
        elif name.text in found.places:
            first = found.places[name.text].line
            _report(source, report, name, key, "each name once", f"`{name.text}` again; the first is on line {first}")
        else:
            found.places[name.text] = name.mark
            found.values[name.text] = {
                columns[column][0]: Cell(text, cell.mark)
                for column, cell in row.items()
                if column != key and cell.text
                for text in _checked(source, cell, column, columns[column][1], shapes[columns[column][0]], report)
            }
    return found


def _twice_given(source: Source, header: list[Cell], columns: dict[str, tuple[str, str]], report: Report) -> bool:
    """Whether two columns give one entry in two units."""
    first: dict[str, Cell] = {}
    doubled = False
    for cell in header:
        entry, _ = columns[cell.text]
        if entry in first:
            found = f"`{first[entry].text}` as well"
            _report(source, report, cell, "", f"one column for `{entry}`", found, "keep one of the units")
            doubled = True
        first.setdefault(entry, cell)
    return doubled


def _checked(source: Source, cell: Cell, column: str, unit: str, shape: Shape, report: Report) -> Iterator[str]:
    """The cell as the project file would write it, once it is right; otherwise a report and nothing."""
    if shape.measured is not None:
        text = f"{cell.text} {unit}".strip()
        try:
            shape.measured.read(text)
        except QuantityError as error:
            example = shape.measured.example.split(" ")[0]
            remedy = (
                f"the unit stands in the column's name; for example `{example}`" if unit else f"for example `{example}`"
            )
            found = error.found.replace(f"`{text}`", f"`{shortened(cell.text)}`")
            _report(source, report, cell, column, error.expected, found, remedy)
        else:
            yield text
    elif shape.choices and cell.text not in shape.choices:
        near = difflib.get_close_matches(cell.text, shape.choices, n=1)
        remedy = f"did you mean `{near[0]}`?" if near else ""
        _report(source, report, cell, column, either(shape.choices), f"`{shortened(cell.text)}`", remedy)
    else:
        yield cell.text


def _table(
    source: Source, columns: dict[str, None], required: tuple[str, ...], report: Report
) -> tuple[list[Cell], list[Row]] | None:
    """Header and rows; None, and a report, where the header or a row's length is wrong."""
    lines = [
        (number, line) for number, line in enumerate(source.lines, start=1) if line.strip() and not _is_comment(line)
    ]
    start = Mark(1, 1, 1)
    if not lines:
        header = ",".join(required)
        report(source.problem(start, "", expected=f"a header such as `{header}`", found="no lines", remedy=""))
        return None
    number, line = lines[0]
    if wrong := next((mark for mark in (";", "\t", "|") if mark in line and "," not in line), None):
        name = {";": "semicolons", "\t": "tabs", "|": "bars"}[wrong]
        at = Mark(number, line.index(wrong) + 1)
        remedy = "save the file with commas, and with points in its numbers"
        report(source.problem(at, "", expected="columns separated by commas", found=name, remedy=remedy))
        return None
    header_cells = _cells(source, number, line, report)
    if header_cells is None or not _header_fits(source, header_cells, columns, required, report):
        return None
    names = [cell.text for cell in header_cells]
    rows: list[Row] = []
    whole = True
    for number, line in lines[1:]:
        cells = _cells(source, number, line, report)
        if cells is None:
            whole = False
        elif len(cells) != len(names):
            at = Mark(number, 1, len(line))
            remedy = "a decimal comma counts as a column; write points in numbers" if len(cells) > len(names) else ""
            report(source.problem(at, "", expected=f"{len(names)} columns", found=f"{len(cells)}", remedy=remedy))
            whole = False
        else:
            rows.append(dict(zip(names, cells, strict=True)))
    if not rows and whole:
        report(source.problem(header_cells[0].mark, "", expected="rows below the header", found="none", remedy=""))
    return (header_cells, rows) if rows and whole else None


def _header_fits(
    source: Source, cells: list[Cell], columns: dict[str, None], required: tuple[str, ...], report: Report
) -> bool:
    """Whether each column is known, stands once, and none is lacking; otherwise reports."""
    fits = True
    seen: set[str] = set()
    for cell in cells:
        if cell.text in seen or cell.text not in columns:
            fits = False
            near = difflib.get_close_matches(cell.text, [*columns], n=1)
            found = f"a second `{cell.text}`" if cell.text in seen else f"`{shortened(cell.text)}`"
            remedy = "delete one of the two" if cell.text in seen else ""
            if not remedy:
                remedy = f"did you mean `{near[0]}`?" if near else f"the columns are {', '.join(columns)}"
            _report(source, report, cell, "", "a known column, each once", found, remedy)
        seen.add(cell.text)
    for name in required:
        if name not in seen:
            if fits or not difflib.get_close_matches(name, seen - {*columns}, n=1):
                first = cells[0]
                _report(
                    source, report, first, "", f"a column `{name}`", "none of that name", f"add `{name}` to this line"
                )
            fits = False
    return fits


def _cells(source: Source, number: int, line: str, report: Report) -> list[Cell] | None:
    """Fields of a line; a field in double quotes may hold commas, and doubled quotes."""
    cells: list[Cell] = []
    position = 0
    while True:
        indent = len(line) - len(line[position:].lstrip(" ")) if line[position:].strip() else position
        match = _CELL.match(line, indent)
        assert match is not None  # the second alternative matches an empty field
        end = match.end()
        rest = re.match(r" *(,|$)", line[end:])
        if rest is None:
            at = Mark(number, end + 1)
            report(source.problem(at, "", expected="a comma or the end of the line", found=f"`{line[end]}`", remedy=""))
            return None
        quoted = match[1] is not None
        text = match[1].replace('""', '"') if quoted else match[2]
        cells.append(Cell(text.strip(), Mark(number, indent + 1, max(1, len(match[0].rstrip())))))
        position = end + len(rest[0])
        if not rest[1]:
            return cells


def _positive(source: Source, column: str, rows: list[Row], report: Report) -> list[float]:
    """Numbers of a column, each above zero and not absurd."""
    largest, unit = (LARGEST_CURRENT, "A") if column == "current_a" else (LONGEST_TIME, "s")
    numbers: list[float] = []
    for row in rows:
        cell = row[column]
        value = float(cell.text) if _NUMBER.fullmatch(cell.text) else math.nan
        if not 0 < value <= largest:
            found = f"`{shortened(cell.text)}`" if cell.text else "nothing"
            remedy = "" if cell.text else "a breaker's file leaves the column min_melt_s out" * (column == "min_melt_s")
            expected = f"a number above 0 and at most {largest:.0f} {unit}"
            _report(source, report, cell, column, expected, found, remedy)
        numbers.append(value)
    return numbers


def _row_problems(source: Source, rows: list[Row], numbers: dict[str, list[float]]) -> Iterator[Problem]:
    """Rows that do not follow on each other, or of which the columns contradict each other."""
    for column, values in numbers.items():
        for (above, below), row in zip(pairwise(values), rows[1:], strict=True):
            rising = column == "current_a"
            if below <= above if rising else below > above:
                expected = f"more than {above:g}, the row above" if rising else f"at most {above:g}, the row above"
                remedy = "sort the rows by rising current" if rising else "a curve falls towards larger currents"
                cell = row[column]
                yield source.problem(cell.mark, column, expected=expected, found=f"`{cell.text}`", remedy=remedy)
    clearing = numbers["total_clear_s"]
    for melt, clear, row in zip(numbers.get("min_melt_s", clearing), clearing, rows, strict=True):
        if melt > clear:
            cell = row["min_melt_s"]
            remedy = "melting ends before clearing; are the columns swapped?"
            expected = f"at most {clear:g}, the total clearing time"
            yield source.problem(cell.mark, "min_melt_s", expected=expected, found=f"`{cell.text}`", remedy=remedy)


def _curve_problems(source: Source, rows: list[Row], numbers: dict[str, list[float]]) -> Iterator[Problem]:
    """What makes good rows no whole curve."""
    clearing = numbers["total_clear_s"]
    last = rows[-1]["total_clear_s"]
    if len(rows) < FEWEST_POINTS:
        expected = f"at least {FEWEST_POINTS} points"
        yield source.problem(last.mark, "total_clear_s", expected=expected, found=f"{len(rows)}")
    elif clearing[-1] > LATEST_END or clearing[0] < LEAST_SPAN * clearing[-1]:
        found = f"a curve that ends too early, with {clearing[0]:g} s to {clearing[-1]:g} s"
        expected = f"clearing times down to {LATEST_END:g} s or less, over a decade of time or more"
        remedy = "add the points at larger currents; nothing is extrapolated"
        yield source.problem(last.mark, "total_clear_s", expected=expected, found=found, remedy=remedy)


def _is_comment(line: str) -> bool:
    return line.lstrip(' "').startswith("#")


def _report(source: Source, report: Report, cell: Cell, path: str, expected: str, found: str, remedy: str = "") -> None:
    report(source.problem(cell.mark, path, expected=expected, found=found, remedy=remedy))


def _pass_on(problems: list[Problem], report: Report) -> None:
    for problem in problems:
        report(problem)
