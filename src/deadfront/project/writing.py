"""Project: where a command may write. A place and what is to stand there come in; a refusal goes out, or nothing."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Literal

from deadfront.project.errors import Problem, ProjectErrors, shortened

Kind = Literal["PDF", "SVG picture", "PNG picture", "machine file", "Promela model", "curve file"]
"""What commands write."""

_FIRST = 4096
"""Bytes of a file by which its kind is known."""
_KNOWN: dict[Kind, Callable[[bytes], bool]] = {
    "PDF": lambda begin: begin.startswith(b"%PDF-"),
    "SVG picture": lambda begin: begin.startswith((b"<svg", b"<?xml")) and b"<svg" in begin,
    "PNG picture": lambda begin: begin.startswith(b"\x89PNG\r\n\x1a\n"),
    "machine file": lambda begin: begin.startswith(b"{") and b'"points"' in begin,
    "Promela model": lambda begin: begin.startswith(b"/*") and b"The machine of hand actions" in begin,
    "curve file": lambda begin: b"current_a" in begin,
}
_NO_FILES: tuple[tuple[Callable[[int], bool], str], ...] = (
    (stat.S_ISLNK, "a symbolic link"),
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a named pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)
ANOTHER = "give another name, or move what stands there away"


def refuse_place(place: Path, kind: Kind, read: Iterable[Path] = ()) -> None:
    """Refuse to write where that would destroy something else than an earlier file of the same kind.

    place   where a file is to be written
    kind    what is to be written; a file that stands there must be of that kind already, or empty
    read    files that the command has read, which it never writes
    raises  ProjectErrors: the place is a file that was read, no regular file, or a file of another kind
    """
    problem = place_problem(place, kind, read)
    if problem is not None:
        raise ProjectErrors([problem])


def place_problem(place: Path, kind: Kind, read: Iterable[Path] = ()) -> Problem | None:
    """The same as a problem for a list, or None where the place may be written."""
    expected = f"a free name, or an earlier {kind} to be replaced"
    try:
        state = os.lstat(place)
    except OSError:
        return None  # nothing stands there; whether it can be written is the system's to say
    found = next((words for what, words in _NO_FILES if what(state.st_mode)), "")
    if not found and any(_same_file(place, file) for file in read):
        found = "a file that this command reads"
    if not found:
        found = _other_kind(place, kind)
    return Problem(str(place), 0, 0, "", expected, found, ANOTHER) if found else None


def _same_file(place: Path, file: Path) -> bool:
    """Whether both names lead to one file, also by way of a link."""
    try:
        return place.samefile(file)
    except OSError:
        return False


def _other_kind(place: Path, kind: Kind) -> str:
    """What stands there, where it is of another kind."""
    try:
        with place.open("rb") as stream:
            begin = stream.read(_FIRST)
    except OSError:
        return ""  # what cannot be read cannot be told; the system refuses to write it, or the person owns it
    if not begin or _KNOWN[kind](begin):
        return ""
    line = begin.split(b"\n", 1)[0].decode("utf-8", "backslashreplace").strip()
    return f"a file of another kind, which begins with `{shortened(line)}`" if line else "a file of another kind"
