"""Operation: the parts of a unit's machine as they are gathered. Names and positions in, devices and guards kept."""

from __future__ import annotations

from deadfront.operation.findings import Findings
from deadfront.operation.machine import EARTH, Device, Edge, Guard, Link, Move, Opening, Pressure, Sentence, Source
from deadfront.operation.schemes import SWITCH
from deadfront.project.model import Operation
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, PRIMARY, SECONDARY, SUPPLY_A, SWITCH_BUS, Station


class Parts:
    """What a machine will be made of; `supplied` says what the tool added, by path of the file."""

    def __init__(self, station: Station, operation: Operation) -> None:
        self.station = station
        self.operation = operation
        self.findings = Findings()
        self.devices: dict[str, Device] = {}
        self.guards: dict[tuple[str, str], list[Guard]] = {}
        self.points = [SUPPLY_A, SWITCH_BUS, FUSE_LINE_SIDE, PRIMARY, SECONDARY, LV_BUS]
        self.links: list[Link] = [Link((PRIMARY, SECONDARY), magnetic=True)]
        self.openings: list[Opening] = []
        self.state_hazards: list[Sentence] = []
        self.supplied: dict[str, str] = {}

    def add(
        self,
        name: str,
        kind: str,
        edges: dict[str, list[Edge]],
        *,
        positions: tuple[str, ...],
        start: str,
        moves: list[tuple[str, str]],
        source: Source | None = None,
        load_break: bool = True,
        indicator: str | None = None,
        pressure: Pressure | None = None,
    ) -> None:
        """A device; `moves` are pairs of positions, guards come later."""
        listed = tuple((where, tuple(pairs)) for where, pairs in edges.items())
        steps = tuple(Move((origin,), target, ()) for origin, target in moves)
        self.devices[name] = Device(
            name, kind, positions, start, listed, source, steps, load_break, pressure, indicator, name
        )

    def breaker(self, name: str, ends: Edge, start: str) -> None:
        """A breaker between two points."""
        moves = [("closed", "open"), ("open", "closed")]
        self.add(name, "breaker", {"closed": [ends]}, positions=("closed", "open"), start=start, moves=moves)

    def three_position(self, name: str, ends: Edge, earth: str, positions: tuple[str, ...], start: str) -> None:
        """A switch that earths; it passes `open` between closed and earthed, so it cannot be reversed in one stroke."""
        edges = {"closed": [ends]} | ({"earthed": [(earth, EARTH)]} if "earthed" in positions else {})
        moves = [("closed", "open"), ("open", "closed")]
        if "earthed" in positions:
            moves += [("open", "earthed"), ("earthed", "open")]
        indicator = self.operation.switch_indicator if name == SWITCH else None
        self.add(name, "switch", edges, positions=positions, start=start, moves=moves, indicator=indicator)

    def supply(self, name: str, at: str, group: str) -> None:
        """A utility source is never taken as switched off: a unit that is safe only then is not safe."""
        self.add(name, "source", {}, positions=("on",), start="on", moves=[], source=Source((at,), group, ("on",)))

    def guard(self, device: str, target: str, guard: Guard) -> None:
        """Hold a device back from a position."""
        held = self.guards.setdefault((device, target), [])
        if guard not in held:
            held.append(guard)
