"""Project: starter files; a practice comes in, a commented project file with its CSV files is written."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from os import PathLike
from pathlib import Path, PurePosixPath
from typing import Literal, get_args

from deadfront.project.errors import Problem, ProjectErrors

Practice = Literal["north-american", "iec"]
PRACTICES: tuple[Practice, ...] = get_args(Practice)

STARTER = "starter.yaml"


def starter_files(practice: Practice) -> dict[str, bytes]:
    """The starter file of a practice under the name STARTER, and the CSV files it names, by relative name."""
    if practice not in PRACTICES:
        raise ValueError(f"practice: expected {' or '.join(PRACTICES)}, got {practice!r}")
    return dict(sorted(_files(files("deadfront.project") / "templates" / practice, "")))


def new(path: str | PathLike[str], practice: Practice) -> list[Path]:
    """Write a starter file at `path` and the invented CSV files it names beside it; the paths written.

    Nothing is overwritten. A CSV file that stands there already with the same content is left as it is; where one of
    its name has another content, as that of another unit in the folder, the starter names its own after itself.

    raises ProjectErrors: a file stands there already, or the folder cannot be written to; nothing is written then,
    except that a folder that fails half-way keeps what was written
    """
    target = Path(path)
    planned = _planned(target, starter_files(practice))
    taken = [place for place, content in planned.items() if _taken(place, content, target)]
    if taken:
        remedy = "give another name or move the file away"
        raise ProjectErrors(
            Problem(str(place), 0, 0, "", "a name that is free", "a file that stands there already", remedy)
            for place in taken
        )
    written = []
    for place, content in planned.items():
        if not os.path.lexists(place):
            _write(place, content, target.parent)
            written.append(place)
    return written


def _planned(target: Path, given: dict[str, bytes]) -> dict[Path, bytes]:
    """Places and contents; a CSV file of which the name is taken is called after the project file, also in it."""
    planned, text = {}, given[STARTER]
    for name, content in given.items():
        if name == STARTER:
            continue
        place = target.parent / name
        if _taken(place, content, target):
            own = PurePosixPath(name).with_name(f"{target.stem}-{PurePosixPath(name).name}").as_posix()
            text = re.sub(rb"(?<![\w/.-])" + re.escape(name.encode()) + rb"(?![\w-])", _literally(own), text)
            place = target.parent / own
        planned[place] = content
    return planned | {target: text}


def _literally(name: str) -> Callable[[re.Match[bytes]], bytes]:
    """A replacement that is taken as it stands, whatever the name holds."""
    return lambda _match: name.encode()


def _taken(place: Path, content: bytes, target: Path) -> bool:
    """Whether something else than this very file stands in its place."""
    return os.path.lexists(place) and not _same(place, content, target)


def _same(place: Path, content: bytes, target: Path) -> bool:
    return place != target and place.is_file() and place.read_bytes() == content


def _write(place: Path, content: bytes, folder: Path) -> None:
    try:
        if place.parent != folder:
            place.parent.mkdir(exist_ok=True)
        with place.open("xb") as file:
            file.write(content)
    except OSError as error:
        found = f"a refusal of the system ({error.strerror})"
        raise ProjectErrors([Problem(str(place), 0, 0, "", "a folder that can be written to", found, "")]) from None


def _files(folder: Traversable, prefix: str) -> Iterator[tuple[str, bytes]]:
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from _files(entry, f"{prefix}{entry.name}/")
        elif entry.name.endswith((".yaml", ".csv")):
            yield prefix + entry.name, entry.read_bytes()
