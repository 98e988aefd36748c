"""Claims: the form of a whole check. A project comes in as what claims are judged on; judged claims stand in a report.

No room of claims is imported here: what was judged before is read back without them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from deadfront.claims.judging import Subject
from deadfront.claims.model import Assumption, Claim
from deadfront.claims.proving import QUICK
from deadfront.intervals import Effort
from deadfront.operation.refusing import refuse_broken
from deadfront.project.project import Project
from deadfront.station.station import Station, build
from deadfront.study.cases import operating_cases
from deadfront.study.tables import ArcPlace, FaultRow

FORMAT = 1
"""Version of the JSON object."""

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class Report:
    """A checked unit."""

    project: Project
    station: Station
    subject: Subject
    claims: tuple[Claim, ...]
    faults: tuple[FaultRow, ...]
    arcs: tuple[ArcPlace, ...]
    assumptions: tuple[Assumption, ...]
    version: str
    effort: Effort = QUICK


def subject_of(project: Project) -> Subject:
    """What the claims are judged on: the project with its station and all operating cases.

    raises  ProjectErrors: the `operation` section contradicts itself or the unit
    """
    subject = sound_subject_of(project)
    refuse_broken(project, subject.station)
    return subject


def sound_subject_of(project: Project) -> Subject:
    """The same for a project that was not refused: what was judged before, or one with other fuses in it."""
    station = build(project.unit)
    return Subject(project, station, operating_cases(station))
