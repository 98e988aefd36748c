"""Tables: how one published table is read. The name of a CSV file in, checked rows with their source out."""

import csv
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

_SOURCE = re.compile(r"# source\s+(?P<text>\S.*)")
_VERIFIED = re.compile(r"# verified\s+(?P<text>\S.*)")
_CHECK = re.compile(r"# rows\s+(?P<rows>\d+)\s+sum\s+(?P<column>\S+)\s+(?P<sum>\S+)")


class BrokenTable(ValueError):  # noqa: N818  (a table that is broken, not an error class of a library)
    """A table file that is not what its own header says it is. Its text names the file, what was expected and found."""


@dataclass(frozen=True, slots=True)
class Table:
    """One published table: where it comes from, how it was verified, and its rows as they are printed.

    `rows` holds one dictionary per row, column name to text; units stand in the column names. Read only.
    """

    name: str
    source: str
    verified: str
    columns: tuple[str, ...]
    rows: list[dict[str, str]]

    def column(self, column: str, *, blank: float | None = None) -> NDArray[np.float64]:
        """Return one column as floats, in the order of the rows; shape (rows,).

        `blank` is the value an empty cell stands for; without it an empty cell is refused, so that a missing
        value never turns into a number by itself. Raises KeyError for an unknown column and `BrokenTable` for a
        cell that is empty or not a number.
        """
        self._known(column)
        return np.array([self._number(row, column, blank) for row in self.rows], dtype=np.float64)

    def where(self, **key: str) -> "Table":
        """Return the table with only those rows whose cells equal all of `key`, text against text.

        Raises KeyError for an unknown column and LookupError if no row is left: an empty answer would pass for
        "nothing applies".
        """
        for column in key:
            self._known(column)
        rows = [row for row in self.rows if all(row[column] == text for column, text in key.items())]
        if not rows:
            asked = ", ".join(f"{column} = {text!r}" for column, text in key.items())
            raise LookupError(f"table {self.name}: no row with {asked}")
        return Table(self.name, self.source, self.verified, self.columns, rows)

    def row(self, **key: str) -> dict[str, str]:
        """Return the one row whose cells equal all of `key`; LookupError if there is none or more than one."""
        found = self.where(**key).rows
        if len(found) != 1:
            asked = ", ".join(f"{column} = {text!r}" for column, text in key.items())
            raise LookupError(f"table {self.name}: {len(found)} rows with {asked}, expected one")
        return found[0]

    def _known(self, column: str) -> None:
        if column not in self.columns:
            raise KeyError(f"table {self.name}: no column {column!r}, it has {', '.join(self.columns)}")

    def _number(self, row: dict[str, str], column: str, blank: float | None) -> float:
        text = row[column].strip()
        if text == "" and blank is not None:
            return blank
        try:
            return float(text)
        except ValueError:
            place = f"table {self.name}, row {self.rows.index(row) + 1}, column {column}"
            raise BrokenTable(f"{place}: expected a number, got {text!r}") from None


@cache
def read(name: str) -> Table:
    """Return the published table `name` (file name without `.csv`), read once and checked against its own header.

    The file begins with three lines: `# source`, `# verified` and `# rows N  sum <column> <sum>`; further lines
    that begin with `#` may follow. Raises FileNotFoundError for an unknown table, and `BrokenTable` if a header
    line is missing or if the number of rows or the sum of the column is not the stated one (summed in decimal,
    so that equal means equal).
    """
    place = files("deadfront.tables").joinpath("data", f"{name}.csv")
    if not place.is_file():
        raise FileNotFoundError(f"table {name}: no such table, expected data/{name}.csv in the room of tables")
    return parse(name, place.read_text(encoding="utf-8"))


def parse(name: str, text: str) -> Table:
    """Return the table that `text` holds; `name` only serves the messages. Raises `BrokenTable` as `read` does."""
    lines = text.splitlines()
    head = [_header(name, pattern, lines, at) for at, pattern in enumerate((_SOURCE, _VERIFIED, _CHECK))]
    body = csv.reader([line for line in lines[3:] if not line.startswith("#")])
    columns = tuple(next(body, ()))
    rows = [_cells(name, number, columns, cells) for number, cells in enumerate(body, 1)]
    table = Table(name, head[0]["text"].strip(), head[1]["text"].strip(), columns, rows)
    _check(table, int(head[2]["rows"]), head[2]["column"], head[2]["sum"])
    return table


def _header(name: str, pattern: re.Pattern[str], lines: list[str], at: int) -> re.Match[str]:
    found = pattern.fullmatch(lines[at]) if at < len(lines) else None
    if found is None:
        wanted = ("# source <standard, year, table>", "# verified <how>", "# rows <N> sum <column> <sum>")[at]
        raise BrokenTable(f"table {name}, line {at + 1}: expected `{wanted}`")
    return found


def _cells(name: str, number: int, columns: tuple[str, ...], cells: list[str]) -> dict[str, str]:
    if len(cells) != len(columns):
        raise BrokenTable(f"table {name}, row {number}: expected {len(columns)} cells, got {len(cells)}")
    return dict(zip(columns, cells, strict=True))


def _check(table: Table, rows: int, column: str, stated: str) -> None:
    if len(table.rows) != rows:
        raise BrokenTable(f"table {table.name}: expected {rows} rows as its header says, got {len(table.rows)}")
    if column not in table.columns:
        raise BrokenTable(f"table {table.name}: its header sums column {column!r}, which it does not have")
    try:
        total = sum((Decimal(row[column].strip() or "0") for row in table.rows), Decimal(0))
        equal = total == Decimal(stated)
    except InvalidOperation:
        raise BrokenTable(f"table {table.name}: column {column} cannot be summed, a cell is not a number") from None
    if not equal:
        raise BrokenTable(f"table {table.name}: expected the sum {stated} of column {column}, got {total}")
