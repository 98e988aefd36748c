"""Recalling: what an earlier check of the same bytes found. A project comes in; its report goes out.

What is kept is found again only under every byte that could change it: the project file, the files it names, the
effort, the tool's own source and tables, and the versions of what computes. A re-check of a dossier never comes here.
"""

from __future__ import annotations

import hashlib
import json
import os
import platform
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pydantic import TypeAdapter

    from deadfront.claims.reported import Progress, Report
    from deadfront.intervals import Effort
    from deadfront.project.project import Project

MOST_KEPT = 64
"""Checks that are kept; the one not used for the longest time goes first."""
LARGEST = 32 << 20
"""Bytes beyond which a kept check is not read: those of the demonstrations take a fiftieth."""
RECALLED = "recalled: the same files were checked before with this tool; `--fresh` judges them anew"


@dataclass(frozen=True, slots=True)
class Checked:
    """A report, and whether it was recalled instead of judged."""

    report: Report
    recalled: bool


def checked(project: Project, effort: Effort, progress: Progress | None, *, fresh: bool) -> Checked:
    """The report of a project: recalled if the same was checked before, else judged, and kept for the next time.

    fresh   judge in any case; what was found replaces what was kept
    """
    folder = _folder()
    place = None if folder is None else folder / f"{key(project, effort)}.json"
    recalled = None if fresh or place is None else _read(place, project, effort)
    if recalled is not None:
        return Checked(recalled, recalled=True)
    from deadfront.claims.report import check  # with all rooms of claims: not for what is recalled

    report = check(project, progress=progress, effort=effort)
    if (
        place is not None and _files_of_tool() == _tool()
    ):  # the tool may have been changed while this process ran its former self
        _keep(place, report)
    return Checked(report, recalled=False)


def key(project: Project, effort: Effort) -> str:
    """SHA-256 over everything that a report depends on, each part with its length before it."""
    parts: list[bytes] = [_tool().encode(), repr(effort).encode(), project.name.encode(), project.source]
    for name in sorted(project.files):
        parts += [name.encode(), project.files[name]]
    return _digest(parts)


@cache
def _tool() -> str:
    """SHA-256 over the tool as this process began to run it."""
    return _files_of_tool()


def _files_of_tool() -> str:
    """SHA-256 over the tool's own files as they are now, whatever its version says, and over what runs it."""
    root = Path(__file__).parent
    parts = [f"{sys.version} {platform.machine()} numpy {np.__version__}".encode()]
    for file in sorted(path for path in root.rglob("*") if path.is_file() and path.suffix != ".pyc"):
        parts += [file.relative_to(root).as_posix().encode(), file.read_bytes()]
    return _digest(parts)


def _digest(parts: Iterable[bytes]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big"))
        digest.update(part)
    return digest.hexdigest()


# --- on disk ---


def _folder() -> Path | None:
    """The user's folder for what can be made again, by the XDG Base Directory Specification; None without a home."""
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    base = named if named.is_absolute() else Path("~/.cache").expanduser()
    return base / "deadfront" / "checks" if base.is_absolute() else None


def _read(place: Path, project: Project, effort: Effort) -> Report | None:
    """The kept report, or None if there is none, it is damaged, or somebody else could have written it."""
    try:
        with place.open("rb") as stream:
            state = os.fstat(stream.fileno())
            if state.st_size > LARGEST or not _own(state):
                return None
            head, _, body = stream.read(LARGEST + 1).partition(b"\n")
        if head.decode("ascii", "replace") != hashlib.sha256(body).hexdigest():
            return None
        report = _from_plain(json.loads(body), project, effort)
        os.utime(place)  # used last now
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return report


def _own(state: os.stat_result) -> bool:
    """Whether a file belongs to this user and nobody else may write it; where users have no numbers, always."""
    if not hasattr(os, "getuid"):
        return True
    return state.st_uid == os.getuid() and not state.st_mode & 0o022


def _keep(place: Path, report: Report) -> None:
    """Write a report beside its place, then move it there in one step. A check never fails for want of this."""
    try:
        body = json.dumps(_to_plain(report), ensure_ascii=True, separators=(",", ":")).encode()
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".writing-", dir=place.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
            os.replace(name, place)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        _drop_oldest(place.parent)
    except (OSError, ValueError, TypeError):
        return


def _drop_oldest(folder: Path) -> None:
    """Remove what was not used for the longest time, and what a broken-off write left behind."""
    files = sorted(folder.iterdir(), key=lambda file: file.stat().st_mtime, reverse=True)
    for file in files[MOST_KEPT:]:
        file.unlink(missing_ok=True)


# --- as plain data ---

_PARTS = ("claims", "faults", "arcs", "assumptions")
"""What a report holds beside its project, and what follows from the project at once."""


def _adapters() -> dict[str, TypeAdapter[Any]]:
    """One adapter for each part, which writes it as plain data and checks every field when it is read."""
    from pydantic import TypeAdapter

    from deadfront.claims.model import Assumption, Claim
    from deadfront.study.tables import ArcPlace, FaultRow

    return {
        "claims": TypeAdapter(tuple[Claim, ...]),
        "faults": TypeAdapter(tuple[FaultRow, ...]),
        "arcs": TypeAdapter(tuple[ArcPlace, ...]),
        "assumptions": TypeAdapter(tuple[Assumption, ...]),
    }


def _to_plain(report: Report) -> dict[str, Any]:
    adapters = _adapters()
    plain = {name: adapters[name].dump_python(getattr(report, name)) for name in _PARTS}
    return plain | {"version": report.version}


def _from_plain(plain: dict[str, Any], project: Project, effort: Effort) -> Report:
    from deadfront.claims.reported import Report, sound_subject_of

    adapters, subject = _adapters(), sound_subject_of(project)
    claims, faults, arcs, assumptions = (adapters[name].validate_python(plain[name]) for name in _PARTS)
    return Report(project, subject.station, subject, claims, faults, arcs, assumptions, plain["version"], effort)
