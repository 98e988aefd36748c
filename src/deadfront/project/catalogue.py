"""Project: a catalogue of links and limiters; a folder comes in, fuses with their curves and entries go out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from os import PathLike
from pathlib import Path
from typing import Literal

from deadfront.project.csv_files import is_invented, read_curve, read_fuses
from deadfront.project.curve_header import contradicts, read_header
from deadfront.project.errors import Problem, ProjectErrors, shortened
from deadfront.project.merging import Beside
from deadfront.project.model import Fuse
from deadfront.project.project import CurveData
from deadfront.project.quantities import Quantity
from deadfront.project.shape import entries
from deadfront.project.sheets import Cell
from deadfront.project.sources import LARGEST_FILE, Bundle, Folder, Mark, Source, Unreadable, decode, relative_name

LISTS = {"bayonet": "links.csv", "limiter": "limiters.csv"}
"""Files of a catalogue: draw-out links, and backup current-limiting fuses."""

DEMONSTRATION = "the demonstration catalogue"
"""What the invented catalogue is called wherever its rows are shown."""

FuseName = Literal["bayonet", "limiter"]


@dataclass(frozen=True, slots=True)
class CatalogueFuse:
    """One row of a catalogue.

    name        as the catalogue calls it
    entries     each entry as a project file would write it, `curve` as the name of the file in the catalogue
    quantities  the numbers among them
    curve       its curve; a link's may have no clearing times
    content     bytes of the curve file
    place       where the row stands, `links.csv:4`
    """

    name: str
    entries: Mapping[str, str]
    quantities: Mapping[str, Quantity]
    curve: CurveData
    content: bytes
    place: str


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Links and limiters to choose from, and whether any of it is invented."""

    name: str
    links: tuple[CatalogueFuse, ...]
    limiters: tuple[CatalogueFuse, ...]
    demonstration: bool


def read_catalogue(folder: str | PathLike[str]) -> Catalogue:
    """The catalogue of a folder: `links.csv`, `limiters.csv` and the curve files that they name.

    raises ProjectErrors: everything that is wrong with those files, in one go
    """
    return _catalogue(str(folder), Folder(Path(folder)))


def demonstration_catalogue() -> Catalogue:
    """The invented catalogue that comes with the program: good for learning, not for construction."""
    folder = files("deadfront.project") / "catalogues" / "demonstration"
    contents = {entry.name: entry.read_bytes() for entry in folder.iterdir() if entry.name.endswith(".csv")}
    curves = {f"curves/{entry.name}": entry.read_bytes() for entry in (folder / "curves").iterdir()}
    return _catalogue(DEMONSTRATION, Bundle(contents | curves))


def _catalogue(name: str, beside: Beside) -> Catalogue:
    reader = _Reader(beside)
    links, limiters = reader.fuses("bayonet"), reader.fuses("limiter")
    if reader.problems:
        raise ProjectErrors(reader.problems)
    return Catalogue(name, links, limiters, any(is_invented(source) for source in reader.sources.values()))


@dataclass(slots=True)
class _Reader:
    """A catalogue while it is read: each file once, and every problem of any of them."""

    beside: Beside
    problems: list[Problem] = field(default_factory=list)
    sources: dict[str, Source] = field(default_factory=dict)
    contents: dict[str, bytes] = field(default_factory=dict)
    curves: dict[str, CurveData | None] = field(default_factory=dict)
    stated: dict[str, dict[str, Cell]] = field(default_factory=dict)

    def fuses(self, which: FuseName) -> tuple[CatalogueFuse, ...]:
        """The rows of one list."""
        source = self.source(LISTS[which])
        if source is None:
            return ()
        rows = read_fuses(source, self.problems.append)
        found = [self._fuse(which, (source, rows.places[name]), name, dict(row)) for name, row in rows.values.items()]
        return tuple(fuse for fuse in found if fuse is not None)

    def source(self, name: str, asked: tuple[Source, Cell] | None = None) -> Source | None:
        """The text of a file; None, and a problem where the file was asked for, if it cannot be read."""
        if name in self.contents:
            return self.sources.get(name)
        unfit = relative_name(name)
        try:
            if unfit:
                raise Unreadable(unfit)
            self.contents[name] = self.beside.read(name)
            self.sources[name] = decode(self.beside.shown(name), self.contents[name])
        except Unreadable as error:
            expected = f"a CSV file of at most {LARGEST_FILE >> 20} MiB in the catalogue's folder"
            remedy = "" if asked else "a catalogue is a folder with `links.csv`, `limiters.csv` and their curve files"
            self.problems.append(
                asked[0].problem(asked[1].mark, "curve", expected=expected, found=error.found, remedy=remedy)
                if asked
                else Problem(self.beside.shown(name), 0, 0, "", expected, error.found, remedy)
            )
        except ProjectErrors as errors:
            self.problems.extend(errors.problems)
        return self.sources.get(name)

    def _fuse(
        self, which: FuseName, place: tuple[Source, Mark], name: str, row: dict[str, Cell]
    ) -> CatalogueFuse | None:
        source, mark = place
        if "curve" not in row:
            remedy = "name the curve file, for example `curves/limiter-80.csv`"
            expected = f"a curve file for `{shortened(name)}`"
            self.problems.append(source.problem(mark, "curve", expected=expected, found="none", remedy=remedy))
            return None
        file = row["curve"].text
        curve_source = self.source(file, (source, row["curve"]))
        if curve_source is None:
            return None
        if file not in self.curves:
            melting_only = which == "bayonet"
            self.curves[file] = read_curve(curve_source, file, self.problems.append, melting_only=melting_only)
            self.stated[file] = read_header(curve_source, self.problems.append)
        curve, stated = self.curves[file], self.stated[file]
        if curve is not None and curve.minimum_melting is None:
            expected, found = "a curve with a column `min_melt_s`", f"`{file}` without"
            self.problems.append(source.problem(row["curve"].mark, "curve", expected=expected, found=found))
        for entry, cell in row.items():
            if entry in stated and contradicts(entry, cell.text, stated[entry].text):
                expected = f"`{stated[entry].text}`, as line {stated[entry].mark.line} of {file} states"
                found, remedy = f"`{cell.text}`", "correct the one that is wrong"
                self.problems.append(source.problem(cell.mark, entry, expected=expected, found=found, remedy=remedy))
        return None if curve is None else self._whole(f"{LISTS[which]}:{mark.line}", name, stated | row, curve)

    def _whole(self, place: str, name: str, row: dict[str, Cell], curve: CurveData) -> CatalogueFuse:
        texts = {entry: row[entry].text for entry in entries(Fuse) if entry in row}
        numbers = {
            entry: shape.measured.read(texts[entry])
            for entry, shape in entries(Fuse).items()
            if entry in texts and shape.measured is not None
        }
        return CatalogueFuse(name, texts, numbers, curve, self.contents[curve.source], place)
