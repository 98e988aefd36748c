"""Project: the CSV files beside a project file; text comes in, curves and catalogue rows with their places go out."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from deadfront.project.errors import Problem, either, shortened
from deadfront.project.model import Cable, Fuse, MotorGroup, Slot
from deadfront.project.project import CurveData
from deadfront.project.quantities import Measured, QuantityError
from deadfront.project.shape import entries
from deadfront.project.sheets import Cell, Row, Sheet, is_comment
from deadfront.project.sources import Mark, Source, unfit_name

INVENTED = "INVENTED demonstration data"
"""What the first comment line of a file of invented data says."""

FEWEST_POINTS = 3
"""Points of a curve; two are one straight line in logarithmic scales, which no fuse or breaker has."""

LATEST_END = 1.0
"""s; a curve must come down at least this far: faults are cleared below it, where it would have to be guessed."""

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
    "a": "A",
    "ka": "kA",
    "kv": "kV",
    "ms": "ms",
    "hz": "Hz",
    "a2s": "A2s",
}
"""Unit of a column, by the end of its name; a share without one is a fraction."""

_CURVE_COLUMNS = ("current_a", "min_melt_s", "total_clear_s")
_NOT_IN_CATALOGUE = ("length", "catalogue", "type", "parallel")
_NUMBER = re.compile(r"[+-]?[0-9]{1,20}(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,2})?")


Report = Callable[[Problem], None]


@dataclass(frozen=True, slots=True)
class Rows:
    """Named rows of a catalogue or schedule: the place of each name, and the entries given."""

    places: dict[str, Mark]
    values: dict[str, dict[str, Cell]]


def is_invented(source: Source) -> bool:
    """Whether the file's first comment line says that its data are invented."""
    comment = next((line for line in source.lines if is_comment(line)), "")
    return INVENTED in comment


def read_curve(source: Source, name: str, report: Report, *, melting_only: bool = False) -> CurveData | None:
    """A time-current curve: columns current_a, min_melt_s, total_clear_s, rows by rising current.

    A breaker's file leaves out min_melt_s; where `melting_only` may be, total_clear_s may be left out instead. Currents
    rise strictly; times never rise; melting is never later than clearing; FEWEST_POINTS points; the last clearing time
    at most LATEST_END and the times spanning LEAST_SPAN. None where anything is reported.
    """
    sheet = Sheet(source)
    times = "min_melt_s" if melting_only and not _has_column(source, "total_clear_s") else "total_clear_s"
    table = sheet.read(_CURVE_COLUMNS, ("current_a", times))
    numbers: dict[str, list[float]] = {}
    if table is not None:
        header, rows = table
        numbers = {cell.text: _positive(sheet, cell.text, rows) for cell in header}
        for judge in (_judge_rows, _judge_curve):
            if not sheet.problems:
                judge(sheet, rows, numbers)
    for problem in sheet.problems:
        report(problem)
    if sheet.problems:
        return None
    melting, clearing = (
        tuple(numbers[column]) if column in numbers else None for column in ("min_melt_s", "total_clear_s")
    )
    return CurveData(tuple(numbers["current_a"]), melting, clearing, name)


def curve_rows(source: Source) -> list[Row]:
    """The rows of a curve file that `read_curve` has found right, each cell with its place."""
    table = Sheet(source).read(_CURVE_COLUMNS, ("current_a",))
    return [] if table is None else table[1]


def _has_column(source: Source, column: str) -> bool:
    """Whether the header of a file has a column; the header is the first line that is no comment."""
    header = next((line for line in source.lines if line.strip() and not is_comment(line)), "")
    return column in header


def read_cables(source: Source, report: Report) -> Rows:
    """A catalogue of cables: column `type`, then entries of a cable with the unit at the end of the column's name."""
    return _named_rows(source, "type", Cable, _NOT_IN_CATALOGUE, report)


def read_motors(source: Source, report: Report) -> Rows:
    """A schedule of motor groups: column `name`, then entries of a group with the unit at the end of the name."""
    return _named_rows(source, "name", MotorGroup, (), report)


def read_fuses(source: Source, report: Report) -> Rows:
    """A catalogue of fuses: column `fuse`, then entries of a fuse with the unit at the end of the column's name."""
    return _named_rows(source, "fuse", Fuse, (), report)


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
    sheet = Sheet(source)
    table = sheet.read([key, *columns], (key,))
    found = Rows({}, {})
    if table is not None:
        header, rows = table
        _judge_units(sheet, [cell for cell in header if cell.text != key], columns)
        for row in rows if not sheet.problems else []:
            name = row[key].text
            if _name_fits(sheet, key, row[key], found):
                found.places[name] = row[key].mark
                found.values[name] = dict(_entries(sheet, row, slot, columns))
    for problem in sheet.problems:
        report(problem)
    return found


def _name_fits(sheet: Sheet, key: str, cell: Cell, found: Rows) -> bool:
    """Whether the row's name is one, stands once, and, where it becomes part of a path, can."""
    unfit = unfit_name(cell.text) if key == "name" or not cell.text else ""
    if unfit:
        sheet.say(cell.mark, key, f"a {key} of plain words", unfit)
    elif cell.text in found.places:
        first = found.places[cell.text].line
        sheet.say(cell.mark, key, f"each {key} once", f"`{cell.text}` again; the first is on line {first}")
        return False
    return not unfit


def _judge_units(sheet: Sheet, header: list[Cell], columns: dict[str, tuple[str, str]]) -> None:
    """Two columns that give one entry in two units contradict each other."""
    first: dict[str, Cell] = {}
    for cell in header:
        entry, _ = columns[cell.text]
        if entry in first:
            found = f"`{first[entry].text}` as well"
            sheet.say(cell.mark, "", f"one column for `{entry}`", found, "keep one of the units")
        first.setdefault(entry, cell)


def _entries(
    sheet: Sheet, row: Row, slot: type[Slot], columns: dict[str, tuple[str, str]]
) -> Iterator[tuple[str, Cell]]:
    """Each filled cell that is right, as the project file would write it."""
    for column, cell in row.items():
        if column not in columns or not cell.text:
            continue
        entry, unit = columns[column]
        text = f"{cell.text} {unit}".strip()
        shape = entries(slot)[entry]
        if shape.measured is not None:
            try:
                shape.measured.read(text)
            except QuantityError as error:
                found = error.found.replace(f"`{text}`", f"`{shortened(cell.text)}`")
                sheet.say(cell.mark, column, error.expected, found, _example(shape.measured, unit))
                continue
        elif shape.choices and cell.text not in shape.choices:
            near = difflib.get_close_matches(cell.text, shape.choices, n=1)
            remedy = f"did you mean `{near[0]}`?" if near else ""
            sheet.say(cell.mark, column, either(shape.choices), f"`{shortened(cell.text)}`", remedy)
            continue
        yield entry, Cell(text, cell.mark)


def _example(measured: Measured, unit: str) -> str:
    """A cell that would be right; only where the column has the unit of the example is that the example's number."""
    number, _, example_unit = measured.example.partition(" ")
    where = "the unit stands in the column's name" if unit else ""
    where = "a column of shares without `_percent` holds fractions" if unit == "pu" else where
    if unit not in (example_unit, "pu"):
        return where
    number = f"{measured.read(measured.example).centre:g}" if unit == "pu" else number
    return f"{where}{'; ' if where else ''}for example `{number}`"


def _positive(sheet: Sheet, column: str, rows: list[Row]) -> list[float]:
    """Numbers of a column, each above zero and not absurd."""
    largest, unit = (LARGEST_CURRENT, "A") if column == "current_a" else (LONGEST_TIME, "s")
    numbers: list[float] = []
    for row in rows:
        cell = row[column]
        value = float(cell.text) if _NUMBER.fullmatch(cell.text) else math.nan
        if not 0 < value <= largest:
            found = f"`{shortened(cell.text)}`" if cell.text else "nothing"
            remedy = "a breaker's file leaves the column out" if column == "min_melt_s" and not cell.text else ""
            sheet.say(cell.mark, column, f"a number above 0 and at most {largest:.0f} {unit}", found, remedy)
        numbers.append(value)
    return numbers


def _judge_rows(sheet: Sheet, rows: list[Row], numbers: dict[str, list[float]]) -> None:
    """Rows that do not follow on each other, or of which the columns contradict each other."""
    for column, values in numbers.items():
        rising = column == "current_a"
        for (above, below), row in zip(pairwise(values), rows[1:], strict=True):
            cell = row[column]
            if rising and below <= above:
                remedy = "sort the rows by rising current"
                sheet.say(cell.mark, column, f"more than {above:g}, the row above", f"`{cell.text}`", remedy)
            elif not rising and below > above:
                remedy = "a curve falls towards larger currents"
                sheet.say(cell.mark, column, f"at most {above:g}, the row above", f"`{cell.text}`", remedy)
    clearing = numbers.get("total_clear_s", numbers.get("min_melt_s", []))
    for melt, clear, row in zip(numbers.get("min_melt_s", clearing), clearing, rows, strict=True):
        if melt > clear:
            cell = row["min_melt_s"]
            expected = f"at most {clear:g}, the total clearing time"
            remedy = "melting ends before clearing; are the columns swapped?"
            sheet.say(cell.mark, "min_melt_s", expected, f"`{cell.text}`", remedy)


def _judge_curve(sheet: Sheet, rows: list[Row], numbers: dict[str, list[float]]) -> None:
    """What makes good rows no whole curve."""
    column = "total_clear_s" if "total_clear_s" in numbers else "min_melt_s"
    clearing, last = numbers[column], rows[-1][column].mark
    if len(rows) < FEWEST_POINTS:
        sheet.say(last, column, f"at least {FEWEST_POINTS} points", f"{len(rows)}")
    elif clearing[-1] > LATEST_END or clearing[0] < LEAST_SPAN * clearing[-1]:
        what = {"total_clear_s": "clearing", "min_melt_s": "melting"}[column]
        expected = f"{what} times down to {LATEST_END:g} s or less, over a decade of time or more"
        found = f"a curve that ends too early, with {clearing[0]:g} s to {clearing[-1]:g} s"
        sheet.say(last, column, expected, found, "add the points at larger currents")
