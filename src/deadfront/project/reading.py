"""Project: the one way in; a file's name or bytes come in, a checked Project goes out or all that is wrong with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from os import PathLike
from pathlib import Path
from types import MappingProxyType

from pydantic import BaseModel

from deadfront.project.checks import check
from deadfront.project.errors import Problem, ProjectErrors
from deadfront.project.merging import Beside, Files, merge
from deadfront.project.project import Project
from deadfront.project.quantities import Quantity
from deadfront.project.shape import dotted
from deadfront.project.sources import LARGEST_FILE, Bundle, Folder, decode, read_project_file
from deadfront.project.tree import parse
from deadfront.project.validation import validate


def load(path: str | PathLike[str]) -> Project:
    """The project of a file, with all files it names.

    raises ProjectErrors: everything that is wrong with the file and with those it names, in one go; of a file that is
    no YAML, the first thing
    """
    where = Path(path)
    return _project(str(path), where.name, read_project_file(where), Folder(where.parent))


def load_bytes(name: str, source: bytes, files: Mapping[str, bytes]) -> Project:
    """The project of a file in memory, as a dossier carries it; `files` are those beside it, by relative name.

    raises ProjectErrors: as `load`
    """
    if len(source) > LARGEST_FILE:
        expected = f"a project file of at most {LARGEST_FILE >> 20} MiB"
        raise ProjectErrors([Problem(name, 0, 0, "", expected, f"{len(source)} bytes", "")])
    return _project(name, name, source, Bundle(files))


def _project(shown: str, name: str, content: bytes, beside: Beside) -> Project:
    tree = parse(decode(shown, content))
    files = Files(beside, tree)
    merge(tree, files)
    unit, whole = validate(tree)
    quantities = dict(_quantities(unit)) if unit is not None else {}
    check(tree, quantities)
    if tree.problems or unit is None or not whole:
        order = {shown: ""}
        unique = dict.fromkeys(tree.problems)
        raise ProjectErrors(sorted(unique, key=lambda p: (order.get(p.file, p.file), p.line, p.column)))
    names = {beside.shown(file): file for file in files.contents} | {shown: name}
    origins = {
        dotted(path): f"{names[place.source.name]}:{place.key.line}" for path, place in tree.places.items() if path
    }
    return Project(
        unit=unit,
        name=name,
        source=content,
        files=MappingProxyType(dict(sorted(files.contents.items()))),
        curves=MappingProxyType({file: curve for file, curve in files.curves.items() if curve is not None}),
        quantities=MappingProxyType(quantities),
        origins=MappingProxyType(origins),
        places=MappingProxyType({dotted(path): place for path, place in tree.places.items()}),
        demonstration=unit.data == "demonstration" or files.invented,
    )


def _quantities(part: object, path: str = "") -> Iterator[tuple[str, Quantity]]:
    """Every number of the unit with its path."""
    if isinstance(part, Quantity):
        yield path, part
    elif isinstance(part, BaseModel | dict):
        for name, value in part.items() if isinstance(part, dict) else iter(part):
            yield from _quantities(value, f"{path}.{name}" if path else name)
