"""Tables: what the standards fix. CSV data, one file per published table, its source inside; loaders."""

from deadfront.tables.reading import BrokenTable, Table, read

__all__ = ["BrokenTable", "Table", "read"]
