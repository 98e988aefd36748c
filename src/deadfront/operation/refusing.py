"""Operation: an `operation` section that cannot be is refused. A project in; its machine out, or all that is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from deadfront.operation.dead_ends import dead_end_findings
from deadfront.operation.errors import BrokenMachine, Located, MachineTooLarge
from deadfront.operation.station_machine import NothingToExamine, StationMachine, station_machine
from deadfront.project.errors import Problem, ProjectErrors
from deadfront.project.project import Project
from deadfront.station.station import Station


def sound_machine(project: Project, station: Station) -> StationMachine:
    """The machine of a unit.

    raises  ProjectErrors: entries of `operation` contradict each other or the unit, or hold a device for ever; all of
            them at once, each where it stands. NothingToExamine: the file has neither doors nor schemes.
            MachineTooLarge: nothing could be looked at
    """
    try:
        built = station_machine(station)
    except BrokenMachine as broken:
        raise ProjectErrors(_in_order(_problems(project, broken.findings))) from None
    findings = dead_end_findings(built)
    if findings:
        raise ProjectErrors(_in_order(_problems(project, findings)))
    return built


def refuse_broken(project: Project, station: Station) -> None:
    """Nothing, where the `operation` section of a file is sound, absent, or too large to be looked at.

    raises  ProjectErrors: as `sound_machine`
    """
    try:
        sound_machine(project, station)
    except (NothingToExamine, MachineTooLarge):
        return  # no fault of the file: the claims say why they are open


def _problems(project: Project, findings: Iterable[Located]) -> Iterator[Problem]:
    for one in findings:
        remedy = one.remedy
        if one.other:
            there = project.problem(one.other, expected="", found="")
            words = there.source_line[there.column - 1 :][: there.length]
            where = (
                f"the other one is on line {there.line}, column {there.column}: `{words}`" if there.line else one.other
            )
            remedy = f"{remedy}; {where}" if remedy else where
        yield project.problem(one.path, expected=one.expected, found=one.found, remedy=remedy, at_key=one.at_key)


def _in_order(problems: Iterable[Problem]) -> list[Problem]:
    """As they stand in the file; those at one place as they were found."""
    return sorted(problems, key=lambda problem: (problem.line, problem.column))
