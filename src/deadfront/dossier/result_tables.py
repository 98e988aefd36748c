"""Dossier: tables of faults and arcs. Rows of the study come in, cells in print go out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from deadfront.claims.numbers import Direction, both_systems, digits, raised, typographic
from deadfront.dossier.claim_sheets import DASH, number

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.study.tables import ArcPlace, ArcRow, FaultRow

_METHODS = ("IEC 60909-0:2016", "North American per unit")
_CURRENTS = ("current", "peak", "breaking", "thermal")
_KINDS = ("three-phase", "line-line", "line-earth", "line-line-earth")
_MOST_ROWS = 60
"""More rows than this make no table that anybody reads; the attached result holds them all."""


def faults(report: Report) -> dict[str, Any]:
    """Fault currents at every point, both methods side by side; the method of this practice is named as governing.

    A largest current is rounded up, a smallest one down. Who clears the fault, and when, is for the governing method.
    """
    rows = report.faults
    governing = next((row.method for row in rows if row.governs), "")
    points = [
        {"name": point, "rows": [_fault(rows, point, kind, extreme) for kind, extreme in _kinds_at(rows, point)]}
        for point in dict.fromkeys(row.point for row in rows)
    ]
    methods = [
        {"name": method, "columns": [name for name in _CURRENTS if _given(rows, method, name)] + ["ratio"]}
        for method in _METHODS
    ]
    return {"methods": methods, "governing": governing, "points": points}


def arcs(report: Report) -> dict[str, Any]:
    """Arcs at every place of work: the governing row, the largest boundary, the worst of each state and electrodes.

    An energy is printed only with its working distance.
    """
    rows = sum(len(place.rows) for place in report.arcs)
    return {
        "places": [_place(report, place) for place in report.arcs],
        "appendix": 0 < rows <= _MOST_ROWS,
        "count": rows,
    }


def _kinds_at(rows: Sequence[FaultRow], point: str) -> list[tuple[str, str]]:
    found = {(row.kind, row.extreme) for row in rows if row.point == point}
    order = [*_KINDS, *sorted({kind for kind, _ in found} - set(_KINDS))]
    return [(kind, extreme) for extreme in ("maximum", "minimum") for kind in order if (kind, extreme) in found]


def _fault(rows: Sequence[FaultRow], point: str, kind: str, extreme: str) -> dict[str, Any]:
    """One kind of fault at one point: cells of both methods, and how the governing one is cleared."""
    here = [row for row in rows if (row.point, row.kind, row.extreme) == (point, kind, extreme)]
    direction: Direction = "up" if extreme == "maximum" else "down"
    cells = [_currents(next((row for row in here if row.method == method), None), direction) for method in _METHODS]
    governing = next((row for row in here if row.governs), None)
    return {"kind": kind, "extreme": extreme, "cells": cells} | _clearing(governing)


def _given(rows: Sequence[FaultRow], method: str, name: str) -> bool:
    """Whether a method gives this current anywhere; a column without a number is not printed."""
    return any(row.method == method and number(getattr(row, name), "A") != DASH for row in rows)


def _currents(row: FaultRow | None, direction: Direction) -> dict[str, str]:
    if row is None:
        return dict.fromkeys((*_CURRENTS, "ratio"), DASH)
    cells = {name: number(getattr(row, name), "A", direction) for name in _CURRENTS}
    return cells | {"ratio": digits(row.x_over_r, 3) if math.isfinite(row.x_over_r) else DASH}


def _clearing(row: FaultRow | None) -> dict[str, str]:
    if row is None:
        return {"device": "", "time": "", "parts": "", "case": ""}
    parts = ", ".join(f"{name} {number(seconds, 's', 'up')}" for name, seconds in row.time_parts)
    return {
        "device": _device(row.clearing_device, row.clearing_time),
        "time": number(row.clearing_time, "s", "up"),
        "parts": parts,
        "case": raised(row.case) + _primary_lines(row),
    }


_NO_CURRENT = 1e-9
"""Share of the largest line current below which a line carries none: what is left is rounding of the arithmetic."""


def _primary_lines(row: FaultRow) -> str:
    """What the three MV lines carry during a low-voltage fault; nothing where the supply does not feed it."""
    if row.primary_lines is None or not any(row.primary_lines):
        return ""
    direction: Direction = "up" if row.extreme == "maximum" else "down"
    most = max(row.primary_lines)
    lines = ("0\u00a0A" if line < _NO_CURRENT * most else number(line, "A", direction) for line in row.primary_lines)
    return "; MV lines " + ", ".join(lines)


def _device(name: str | None, time: float) -> str:
    """Who clears; a time that the file does not give is not a time that never ends."""
    if name is not None:
        return name
    return "settings not in the file" if math.isnan(time) else "nothing clears it"


def _place(report: Report, place: ArcPlace) -> dict[str, Any]:
    operation = report.project.unit.operation
    entry = ((operation.places if operation else None) or {}).get(place.place)
    distance = entry.working_distance.text if entry and entry.working_distance else None
    clothing = entry.clothing.text if entry and entry.clothing else ""
    governing, widest = place.governing, place.largest_boundary
    rows = [("largest energy", governing)] if governing else []
    rows += [("largest boundary", widest)] if widest and widest != governing else []
    return {
        "name": place.place,
        "at": place.at,
        "refused": raised(place.refused or ""),
        "distance": raised(distance) if distance else "not given",
        "clothing": raised(clothing),
        "rows": [{"what": what} | _arc(row, distance is not None) for what, row in rows],
        "worst": [_arc(row, distance is not None) for row in _worst(place.rows)],
        "all": [_arc(row, distance is not None) for row in place.rows],
    }


def _worst(rows: Sequence[ArcRow]) -> list[ArcRow]:
    """Of each state and electrode configuration the row of most energy, in the order of the rows."""
    worst: dict[tuple[str, str], ArcRow] = {}
    for row in rows:
        key = (row.state, row.electrodes)
        if key not in worst or row.energy > worst[key].energy:
            worst[key] = row
    return list(worst.values())


def _arc(row: ArcRow, with_energy: bool) -> dict[str, str]:
    energy = typographic(both_systems(row.energy, "J/m2", "up")) if with_energy else "no working distance"
    return {
        "case": raised(row.case),
        "state": row.state,
        "electrodes": row.electrodes,
        "kind": row.current_kind,
        "bolted": number(row.bolted_current, "A"),
        "arcing": number(row.arcing_current, "A"),
        "device": _device(row.clearing_device, row.clearing_time),
        "time": _time(row),
        "energy": energy,
        "boundary": typographic(both_systems(row.boundary, "m", "up")),
    }


def _time(row: ArcRow) -> str:
    """The clearing time, and the shorter time after which the person has moved away where the file says so."""
    time = number(row.clearing_time, "s", "up")
    return (
        time if not row.exposure_time < row.clearing_time else f"{time}, counted {number(row.exposure_time, 's', 'up')}"
    )
