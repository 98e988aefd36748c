"""Study: sheets of log-log paper for one station. Walks come in; curves, points and ranges of current go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from deadfront.physics import crossing, reflection
from deadfront.physics.fuse_pair import load_points
from deadfront.station.station import LV_BUS, PRIMARY, Device, feeder_end
from deadfront.study import devices, elements, picture_currents
from deadfront.study.drawing import Characteristic, Point, Scale, Sheet, Span
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import MissingEntryError
from deadfront.study.picture_currents import Points
from deadfront.study.picture_devices import (
    View,
    breaker,
    fuse,
    rated_primary_current,
    scalar,
    text_of,
    through_fault_limit,
    upstream,
)
from deadfront.study.tables import WalkAt
from deadfront.study.walk import Walk

ARCING_SHARE = 0.38
"""Smallest arcing earth fault over the bolted three-phase fault; IEEE 242, 480 V systems [M]."""

_BEYOND = 1.15
"""Lines go on a little beyond the largest current, so that they are seen to pass it."""

_UNKNOWN_REACH = 100.0
"""Amperes per ampere of the smallest pickup up to which a line is drawn where no fault current is known."""

_ALTERNATIVE = "instead"
"""Word in the tag of a load point that stands for another one of the table."""

Maker = Callable[[], Characteristic]


@dataclass(frozen=True, slots=True)
class Frame:
    """What a sheet is made from: the station at the centre of its ranges, walks over a sample of them, the feeders."""

    walk: Walk
    walk_at: WalkAt
    points: Points
    feeders: tuple[str, ...]


def chosen_feeders(walk: Walk, wanted: tuple[str, ...]) -> tuple[str, ...]:
    """The feeders to be drawn: those wanted, or else the one of the largest rating, which is the hardest to clear below.

    raises    ValueError: the file has no feeder of a wanted name
    """
    names = walk.station.feeders()
    for name in wanted:
        if name not in names:
            raise ValueError(f"feeder: expected one of {', '.join(names) or 'none in this file'}, got {name!r}")
    if wanted or not names:
        return wanted

    def rating(name: str) -> float:
        path = f"board.feeders.{name}.rating"
        return scalar(walk.inputs.number(path)) if walk.inputs.given(path) else 0.0

    return (max(names, key=rating),)


# --- the path of the phase currents ---


def phase_sheet(frame: Frame) -> Sheet:
    """Upstream protection, both fuses, transformer, main and feeders, in amperes of the medium-voltage line.

    raises    MissingEntryError: the file does not give the supply's voltage
    """
    walk = frame.walk
    supply = text_of(walk, "supply.voltage") or _missing("supply.voltage")
    ranges, notes = picture_currents.spans(frame.walk_at, frame.points, _phase_ranges(frame))
    medium = _largest(ranges, "MV", walk)
    makers: dict[str, Maker] = {}
    for device in _supplies(walk):
        view = View(1.0, medium, "own current")
        makers[device.name] = lambda device=device, view=view: upstream(walk, device, "phase", view)  # type: ignore[misc]
    for name in _fuse_names(walk):
        view = View(1.0, medium, "own current")
        makers[FUSE_NAMES[name]] = lambda name=name, view=view: fuse(walk, name, view)  # type: ignore[misc]
    makers["Transformer"] = lambda: _limit(frame)
    for device in _breakers(frame):
        makers[device.name] = lambda device=device: breaker(walk, device, "phase", _low_view(frame, ranges))  # type: ignore[misc]
    found, lacking = _made(makers)
    points, more = _points(walk, found)
    return Sheet(
        title="Phase currents: what clears, and when",
        scale=Scale(f"Current in the MV line at {supply}, A (symmetrical, rms)"),
        other=_other_scale(walk),
        characteristics=_merged(found),
        points=points,
        spans=(*ranges, *_rated(walk)),
        notes=(*_left_out(frame), *lacking, *notes, *more, *_of_connection(walk)),
    )


def _missing(path: str) -> str:
    raise MissingEntryError(path)


def _phase_ranges(frame: Frame) -> dict[str, picture_currents.Currents]:
    """Currents that the phase sheet marks, in the MV line that carries most."""
    found: dict[str, picture_currents.Currents] = {}
    if frame.walk.inputs.entry("transformer") is not None:
        found["LV arcing, three-phase"] = picture_currents.arcs_in_primary
        found["LV bus, three-phase"] = picture_currents.in_primary(LV_BUS, "three-phase")
        found["LV bus, line-line"] = picture_currents.in_primary(LV_BUS, "line-line")
        found["LV bus, line-earth"] = picture_currents.in_primary(LV_BUS, "line-earth")
        for name in frame.feeders:
            found[f"End of feeder {name}, three-phase"] = picture_currents.in_primary(feeder_end(name), "three-phase")
    found["MV at the fuses, three-phase"] = picture_currents.at_point(PRIMARY, "three-phase")
    found["MV at the fuses, line-earth"] = picture_currents.at_point(PRIMARY, "line-earth")
    return found


def _largest(ranges: tuple[Span, ...], what: str, walk: Walk) -> float:
    """Up to where the lines of one side are drawn."""
    known = [span.high for span in ranges if span.name.startswith(what)]
    if known:
        return max(known) * _BEYOND
    pickups = [q.low for path, q in walk.project.quantities.items() if path.endswith(("pickup", "rating.current"))]
    return min(pickups, default=100.0) * _UNKNOWN_REACH


def _supplies(walk: Walk) -> Iterator[Device]:
    return (device for device in walk.station.devices if device.kind == "supply")


def _fuse_names(walk: Walk) -> Iterator[FuseName]:
    """The fuses of the file; where it names none, the limiter, so that its absence is said."""
    given = [name for name in FUSE_NAMES if walk.inputs.entry(f"fuses.{name}") is not None]
    yield from given or ["limiter"]


def _breakers(frame: Frame) -> Iterator[Device]:
    """Main and chosen feeders."""
    yield frame.walk.station.device("main")
    for name in frame.feeders:
        yield frame.walk.station.device(f"feeder {name}")


def _low_view(frame: Frame, ranges: tuple[Span, ...]) -> View:
    """Low-voltage devices in amperes of the MV line: what a three-phase fault on the bus draws from all infeeds."""
    ratio = scalar(elements.turns_ratio(frame.walk))
    whole = picture_currents.span(frame.walk_at, frame.points, "bus", picture_currents.at_point(LV_BUS, "three-phase"))
    known = [span.high for span in ranges if span.name.startswith("LV bus")]
    return View(1.0 / ratio, max([whole.high / ratio, *known]) * _BEYOND, f"own current / {ratio:.4g}, three-phase")


def _limit(frame: Frame) -> Characteristic:
    """Through-fault limit for the three-phase fault, and for that kind whose line shows least of its winding."""
    walk = frame.walk
    connection = walk.inputs.word("transformer.connection")
    kinds = ["three-phase"]
    for kind in ("line-line", "line-earth"):
        shift = reflection.line_over_winding(kind, connection)
        if np.isfinite(shift) and shift < 0.999:
            kinds.append(kind)
    return through_fault_limit(walk, tuple(kinds), View(1.0, np.inf, "rated current"))


def _made(makers: dict[str, Maker]) -> tuple[tuple[Characteristic, ...], tuple[str, ...]]:
    """What can be drawn, and in words why the rest cannot."""
    found, notes = [], []
    for name, make in makers.items():
        try:
            found.append(make())
        except MissingEntryError as error:
            notes.append(f"Not drawn: {name}; the file does not give {error.path}.")
        except ValueError as error:
            notes.append(f"Not drawn: {name}; {error}.")
    return tuple(found), tuple(notes)


def _merged(found: tuple[Characteristic, ...]) -> tuple[Characteristic, ...]:
    """Two supplies with the same protection are one line."""
    kept: list[Characteristic] = []
    for one in found:
        twin = next((at for at, other in enumerate(kept) if one.role == "upstream" and _same(one, other)), None)
        if twin is None:
            kept.append(one)
        else:
            kept[twin] = replace(kept[twin], name=f"{kept[twin].name}, both feeds")
    return tuple(kept)


def _same(one: Characteristic, other: Characteristic) -> bool:
    """Whether two lines lie over each other."""
    pairs = list(zip(one.edges, other.edges, strict=False))
    return one.about == other.about and all(np.array_equal(a.time, b.time, equal_nan=True) for a, b in pairs)


def _rated(walk: Walk) -> tuple[Span, ...]:
    """The transformer's rated current, where the file gives it."""
    try:
        rated = rated_primary_current(walk)
    except MissingEntryError:
        return ()
    return (Span("Transformer, rated current", rated, rated),)


def _other_scale(walk: Walk) -> Scale | None:
    try:
        ratio = scalar(elements.turns_ratio(walk))
    except MissingEntryError:
        return None
    secondary = text_of(walk, "transformer.secondary_voltage")
    return Scale(f"Current at {secondary}, kA (three-phase, {ratio:.4g} times)", ratio * 1e-3)


def _left_out(frame: Frame) -> tuple[str, ...]:
    """Feeders that are not on this sheet."""
    others = [name for name in frame.walk.station.feeders() if name not in frame.feeders]
    return (f"Other feeders, not drawn: {', '.join(others)}.",) if others else ()


def _of_connection(walk: Walk) -> tuple[str, ...]:
    """How faults between lines and to earth look in the medium-voltage lines."""
    connection = walk.inputs.maybe_word("transformer.connection")
    if connection is None:
        return ()
    words = []
    for kind in ("line-line", "line-earth"):
        share = reflection.largest_primary_line_current(kind, connection, 1.0, 1.0)
        words.append(f"of a {kind} fault {float(share):.3g}")
    return (
        f"LV devices stand where a three-phase fault puts them. Through {connection} the MV line that carries most sees "
        f"{' and '.join(words)} of the LV line current over the ratio; the ranges below count that.",
    )


# --- points ---


def _points(walk: Walk, found: tuple[Characteristic, ...]) -> tuple[tuple[Point, ...], tuple[str, ...]]:
    """Inrush and cold load, and where the two fuses cross."""
    points, notes = [], []
    try:
        points += _load_points(walk)
    except MissingEntryError as error:
        notes.append(f"Not marked: inrush and cold load; the file does not give {error.path}.")
    if {one.role for one in found} >= {"link", "limiter"}:
        words, more = _crossing(walk)
        points += words
        notes += more
    return tuple(points), tuple(notes)


def _load_points(walk: Walk) -> list[Point]:
    """Inrush and cold-load points of the file, or those of the table."""
    rated = rated_primary_current(walk)
    found = []
    for entry, kind in (("inrush", "inrush"), ("cold_load", "cold load")):
        own = walk.inputs.entry(f"transformer.{entry}")
        if own:
            for name in own:  # type: ignore[attr-defined]
                path = f"transformer.{entry}.{name}"
                multiple, time = (scalar(walk.inputs.number(f"{path}.{each}")) for each in ("multiple", "time"))
                found.append(_load_point(name, multiple, time, rated))
            continue
        for point in load_points():
            if point.kind == kind and _ALTERNATIVE not in point.tag:
                found.append(_load_point(kind, point.multiple, point.time, rated))
    return found


def _load_point(name: str, multiple: float, time: float, rated: float) -> Point:
    shape = "diamond" if time < 0.5 else "square"
    return Point(f"{name} {multiple:g} \u00d7 {time:g} s", multiple * rated, time, shape)  # type: ignore[arg-type]


def _crossing(walk: Walk) -> tuple[list[Point], list[str]]:
    """Where total clearing of the link meets minimum melting of the limiter, or in words why there is no such place."""
    link, limiter = (devices.curve(walk, walk.inputs.word(f"fuses.{name}.curve")) for name in ("bayonet", "limiter"))
    found = crossing.crossings(crossing.clearing_edge(link), crossing.melting_edge(limiter))
    words = found.words((), "link", "limiter")
    if crossing.STATES[int(found.state)] != "crosses once":
        return [], [f"Link and limiter: {words}."]
    current = float(found.first)
    time = float(crossing.edge_time(crossing.melting_edge(limiter), np.array([current]))[0])
    return [Point(f"link and limiter cross; {current:.4g} A, {time:.3g} s", current, time, "ring")], []
