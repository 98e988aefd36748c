"""Claims: what the log-log pictures of a unit show. A subject comes in; sheets ready to draw go out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Literal, get_args

import numpy as np

from deadfront.claims import conductors
from deadfront.claims.judging import Subject
from deadfront.claims.sampling import walks
from deadfront.physics import adiabatic
from deadfront.physics.types import Array
from deadfront.study import elements
from deadfront.study.drawing import SHORTEST, Characteristic, Edge, Sheet
from deadfront.study.inputs import MissingEntryError
from deadfront.study.picture_devices import scalar, text_of
from deadfront.study.picture_earth import low_voltage_earth_sheet, medium_voltage_earth_sheet
from deadfront.study.picture_frame import Frame, Maker, chosen_feeders
from deadfront.study.picture_let_through import let_through_sheet
from deadfront.study.picture_phase import phase_sheet
from deadfront.study.walk import Walk

What = Literal["time-current", "earth-fault-lv", "earth-fault-mv", "let-through"]
WHATS: tuple[What, ...] = get_args(What)

LONGEST_ADIABATIC = 5.0
"""s, up to which a conductor is said to keep all its heat; IEC 60949 [M]."""

INVENTED = "demonstration data - not for construction"


def sheet_of(subject: Subject, what: What, feeders: tuple[str, ...] = ()) -> Sheet:
    """One sheet of a unit; lines at the centre of each range, currents over a sample of the ranges.

    feeders  those to be drawn; the one of the largest rating where none is named
    raises   MissingEntryError: the file lacks what the whole sheet rests on
             ValueError: no such feeder
    """
    chosen = chosen_feeders(subject.walk(), feeders)
    make = _MAKERS[what]
    walk_at, points = walks(subject, lambda at, centre: make(Frame(subject.walk(), at, centre, chosen)))
    found = make(Frame(subject.walk(), walk_at, points, chosen))
    title = f"{subject.project.unit.title}. {found.title}"
    return replace(found, title=title, band=INVENTED if subject.project.demonstration else "")


def sheets_of(subject: Subject) -> tuple[Sheet, ...]:
    """Every sheet of a unit on which a device stands, in the order of `WHATS`."""
    found = []
    for what in WHATS:
        try:
            sheet = sheet_of(subject, what)
        except (MissingEntryError, ValueError):
            continue  # the claims that rest on the same entries are open and say what is missing
        if sheet.characteristics:
            found.append(sheet)
    return tuple(found)


def _low_voltage_earth(frame: Frame) -> Sheet:
    return low_voltage_earth_sheet(frame, _earth_conductors(frame))


def _medium_voltage_earth(frame: Frame) -> Sheet:
    return medium_voltage_earth_sheet(frame, _screens(frame.walk))


_MAKERS: dict[What, Callable[[Frame], Sheet]] = {
    "time-current": phase_sheet,
    "earth-fault-lv": _low_voltage_earth,
    "earth-fault-mv": _medium_voltage_earth,
    "let-through": let_through_sheet,
}


def _earth_conductors(frame: Frame) -> dict[str, Maker]:
    """Limit of the earth conductor of each drawn feeder."""
    return {f"earth conductor of feeder {name}": partial(_earth_conductor, frame.walk, name) for name in frame.feeders}


def _earth_conductor(walk: Walk, name: str) -> Characteristic:
    path = f"board.feeders.{name}.cable"
    area = walk.inputs.number(f"{path}.earth_area") * elements.cables_in_parallel(walk, path)
    size = text_of(walk, f"{path}.earth_area")
    return _limit(f"Earth conductor of {name}", size, conductors.earth_k(walk, path), area)


def _screens(walk: Walk) -> dict[str, Maker]:
    """Limit of the screen of each MV cable of the file."""
    cables = {"mv_cable": "Screen of the MV cable", "other_feed.cable": "Screen of the other feed's cable"}
    return {
        f"screen of {path}": partial(_screen, walk, path, name)
        for path, name in cables.items()
        if walk.inputs.entry(path) is not None
    }


def _screen(walk: Walk, path: str, name: str) -> Characteristic:
    area = walk.inputs.number(f"{path}.screen_area")
    return _limit(name, text_of(walk, f"{path}.screen_area"), conductors.screen_k(walk, path), area)


def _limit(name: str, size: str, k: Array, area: Array) -> Characteristic:
    """Adiabatic limit of a conductor: constant I²t, up to `LONGEST_ADIABATIC`."""
    heat = scalar(adiabatic.withstand_joule_integral(k, area))
    time = np.geomspace(SHORTEST, LONGEST_ADIABATIC, 12)[::-1]
    edge = Edge("", np.sqrt(heat / time), time, "limit")
    return Characteristic(name, (f"{size}, adiabatic",), "conductor", (edge,), False, "own current")
