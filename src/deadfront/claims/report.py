"""Claims: a whole check. A project comes in; every claim, the tables of faults and arcs, and one JSON object go out."""

from __future__ import annotations

import math
from dataclasses import asdict
from importlib.metadata import version
from typing import Any, cast

from deadfront.claims import (
    access,
    arc_energy,
    code_maxima,
    coordination,
    documents,
    fuse_let_through,
    fuse_load,
    fuse_pair,
    promises,
    selectivity,
    short_circuit,
    switch_fuse,
)
from deadfront.claims.comparing import CLAIMS
from deadfront.claims.gathering import judged
from deadfront.claims.model import Claim
from deadfront.claims.proving import QUICK
from deadfront.claims.reported import FORMAT, Progress, Report, subject_of
from deadfront.claims.sampling import walks
from deadfront.intervals import Effort
from deadfront.project.project import Project
from deadfront.study.tables import ArcPlace, ArcRow, FaultRow, arc_places, fault_rows

__all__ = ["FORMAT", "ROOMS", "Progress", "Report", "check", "finite", "subject_of", "to_json"]

ROOMS = (
    short_circuit,
    fuse_load,
    fuse_pair,
    fuse_let_through,
    switch_fuse,
    code_maxima,
    coordination,
    selectivity,
    arc_energy,
)
"""Rooms of claims; importing them fills the list of claims."""


def check(project: Project, *, progress: Progress | None = None, effort: Effort = QUICK) -> Report:
    """Judge every claim on a project and fill the tables.

    `progress` is called with (done, whole, what) as the work goes on. A file that lacks entries leaves claims open;
    it raises nothing. `effort` says how hard each claim is tried.

    raises  ProjectErrors: the `operation` section contradicts itself or the unit, all of it in one go
    """
    subject = subject_of(project)
    whole = len(CLAIMS) + 3
    _tell(progress, 0, whole, "faults")
    faults = fault_rows(*walks(subject, lambda walk_at, points: fault_rows(walk_at, points[:1])))
    others = (
        ("access", lambda: access.access_claims(project, subject.station, faults)),
        ("arcs", lambda: arc_places(*walks(subject, lambda walk_at, points: arc_places(walk_at, points[:1])))),
    )
    found, results = judged(subject, effort, others, lambda done, what: _tell(progress, done + 1, whole, what))
    reached, arcs = cast("tuple[tuple[Claim, ...], tuple[ArcPlace, ...]]", tuple(results))
    found += reached
    found += [promises.a_blown_limiter_is_tested_first(project), promises.plates_and_signs_are_complete(project)]
    found.append(documents.assumptions_are_owned(found))
    _tell(progress, whole, whole, "")
    return Report(
        project,
        subject.station,
        subject,
        tuple(sorted(found, key=lambda claim: claim.id)),
        faults,
        arcs,
        documents.all_assumptions(found),
        version("deadfront"),
        effort,
    )


def _tell(progress: Progress | None, done: int, whole: int, what: str) -> None:
    if progress is not None:
        progress(done, whole, what)


# --- one JSON object ---


def to_json(report: Report) -> dict[str, Any]:
    """The whole check as plain data; times that never end and numbers outside a model are null, with a word beside."""
    return {
        "deadfront": FORMAT,
        "version": report.version,
        "title": report.project.unit.title,
        "practice": report.project.unit.practice,
        "demonstration": report.project.demonstration,
        "input_sha256": report.project.sha256,
        "effort": {
            "budget": report.effort.budget,
            "refinement": report.effort.refinement,
            "tolerance": report.effort.tolerance,
        },
        "claims": [_claim(claim) for claim in report.claims],
        "faults": [_fault(row) for row in report.faults],
        "arcs": [_place(place) for place in report.arcs],
        "assumptions": [asdict(assumption) for assumption in report.assumptions],
    }


def finite(value: float | None) -> float | None:
    """A number JSON can hold: None for NaN and for endless."""
    return None if value is None or not math.isfinite(value) else value


def _claim(claim: Claim) -> dict[str, Any]:
    plain = asdict(claim)
    for key in ("value", "limit", "margin", "bound"):
        plain[key] = finite(plain[key])
    for detail in plain["details"]:
        for key in ("value", "limit", "margin"):
            detail[key] = finite(detail[key])
    return plain


def _fault(row: FaultRow) -> dict[str, Any]:
    return {
        "point": row.point,
        "kind": row.kind,
        "extreme": row.extreme,
        "method": row.method,
        "governs": row.governs,
        "current_a": row.current,
        "earth_current_a": row.earth_current,
        "peak_a": finite(row.peak),
        "breaking_a": finite(row.breaking),
        "thermal_1s_a": finite(row.thermal),
        "x_over_r": finite(row.x_over_r),
        "primary_lines_a": None if row.primary_lines is None else list(row.primary_lines),
        "clearing_device": row.clearing_device,
        "clearing_time_s": finite(row.clearing_time),
        "time_parts_s": dict(row.time_parts),
        "case": row.case,
    }


def _arc(row: ArcRow | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "case": row.case,
        "state": row.state,
        "electrodes": row.electrodes,
        "current_kind": row.current_kind,
        "bolted_current_a": finite(row.bolted_current),
        "arcing_current_a": finite(row.arcing_current),
        "clearing_device": row.clearing_device,
        "time_s": finite(row.exposure_time),
        "clearing_time_s": finite(row.clearing_time),
        "energy_j_per_m2": finite(row.energy),
        "energy_cal_per_cm2": finite(row.energy / 41840.0),
        "boundary_m": finite(row.boundary),
    }


def _place(place: ArcPlace) -> dict[str, Any]:
    return {
        "place": place.place,
        "at": place.at,
        "refused": place.refused,
        "governing": _arc(place.governing),
        "largest_boundary": _arc(place.largest_boundary),
        "cases": [_arc(row) for row in place.rows],
    }
