"""Study: the sheet of the phase currents of one station. A frame comes in, the sheet goes out."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np

from deadfront.physics import crossing, reflection
from deadfront.physics.curves import TimeCurrentCurve
from deadfront.physics.fuse_pair import load_points
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, PRIMARY, feeder_end
from deadfront.study import devices, fuse_entries, fuse_pair, picture_currents, secondary_faults
from deadfront.study.drawing import Characteristic, Edge, Point, Role, Scale, Shape, Sheet, Span
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import MissingEntryError
from deadfront.study.picture_devices import (
    View,
    breaker,
    fast_shots,
    fuse,
    hot_melting,
    rated_primary_current,
    scalar,
    through_fault_limit,
    upstream,
)
from deadfront.study.picture_frame import (
    CENTRES,
    Frame,
    Maker,
    breakers,
    fuse_names,
    largest,
    left_out,
    low_view,
    made,
    other_scale,
    supplies,
    voltage,
)
from deadfront.study.walk import Walk

_ALTERNATIVE = "instead"
"""Word in the tag of a load point that stands for another one of the table."""

_FUSES: dict[Role, FuseName] = {"link": "bayonet", "limiter": "limiter"}

_INRUSH_ENDS = 0.5
"""s, from which a load point is one of load, not of the core's saturation: another mark."""


def phase_sheet(frame: Frame) -> Sheet:
    """Upstream protection, both fuses, transformer, main and feeders, in amperes of the medium-voltage line.

    raises    MissingEntryError: the file does not give the supply's voltage
    """
    walk = frame.walk
    supply = voltage(walk, "supply.voltage")
    ranges, unmarked = frame.spans(_ranges(frame))
    medium = View(1.0, largest(ranges, "MV", walk), "own current")
    found, undrawn = made(_makers(frame, medium))
    found, cold_only = _heated(walk, found, medium)
    points, unknown = _points(walk, found)
    return Sheet(
        title="Phase currents: what clears, and when",
        scale=Scale(f"Current in the MV line at {supply}, A (symmetrical, rms)"),
        other=other_scale(walk),
        characteristics=found,
        points=points,
        spans=(*(replace(each, ruled=each.name == _BOLTED) for each in ranges), *_rated(walk)),
        notes=(CENTRES, *left_out(frame), *undrawn, *cold_only, *unmarked, *unknown, *_of_connection(walk)),
    )


_BOLTED = "LV bus, three-phase"


def _makers(frame: Frame, medium: View) -> dict[str, Maker]:
    """How each device is drawn, from the supply to the feeders."""
    walk = frame.walk
    found: dict[str, Maker] = {
        f"protection of {device.name}": partial(upstream, walk, device, "phase", medium) for device in supplies(walk)
    }
    for device in supplies(walk):
        if walk.inputs.entry(f"{device.path}.protection.reclosing.fast") is not None:
            found[f"fast shots of {device.name}"] = partial(fast_shots, walk, device, medium)
    for name in fuse_names(walk):
        found[FUSE_NAMES[name]] = partial(fuse, walk, name, medium)
    found["transformer"] = partial(_limit, frame)
    for device in breakers(frame):
        found[device.name] = partial(_breaker, frame, device.key)
    return found


def _heated(
    walk: Walk, found: tuple[Characteristic, ...], view: View
) -> tuple[tuple[Characteristic, ...], tuple[str, ...]]:
    """The fuses with their melting in hot liquid, and in words of which it is not known."""
    heated, notes = [], []
    for one in found:
        name = _FUSES.get(one.role)
        if name is not None:
            try:
                one = replace(one, edges=(*one.edges, hot_melting(walk, name, view)))
            except MissingEntryError as error:
                notes.append(f"Not drawn: hot {FUSE_NAMES[name].lower()}; the file does not give {error.path}.")
            except ValueError as error:
                notes.append(f"Not drawn: hot {FUSE_NAMES[name].lower()}; {error}.")
        heated.append(one)
    return tuple(heated), tuple(notes)


def _breaker(frame: Frame, key: str) -> Characteristic:
    """A low-voltage device; of the main also where a line-line fault puts its latest edge."""
    walk = frame.walk
    found = breaker(walk, walk.station.device(key), "phase", low_view(frame))
    shift = _shift(walk, "line-line")
    if key != "main" or shift < 1.001:
        return found
    late = found.edges[1]
    words = f"latest, line-line fault: {shift:.3g} times"
    return replace(found, edges=(*found.edges, Edge(words, late.current * shift, late.time, "fine")))


def _shift(walk: Walk, kind: str) -> float:
    """Current in the MV line that carries most, over that of the same line current in a three-phase fault."""
    connection = walk.inputs.word("transformer.connection")
    return scalar(reflection.largest_primary_line_current(kind, connection, 1.0, 1.0))


def _ranges(frame: Frame) -> dict[str, picture_currents.Currents]:
    """Currents that the sheet marks, in the MV line that carries most."""
    found: dict[str, picture_currents.Currents] = {}
    if frame.walk.inputs.entry("transformer") is not None and frame.walk.inputs.entry("board") is not None:
        found["LV arcing at the places of work"] = picture_currents.arcs_in_primary
        found[_BOLTED] = picture_currents.in_primary(LV_BUS, "three-phase")
        found["Largest secondary fault: infinite bus, highest tap"] = _largest_secondary
        found["LV bus, line-line"] = picture_currents.in_primary(LV_BUS, "line-line")
        found["LV bus, line-earth"] = picture_currents.in_primary(LV_BUS, "line-earth")
        for name in frame.feeders:
            found[f"End of feeder {name}, three-phase"] = picture_currents.in_primary(feeder_end(name), "three-phase")
    if fuse_pair.lacks(frame.walk) is None:
        found[_CROSSING] = _crossings
    found["MV at the fuses, three-phase"] = picture_currents.at_point(PRIMARY, "three-phase")
    found["MV at the fuses, line-earth"] = picture_currents.at_point(PRIMARY, "line-earth")
    return found


_CROSSING = "Link and limiter cross, cold to hot"


def _crossings(walk: Walk) -> list[Array]:
    """Where the two fuses cross in every state of their liquid."""
    if words := fuse_pair.unknown(walk):
        raise ValueError(words)
    return [one.current for one in (*fuse_pair.lowest_crossings(walk), *fuse_pair.highest_crossings(walk))]


def _largest_secondary(walk: Walk) -> list[Array]:
    """What the crossing has to lie above: no source impedance, lowest transformer impedance, highest tap voltage."""
    kinds = secondary_faults.largest_kinds(walk)
    return [secondary_faults.largest_through_fault(walk, kind) for kind in kinds]


def _limit(frame: Frame) -> Characteristic:
    """Through-fault limit for the three-phase fault, and for the kinds whose line shows less than their winding has."""
    walk = frame.walk
    connection = walk.inputs.word("transformer.connection")
    kinds = ["three-phase"]
    for kind in ("line-line", "line-earth"):
        shift = reflection.line_over_winding(kind, connection)
        if np.isfinite(shift) and shift < 0.999:
            kinds.append(kind)
    return through_fault_limit(walk, tuple(kinds), View(1.0, np.inf, "rated current"))


def _rated(walk: Walk) -> tuple[Span, ...]:
    """The transformer's rated current, where the file gives it."""
    try:
        rated = rated_primary_current(walk)
    except MissingEntryError:
        return ()
    return (Span("Transformer, rated current", rated, rated),)


def _of_connection(walk: Walk) -> tuple[str, ...]:
    """How faults between lines and to earth look in the medium-voltage lines."""
    connection = walk.inputs.maybe_word("transformer.connection")
    if connection is None:
        return ()
    words = " and ".join(f"{_shift(walk, kind):.3g} times it of a {kind} fault" for kind in ("line-line", "line-earth"))
    return (
        f"LV devices stand where a three-phase fault puts them: LV line current over the ratio. Through {connection} "
        f"the MV line that carries most sees {words}; the rows under the scale count that.",
    )


# --- points ---


def _points(walk: Walk, found: tuple[Characteristic, ...]) -> tuple[tuple[Point, ...], tuple[str, ...]]:
    """Inrush and cold load, and where the two fuses cross; in words what cannot be marked."""
    points, notes = [], []
    try:
        points += _load_points(walk)
    except MissingEntryError as error:
        notes.append(f"Not marked: inrush and cold load; the file does not give {error.path}.")
    if {one.role for one in found} >= {"link", "limiter"}:
        more, words = _crossing(walk)
        points, notes = points + more, notes + words
    return tuple(points), tuple(notes)


def _load_points(walk: Walk) -> list[Point]:
    """Inrush and cold-load points of the file, or those of the table."""
    rated = rated_primary_current(walk)
    found = []
    for entry, kind in (("inrush", "inrush"), ("cold_load", "cold load")):
        own = walk.inputs.entry(f"transformer.{entry}")
        if isinstance(own, dict):
            for name in own:
                path = f"transformer.{entry}.{name}"
                multiple, time = (scalar(walk.inputs.number(f"{path}.{each}")) for each in ("multiple", "time"))
                found.append(_load_point(name, multiple, time, rated))
            continue
        for point in load_points():
            if point.kind == kind and _ALTERNATIVE not in point.tag:
                found.append(_load_point(kind, point.multiple, point.time, rated))
    return found


def _load_point(name: str, multiple: float, time: float, rated: float) -> Point:
    shape: Shape = "diamond" if time < _INRUSH_ENDS else "square"
    return Point(f"{name} {multiple:g} \u00d7 {time:g} s", multiple * rated, time, shape)


def _crossing(walk: Walk) -> tuple[list[Point], list[str]]:
    """Where total clearing of the link meets minimum melting of the limiter, or in words why there is no such place."""
    link, limiter = (devices.curve(walk, walk.inputs.word(f"fuses.{name}.curve")) for name in ("bayonet", "limiter"))
    together = fuse_entries.in_parallel(walk, "limiter")
    lower, upper = _clearing_of_link(walk, link), crossing.melting_edge(limiter).moved(together, 1.0)
    found = crossing.crossings(lower, upper)
    if crossing.STATES[int(found.state)] != "crosses once":
        return [], [f"Link and limiter: {found.words((), 'link', 'limiter')}."]
    current = float(found.first)
    time = float(crossing.edge_time(upper, np.array([current]))[0])
    return [Point(f"link and limiter cross; as published: {current:.4g} A", current, time, "ring")], []


def _clearing_of_link(walk: Walk, link: TimeCurrentCurve) -> crossing.Edge:
    """Clearing edge of the link as published, or by tolerance and arcing where only its melting is."""
    if fuse_entries.clears_by_curve(walk, "bayonet"):
        return crossing.clearing_edge(link)
    tolerance = scalar(fuse_entries.melting_tolerance(walk, "bayonet"))
    return crossing.clearing_edge_by_tolerance(link, tolerance, scalar(fuse_entries.arcing_time(walk)))
