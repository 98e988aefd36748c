"""Library: the walk as functions; a file goes in at `load`, claims come out of `check`, a PDF of `write_dossier`."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from deadfront.claims.breaking import REACHING, Followed, Reaches, every_reach
from deadfront.claims.choice import Choice
from deadfront.claims.choosing import Wish, in_stock
from deadfront.claims.choosing import choose as _choose
from deadfront.claims.comparing import CLAIMS, ClaimDefinition
from deadfront.claims.mapping import DEPTH, MAPPING, MarginMap
from deadfront.claims.mapping import margin_map as _mapped
from deadfront.claims.proving import QUICK
from deadfront.claims.report import Progress, Report, subject_of, to_json
from deadfront.claims.report import check as _check
from deadfront.intervals import Effort
from deadfront.project.catalogue import demonstration_catalogue, read_catalogue
from deadfront.project.errors import ProjectErrors
from deadfront.project.project import Project
from deadfront.project.reading import load

__all__ = [
    "Choice",
    "Effort",
    "Followed",
    "MarginMap",
    "Progress",
    "Project",
    "ProjectErrors",
    "Reaches",
    "Report",
    "break_points",
    "check",
    "choose_fuses",
    "followed",
    "load",
    "margin_map",
    "to_json",
    "write_dossier",
]


def check(project: Project, *, progress: Progress | None = None, effort: Effort = QUICK) -> Report:
    """Judge every claim on a project; see `deadfront.claims.report.check`.

    raises  ProjectErrors: the `operation` section contradicts itself or the unit; as `load` for every other fault
    """
    return _check(project, progress=progress, effort=effort)


def followed(report: Report, *, progress: Progress | None = None, effort: Effort = REACHING) -> Followed:
    """Break points of every claim of a report, for the pages of its dossier about them."""
    found = every_reach(_wanted(None), report.subject, (effort, report.effort), progress)
    return Followed(tuple(sorted(found, key=lambda reaches: reaches.claim.id)), effort)


def break_points(
    project: Project, claim: str | None = None, *, progress: Progress | None = None, effort: Effort | None = None
) -> list[Reaches]:
    """How far each range may move before a verdict flips, claim by claim; see `deadfront.claims.breaking.reaches`.

    claim   identifier of the only claim that is wanted; all if not given
    effort  of each move; a quick one if not given
    raises  ValueError: there is no such claim; ProjectErrors: as `check`
    """
    found = every_reach(_wanted(claim), subject_of(project), (effort or REACHING, QUICK), progress)
    return sorted(found, key=lambda reaches: reaches.claim.id)


def margin_map(
    project: Project, claim: str, inputs: tuple[str, str], *, depth: int = DEPTH, effort: Effort | None = None
) -> MarginMap:
    """Where a claim holds over two ranges, the others anywhere in theirs; see `deadfront.claims.mapping.margin_map`.

    raises  ValueError: there is no such claim; it has no numbers; an input is no range that it reads
            ProjectErrors: as `check`
    """
    return _mapped(_wanted(claim)[0], subject_of(project), inputs, depth, effort or MAPPING)


def choose_fuses(project: Project, catalogue: Path | str | None = None, *, proofs: int | None = 3) -> Choice:
    """Every pair of link and limiter of a catalogue, the best proved; see `deadfront.claims.choosing.choose`.

    catalogue  folder; the invented demonstration catalogue if not given, which the choice says of itself
    proofs     pairs to prove; None for all that are left
    raises     ProjectErrors: the catalogue is wrong, or as `check`; ValueError: the catalogue holds no pair
    """
    rows = demonstration_catalogue() if catalogue is None else read_catalogue(catalogue)
    return _choose(project, rows, Wish(proofs, in_stock(project, rows)))


def _wanted(claim: str | None) -> list[ClaimDefinition]:
    found = [definition for definition in CLAIMS if claim in (None, definition.id)]
    if not found:
        raise ValueError(f"no claim {claim} with numbers; those are {', '.join(sorted(d.id for d in CLAIMS))}")
    return found


def write_dossier(
    report: Report,
    path: Path | str,
    part: Literal["whole", "procedures"] = "whole",
    break_points: Followed | None = None,
) -> Path:
    """Write the dossier of a checked unit as PDF/A-3, project file and curves attached; returns the path.

    part          `procedures` for the sheets of the crew alone
    break_points  from `followed`, if the dossier is to have pages about them
    """
    from deadfront.dossier.files import write_dossier as write

    return write(report, Path(path), part, break_points)
