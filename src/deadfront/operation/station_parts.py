"""Operation: the parts of a unit's machine as they are gathered. Names and positions in, devices and guards kept."""

from __future__ import annotations

from deadfront.operation.findings import Findings
from deadfront.operation.machine import EARTH, Device, Edge, Guard, Link, Move, Opening, Pressure, Sentence, Source
from deadfront.operation.schemes import SWITCH, Elsewhere
from deadfront.project.model import Operation
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, PRIMARY, SECONDARY, SUPPLY_A, SWITCH_BUS, Station


class Parts:
    """What a machine will be made of.

    supplied    what the tool added, by path of the file
    elsewhere   where an entry stands that the file does not write under its own name
    held_at     which entry of the file holds a device back, by name of the guard
    """

    def __init__(self, station: Station, operation: Operation) -> None:
        self.station = station
        self.operation = operation
        self.elsewhere: dict[str, Elsewhere] = {}
        self.findings = Findings(self.elsewhere)
        self.devices: dict[str, Device] = {}
        self.named_at: dict[str, str] = {}
        self.guards: dict[tuple[str, str], list[Guard]] = {}
        self.held_at: dict[str, str] = {}
        self.meanings: dict[str, Guard] = {}
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
        at: str = "",
    ) -> None:
        """A device; `moves` are pairs of positions, guards come later; `at` is the entry that gave it its name."""
        if name in self.devices:
            self._second(name, at)
            return
        if at:
            self.named_at[name] = at
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

    def guard(self, device: str, target: str, guard: Guard, at: str = "") -> None:
        """Hold a device back from a position; `at` is the entry that does, from the top of the file."""
        first = self.meanings.setdefault(guard.id, guard)
        if (first.by, first.condition) != (guard.by, guard.condition):
            self._second_guard(guard.id, at)
            return
        if at:
            self.held_at.setdefault(guard.id, at)
        held = self.guards.setdefault((device, target), [])
        if guard not in held:
            held.append(guard)

    def _second(self, name: str, at: str) -> None:
        """Two devices of one name; the entry that gave it is wrong, not the unit."""
        path, other = at or self.named_at[name], self.named_at.get(name, "") if at else ""
        there = "which another entry has" if other else "which the unit has"
        remedy = f"for example `{name} 2`"
        self.findings.wrong(
            path, "a name that no other device has", f"`{name}`, {there}", remedy, at_key=True, other=other
        )

    def _second_guard(self, name: str, at: str) -> None:
        """Two guards of one name: a failure of it would be two. The interlock of the file is wrong, not the tool's."""
        ends = [path for path in (at, self.held_at.get(name, "")) if path]
        ends.sort(key=lambda path: not path.startswith("operation.interlocks."))
        path = ends[0].removeprefix("operation.") if ends else "interlocks"
        found = f"`{name}`, which is the name of another one"
        self.findings.wrong(path, "a name that no other interlock has", found, f"for example `{name} 2`", at_key=True)
