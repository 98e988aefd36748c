"""Dossier: curve files on log-log paper. Checked curves come in, a picture with each as a band goes out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deadfront.dossier.log_paper import log_paper
from deadfront.dossier.sheet import Picture
from deadfront.physics.curves import TimeCurrentCurve, clearing_time_by_tolerance
from deadfront.project.csv_files import INVENTED
from deadfront.project.curve_checking import CheckedCurve, stated_text
from deadfront.project.curve_header import STATED, stated_quantity
from deadfront.project.project import CurveData
from deadfront.study.drawing import LONGEST, SHORTEST, Characteristic, Edge, Role, Scale, Sheet

ROLES: tuple[Role, ...] = ("link", "limiter", "main", "feeder", "upstream")
"""Styles of line, one curve after the other."""

_PIECES = 100
"""Pieces of a line that arcing bends."""

_INSIDE = 1.0 + 1e-12
"""1, by which the first current is moved inward, since a tolerance there and back loses the last digit."""


def curve_picture(checked: Sequence[CheckedCurve]) -> Picture:
    """Curves of one or several files, as they stand there, without temperature or load.

    raises ValueError: a file is unfit, or nothing of a curve falls on the paper
    """
    for one in checked:
        if one.curve is None:
            raise ValueError(f"{one.name}: expected a curve fit for a project; `deadfront curve` says what is wrong")
    sheet = Sheet(
        title="Time-current curves as published",
        scale=Scale("Current, A"),
        other=None,
        characteristics=characteristics(checked),
        notes=tuple(_notes(checked)),
    )
    return log_paper(sheet)


def characteristics(checked: Sequence[CheckedCurve]) -> tuple[Characteristic, ...]:
    """What is drawn of each file: a band from melting to clearing where it gives both."""
    return tuple(
        _characteristic(one, one.curve, ROLES[number % len(ROLES)])
        for number, one in enumerate(checked)
        if one.curve is not None
    )


def _characteristic(checked: CheckedCurve, curve: CurveData, role: Role) -> Characteristic:
    """One curve as a band from melting to clearing, or as the one line that its file gives."""
    current = np.array(curve.current)
    edges = []
    if curve.minimum_melting is not None:
        edges.append(Edge("minimum melting", current, np.array(curve.minimum_melting)))
    if curve.total_clearing is not None:
        edges.append(Edge("total clearing", current, np.array(curve.total_clearing)))
    elif (late := _late(checked, curve)) is not None:
        edges.append(late)
    name = checked.name.replace("\\", "/").rpartition("/")[2].removesuffix(".csv")
    about = (stated_text(checked.stated),) if checked.stated else ()
    return Characteristic(name, about, role, tuple(edges), len(edges) == 2, "own current")


def _late(checked: CheckedCurve, curve: CurveData) -> Edge | None:
    """Clearing from melting, tolerance and arcing time; None where the file does not state both."""
    stated = {word: stated_quantity(STATED[word], text) for word, text in checked.stated.items()}
    if not {"tolerance", "arcing time"} <= stated.keys() or curve.minimum_melting is None:
        return None
    melting, tolerance = np.array(curve.minimum_melting), stated["tolerance"].high
    data = TimeCurrentCurve(np.array(curve.current), melting, melting)
    points = data.current * (1.0 + tolerance)
    # Arcing bends what is straight without it, so the line is drawn in short pieces.
    current = np.unique(np.append(points, np.geomspace(points[0], points[-1], _PIECES)))
    time = clearing_time_by_tolerance(
        data, np.maximum(current, points[0] * _INSIDE), tolerance, stated["arcing time"].high
    )
    return Edge("clearing by tolerance and arcing time", current, np.asarray(time))


def _notes(checked: Sequence[CheckedCurve]) -> list[str]:
    notes = [f"{one.name.replace(chr(92), '/').rpartition('/')[2]}: {INVENTED}" for one in checked if one.invented]
    silent = [
        one.name.replace("\\", "/").rpartition("/")[2]
        for one in checked
        if one.curve is not None and one.curve.total_clearing is None and _late(checked=one, curve=one.curve) is None
    ]
    if silent:
        notes.append(f"Melting only, for want of a tolerance and an arcing time: {', '.join(silent)}.")
    notes.append(f"Times from {SHORTEST:g} s to {LONGEST:g} s; straight between the points of each file.")
    return notes
