"""Project: files that a project file names; a tree comes in and gains the rows of catalogues, curves go out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Protocol

from deadfront.project.csv_files import Rows, is_invented, read_cables, read_curve, read_motors
from deadfront.project.curve_header import contradicts, read_header
from deadfront.project.errors import ProjectErrors, shortened
from deadfront.project.model import Cable, Fuse, Motors, Unit
from deadfront.project.naming import named, suggestion
from deadfront.project.project import CurveData
from deadfront.project.shape import Path, walk
from deadfront.project.sheets import Row
from deadfront.project.sources import LARGEST_FILE, Source, Unreadable, decode, relative_name
from deadfront.project.tree import Place, Tree

LINK_CURVE: Path = ("fuses", "bayonet", "curve")
"""Where a curve may do without clearing times: they follow from melting, its tolerance and the arcing time."""


class Beside(Protocol):
    """Where the files beside a project file come from: its folder, or a bundle in memory."""

    def shown(self, name: str) -> str:
        """The file's name as the user knows it."""
        ...

    def read(self, name: str) -> bytes:
        """Its bytes; Unreadable where there are none."""
        ...


@dataclass(slots=True)
class Files:
    """Every file that was read for a project, each once; faults of files are noted in the tree."""

    beside: Beside
    tree: Tree
    contents: dict[str, bytes] = field(default_factory=dict)
    sources: dict[str, Source | None] = field(default_factory=dict)
    curves: dict[str, CurveData | None] = field(default_factory=dict)
    cables: dict[str, Rows] = field(default_factory=dict)
    motors: dict[str, Rows] = field(default_factory=dict)
    stated: dict[str, Row] = field(default_factory=dict)

    @property
    def invented(self) -> bool:
        """Whether a file says that its data are invented."""
        return any(source is not None and is_invented(source) for source in self.sources.values())

    def source(self, name: str, path: Path) -> Source | None:
        """The text of a file named at `path`; None, and a note in the tree, where it cannot be read."""
        expected = "the name of a CSV file beside this one"
        if unfit := relative_name(name):
            remedy = "write it from this file's folder on, for example `curves/limiter.csv`"
            self.tree.report(path, expected=expected, found=unfit, remedy=remedy)
            return None
        if name in self.contents:
            return self.sources[name]
        try:
            content = self.beside.read(name)
        except Unreadable as error:
            expected = f"a CSV file of at most {LARGEST_FILE >> 20} MiB beside this one"
            self.tree.report(
                path, expected=expected, found=error.found, remedy="put the file there or leave the entry out"
            )
            return None
        self.contents[name] = content
        self.sources[name] = None
        try:
            self.sources[name] = decode(self.beside.shown(name), content)
        except ProjectErrors as errors:
            self.tree.problems.extend(errors.problems)
        return self.sources[name]


def merge(tree: Tree, files: Files) -> None:
    """Read all files that the tree names; rows of catalogues and schedules become entries as if written in the file.

    An entry that the project file gives itself wins over the catalogue's. Faults are noted in the tree.
    """
    for path, shape, data in list(walk(Unit, tree.data)):
        if shape.slot is not None and isinstance(data, dict):
            if issubclass(shape.slot, Cable):
                _merge_cable(tree, files, path, data)
            elif issubclass(shape.slot, Motors):
                _merge_motors(tree, files, path, data)
            elif issubclass(shape.slot, Fuse):
                _merge_statements(tree, files, path, data)
        elif shape.kind == "file" and _names_curve(path) and isinstance(data, str):
            _read_curve(tree, files, path, data)


def _names_curve(path: Path) -> bool:
    return path[-1] not in ("catalogue", "schedule")


def _read_curve(tree: Tree, files: Files, path: Path, name: str) -> None:
    source = files.source(name, path)
    melting_only = path == LINK_CURVE
    if source is not None and name not in files.curves:
        files.curves[name] = read_curve(source, name, tree.problems.append, melting_only=melting_only)
    curve = files.curves.get(name)
    if curve is not None and curve.total_clearing is None and not melting_only:
        remedy = "only a draw-out link, whose tolerance and arcing time are known, can do without"
        tree.report(path, expected="a curve with a column `total_clear_s`", found=f"`{name}` without", remedy=remedy)


def _merge_statements(tree: Tree, files: Files, path: Path, data: dict[str, Any]) -> None:
    """What a fuse's curve file states in its comment lines; the project file may repeat it, and must not contradict."""
    name = data.get("curve")
    if not isinstance(name, str):
        return
    source = files.source(name, (*path, "curve"))
    if source is None:
        return
    if name not in files.stated:
        files.stated[name] = read_header(source, tree.problems.append)
    for entry, cell in files.stated[name].items():
        own = data.get(entry)
        if own is not None and contradicts(entry, str(own), cell.text):
            expected = f"`{cell.text}`, as line {cell.mark.line} of {name} states"
            remedy = "correct the one that is wrong"
            tree.report((*path, entry), expected=expected, found=f"`{shortened(str(own))}`", remedy=remedy)
    _put(tree, source, path, data, files.stated[name])


def _merge_cable(tree: Tree, files: Files, path: Path, data: dict[str, Any]) -> None:
    name, kind = data.get("catalogue"), data.get("type")
    if not isinstance(name, str):
        return
    source = files.source(name, (*path, "catalogue"))
    if source is None:
        return
    if name not in files.cables:
        before = len(tree.problems)
        files.cables[name] = read_cables(source, tree.problems.append)
        if len(tree.problems) > before:
            files.cables[name] = Rows({}, {})
    rows = files.cables[name]
    if kind is None or isinstance(kind, dict | list) or not rows.places:
        return
    if str(kind) not in rows.places:
        remedy = suggestion(str(kind), rows.places, "its types")
        tree.report((*path, "type"), expected=f"a type of {name}", found=named(str(kind)), remedy=remedy)
        return
    _put(tree, source, path, data, rows.values[str(kind)])


def _merge_motors(tree: Tree, files: Files, path: Path, data: dict[str, Any]) -> None:
    name = data.get("schedule")
    if not isinstance(name, str):
        return
    source = files.source(name, (*path, "schedule"))
    if source is None:
        return
    if name not in files.motors:
        files.motors[name] = read_motors(source, tree.problems.append)
    if data.get("groups") is None:
        data["groups"] = {}
        tree.places[(*path, "groups")] = tree.place((*path, "schedule"))
    groups = data["groups"]
    if not isinstance(groups, dict):
        return
    for group, row in files.motors[name].values.items():
        here = (*path, "groups", group)
        if group in groups:
            found = f"`{group}`, which stands in {name} as well"
            tree.report(here, expected="each group once", found=found, remedy="rename one of the two", at_key=True)
            continue
        groups[group] = {}
        mark = files.motors[name].places[group]
        tree.places[here] = Place(source, mark, mark)
        _put(tree, source, here, groups[group], row)


def _put(tree: Tree, source: Source, path: Path, data: dict[str, Any], row: Row) -> None:
    """Entries of a row, where the project file gives none."""
    for entry, cell in row.items():
        if data.get(entry) is None:
            data[entry] = cell.text
            tree.places[(*path, entry)] = Place(source, cell.mark, cell.mark)
