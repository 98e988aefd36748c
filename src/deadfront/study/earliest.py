"""Study: how early a device may act on a current it carries; settings and curves come in, earliest times go out.

The counterpart of `devices`, which gives the latest times: a device nearer to the fault must be done by its latest
before the one behind it acts at its earliest. Nothing is added for the opening of the device behind: once it has
tripped it opens, fault or no fault.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from deadfront.physics import curves, relays, selectivity, trips
from deadfront.physics.clearing import first_to_clear
from deadfront.physics.types import Array
from deadfront.study import devices, utility
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

FUSE_BEHIND = selectivity.Margin("time share", 0.75)
"""Share of an upper fuse's melting time in which what lies below it has to clear [C]."""

CLEAR_SPACE = selectivity.Margin("clear space", 0.0)
"""Between the bands of two low-voltage devices [M]."""

RELAY_ROWS = {"induction": "relay, induction", "static": "relay, static", "numerical": "relay, static"}
"""Row of the table of margins for each kind of relay."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """An element behind: what it is called, when it may act, s, and what it owes to what lies below it."""

    element: str
    time: Array
    margin: selectivity.Margin


# --- low voltage ---


def without_earliest(walk: Walk, path: str) -> str | None:
    """Why nothing is known of how early a low-voltage device may act, in words; None where something is."""
    file = walk.inputs.maybe_word(f"{path}.curve")
    if file is not None and walk.project.curves[file].minimum_melting is None:
        return f"The curve file of {path} has no melting times: how early it may act is not known."
    if walk.inputs.entry(f"{path}.thermal_magnetic") is not None:
        return (
            f"The standard of the thermal-magnetic trip of {path} says how late it trips, not how early: give a curve."
        )
    return None


def low_voltage(walk: Walk, path: str, carried: Carried, restrained: Array) -> Waiting:
    """Earliest time at which a low-voltage device acts.

    restrained  above zero where a restraint signal reaches it, should it be zone-interlocked     (boxes, cases)
    """
    file = walk.inputs.maybe_word(f"{path}.curve")
    if file is not None:
        margin = FUSE_BEHIND if walk.inputs.maybe_word(f"{path}.kind") == "fuse" else CLEAR_SPACE
        return Waiting("curve", curves.melting_time(devices.curve(walk, file), carried.phase), margin)
    if walk.inputs.maybe_word(f"{path}.fuse_class") == "gG":
        return Waiting(
            "gates of class gG", trips.earliest_gg_time(devices.gates(walk, path), carried.phase), FUSE_BEHIND
        )
    if walk.inputs.entry(f"{path}.trip") is None:
        raise devices.without_trip(walk, path)
    edges = devices.band(walk, path)
    times = []
    for _, trip in devices.phase_elements(walk, path, edges):
        if trip.short_time is not None:
            trip = replace(trip, short_time=_restrained(walk, path, trip.short_time, restrained))
        times.append(trips.earliest_trip_time(trip, carried.phase))
    if walk.inputs.entry(f"{path}.trip.earth") is not None:
        earth = _restrained(walk, path, devices.delayed_element(walk, f"{path}.trip.earth"), restrained)
        times.append(trips.earliest_earth_trip_time(earth, edges, carried.residual))
    return Waiting("trip", first_to_clear(times), CLEAR_SPACE)


def _restrained(walk: Walk, path: str, element: trips.DelayedElement, restrained: Array) -> trips.DelayedElement:
    """An element with zone interlocking: its delay falls to the unrestrained one where no signal comes."""
    zone = f"{path}.trip.zone_interlocking"
    if walk.inputs.entry(zone) is None:
        return element
    alone = np.minimum(element.delay, walk.inputs.number(f"{zone}.unrestrained_delay"))
    return replace(element, delay=np.where(np.greater(restrained, 0.0), element.delay, alone))


def restraint(walk: Walk, path: str, feeder: str, carried: Carried) -> Array:
    """1.0 where a feeder's trip surely sends a restraint signal at what the feeder carries, 0.0 where not."""
    named = walk.inputs.entry(f"{path}.trip.zone_interlocking.restrained_by")
    trip = f"board.feeders.{feeder}.trip"
    if not isinstance(named, list | tuple) or feeder not in named or walk.inputs.entry(trip) is None:
        return np.zeros(1)
    sure = 1.0 + devices.pickup_tolerance(walk, f"board.feeders.{feeder}")
    pickups = {"short_time.pickup": carried.phase, "instantaneous": carried.phase, "earth.pickup": carried.residual}
    sends: Array = np.zeros(1)
    for entry, current in pickups.items():
        if walk.inputs.given(f"{trip}.{entry}"):
            above = np.greater(current, sure * walk.inputs.number(f"{trip}.{entry}"))
            sends = np.maximum(sends, np.where(above, 1.0, 0.0))
    return sends


# --- the utility's side ---


def upstream(walk: Walk, path: str, carried: Carried, element: str) -> list[Waiting]:
    """When the utility's protection of one supply would trip, as it is set: its tolerance is part of the margin.

    element  "phase" or "earth": which current the fault drives
    """
    own = f"{path}.protection"
    file = walk.inputs.maybe_word(f"{own}.fuse")
    if file is not None:
        time = curves.melting_time(devices.curve(walk, file), carried.phase)
        return [Waiting("fuse", time, FUSE_BEHIND)]
    found = []
    for name, current in (("phase", carried.phase), ("earth", carried.residual)):
        if name == element and walk.inputs.entry(f"{own}.{name}") is not None:
            found += _relay(walk, own, f"{own}.{name}", f"{name} relay", current)
    if element == "phase" and walk.inputs.entry(f"{own}.reclosing.fast") is not None:
        found += _relay(walk, own, f"{own}.reclosing.fast", "fast shots", carried.phase)
    if not found and element == "phase":
        raise MissingEntryError(f"{own}.phase")
    return found


def _relay(walk: Walk, own: str, path: str, name: str, current: Array) -> list[Waiting]:
    """Inverse-time element with the margin of its kind; the instantaneous step has to be reached at all [C]."""
    inverse = relays.relay_operating_time(utility.relay_setting(walk, path), current)
    found = [Waiting(name, inverse, selectivity.Margin("added time", relay_margin(walk, own)))]
    step = utility.instantaneous_step(walk, path, current)
    if step is not None:
        found.append(Waiting(f"{name}, instantaneous", step, CLEAR_SPACE))
    return found


def relay_margin(walk: Walk, own: str) -> float:
    """Time a relay has to leave to a fuse below it, s: what the utility wants, or by the kind of relay."""
    if walk.inputs.given(f"{own}.margin"):
        return walk.inputs.highest(f"{own}.margin")
    kind = walk.inputs.maybe_word(f"{own}.relay")
    if kind is None:
        text = f"{own}: the relays are taken as induction discs, which need the larger margin."
        walk.inputs.note(Assumed(f"{own}.relay", text, "reading of the file", "C", "Relay setting sheet."))
    row = next(
        row
        for row in selectivity.published_margins()
        if row.upper == RELAY_ROWS[kind or "induction"] and row.lower == "LV breaker or fuse"
    )
    text = f"{own}: between the fuses' clearing and the relay {row.least:g} s are asked for."
    walk.inputs.note(Assumed(f"{own}.margin", text, "IEEE 242-2001, tables 15-2 and 15-3", "M", "Utility's practice."))
    return row.least
