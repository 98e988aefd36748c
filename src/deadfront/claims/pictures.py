"""Claims: what the time-current picture shows. A report comes in; curves, marked currents and the reference go out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from deadfront.claims.wording import in_words
from deadfront.study.pictures import DeviceCurve, Marker, characteristics
from deadfront.study.tables import ArcRow

if TYPE_CHECKING:
    from deadfront.claims.report import Report


def curves_for_picture(report: Report) -> tuple[tuple[DeviceCurve, ...], tuple[Marker, ...], str]:
    """Device characteristics at the low-voltage side, the currents of the governing arc and faults, the voltage.

    Empty where the file has no board or no transformer yet.
    """
    unit = report.project.unit
    if unit.board is None or unit.board.voltage is None or unit.transformer is None:
        return (), (), ""
    markers = _markers(report)
    largest = 1.3 * max((marker.current for marker in markers), default=40e3)
    curves = characteristics(report.subject.walk(), largest)
    return curves, markers, in_words(unit.board.voltage.centre, "V")


def _markers(report: Report) -> tuple[Marker, ...]:
    found = []
    for row in report.faults:
        if row.governs and row.point == "LV bus" and row.kind == "three-phase":
            found.append(Marker(f"bolted three-phase fault at the LV bus, {row.extreme}", row.current, None))
    governing = governing_arc(report)
    if governing is not None:
        place, arc = governing
        time = arc.clearing_time if arc.clearing_time < float("inf") else None
        by = arc.clearing_device or "nothing"
        words = f"governing arc: {place}, {arc.electrodes}, {arc.current_kind}, cleared by {by}"
        found.append(Marker(words, arc.arcing_current, time))
    return tuple(found)


def governing_arc(report: Report) -> tuple[str, ArcRow] | None:
    """The low-voltage arc of the largest incident energy in the state the unit is meant to be in."""
    rows = [(p.place, p.governing) for p in report.arcs if p.governing is not None]
    return max(rows, key=lambda item: item[1].energy, default=None)
