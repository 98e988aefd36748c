"""Library: the walk as three functions; a file goes in at `load`, claims come out of `check`, a PDF of `write_dossier`."""

from __future__ import annotations

from pathlib import Path

from deadfront.claims.report import Progress, Report, to_json
from deadfront.claims.report import check as _check
from deadfront.project.project import Project
from deadfront.project.reading import load

__all__ = ["Progress", "Project", "Report", "check", "load", "to_json", "write_dossier"]


def check(project: Project, *, progress: Progress | None = None) -> Report:
    """Judge every claim on a project; see `deadfront.claims.report.check`."""
    return _check(project, progress=progress)


def write_dossier(report: Report, path: Path | str) -> Path:
    """Write the dossier of a checked unit as PDF/A-3, with the project file and its curves attached; returns the path."""
    from deadfront.dossier.files import write_dossier as write

    return write(report, Path(path))
