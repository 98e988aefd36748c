"""Study: arcs at the places of work. Fault currents and clearing come in; energies and boundaries per case go out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from deadfront.physics import ieee1584
from deadfront.physics.clearing import exposure_time
from deadfront.physics.ieee1584 import ArcSetting
from deadfront.physics.ieee1584_setting import (
    GAPS_IN_WIDTH,
    HIGH_VOLTAGE_GAP,
    LOW_VOLTAGE,
    LOW_VOLTAGE_GAP,
    SHORTEST_DISTANCE,
)
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SECONDARY, SWITCH_BUS, feeder_end
from deadfront.study import elements, faults, network
from deadfront.study.clearing import Clearing, Situation, clear, fed_from_board
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.spans import FOREVER, spans
from deadfront.study.walk import Walk, remembered

State = Literal["detection in service", "detection out of service", "maintenance setting on", "no detection"]
CurrentKind = Literal["normal", "reduced"]

HIGHEST_VOLTAGE = 15e3
"""IEEE 1584-2018 ends here, V."""
OPEN_AIR = ("VOA", "HOA")


@dataclass(frozen=True, slots=True)
class Arc:
    """One arc: place, state, electrodes, normal or reduced current; results A, s, J/m2, m over (boxes, cases)."""

    place: str
    state: State
    electrodes: str
    kind: CurrentKind
    bolted_current: Array
    arcing_current: Array
    clearing: Clearing
    time: Array
    uncapped_time: Array
    energy: Array
    boundary: Array


def places(walk: Walk) -> tuple[str, ...]:
    """Names of the places of work, in the file's order."""
    operation = walk.station.unit.operation
    return tuple((operation.places if operation else None) or ())


def point_of(walk: Walk, place: str) -> str:
    """The station's point at which an arc of this place burns."""
    at = walk.inputs.word(f"operation.places.{place}.at")
    if at == "feeder end":
        return feeder_end(walk.inputs.word(f"operation.places.{place}.feeder"))
    return {"line side of main": SECONDARY, "bus": LV_BUS, "switch": SWITCH_BUS}[at]


def refusal(walk: Walk, place: str) -> str | None:
    """Why no energy can be given for a place, by its voltage, gap, distance or box; None where these are in range."""
    side = network.side(walk, point_of(walk, place))
    voltage = walk.inputs.highest("supply.voltage" if side == "mv" else "board.voltage")
    if voltage <= HIGHEST_VOLTAGE:
        return _outside(walk, place, voltage)
    return (
        f"{place}: {voltage / 1e3:g} kV is above 15 kV, where IEEE 1584-2018 ends; its coefficients are not carried "
        "further. No energy is given, and the place is not to be opened live."
    )


def _outside(walk: Walk, place: str, voltage: float) -> str | None:
    """Which entry of a place leaves the range of the model, anywhere in its own range; None where none does."""
    read, path = walk.inputs, f"operation.places.{place}"
    least, most = LOW_VOLTAGE_GAP if voltage <= LOW_VOLTAGE else HIGH_VOLTAGE_GAP
    if read.given(f"{path}.gap") and (read.lowest(f"{path}.gap") < least or read.highest(f"{path}.gap") > most):
        return _leaves(walk, f"{path}.gap", f"from {least * 1e3:g} to {most * 1e3:g} mm at {voltage:g} V")
    distance = f"{path}.working_distance"
    if read.given(distance) and read.lowest(distance) < SHORTEST_DISTANCE:
        return _leaves(walk, distance, f"from {SHORTEST_DISTANCE * 1e3:g} mm on")
    width, boxed = f"{path}.enclosure.width", [e for e in configurations(walk, place) if e not in OPEN_AIR]
    if boxed and read.given(width) and read.given(f"{path}.gap"):
        needed = GAPS_IN_WIDTH * read.highest(f"{path}.gap")
        if read.lowest(width) <= needed:
            return _leaves(walk, width, f"above four gaps, which are {needed * 1e3:.4g} mm")
    return None


def _leaves(walk: Walk, path: str, span: str) -> str:
    text = walk.project.quantities[path].text
    return f"{path} is {text}: IEEE 1584-2018 holds {span}. No energy is given beyond."


def states(walk: Walk, place: str) -> tuple[State, ...]:
    """States in which a place is looked at; the first is the one the unit is meant to be in."""
    found: list[State] = ["no detection"]
    if covered(walk, place):
        found = ["detection in service", "detection out of service"]
    if _has_maintenance_setting(walk, point_of(walk, place)):
        found.append("maintenance setting on")
    return tuple(found)


def _has_maintenance_setting(walk: Walk, point: str) -> bool:
    """Whether a device that clears arcs at a point has a maintenance setting."""
    paths = [f"board.feeders.{point.removeprefix('feeder end ')}"] if point.startswith("feeder end") else []
    if point != SECONDARY:
        paths.append("board.main")
    return any(walk.inputs.given(f"{path}.trip.maintenance_instantaneous") for path in paths)


def covered(walk: Walk, place: str) -> bool:
    """Whether the light sensors see this place."""
    board = walk.station.unit.board
    detection = board.arc_detection if board else None
    return bool(detection and place in (detection.covers or ()))


def live_cases(walk: Walk, place: str) -> tuple[int, ...]:
    """Operating cases in which something feeds the place."""
    return network.live(walk, point_of(walk, place))


@remembered
def setting(walk: Walk, place: str, electrodes: str) -> ArcSetting:
    """Where the arc burns, from the place's entries; a box in open air plays no part."""
    path = f"operation.places.{place}"
    side = network.side(walk, point_of(walk, place))
    read = walk.inputs.number
    sizes = (1.0, 1.0, 1.0)
    if electrodes not in OPEN_AIR:
        sizes = tuple(read(f"{path}.enclosure.{size}") for size in ("height", "width", "depth"))
    return ArcSetting(
        elements.nominal_voltage(walk, side), read(f"{path}.gap"), read(f"{path}.working_distance"), *sizes, electrodes
    )


def configurations(walk: Walk, place: str) -> tuple[str, ...]:
    """Electrode configurations that occur at a place."""
    found = walk.inputs.entry(f"operation.places.{place}.electrodes")
    if not isinstance(found, (list, tuple)) or not found:
        raise MissingEntryError(f"operation.places.{place}.electrodes")
    return tuple(found)


def _is_low(walk: Walk, place: str) -> bool:
    """Whether the place's system stands at 600 V or below, where the model needs one node only."""
    side = network.side(walk, point_of(walk, place))
    quantity = walk.project.quantities.get("supply.voltage" if side == "mv" else "board.voltage")
    return quantity is not None and quantity.high <= LOW_VOLTAGE


@remembered
def arcing_currents(walk: Walk, place: str, electrodes: str) -> ieee1584.ArcingCurrents:
    """Arcing currents of a place for the bolted three-phase current there, A."""
    bolted = bolted_current(walk, place)
    compute = ieee1584.low_voltage_arcing_currents if _is_low(walk, place) else ieee1584.arcing_currents
    return compute(setting(walk, place, electrodes), bolted)


def bolted_current(walk: Walk, place: str) -> Array:
    """Bolted three-phase current at a place, A."""
    return faults.current(walk, point_of(walk, place), "three-phase", walk.method)


@remembered
def arc(walk: Walk, place: str, state: State, electrodes: str, kind: CurrentKind) -> Arc:
    """One arc with its own clearing time: the reduced current may wait much longer, and then burns more.

    In each span of time the bolted current is taken in proportion to the arcing current that is left, since arcing
    and bolted current grow almost in proportion [D].
    """
    point = point_of(walk, place)
    currents = arcing_currents(walk, place, electrodes)
    arcing = currents.final if kind == "normal" else currents.reduced
    clearing = clear(walk, point, "three-phase", walk.method, arcing, situation(walk, place, state))
    bolted = bolted_current(walk, place)
    uncapped = clearing.time
    limited = _limit(walk, place)
    found = spans(clearing, arcing, limited)
    hazard = ieee1584.low_voltage_segment_hazard if _is_low(walk, place) else ieee1584.segment_hazard
    bolted_spans = tuple(bolted * (current / arcing) for current in found.currents)
    burned = hazard(setting(walk, place, electrodes), bolted_spans, found.times, kind == "reduced")
    time = exposure_time(uncapped, limited)
    endless = np.greater_equal(time, FOREVER)
    energy, boundary = (np.where(endless, np.inf, result) for result in burned)
    return Arc(place, state, electrodes, kind, bolted, arcing, clearing, time, uncapped, energy, boundary)


def situation(walk: Walk, place: str, state: State) -> Situation:
    """What may be counted on at a place in a state."""
    detects = covered(walk, place) and state != "detection out of service"
    return Situation(_main_counts(walk, place), state == "maintenance setting on", detects)


def _main_counts(walk: Walk, place: str) -> bool:
    """Whether the main may be counted on: at the bus only where it is separated from the place, as the file has to say.

    Before the main it matters where the board can feed back through it; where the file is silent it does not count.
    """
    path, at = f"operation.places.{place}.main_separated", walk.inputs.word(f"operation.places.{place}.at")
    if at == "bus":
        return walk.inputs.word(path) == "yes"
    if at != "line side of main" or not fed_from_board(walk):
        return True
    if walk.inputs.maybe_word(path) is None:
        text = f"{place}: the main is taken as not separated from the place; the board's own sources have to open."
        walk.inputs.note(Assumed(path, text, "on the safe side", "C", "Drawing of the board; or give main_separated."))
    return walk.inputs.maybe_word(path) == "yes"


def _limit(walk: Walk, place: str) -> Array:
    """Time after which a person has moved away, where the file says so; else endless."""
    path = f"operation.places.{place}.exposure_limit"
    return walk.inputs.number(path) if walk.inputs.given(path) else np.inf
