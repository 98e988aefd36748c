"""Operation: what a machine of hand actions is made of. Names and tuples in, frozen parts out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from deadfront.operation.atoms import Atom

EARTH = "E"
"""The name of earth in an edge: a sink, never a conductor between two earthed circuits."""

HAND = "hand"
"""Where a key is while no lock holds it."""

By = Literal["mechanical", "key", "tool", "access", "rule"]
Mode = Literal["hands", "rules"]
Kind = Literal[
    "EXP_OPEN",
    "EXP_CLOSE",
    "EXP_CHARGE",
    "EARTH_LIVE",
    "LIVE_EARTH",
    "PARALLEL",
    "BACKFEED",
    "LOAD",
    "FUSE_PRESS",
    "PERSON",
]

MODES: tuple[Mode, ...] = ("hands", "rules")
KINDS: tuple[Kind, ...] = (
    "EXP_OPEN",
    "EXP_CLOSE",
    "EXP_CHARGE",
    "EARTH_LIVE",
    "LIVE_EARTH",
    "PARALLEL",
    "BACKFEED",
    "LOAD",
    "FUSE_PRESS",
    "PERSON",
)

Edge = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Guard:
    """What must be true before a move. `by` says what sees to it: hardware, a key, a tool, reach, or obedience."""

    id: str
    by: By
    condition: Atom


@dataclass(frozen=True, slots=True)
class Move:
    """A handle may go from one of the positions `origins` to `target` while every guard is true."""

    origins: tuple[str, ...]
    target: str
    guards: tuple[Guard, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """A device that feeds points in the positions `on`; sources of one `group` are in step with each other.

    `at` is one point, or one for each phase.
    """

    at: tuple[str, ...]
    group: str
    on: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pressure:
    """The position `origin` is left under pressure unless the sentence `relieved` is true."""

    origin: str
    relieved: Atom


@dataclass(frozen=True, slots=True)
class Device:
    """Anything with positions: a switch, fuse, connector, earth, door, bolt, vent, source, person.

    `edges` holds what conducts in a position, position by position. `load_break` false: must not make or break load.
    `name` is what a crew calls it. `indicator` is `shaft` where the position shown is that of the contacts, so that a
    welded blade blocks the handle.
    """

    id: str
    kind: str
    positions: tuple[str, ...]
    start: str
    edges: tuple[tuple[str, tuple[Edge, ...]], ...]
    source: Source | None
    moves: tuple[Move, ...]
    load_break: bool
    pressure: Pressure | None
    indicator: str | None
    name: str

    @property
    def electric(self) -> bool:
        """Whether a move of it changes what is connected to what."""
        return any(edges for _, edges in self.edges) or self.source is not None

    @property
    def joining(self) -> tuple[str, ...]:
        """The positions in which it joins two points or feeds one; a path to earth is none."""
        conducting = {where for where, edges in self.edges if any(EARTH not in edge for edge in edges)}
        feeding = self.source.on if self.source is not None else ()
        return tuple(where for where in self.positions if where in conducting or where in feeding)

    @property
    def apart(self) -> tuple[str, ...]:
        """The positions in which it does not."""
        return tuple(where for where in self.positions if where not in self.joining)

    def edges_at(self, position: str) -> tuple[Edge, ...]:
        """What conducts in a position."""
        return dict(self.edges).get(position, ())


@dataclass(frozen=True, slots=True)
class Link:
    """What always conducts. `magnetic`: a transformer, whose windings pass power both ways and no trapped charge."""

    between: Edge
    magnetic: bool


@dataclass(frozen=True, slots=True)
class Lock:
    """A trapped-key lock: without a key of `code` the device stands still; the key leaves only in `free_at`."""

    id: str
    device: str
    code: str
    free_at: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Slot:
    """A place for one key of a code in an exchange box."""

    id: str
    code: str


@dataclass(frozen=True, slots=True)
class Exchange:
    """A key exchange box: inputs leave only while all outputs are home, outputs only while all inputs are in."""

    id: str
    inputs: tuple[Slot, ...]
    outputs: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class Key:
    """A key of a code; `start` is a lock, a slot or `hand`."""

    id: str
    code: str
    start: str


@dataclass(frozen=True, slots=True)
class ProvingPoint:
    """Where absence of voltage is proved; sets the mark `proved dead` of its point."""

    id: str
    at: str
    guards: tuple[Guard, ...]


@dataclass(frozen=True, slots=True)
class Store:
    """A capacitor or cable charge: charged while its point is live; `drains` lets a wait discharge it once dead."""

    id: str
    at: str
    drains: bool
    start: bool


@dataclass(frozen=True, slots=True)
class Opening:
    """A device that lets a hand reach the points `reaches` while it stands in `positions` and `unless` is false."""

    device: str
    positions: tuple[str, ...]
    reaches: tuple[str, ...]
    unless: Atom | None


@dataclass(frozen=True, slots=True)
class Sentence:
    """A named sentence: a state nobody may get into, or one a procedure must not pass through."""

    id: str
    condition: Atom


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold point: the sentence must have been true before the next hold counts and before `before` may be true.

    `kept`: once passed, the sentence stays true to the end of the procedure.
    """

    id: str
    condition: Atom
    before: Atom | None
    kept: bool


@dataclass(frozen=True, slots=True)
class Goal:
    """What a task wants reached, the hold points on the way in their order, and those on the way back to service.

    `unlocked` isolates the place and takes no own padlock, nor does anything on the way to its sources. `place` are the
    points at which hands work, as far as that is known.
    """

    id: str
    condition: Atom
    holds: tuple[Hold, ...]
    never: tuple[Sentence, ...]
    back: tuple[Hold, ...]
    unlocked: tuple[str, ...] = ()
    place: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ExtraSource:
    """A source that may turn up: a portable generator, a second feed. It is a failure, not part of the station."""

    id: str
    at: tuple[str, ...]
    group: str


@dataclass(frozen=True, slots=True)
class BackfeedWatch:
    """Points that must never be live from a source of the listed groups, nor from one of the listed `sources` alone.

    A listed source may run in step with others of its group: it feeds back once none of those is joined to the point.
    """

    points: tuple[str, ...]
    groups: tuple[str, ...]
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Machine:
    """One station as a finite machine: what conducts, what moves, what holds it, what a hand can reach."""

    id: str
    title: str
    points: tuple[str, ...]
    links: tuple[Link, ...]
    devices: tuple[Device, ...]
    locks: tuple[Lock, ...]
    exchanges: tuple[Exchange, ...]
    keys: tuple[Key, ...]
    tests: tuple[ProvingPoint, ...]
    stores: tuple[Store, ...]
    openings: tuple[Opening, ...]
    loads: tuple[str, ...]
    no_backfeed: BackfeedWatch
    state_hazards: tuple[Sentence, ...]
    extra_sources: tuple[ExtraSource, ...]
    goals: tuple[Goal, ...]
    safe: Atom | None
    """Where a crew that breaks off a task goes; with nothing given, to any state with every opening shut."""

    def device(self, name: str) -> Device:
        """The device of a name; KeyError if there is none."""
        for device in self.devices:
            if device.id == name:
                return device
        raise KeyError(name)

    def slots(self) -> dict[str, str]:
        """Every place a key can sit in, with its code: locks first, then exchanges, in the order of the file."""
        places = {lock.id: lock.code for lock in self.locks}
        for exchange in self.exchanges:
            places |= {slot.id: slot.code for slot in exchange.inputs + exchange.outputs}
        return places
