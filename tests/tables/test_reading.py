"""A published table is read only if it is what its own header says."""

from importlib.resources import files

import numpy as np
import pytest

from deadfront.tables import BrokenTable, read
from deadfront.tables.reading import parse

GOOD = """# source    A standard, 2020, Table 1
# verified  V
# rows 3    sum limit_a 60.5
kind,limit_a,tag
first,10.25,V
first,20.25,M
second,30,"V, restated"
"""


def test_table_brings_its_source_columns_and_rows():
    """Source and verification come from the header, rows as text, columns as floats in row order."""
    table = parse("good", GOOD)
    assert (table.source, table.verified) == ("A standard, 2020, Table 1", "V")
    assert table.columns == ("kind", "limit_a", "tag")
    assert table.rows[2] == {"kind": "second", "limit_a": "30", "tag": "V, restated"}
    np.testing.assert_array_equal(table.column("limit_a"), [10.25, 20.25, 30.0])


def test_where_keeps_matching_rows_and_row_wants_exactly_one():
    """`where` narrows down, `row` gives the only match; nothing and too much are both refused."""
    table = parse("good", GOOD)
    assert [row["tag"] for row in table.where(kind="first").rows] == ["V", "M"]
    assert table.row(kind="first", tag="M")["limit_a"] == "20.25"
    with pytest.raises(LookupError, match=r"^table good: no row with kind = 'third'$"):
        table.where(kind="third")
    with pytest.raises(LookupError, match=r"^table good: 2 rows with kind = 'first', expected one$"):
        table.row(kind="first")


def test_unknown_column_names_those_there_are():
    """Asking for a column that is not there says which are."""
    message = r"^\"table good: no column 'limit', it has kind, limit_a, tag\"$"
    with pytest.raises(KeyError, match=message):
        parse("good", GOOD).column("limit")
    with pytest.raises(KeyError, match=message):
        parse("good", GOOD).where(limit="10")


def test_empty_cell_is_a_number_only_if_asked():
    """An empty cell is refused, unless the caller says what it stands for."""
    table = parse("gap", GOOD.replace("sum limit_a 60.5", "sum limit_a 40.25").replace("20.25", ""))
    with pytest.raises(BrokenTable, match=r"^table gap, row 2, column limit_a: expected a number, got ''$"):
        table.column("limit_a")
    np.testing.assert_array_equal(table.column("limit_a", blank=np.inf), [10.25, np.inf, 30.0])
    with pytest.raises(BrokenTable, match=r"^table gap, row 1, column kind: expected a number, got 'first'$"):
        table.column("kind", blank=0.0)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("# source ", "# origin ", "table bad, line 1: expected `# source <standard, year, table>`"),
        ("# verified  V\n", "", "table bad, line 2: expected `# verified <how>`"),
        ("# rows 3    sum limit_a 60.5", "# rows 3", "table bad, line 3: expected `# rows <N> sum <column> <sum>`"),
        ("rows 3", "rows 4", "table bad: expected 4 rows as its header says, got 3"),
        ("second,30", "second,31", "table bad: expected the sum 60.5 of column limit_a, got 61.50"),
        ("sum limit_a", "sum limit", "table bad: its header sums column 'limit', which it does not have"),
        ("sum limit_a", "sum kind", "table bad: column kind cannot be summed, a cell is not a number"),
        ("first,20.25,M", "first,20.25", "table bad, row 2: expected 3 cells, got 2"),
    ],
)
def test_damaged_table_is_refused(old, new, message):
    """A missing header line, a lost row, a changed number: each is refused with one sentence."""
    assert old in GOOD
    with pytest.raises(BrokenTable) as caught:
        parse("bad", GOOD.replace(old, new))
    assert str(caught.value) == message


def test_empty_file_is_refused():
    """An empty file is no table."""
    with pytest.raises(BrokenTable, match=r"^table none, line 1: expected `# source <standard, year, table>`$"):
        parse("none", "")


def test_unknown_table_is_an_error():
    """A name without a file is an error that names it."""
    with pytest.raises(
        FileNotFoundError, match=r"^table nowhere: no such table, expected data/nowhere.csv in the room"
    ):
        read("nowhere")


def test_a_table_is_read_once():
    """The same name gives the same table."""
    assert read("relay-curves") is read("relay-curves")


@pytest.mark.parametrize(
    "name", sorted(path.name.removesuffix(".csv") for path in files("deadfront.tables").joinpath("data").iterdir())
)
def test_every_shipped_table_is_whole(name):
    """Each table of the package has its header, its rows and its sum, and no two rows alike."""
    table = read(name)
    assert table.source
    assert table.verified
    cells = [tuple(row.values()) for row in table.rows]
    assert len(set(cells)) == len(cells)
