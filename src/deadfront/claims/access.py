"""Claims: no sequence of hands reaches a live part. A unit and its faults come in; AC-01 to AC-09 and EN-03 go out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from deadfront.claims import access_reach as reach
from deadfront.claims import access_work as work
from deadfront.claims.access_failures import AC_06, failures_are_answered
from deadfront.claims.access_findings import Finding, Question, Subject, claimed
from deadfront.claims.model import Claim, MissingEntry
from deadfront.operation.errors import MachineTooLarge
from deadfront.operation.station_machine import NothingToExamine, station_machine
from deadfront.project.project import Project
from deadfront.station.station import Station
from deadfront.study.tables import FaultRow

QUESTIONS: tuple[tuple[Question, Callable[[Subject], Finding]], ...] = (
    (reach.AC_01, reach.nothing_live_behind_a_door),
    (reach.AC_02, reach.fuses_are_drawn_dead),
    (reach.AC_03, reach.earths_and_voltage_never_meet),
    (reach.AC_04, reach.load_is_broken_by_what_can),
    (reach.AC_05, reach.no_back_feed),
    (AC_06, failures_are_answered),
    (work.AC_07, work.tasks_have_a_way),
    (work.AC_08, work.isolation_is_proved),
    (work.AC_09, work.boundaries_fit),
    (work.EN_03, work.gauges_are_read_outside),
)
"""The claims of this hazard, in the order of the list, each with what decides it."""


def access_claims(
    project: Project,
    station: Station,
    faults: Sequence[FaultRow],
    tell: Callable[[int, str], None] | None = None,
) -> tuple[Claim, ...]:
    """AC-01 to AC-09 and EN-03 on a unit; where the file lacks its doors, every one of them says so.

    `tell` is called with how many are done, and which is next.
    """
    try:
        subject = Subject(project, station, station_machine(station), faults)
        found = []
        for done, (question, decide) in enumerate(QUESTIONS):
            if tell is not None:
                tell(done, question.id)
            found.append(claimed(question.of(project), decide(subject)))
        return tuple(found)
    except NothingToExamine as nothing:
        reason = "The file does not say which doors the unit has."
        missing = [MissingEntry(nothing.path, "the doors of the unit, or a scheme that holds them", nothing.example)]
    except MachineTooLarge as error:
        reason, missing = f"Nothing can be examined: {error}", []
    finding = Finding("open", reason, missing=tuple(missing))
    return tuple(claimed(question.of(project), finding) for question, _ in QUESTIONS)
