"""Project: a chosen pair of fuses written into a file; a project and two fuses of a catalogue come in, files go out."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from os import PathLike
from pathlib import Path
from typing import Any

from deadfront.project.catalogue import CatalogueFuse, FuseName
from deadfront.project.editing import replace_file
from deadfront.project.errors import Problem, ProjectErrors
from deadfront.project.model import Fuse, Fuses
from deadfront.project.project import Project
from deadfront.project.reading import load, load_bytes
from deadfront.project.slot_editing import with_slot
from deadfront.project.sources import Source, decode
from deadfront.project.writing import place_problem

Pair = Mapping[FuseName, CatalogueFuse]


@dataclass(frozen=True, slots=True)
class Written:
    """A project file with a pair in it.

    source   its bytes
    files    bytes of every CSV file it names
    new      those of them that the pair brings, by name
    clashes  names of those under which the project has another content already
    """

    source: bytes
    files: Mapping[str, bytes]
    new: Mapping[str, bytes]
    clashes: tuple[str, ...]


def with_pair(project: Project, pair: Pair, *, overwrite: bool = True) -> Written:
    """The project with the entries and curves of a pair in place of those of its fuses; nothing is written.

    Without `overwrite` a curve whose name is taken by another content gets a free name, so that the pair can be looked
    at beside everything the project has.

    raises ValueError: the entries cannot be written into this file
    """
    source = decode(project.name, project.source)
    new: dict[str, bytes] = {}
    clashes: list[str] = []
    mark = project.source[: len(project.source) - len(source.text.encode())]
    for name, fuse in pair.items():
        file = fuse.entries["curve"]
        taken = {**project.files, **new}
        if taken.get(file, fuse.content) != fuse.content:
            clashes.append(file)
            file = file if overwrite else _free(file, taken)
        new[file] = fuse.content
        source = Source(source.name, with_slot(source, ("fuses", name), {**fuse.entries, "curve": file}))
    return Written(mark + source.text.encode(), {**project.files, **new}, new, tuple(clashes))


def provisional(project: Project, pair: Pair) -> Project:
    """The project with a pair in it, without the bytes of such a file: for what rests on other entries than these.

    Quicker than `loaded`, which reads the file anew and finds what contradicts the pair.
    """
    given: dict[str, Any] = {str(name): Fuse.model_validate(dict(fuse.entries)) for name, fuse in pair.items()}
    around = (project.unit.fuses or Fuses()).model_copy(update=given)
    old = tuple(f"fuses.{name}." for name in pair)
    kept = {path: quantity for path, quantity in project.quantities.items() if not path.startswith(old)}
    new = {f"fuses.{name}.{entry}": q for name, fuse in pair.items() for entry, q in fuse.quantities.items()}
    curves = {fuse.entries["curve"]: fuse.curve for fuse in pair.values()}
    return replace(
        project,
        unit=project.unit.model_copy(update={"fuses": around}),
        quantities=kept | new,
        curves={**project.curves, **curves},
    )


def loaded(project: Project, written: Written) -> Project:
    """The project with the pair in it, read as if it stood on the disk; ProjectErrors where it cannot stand there."""
    return load_bytes(project.name, written.source, written.files)


def write_pair(file: str | PathLike[str], pair: Pair, *, overwrite: bool = False) -> list[Path]:
    """Write a pair into a project file and its curves beside it; the paths written, the project file last.

    Every file is replaced in one step, the curves before the file that names them: whoever reads sees the project of
    before or that of after, each whole.

    raises ProjectErrors: the file cannot be read; a curve file of that name has another content and `overwrite` is not
               set, or another device has its curve from it; nothing is written then
           ValueError: the entries cannot be written into this file
           OSError: the folder cannot be written to
    """
    where = Path(file).resolve()
    project = load(where)
    written = with_pair(project, pair)
    problems = [*_taken(where.parent, written, overwrite), *_shared(project, pair, written)]
    if problems:
        raise ProjectErrors(problems)
    loaded(project, written)
    planned = [(where.parent / name, content) for name, content in written.new.items()]
    changed = [(place, content) for place, content in planned if not place.exists() or place.read_bytes() != content]
    for place, content in [*changed, (where, written.source)]:
        place.parent.mkdir(parents=True, exist_ok=True)
        replace_file(place, content)
    return [place for place, _ in changed] + [where]


def _taken(folder: Path, written: Written, overwrite: bool) -> Iterator[Problem]:
    """Curve files that stand there with another content."""
    for name, content in written.new.items():
        place = folder / name
        problem = place_problem(place, "curve file") if overwrite else None
        if problem is not None:
            yield problem
        elif os.path.lexists(place) and not overwrite and not (place.is_file() and place.read_bytes() == content):
            expected, found = "a free name, or this very curve", "a file of another content"
            yield Problem(str(place), 0, 0, "", expected, found, "move it away, or ask to overwrite it")


def _shared(project: Project, pair: Pair, written: Written) -> Iterator[Problem]:
    """Curve files that would change under another device of the project."""
    own = {f"fuses.{name}.curve" for name in pair}
    for clash in written.clashes:
        users = [path for path in _users(project.unit.model_dump(), clash) if path not in own]
        for path in users:
            expected, found = f"`{clash}` for the chosen fuse alone", f"`{path}`, which has its curve from it too"
            yield Problem(project.name, 0, 0, path, expected, found, "give one of the two files another name")


def _users(part: Any, file: str, path: str = "") -> Iterator[str]:
    """Paths of a unit at which a file is named."""
    if isinstance(part, dict):
        for name, value in part.items():
            yield from _users(value, file, f"{path}.{name}" if path else str(name))
    elif part == file:
        yield path


def _free(name: str, taken: Mapping[str, bytes]) -> str:
    stem, number = name.removesuffix(".csv"), 2
    while f"{stem}-{number}.csv" in taken:
        number += 1
    return f"{stem}-{number}.csv"
