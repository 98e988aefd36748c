"""Study: each protective device at the current it carries; settings and curves come in, operations with times go out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from deadfront.physics import curves, relays, trips
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import elements
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk, remembered

if TYPE_CHECKING:
    from deadfront.study.clearing import Clearing

RELAY_FREEZE = 20.0
"""Multiple of the pickup above which many relays' times fall no further [V, restated]."""


@dataclass(frozen=True, slots=True)
class Operation:
    """One element of one device at the current it carries: latest clearing time s (infinite: never), and its parts."""

    device: str
    element: str
    current: Array
    time: Array
    parts: tuple[tuple[str, Array], ...]


# --- low voltage ---


def low_voltage(
    walk: Walk, path: str, name: str, carried: Carried, *, maintenance: bool = False
) -> tuple[Operation, ...]:
    """Operations of a low-voltage breaker or fuse, each element by itself, at the late edge of its band."""
    curve_file = walk.inputs.maybe_word(f"{path}.curve")
    if curve_file is not None:
        time = curves.clearing_time(curve(walk, curve_file), carried.phase)
        return (Operation(name, "curve", carried.phase, time, (("total clearing", time),)),)
    if walk.inputs.entry(f"{path}.trip") is None:
        raise MissingEntryError(f"{path}.trip")
    opening = walk.inputs.number(f"{path}.opening")
    found = []
    for element, current, band_time in _trip_elements(walk, path, carried, maintenance=maintenance):
        found.append(
            Operation(name, element, current, band_time + opening, (("trip", band_time), ("opening", opening)))
        )
    return tuple(found)


def _trip_elements(
    walk: Walk, path: str, carried: Carried, *, maintenance: bool
) -> list[tuple[str, Array, Array]]:
    """Element, the current it sees, and its latest time before the breaker opens."""
    band = _band(walk, path)
    alone = _elements_of(walk, path, maintenance=maintenance)
    found = []
    for element, settings in alone.items():
        trip = trips.ElectronicTrip(settings.get("long_time"), settings.get("short_time"), settings.get("instantaneous"), band)
        found.append((element, carried.phase, trips.latest_clearing_time(trip, carried.phase)))
    if walk.inputs.entry(f"{path}.trip.earth") is not None:
        earth = _delayed(walk, f"{path}.trip.earth")
        found.append(("earth-fault element", carried.residual, trips.latest_earth_clearing_time(earth, band, carried.residual)))
    return found


def _elements_of(walk: Walk, path: str, *, maintenance: bool) -> dict[str, dict[str, object]]:
    """Phase elements that the file sets, each as the only element of a trip."""
    found: dict[str, dict[str, object]] = {}
    if walk.inputs.entry(f"{path}.trip.long_time") is not None:
        found["long-time element"] = {"long_time": _long_time(walk, f"{path}.trip.long_time")}
    if walk.inputs.entry(f"{path}.trip.short_time") is not None:
        found["short-time element"] = {"short_time": _delayed(walk, f"{path}.trip.short_time")}
    if walk.inputs.given(f"{path}.trip.instantaneous"):
        found["instantaneous element"] = {"instantaneous": walk.inputs.number(f"{path}.trip.instantaneous")}
    if maintenance and walk.inputs.given(f"{path}.trip.maintenance_instantaneous"):
        pickup = walk.inputs.number(f"{path}.trip.maintenance_instantaneous")
        found["maintenance setting"] = {"instantaneous": pickup}
    return found


def _long_time(walk: Walk, path: str) -> trips.LongTimeElement:
    multiple = walk.inputs.number(f"{path}.reference_multiple") if walk.inputs.given(f"{path}.reference_multiple") else trips.REFERENCE_MULTIPLE
    return trips.LongTimeElement(walk.inputs.number(f"{path}.pickup"), walk.inputs.number(f"{path}.delay"), multiple)


def _delayed(walk: Walk, path: str) -> trips.DelayedElement:
    ramp = walk.inputs.number(f"{path}.ramp_to") if walk.inputs.given(f"{path}.ramp_to") else None
    return trips.DelayedElement(walk.inputs.number(f"{path}.pickup"), walk.inputs.number(f"{path}.delay"), ramp)


def _band(walk: Walk, path: str) -> trips.TripBand:
    """Tolerances of a trip; the opening time is added outside, so that a report can name it."""
    time = _tolerance(walk, path, "time_tolerance", 0.15, "time delays")
    highest = trips.LONG_TIME_PICKUP[1]
    return trips.TripBand((1.0, highest), (1.0, 1.0 + time), pickup_tolerance(walk, path), (0.0, 0.0))


def pickup_tolerance(walk: Walk, path: str) -> Array:
    """Tolerance of the pickups of a low-voltage trip, 1."""
    return _tolerance(walk, path, "pickup_tolerance", 0.20, "pickups")


def _tolerance(walk: Walk, path: str, entry: str, value: float, what: str) -> Array:
    key = f"{path}.trip.{entry}"
    text = f"{path}: {what} of the trip are taken as up to {value:.0%} above their setting."
    assumed = Assumed(key, text, "widest customary band", "C", "Trip unit data sheet; secondary injection test.")
    return walk.inputs.assume(key, value, value, assumed)


# --- medium voltage ---


def curve(walk: Walk, file: str) -> curves.TimeCurrentCurve:
    """A curve of the project as constant arrays."""
    data = walk.project.curves[file]
    melting = data.minimum_melting if data.minimum_melting is not None else data.total_clearing
    return curves.TimeCurrentCurve(np.array(data.current), np.array(melting), np.array(data.total_clearing))


def fuses(walk: Walk, current: Array) -> tuple[Operation, ...]:
    """The link and the limiter at an MV line current; each counts only for currents it can interrupt."""
    found = []
    for entry, name in (("bayonet", "Draw-out expulsion link"), ("limiter", "Current-limiting fuse")):
        path = f"fuses.{entry}"
        if walk.inputs.entry(path) is None:
            continue
        time = curves.clearing_time(curve(walk, walk.inputs.word(f"{path}.curve")), current)
        time = np.where(np.less_equal(current, walk.inputs.number(f"{path}.interrupting")), time, np.inf)
        if entry == "limiter" and walk.inputs.given(f"{path}.minimum_interrupting"):
            lowest = walk.inputs.number(f"{path}.minimum_interrupting")
            time = np.where(np.greater_equal(current, lowest), time, np.inf)
        found.append(Operation(name, "total clearing curve", current, time, (("melting and arcing", time),)))
    if not found:
        raise MissingEntryError("fuses.limiter")
    return tuple(found)


def upstream(walk: Walk, path: str, carried: Carried) -> tuple[Operation, ...]:
    """Utility protection of one supply: phase and earth elements with their breaker, or a fuse."""
    own = f"{path}.protection"
    if walk.inputs.entry(own) is None:
        raise MissingEntryError(f"{own}.phase")
    fuse = walk.inputs.maybe_word(f"{own}.fuse")
    found = []
    if fuse is not None:
        time = curves.clearing_time(curve(walk, fuse), carried.phase)
        found.append(Operation("Upstream fuse", "total clearing curve", carried.phase, time, (("melting and arcing", time),)))
    for element, current in (("phase", carried.phase), ("earth", carried.residual)):
        if walk.inputs.entry(f"{own}.{element}") is not None:
            found.append(_relay_operation(walk, own, element, current))
    if not found:
        raise MissingEntryError(f"{own}.phase")
    return tuple(found)


def _relay_operation(walk: Walk, own: str, element: str, current: Array) -> Operation:
    setting = _relay_setting(walk, f"{own}.{element}")
    relay = relays.relay_operating_time(setting, current)
    opening = walk.inputs.number(f"{own}.breaker_opening")
    return Operation("Upstream breaker", f"{element} relay", current, relay + opening, (("relay", relay), ("opening", opening)))


def _relay_setting(walk: Walk, path: str) -> relays.RelaySetting:
    read, name = walk.inputs.number, walk.inputs.word(f"{path}.curve")
    dial = read(f"{path}.definite_time") if name == "definite time" else read(f"{path}.time_dial")
    instantaneous = read(f"{path}.instantaneous") if walk.inputs.given(f"{path}.instantaneous") else None
    instantaneous_time = read(f"{path}.instantaneous_time") if instantaneous is not None else None
    walk.inputs.note(
        Assumed(
            f"{path}.freeze",
            f"{path}: the time of the relay is taken to fall no further above {RELAY_FREEZE:g} times its pickup.",
            "practice of many relays",
            "V",
            "Relay manual.",
        )
    )
    return relays.RelaySetting(name, read(f"{path}.pickup"), dial, RELAY_FREEZE, instantaneous, instantaneous_time)


# --- light-based arc detection ---


def detection_trips(walk: Walk) -> tuple[str, ...]:
    """Devices the arc detection trips, by the words of the file."""
    found = walk.inputs.entry("board.arc_detection.trips")
    if not isinstance(found, (list, tuple)) or not found:
        raise MissingEntryError("board.arc_detection.trips")
    return tuple(found)


def arc_detection(walk: Walk, path: str, name: str, current: Array) -> Operation:
    """Trip of a low-voltage breaker by light: sensing, output, opening; only above the current supervision."""
    return _light_trip(walk, name, current, current, walk.inputs.number(f"{path}.opening"))


def arc_detection_upstream(walk: Walk, secondary: Array) -> Operation:
    """Trip of the utility's breaker by light; supervision measures on the low-voltage side."""
    opening = walk.inputs.number("supply.protection.breaker_opening")
    return _light_trip(walk, "Upstream breaker", secondary / elements.turns_ratio(walk), secondary, opening)


def _light_trip(walk: Walk, name: str, current: Array, supervised: Array, opening: Array) -> Operation:
    reaction = walk.inputs.number("board.arc_detection.reaction")
    output = walk.inputs.number("board.arc_detection.output") if walk.inputs.given("board.arc_detection.output") else 0.0
    time = reaction + output + opening + 0.0 * supervised
    if walk.inputs.given("board.arc_detection.current_supervision"):
        pickup = walk.inputs.number("board.arc_detection.current_supervision")
        time = np.where(np.greater_equal(supervised, pickup), time, np.inf)
    parts = (("sensing", reaction), ("output", output), ("opening", opening))
    return Operation(name, "arc detection", current, time, parts)


def has_maintenance_setting(walk: Walk, point: str) -> bool:
    """Whether a device that clears arcs at a point has a maintenance setting."""
    paths = [f"board.feeders.{point.removeprefix('feeder end ')}"] if point.startswith("feeder end") else []
    if point != SECONDARY:
        paths.append("board.main")
    return any(walk.inputs.given(f"{path}.trip.maintenance_instantaneous") for path in paths)


# --- the element that is meant to protect people ---


@dataclass(frozen=True, slots=True)
class FastElement:
    """The element meant to end an arc: its device and element, and the current it is sure to see, A."""

    device: str
    element: str
    pickup: Array
    needs_main: bool

    def counts(self, walk: Walk, case: int) -> bool:
        """Whether the element's device carries current in an operating case."""
        return bool(walk.cases.main[case] > 0) or not self.needs_main


@remembered
def fast_element(walk: Walk, point: str, *, covered: bool, before_main: bool) -> FastElement | None:
    """Which element is meant to end an arc at a point; None where light alone trips."""
    if covered and not (before_main and "upstream" not in detection_trips(walk)):
        return _supervision(walk, before_main=before_main)
    if before_main:
        return _fuse_element(walk)
    if point.startswith("feeder end"):
        name = point.removeprefix("feeder end ")
        return _trip_element(walk, f"board.feeders.{name}", f"Feeder {name}", needs_main=False)
    return _trip_element(walk, "board.main", "LV main breaker", needs_main=True)


def _supervision(walk: Walk, *, before_main: bool) -> FastElement | None:
    """Current supervision of the arc detection, in the device it trips; before the main that is the utility's breaker."""
    if not walk.inputs.given("board.arc_detection.current_supervision"):
        return None
    pickup = walk.inputs.number("board.arc_detection.current_supervision")
    element = "current supervision of the arc detection"
    if before_main:
        return FastElement("Upstream breaker", element, pickup / elements.turns_ratio(walk), needs_main=True)
    return FastElement("LV main breaker", element, pickup, needs_main=True)


def _fuse_element(walk: Walk) -> FastElement:
    """The link, or the limiter where there is no link: the first current at which it surely clears."""
    entry, name = ("bayonet", "Draw-out expulsion link") if walk.inputs.entry("fuses.bayonet") is not None else ("limiter", "Current-limiting fuse")
    first = float(curve(walk, walk.inputs.word(f"fuses.{entry}.curve")).current[0])
    return FastElement(name, "first point of its total clearing curve", first, True)


def _trip_element(walk: Walk, path: str, name: str, *, needs_main: bool) -> FastElement:
    """Instantaneous, else short-time element, at the upper edge of its pickup; else the first point of the curve."""
    curve_file = walk.inputs.maybe_word(f"{path}.curve")
    if curve_file is not None:
        return FastElement(name, "first point of its curve", float(curve(walk, curve_file).current[0]), needs_main)
    edge = 1.0 + pickup_tolerance(walk, path)
    for entry, element in (("trip.instantaneous", "instantaneous element"), ("trip.short_time.pickup", "short-time element")):
        if walk.inputs.given(f"{path}.{entry}"):
            return FastElement(name, element, edge * walk.inputs.number(f"{path}.{entry}"), needs_main)
    raise MissingEntryError(f"{path}.trip.instantaneous")


def current_in(walk: Walk, clearing: Clearing, fast: FastElement) -> Array:
    """Current that the fast element's device carries in an arc, A."""
    found: Sequence[Operation] = (*clearing.common, *(o for infeed in clearing.infeeds for o in infeed.operations))
    for operation in found:
        if operation.device == fast.device and operation.element != "earth-fault element":
            return operation.current
    return np.zeros(len(walk.cases))
