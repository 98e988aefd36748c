"""Study: each protective device at the current it carries; settings and curves come in, clearing times go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from deadfront.physics import curves, trips
from deadfront.physics.clearing import relay_and_breaker
from deadfront.physics.types import Array
from deadfront.project.project import CurveData
from deadfront.study.fuse_entries import (
    FUSE_NAMES,
    FuseName,
    clearing_time,
    given,
    in_parallel,
    isolates_only,
    liquid_factor,
)
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

EARTH_ELEMENT = "earth-fault element"
"""Name of the element of a low-voltage trip that sees the residual current."""

LIQUID = "transformer.liquid_temperature"
"""Entry that says how cold and how hot the liquid around the fuses may be."""

SURE_MULTIPLE = {"UL 489": 1.35, "IEC 60947-2": 1.30}
"""Multiple of its rating at which a thermal trip trips within the conventional time, by standard [M]."""

CONVENTIONAL_TIME = 7200.0
"""s, the longer conventional time of both standards: 1 h holds for small breakers only [M]."""

MAGNETIC_TIME = 0.025
"""s, in which a magnetic trip has cleared, arcing included: 0.020 to 0.025 [C]."""


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
    if walk.inputs.maybe_word(f"{path}.fuse_class") == "gG":
        time = trips.latest_gg_time(gates(walk, path), carried.phase)
        return (Operation(name, "gates of class gG", carried.phase, time, (("melting and arcing", time),)),)
    if walk.inputs.entry(f"{path}.thermal_magnetic") is not None:
        time = trips.latest_thermal_magnetic_time(_thermal_magnetic(walk, path), carried.phase)
        return (Operation(name, "thermal-magnetic trip", carried.phase, time, (("trip and opening", time),)),)
    if walk.inputs.entry(f"{path}.trip") is None:
        raise without_trip(walk, path)
    opening = walk.inputs.number(f"{path}.opening")
    found = []
    for element, current, trip in _trip_elements(walk, path, carried, maintenance=maintenance):
        time = relay_and_breaker(trip, opening)
        found.append(Operation(name, element, current, time, (("trip", trip), ("opening", opening))))
    return tuple(found)


def without_trip(walk: Walk, path: str) -> MissingEntryError:
    """What a device lacks that has neither curve nor trip: a fuse its curve, a breaker its trip."""
    return MissingEntryError(f"{path}.curve" if walk.inputs.maybe_word(f"{path}.kind") == "fuse" else f"{path}.trip")


def gates(walk: Walk, path: str) -> trips.Gates:
    """Gates of a gG fuse of which the file gives no curve, by its rating."""
    rating = walk.inputs.highest(f"{path}.rating")
    text = f"{path}: any gG fuse of {rating:g} A is taken; between the gates of its standard the later time counts."
    walk.inputs.note(Assumed(f"{path}.gates", text, "IEC 60269-1", "M", "Time-current curve of the fitted fuse."))
    return trips.gg_gates(rating)


def _thermal_magnetic(walk: Walk, path: str) -> trips.ThermalMagneticTrip:
    """Thermal-magnetic trip, by the limits of its standard."""
    own, rating = f"{path}.thermal_magnetic", walk.inputs.highest(f"{path}.rating")
    standard = walk.inputs.word(f"{own}.standard")
    reference: Array
    if walk.inputs.given(f"{own}.reference_time") or standard != "UL 489":
        reference = walk.inputs.number(f"{own}.reference_time")
    else:
        reference = trips.ul489_longest_time(rating)
    text = f"{path}: the magnetic trip is taken to be off its setting by up to 20 %."
    assumed = Assumed(f"{own}.magnetic_tolerance", text, "IEC 60947-2", "M", "Data sheet of the breaker.")
    return trips.ThermalMagneticTrip(
        rating=rating,
        tripping_multiple=SURE_MULTIPLE[standard],
        conventional_time=CONVENTIONAL_TIME,
        reference_multiple=2.0,
        reference_time=reference,
        magnetic=walk.inputs.number(f"{own}.magnetic"),
        magnetic_tolerance=walk.inputs.assume(f"{own}.magnetic_tolerance", 0.20, 0.20, assumed),
        magnetic_time=MAGNETIC_TIME,
    )


def _trip_elements(walk: Walk, path: str, carried: Carried, *, maintenance: bool) -> list[tuple[str, Array, Array]]:
    """Element, the current it sees, and its latest time before the breaker opens."""
    edges = band(walk, path)
    found = []
    for element, trip in phase_elements(walk, path, edges, maintenance=maintenance):
        found.append((element, carried.phase, trips.latest_trip_time(trip, carried.phase)))
    if walk.inputs.entry(f"{path}.trip.earth") is not None:
        earth = delayed_element(walk, f"{path}.trip.earth")
        late = trips.latest_earth_trip_time(earth, edges, carried.residual)
        found.append((EARTH_ELEMENT, carried.residual, late))
    return found


def phase_elements(
    walk: Walk, path: str, edges: trips.TripBand, *, maintenance: bool = False
) -> list[tuple[str, trips.ElectronicTrip]]:
    """Phase elements that the file sets, each as the only element of a trip."""
    trip, found = f"{path}.trip", []
    if walk.inputs.entry(f"{trip}.long_time") is not None:
        slow = trips.ElectronicTrip(_long_time(walk, f"{trip}.long_time"), None, None, edges)
        found.append(("long-time element", slow))
    if walk.inputs.entry(f"{trip}.short_time") is not None:
        short = trips.ElectronicTrip(None, delayed_element(walk, f"{trip}.short_time"), None, edges)
        found.append(("short-time element", short))
    if walk.inputs.given(f"{trip}.instantaneous"):
        pickup = walk.inputs.number(f"{trip}.instantaneous")
        found.append(("instantaneous element", trips.ElectronicTrip(None, None, pickup, edges)))
    if maintenance and walk.inputs.given(f"{trip}.maintenance_instantaneous"):
        pickup = walk.inputs.number(f"{trip}.maintenance_instantaneous")
        found.append(("maintenance setting", trips.ElectronicTrip(None, None, pickup, edges)))
    if not found:
        raise MissingEntryError(f"{trip}.long_time")
    return found


def _long_time(walk: Walk, path: str) -> trips.LongTimeElement:
    multiple: Array = trips.REFERENCE_MULTIPLE  # the file's form states it
    if walk.inputs.given(f"{path}.reference_multiple"):
        multiple = walk.inputs.number(f"{path}.reference_multiple")
    return trips.LongTimeElement(walk.inputs.number(f"{path}.pickup"), walk.inputs.number(f"{path}.delay"), multiple)


def delayed_element(walk: Walk, path: str) -> trips.DelayedElement:
    """Short-time or earth-fault element as it is set."""
    ramp = walk.inputs.number(f"{path}.ramp_to") if walk.inputs.given(f"{path}.ramp_to") else None
    return trips.DelayedElement(walk.inputs.number(f"{path}.pickup"), walk.inputs.number(f"{path}.delay"), ramp)


def band(walk: Walk, path: str) -> trips.TripBand:
    """Tolerances of a trip."""
    time = _tolerance(walk, path, "time_tolerance", 0.15, "time delays")
    highest = trips.LONG_TIME_PICKUP[1]
    return trips.TripBand((1.0, highest), (1.0 - time, 1.0 + time), pickup_tolerance(walk, path))


def pickup_tolerance(walk: Walk, path: str) -> Array:
    """Tolerance of the pickups of a low-voltage trip, 1."""
    return _tolerance(walk, path, "pickup_tolerance", 0.20, "pickups")


def _tolerance(walk: Walk, path: str, entry: str, value: float, what: str) -> Array:
    key = f"{path}.trip.{entry}"
    text = f"{path}: {what} of the trip are taken as up to {value:.0%} off their setting."
    assumed = Assumed(key, text, "widest customary band", "C", "Trip unit data sheet; secondary injection test.")
    return walk.inputs.assume(key, value, value, assumed)


# --- medium voltage ---


def curve(walk: Walk, file: str) -> curves.TimeCurrentCurve:
    """A curve of the project as constant arrays."""
    return constant_curve(walk.project.curves[file])


def constant_curve(data: CurveData) -> curves.TimeCurrentCurve:
    """A curve file as constant arrays; of a file with only one edge, both edges are that one."""
    edges = [edge for edge in (data.minimum_melting, data.total_clearing) if edge is not None]
    return curves.TimeCurrentCurve(np.array(data.current), np.array(edges[0]), np.array(edges[-1]))


def fuses(walk: Walk, current: Array) -> tuple[Operation, ...]:
    """The link and the limiter at an MV line current; each counts only for currents it can interrupt.

    As late as the coldest liquid of the file makes them: whoever asks when a fault is cleared asks for the latest time.
    The limiter is a backup fuse: without its smallest interrupting current nothing can be said of it. A link that only
    isolates is not counted on. Limiters in parallel share the current; beyond what one of them interrupts they do not
    count.
    """
    found = []
    for entry, name in FUSE_NAMES.items():
        path, together = f"fuses.{entry}", in_parallel(walk, entry)
        if not given(walk, entry) or (entry == "bayonet" and isolates_only(walk)):
            continue
        each = current / together
        felt = each / _coldest_factor(walk, entry)
        time = clearing_time(walk, entry, curve(walk, walk.inputs.word(f"{path}.curve")), felt)
        # Beyond its ratings it does not count; asked this way round a current outside the model stays outside it.
        time = np.where(np.greater(current, walk.inputs.number(f"{path}.interrupting")), np.inf, time)
        if entry == "limiter":
            lowest = walk.inputs.number(f"{path}.minimum_interrupting")
            time = np.where(np.less(each, lowest), np.inf, time)
        element = "total clearing curve" + (", coldest liquid" if walk.inputs.given(LIQUID) else "")
        found.append(Operation(name, element, current, time, (("melting and arcing", time),)))
    if not found:
        raise MissingEntryError("fuses.limiter")
    return tuple(found)


def _coldest_factor(walk: Walk, entry: FuseName) -> Array:
    """Share of its published current at which a fuse clears in the same time in the coldest liquid, 1."""
    if walk.inputs.given(LIQUID):
        return liquid_factor(walk, entry, walk.inputs.lowest(LIQUID))
    text = "The fuses are taken to clear as their curves are published; in colder liquid they are later."
    confirm = "Give transformer.liquid_temperature, and the element of each fuse."
    walk.inputs.note(Assumed("fuses.coldest_liquid", text, "simplification, no source", "C", confirm))
    return 1.0
