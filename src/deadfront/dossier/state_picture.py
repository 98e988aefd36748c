"""Dossier: what is live, dead and earthed in one state, as a picture. A machine and a situation in, an SVG out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from deadfront.dossier.lettering import width, wrapped
from deadfront.dossier.sheet import LEADING, TEXT, Hand, Ink, Picture, Place, Sheet, Stroke, symbols
from deadfront.dossier.strip import Span, Spot, Strip, contacts, strip
from deadfront.operation.machine import EARTH, Device, Machine
from deadfront.operation.telling import Situation

State = Literal["live", "dead", "proved dead", "earthed", "fault"]
Practice = Literal["north-american", "iec"]

# Told apart by colour, by pattern (solid, hollow, rungs, teeth) and by the word that stands at each point.
VERMILLION, GREEN, INK = "#D55E00", "#007A5A", "black"
_LINES: dict[State, tuple[Ink, ...]] = {
    "live": (Ink(VERMILLION, 0.9),),
    "dead": (Ink(INK, 1.0), Ink("white", 0.5)),
    "proved dead": (Ink(INK, 1.0), Ink("white", 0.5)),
    "earthed": (Ink(GREEN, 1.3, "0.22 0.5"), Ink(GREEN, 0.26)),
    "fault": (Ink(INK, 1.7, "0.45 0.45"), Ink(VERMILLION, 0.9)),
}
MEANINGS: tuple[tuple[State, str], ...] = (
    ("live", "live"),
    ("dead", "not live or earthed"),
    ("proved dead", "the same, proved dead"),
    ("earthed", "earthed"),
    ("fault", "source on an earth"),
)
FRAMES: tuple[tuple[str | None, str], ...] = (
    ("", "framed name: moved in this step"),
    ("1 0.5", "dashed frame: a hand gets there"),
    (None, "white on black: dangerous in this step"),
)
"""Dashes of a frame, or None for a black area, and what it says."""
_PITCH = 11.9
_NAME_WIDTH, _LABEL_WIDTH, _OVER = 10.9, 9.0, 2.9
_UNDER, _UNDER_EARTHS = 4.0, 5.8
"""Base line of a device's name under its conductor; lower where earth signs hang on the lane."""
_EARTH_AT = 3.0
"""How far the earth sign of a switch that earths hangs under it."""
_LINE = TEXT * LEADING
_SOURCE = 5.0


@dataclass(frozen=True, slots=True)
class Scene:
    """A machine with the symbols of its practice, and what stands how in it; `moved` is the device of this step."""

    machine: Machine
    practice: Practice
    after: Situation
    moved: str | None = None
    danger: bool = False
    """Whether this step raises a hazard: its device and the live points within reach are then set in white on black."""


def state_picture(scene: Scene, alternate: str) -> Picture:
    """The strip of a machine in one state: symbols after IEC 60617 or IEEE 315 [M], every device in its position."""
    sheet = Sheet()
    draw(scene, sheet, 0.0)
    return sheet.picture(alternate)


def states_in_words(scene: Scene) -> str:
    """The same in words, for readers who do not see it."""
    points = "; ".join(f"{point} {state_of(scene.after, point)}" for point in scene.machine.points)
    devices = "; ".join(f"{name} {position}" for name, position in scene.after.positions.items())
    return f"{points}. {devices}."


def state_of(after: Situation, point: str) -> State:
    """What a point is in a situation, the worst word that holds."""
    if point in after.faulted:
        return "fault"
    if point in after.live:
        return "live"
    if point in after.earthed:
        return "earthed"
    return "proved dead" if point in after.proved else "dead"


def changes_strip(machine: Machine, before: Situation, after: Situation) -> bool:
    """Whether the strip shows a step: a device on it, or what is live, earthed, proved, charged or within reach."""
    shown = [device.id for device in machine.devices if device.electric]
    one, other = (
        ([told.positions.get(name) for name in shown], told.live, told.earthed, told.proved, told.charged, told.open)
        for told in (before, after)
    )
    return one != other


def draw(scene: Scene, sheet: Sheet, top: float) -> float:
    """Draw a state with its upper edge at a height. Returns where its lower edge is."""
    lying, room = strip(scene.machine), _room(scene.machine)
    drawing = _Drawing(scene, sheet, lying, room, top)
    for span in lying.spans:
        drawing.span(span)
    for source, point, spot, side in lying.sources:
        drawing.source(source, point, spot, side)
    for point, spot in lying.points.items():
        drawing.point(point, spot)
    left, right = (level * _PITCH for level in lying.levels)
    height = top + room.conductor[0]
    sheet.room(left - _PITCH / 2 - 1, height, right + _PITCH / 2 + 1, height)
    return top + room.end


def legend_picture() -> Picture:
    """The five kinds of line with their meanings, then what frames and white lettering say."""
    sheet, x = Sheet(), 0.0
    for state, words in MEANINGS:
        trace(sheet, ((x, 0), (x + 4.5, 0)), state)
        sheet.text(x + 5.2, TEXT / 3, [words])
        x += 6.2 + width(words, TEXT)
    x, y = 0.0, 2 * _LINE
    for dashes, words in FRAMES:
        top, bottom = y - 1.1, y + 1.1
        if dashes is None:
            sheet.fill((x, top), (x + 4.5, top), (x + 4.5, bottom), (x, bottom), colour=INK)
        else:
            sheet.frame(x, top, x + 4.5, bottom, Ink(INK, 0.3, dashes))
        sheet.text(x + 5.2, y + TEXT / 3, [words])
        x += 6.2 + width(words, TEXT)
    lines = "; ".join(f"{_PATTERNS[state]}: {words}" for state, words in MEANINGS)
    return sheet.picture(f"Legend: {lines}; " + "; ".join(words for _, words in FRAMES))


_PATTERNS: dict[State, str] = {
    "live": "solid line",
    "dead": "hollow line",
    "proved dead": "hollow line",
    "earthed": "line with rungs",
    "fault": "line with teeth",
}


@dataclass(frozen=True, slots=True)
class _Room:
    """Heights in half modules from the top: of each conductor, its labels, of what is under them, of the whole."""

    conductor: tuple[float, ...]
    label: tuple[float, ...]
    under: tuple[float, ...]
    end: float


@lru_cache(maxsize=8)
def _room(machine: Machine) -> _Room:
    """Room in each lane for the longest name of a point above its conductor, and of a device below it."""
    lying, top = strip(machine), 0.0
    conductor, label, under = [], [], []
    for lane in range(lying.lanes):
        points = [point for point, spot in lying.points.items() if spot[1] == lane]
        names = max((len(wrapped(point, TEXT, _NAME_WIDTH)) for point in points), default=1)
        reached = any(point in opening.reaches for opening in machine.openings for point in points)
        stored = any(store.at in points for store in machine.stores)
        spans = [span for span in lying.spans if span.device is not None and span.end[1] == lane]
        sources = [(source, side) for source, _, spot, side in lying.sources if spot[1] == lane]
        earths = any(lying.earths.get(point) for point in points)
        beside = [span.device for span in spans if span.device] + [source for source, side in sources if side]
        conductor.append(top + (names + 1 + reached + stored) * _LINE + _OVER + 0.5)
        label.append(conductor[-1] + (_UNDER_EARTHS if earths else _UNDER))
        under.append(label[-1] + _label_lines(beside) * _LINE + 0.6)
        hanging = [source for source, side in sources if not side]
        clamps = [d for point in points for d in lying.earths.get(point, ()) if machine.device(d).kind == "earth"]
        below = max((len(wrapped(name, TEXT, _LABEL_WIDTH)) + 1.5 for name in clamps), default=0.0) * _LINE
        below = max(below, _SOURCE + _label_lines(hanging) * _LINE + 0.6 if hanging else 0.0)
        top = under[-1] + below + 0.4
    return _Room(tuple(conductor), tuple(label), tuple(under), top)


def _label_lines(devices: Sequence[str]) -> int:
    """Lines of the longest name among devices that are labelled side by side, and of its position."""
    return 1 + max((len(wrapped(device, TEXT, _LABEL_WIDTH)) for device in devices), default=1)


def throws(device: Device) -> dict[frozenset[str], str]:
    """Pairs of points that a switch joins, each with the one that it earths from the same blade; phase by phase.

    Empty for what only joins or only earths, and where several blades share the earthed point.
    """
    joined = [frozenset(pair) for pair in contacts(device)] if device.kind == "switch" else []
    earthed = {point for _, edges in device.edges for edge in edges if EARTH in edge for point in edge} - {EARTH}
    found = {pair: next(iter(pair & earthed)) for pair in joined if len(pair & earthed) == 1}
    return found if len(set(found.values())) == len(joined) else {}


@dataclass(frozen=True, slots=True)
class _Drawing:
    scene: Scene
    sheet: Sheet
    lying: Strip
    room: _Room
    top: float

    def at(self, spot: Spot) -> tuple[float, float]:
        return spot[0] * _PITCH, self.top + self.room.conductor[spot[1]]

    def label_at(self, spot: Spot) -> float:
        """Where the names of devices stand in the lane of a spot."""
        return self.top + self.room.label[spot[1]]

    def state(self, point: str) -> State:
        return state_of(self.scene.after, point)

    def position(self, device: Device) -> str:
        return self.scene.after.positions.get(device.id, device.start)

    # --- between two points ---

    def span(self, span: Span) -> None:
        """One device or link: each half in the state of its own point, a gap where it does not conduct."""
        (x0, y0), (x1, y1) = self.at(span.start), self.at(span.end)
        near, far = self.state(span.between[0]), self.state(span.between[1])
        way = 1.0 if x1 > x0 else -1.0
        if y1 != y0:
            trace(self.sheet, ((x0, y0), (x0, y1)), near)
        if span.device is None:
            self.link((x0, x1, y1), (near, far), self.label_at(span.end) if span.magnetic else None)
        else:
            self.contact(self.scene.machine.device(span.device), span, (x0, x1, y1), (near, far))
        if span.loose:
            hand = Hand(anchor="middle", widest=_NAME_WIDTH, faint=True)
            self.sheet.text(x1 - way, y1 - _OVER, [f"to {span.between[1]}"], hand)

    def link(self, ends: tuple[float, float, float], states: tuple[State, State], magnetic: float | None) -> None:
        """What always conducts; `magnetic` is where the word transformer stands under one."""
        x0, x1, y = ends
        middle = (x0 + x1) / 2
        way = 1.0 if x1 > x0 else -1.0
        reach = 0.0 if magnetic is None else 4.0 * way
        trace(self.sheet, ((x0, y), (middle - reach, y)), states[0])
        trace(self.sheet, ((middle + reach, y), (x1, y)), states[1])
        if magnetic is not None:
            rounds = [stroke for stroke in symbols()["transformer"] if stroke.shape == "circle"]
            self.sheet.strokes(lying_down(rounds), middle - 5.0, y)
            self.sheet.text(middle, magnetic, ["transformer"], Hand(anchor="middle"))

    def contact(
        self, device: Device, span: Span, ends: tuple[float, float, float], states: tuple[State, State]
    ) -> None:
        x0, x1, y = ends
        middle, way = (x0 + x1) / 2, 1.0 if x1 > x0 else -1.0
        position = self.position(device)
        closed = any(frozenset(edge) == frozenset(span.between) for edge in device.edges_at(position))
        trace(self.sheet, ((x0, y), (middle - 2 * way, y)), states[0])
        trace(self.sheet, ((middle + 2 * way, y), (x1, y)), states[1])
        if closed:
            trace(self.sheet, ((middle - 2 * way, y), (middle + 2 * way, y)), states[0])
        earthed = throws(device).get(frozenset(span.between))
        # The blade hangs on the side that it earths; elsewhere on the right.
        left = earthed == span.between[0] if way > 0 else earthed == span.between[1]
        on_earth = earthed is not None and any(EARTH in edge for edge in device.edges_at(position))
        marks = _marks(device.kind, self.scene.practice, closed=closed or on_earth)
        self.sheet.strokes(_mirrored(marks) if left else marks, middle - 4.0, y)
        if earthed is not None:
            self.throw(middle, y, left=left, state=self.state(earthed) if on_earth else None)
        self.label(device, position, middle, self.label_at(span.end), y)

    def throw(self, x: float, y: float, *, left: bool, state: State | None) -> None:
        """The contact on which a switch earths, with its earth sign; the blade on it in its state where it earths."""
        side = -1.0 if left else 1.0
        if state is not None:
            trace(self.sheet, ((x + 2 * side, y), (x - 0.5 * side, y + 2.5)), state)
        self.sheet.line((x - 0.92 * side, y + 2.08), (x - 0.08 * side, y + 2.92))
        self.sheet.line((x - 0.5 * side, y + 2.5), (x - 0.5 * side, y + _EARTH_AT))
        self.sheet.strokes(_earth_bars(), x - 0.5 * side, y + _EARTH_AT - 1)

    def label(self, device: Device, position: str, x: float, at: float, y: float) -> None:
        """Its name and its position under a device; a frame around the one that this step moves."""
        centre = Hand(anchor="middle", widest=_LABEL_WIDTH)
        lines = wrapped(device.id, TEXT, _LABEL_WIDTH)
        end = at + len(lines) * _LINE
        moved = device.id == self.scene.moved
        if moved:
            edges = (x - 4.7, at - TEXT, x + 4.7, end + 0.6)
            if not throws(device):
                self.sheet.fill((x - 0.9, edges[1]), (x + 0.9, edges[1]), (x, y + 1.4), colour=INK)
            self.panel(edges, dark=self.scene.danger)
        light = moved and self.scene.danger
        self.sheet.text(x, at, lines, replace(centre, light=light))
        self.sheet.text(x, end, [position], Hand(anchor="middle", strong=True, light=light))

    def panel(self, edges: tuple[float, float, float, float], *, dark: bool) -> None:
        """A frame around lettering; for what is dangerous an area on which the lettering is white."""
        left, top, right, bottom = edges
        if dark:
            self.sheet.fill((left, top), (right, top), (right, bottom), (left, bottom), colour=INK)
        else:
            self.sheet.frame(left, top, right, bottom, Ink(INK, 0.34))

    # --- at a point ---

    def point(self, name: str, spot: Spot) -> None:
        """A short bar, the name and the state above it, its earths below it."""
        (x, y), state = self.at(spot), self.state(name)
        self.sheet.line((x, y - 1.0), (x, y + 1.0), width=0.5)
        lines: list[tuple[str, bool]] = [(state, True)]
        if self.charged(name):
            lines.append(("charged", True))
        lines += [(line, False) for line in reversed(wrapped(name, TEXT, _NAME_WIDTH))]
        light = False
        if self.in_reach(name):
            lines.append(("in reach", True))
            light = self.scene.danger and (state in ("live", "fault") or (state != "earthed" and self.on_charge(name)))
            top = y - _OVER - (len(lines) - 1) * _LINE - TEXT
            edges = (x - _PITCH / 2 + 0.15, top, x + _PITCH / 2 - 0.15, y - _OVER + 0.6)
            if light:
                self.panel(edges, dark=True)
            else:
                self.sheet.frame(*edges, Ink(INK, 0.3, "1 0.5"))
        for number, (words, strong) in enumerate(lines):
            hand = Hand(anchor="middle", strong=strong, faint=not strong and not light, light=light)
            self.sheet.text(x, y - _OVER - number * _LINE, [words], hand)
        hanging = [self.scene.machine.device(device) for device in self.lying.earths.get(name, ())]
        falls = any(span.start == spot and span.end[1] != spot[1] for span in self.lying.spans)
        aside = 2.2 * falls
        for device in hanging:
            if name not in throws(device).values():
                if aside and not self.goes_right(spot):
                    trace(self.sheet, ((x, y), (x + aside, y)), state)
                self.earth(device, name, x + aside, y)
                aside += 2.2

    def goes_right(self, spot: Spot) -> bool:
        """Whether a conductor lies to the right of a point, on which an earth beside the point can hang."""
        begins = any(
            span.start == spot and span.end[1] == spot[1] and span.end[0] > spot[0] for span in self.lying.spans
        )
        return begins or any(span.end == spot and span.start[0] > spot[0] for span in self.lying.spans)

    def earth(self, device: Device, point: str, x: float, y: float) -> None:
        """The earth sign under a point, joined to it where the device earths it, apart where it does not."""
        on = any(point in edge and EARTH in edge for edge in device.edges_at(self.position(device)))
        if on:
            trace(self.sheet, ((x, y), (x, y + 2.6)), self.state(point))
        else:
            self.sheet.line((x, y + 0.4), (x, y + 0.9))
            self.sheet.line((x, y + 2.0), (x, y + 2.6))
        self.sheet.strokes(_earth_bars(), x, y + 1.6)
        if device.kind == "earth":
            # Under the labels of the devices beside it, which are wider than the room between the points.
            under = self.top + self.room.under[self.lying.points[point][1]]
            self.sheet.leader((x, y + 3.9), (x, under - TEXT))
            lines, moved = wrapped(device.id, TEXT, _LABEL_WIDTH), device.id == self.scene.moved
            end = under + len(lines) * _LINE
            if moved:
                right = x + 0.2 + max(width(line, TEXT) for line in (*lines, f"{self.position(device)}  "))
                self.panel((x - 1.2, under - TEXT, right, end + 0.6), dark=self.scene.danger)
            light = moved and self.scene.danger
            self.sheet.text(x - 0.6, under, lines, Hand(light=light))
            self.sheet.text(x - 0.6, end, [self.position(device)], Hand(strong=True, light=light))

    def source(self, name: str, point: str, spot: Spot, side: int) -> None:
        """A source beside its point: a crossed square for the utility, a circle for what is started by hand."""
        (x, y), device = self.at(spot), self.scene.machine.device(name)
        on = device.source is not None and self.position(device) in device.source.on
        at = self.label_at(spot)
        if side == 0:
            # In the middle of a way there is room only under the labels of the devices beside the point.
            under = self.top + self.room.under[spot[1]] - TEXT
            trace(self.sheet, ((x, y), (x, under)), self.state(point))
            x, y, side, at = x - _SOURCE / 2 - 1, under + 2, 1, under + _SOURCE + TEXT
        else:
            trace(self.sheet, ((x, y), (x + 1.5 * side, y)), self.state(point) if on else "dead")
        left = x + (1.5 if side > 0 else -5.5)
        if device.moves:
            self.sheet.strokes([Stroke("circle", ((left + 2, y),), 2.0)], 0.0, 0.0)
            self.sheet.text(left + 2, y + TEXT / 3, ["G"], Hand(anchor="middle"))
        else:
            square = [part for part in lying_down(symbols()["supply"]) if max(x for x, _ in part.points) <= 4.0]
            self.sheet.strokes(square, left, y)
        self.label(device, self.position(device), left + 2, at, y + 0.6)

    def charged(self, point: str) -> bool:
        stores = {store.id: store.at for store in self.scene.machine.stores}
        return any(stores[name] == point for name in self.scene.after.charged)

    def on_charge(self, point: str) -> bool:
        """Whether a charge that is stored somewhere gets to a point: through metal, never through a transformer."""
        machine, met, queue = self.scene.machine, {point}, [point]
        joined = [link.between for link in machine.links if not link.magnetic]
        joined += [edge for device in machine.devices for edge in device.edges_at(self.position(device))]
        for one in queue:
            fresh = {far for edge in joined if one in edge for far in edge} - met - {EARTH}
            met |= fresh
            queue += sorted(fresh)
        return any(self.charged(one) for one in met)

    def in_reach(self, point: str) -> bool:
        openings = self.scene.machine.openings
        return any(opening.device in self.scene.after.open and point in opening.reaches for opening in openings)


def _marks(kind: str, practice: Practice, *, closed: bool) -> Iterable[Stroke]:
    """The parts of a symbol that tell its kind, and its blade where it stands open; a closed way is a line through."""
    if kind in ("switch", "breaker"):
        name = f"{'load-break switch' if kind == 'switch' else 'circuit-breaker'}, {practice}"
        parts = [part for part in symbols()[name] if (0.0, 0.0) not in part.points and (0.0, 8.0) not in part.points]
        blade = [part for part in parts if part.shape == "line" and part.points[0] == (0.0, 6.0)]
        shown = [part for part in parts if part not in blade]
        if practice == "north-american" and kind == "breaker":
            # The bridge lies on the other side, clear of the label, and lifts so far that it is seen to have lifted.
            discs = [part for part in shown if part.shape == "disc"]
            return lying_down([*discs, Stroke("line", _bridge(0.0 if closed else -0.9), 0.0)])
        return lying_down(shown if closed else shown + blade)
    if kind == "fuse":
        body = [part for part in symbols()["fuse"] if part.shape == "area"]
        shape = [replace(part, shape="closed") for part in body]
        return lying_down([_moved(part, 0.0 if closed else -1.4, 1.0) for part in shape])
    if kind == "connector":
        body = [part for part in symbols()["separable connector"] if part.shape != "line"]
        return lying_down([_moved(part, 0.0 if closed else -1.7, 2.2) for part in body])
    return [Stroke("closed", ((2.0, -1.2), (6.0, -1.2), (6.0, 1.2), (2.0, 1.2)), 0.0)]


def _bridge(lift: float) -> tuple[tuple[float, float], ...]:
    """Half a circle of the breaker's symbol, as a line through points close together."""
    turns = (math.pi * n / 16 for n in range(17))
    return tuple((lift - 1.5 * math.sin(turn), 4.0 - 1.5 * math.cos(turn)) for turn in turns)


def _earth_bars() -> Iterable[Stroke]:
    """The earth sign without the line that leads to it."""
    return (part for part in symbols()["earth"] if part.points[0] != (0.0, 0.0))


def _mirrored(parts: Iterable[Stroke]) -> list[Stroke]:
    """A symbol lying down, its left terminal on the right."""
    return [replace(part, points=tuple((8.0 - x, y) for x, y in part.points)) for part in parts]


def _moved(part: Stroke, x: float, y: float) -> Stroke:
    return replace(part, points=tuple((px + x, py + y) for px, py in part.points))


def lying_down(parts: Iterable[Stroke]) -> list[Stroke]:
    """A symbol whose terminals are above and below, with its terminals left and right; its left side is up."""
    turned = {"half circle right": "half circle below", "half circle below": "half circle right"}
    return [
        replace(part, shape=turned.get(part.shape, part.shape), points=tuple((y, x) for x, y in part.points))
        for part in parts
    ]


def trace(sheet: Sheet, points: Sequence[Place], state: State) -> None:
    """A conductor in a state."""
    for ink in _LINES[state]:
        sheet.trace(*points, ink=ink)
