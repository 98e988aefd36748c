"""Operation: the machine of one packaged substation. A station in, its machine with what was supplied for it out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deadfront.operation.atoms import AllOf, Atom, DeviceIn, Tested
from deadfront.operation.checking import check
from deadfront.operation.errors import BrokenMachine, Located
from deadfront.operation.examining import initial_dangers
from deadfront.operation.machine import (
    EARTH,
    BackfeedWatch,
    Device,
    ExtraSource,
    Guard,
    Link,
    Machine,
    Move,
    Opening,
    Pressure,
    Source,
)
from deadfront.operation.schemes import (
    FUSE_DOOR,
    GENERATOR_BREAKER,
    MAIN,
    NEIGHBOUR_MAIN,
    SWITCH,
    TIE,
    Clash,
    Entries,
    entries,
)
from deadfront.operation.station_additions import (
    TERMINALS,
    bolts,
    cable_end,
    connector_doors,
    connectors,
    far_sources,
    feeders,
    rooms,
)
from deadfront.operation.station_interlocks import check_interlocks
from deadfront.operation.station_locks import exchanges, keys, keys_that_must_be_in, locks, stores, tests
from deadfront.operation.station_parts import Parts
from deadfront.operation.station_rules import Scene, own_padlocks, rules
from deadfront.operation.tasks import tasks
from deadfront.project.model import Operation
from deadfront.station.station import (
    FUSE_LINE_SIDE,
    LV_BUS,
    PRIMARY,
    SECONDARY,
    SUPPLY_A,
    SUPPLY_B,
    SWITCH_BUS,
    Station,
)

BAYONET = "bayonet fuse"
LIMITER = "limiter fuse"
VENT = "tank vent"
WAY_A, WAY_B = "way A", "way B"
CABLE_A, CABLE_B = "cable A", "cable B"
UTILITY, OTHER_FEED = "utility", "other feed"
NEIGHBOUR_TERMINALS = "neighbour's transformer terminals"
_INSIDE = (SWITCH_BUS, CABLE_A, CABLE_B, *TERMINALS.values(), FUSE_LINE_SIDE, PRIMARY, SECONDARY, LV_BUS)
"""Points of the unit's own compartments."""
NEIGHBOUR, GENERATOR = "neighbouring board", "generator terminals"

_PADLOCKED = ("switch", "breaker", "source")
"""Kinds of devices that an own padlock holds open or off."""


@dataclass(frozen=True, slots=True)
class StationMachine:
    """The machine of a station.

    supplied   what the tool supplied for it, text by path of the file
    guarded    path of the entry that each guard comes from, by its name
    locked     path of the entry that each lock comes from, by its name
    """

    machine: Machine
    supplied: dict[str, str]
    guarded: Mapping[str, str]
    locked: Mapping[str, str]


class NothingToExamine(ValueError):  # noqa: N818  (says what the file lacks)
    """The file says neither which doors the unit has nor which scheme holds them; `path` is where it would say so."""

    path = "operation.doors"
    example = "operation: {schemes: [one key], doors: {fuse door: {reaches: [fuse line side]}}}"

    def __init__(self) -> None:
        super().__init__(
            f"{self.path}: expected the doors of the unit, or a scheme that holds them, got nothing; "
            f"for example `{self.example}`"
        )


def station_machine(station: Station) -> StationMachine:
    """Return the machine of a unit, from the same points and devices that carry its currents.

    Raises `BrokenMachine` with paths of the project file for locks, keys, doors and interlocks that contradict each
    other or the station, `NothingToExamine` where the file has neither doors nor schemes, and `MachineTooLarge`.
    """
    operation = station.unit.operation
    if operation is None:
        raise NothingToExamine
    return _Builder(station, operation).built()


class _Builder(Parts):
    def __init__(self, station: Station, operation: Operation) -> None:
        super().__init__(station, operation)
        positions = tuple(operation.switch_positions or ())
        if not positions:
            positions = ("closed", "open")
            self.supplied["operation.switch_positions"] = (
                "the switch has the positions closed and open, and earths nothing"
            )
        if operation.switch_indicator is None:
            self.supplied["operation.switch_indicator"] = (
                "the switch shows where its handle is, not where its blades are"
            )
        if operation.charges is None:
            self.supplied["operation.charges"] = "nothing at the unit stays charged once it is dead"
        self.positions = tuple(dict.fromkeys(("closed", "open", *positions)))
        self.entries: Entries = entries(operation, self.positions, self.lv_devices())
        self.elsewhere.update(self.entries.elsewhere)

    def lv_devices(self) -> tuple[str, ...]:
        names = {"main": MAIN, "tie": TIE, "generator": GENERATOR_BREAKER}
        return tuple(name for key, name in names.items() if self.station.has(key))

    def built(self) -> StationMachine:
        self.schemes()
        self.medium_voltage()
        self.low_voltage()
        feeders(self)
        far_sources(self)
        self.never_in_parallel()
        self.interlocks()
        self.doors_and_fuse()
        connector_doors(self, self.entries)
        bolts(self, self.entries)
        rooms(self, self.entries)
        self.covers()
        self.earths_and_padlocks()
        scene = Scene(self.devices, self.entries.doors, tuple(self.links), self.operation, self.station.unit)
        for device, target, guard in rules(scene):
            self.guard(device, target, guard)
        machine = self.machine()
        if not (self.operation.doors or self.operation.schemes):
            raise NothingToExamine
        findings = check(machine) or initial_dangers(machine)
        if findings:
            raise BrokenMachine([Located("operation", one.expected, one.found, one.remedy) for one in findings])
        locked = {lock.id: f"operation.{self.findings.written_at(f'locks.{lock.id}')}" for lock in machine.locks}
        guarded = {name: self.held_from(path) for name, path in self.held_at.items()}
        return StationMachine(machine, {**self.supplied, **self.entries.supplied}, guarded, locked)

    def held_from(self, path: str) -> str:
        """The path of an entry, or of the scheme that writes it."""
        room, _, below = path.partition(".")
        return f"{room}.{self.findings.written_at(below)}" if room == "operation" else path

    def schemes(self) -> None:
        """A scheme twice, and two schemes that write one entry differently."""
        named = self.operation.schemes or []
        for n, scheme in enumerate(named):
            if scheme in named[:n]:
                self.findings.wrong(f"schemes[{n}]", "each scheme once", f"a second `{scheme}`", "leave it out")
        between: dict[tuple[str, str], list[Clash]] = {}
        for clash in self.entries.clashes.values():
            between.setdefault((clash.first.path, clash.second.path), []).append(clash)
        for (other, path), clashes in between.items():
            both = " and ".join(f"`{clash.second.entry}`" for clash in clashes)
            found = f"`{clashes[0].second.scheme}`, which writes otherwise than `{clashes[0].first.scheme}`"
            remedy = "leave one of the two out, or write those entries yourself: they would take the place of both"
            self.findings.wrong(path, f"one scheme that writes {both}", found, remedy, other=other)
            self.findings.clashing |= {path, other}

    # --- what conducts ---

    def medium_voltage(self) -> None:
        unit = self.station.unit
        self.supply("utility supply", SUPPLY_A, UTILITY)
        loop = unit.other_feed is not None
        if loop:
            permitted = unit.other_feed is not None and unit.other_feed.parallel == "permitted"
            self.points += [SUPPLY_B, CABLE_A, CABLE_B]
            connectors(self)
            self.supply("other feed", SUPPLY_B, UTILITY if permitted else OTHER_FEED)
            for letter, way, cable, far in (("A", WAY_A, CABLE_A, SUPPLY_A), ("B", WAY_B, CABLE_B, SUPPLY_B)):
                remote = f"remote switch {letter}"
                moves = [("closed", "open"), ("open", "closed")]
                ends = (far, cable)
                self.add(
                    remote, "switch", {"closed": [ends]}, positions=("closed", "open"), start="closed", moves=moves
                )
                start = "closed" if letter == "A" or permitted else "open"
                near = cable_end(self, cable)
                self.three_position(way, (near, SWITCH_BUS), near, ("closed", "open", "earthed"), start)
            self.supplied["switch.ways"] = "both ways of the loop earth their cables, and the far ends can be switched"
        elif self.operation.connectors:
            self.points.append(CABLE_A)
            moves = [("closed", "open"), ("open", "closed")]
            edges = {"closed": [(SUPPLY_A, CABLE_A)]}
            self.add("remote switch A", "switch", edges, positions=("closed", "open"), start="closed", moves=moves)
            self.supplied["operation.connectors"] = "the far end of the cable can be switched"
            connectors(self)
            self.links.append(Link((cable_end(self, CABLE_A), SWITCH_BUS), magnetic=False))
        else:
            self.links.append(Link((SUPPLY_A, SWITCH_BUS), magnetic=False))
        self.three_position(SWITCH, (SWITCH_BUS, FUSE_LINE_SIDE), FUSE_LINE_SIDE, self.positions, "closed")
        if not self.drawn_fuse():
            self.links.append(Link((FUSE_LINE_SIDE, PRIMARY), magnetic=False))

    def drawn_fuse(self) -> str | None:
        """The fuse that hands can draw: a bayonet, or where there is none a limiter behind a fuse door."""
        fuses = self.station.unit.fuses
        if fuses is None or (fuses.bayonet is None and (fuses.limiter is None or FUSE_DOOR not in self.entries.doors)):
            return None
        return LIMITER if fuses.bayonet is None else BAYONET

    def low_voltage(self) -> None:
        unit = self.station.unit
        self.breaker(MAIN, (SECONDARY, LV_BUS), "closed")
        if unit.board is not None and unit.board.tie is not None:
            self.points.append(NEIGHBOUR)
            group = UTILITY if unit.board.tie.parallel == "permitted" else "neighbour"
            if "main-tie-main" in (self.operation.schemes or []):
                self.points.append(NEIGHBOUR_TERMINALS)
                self.supply("neighbour's supply", NEIGHBOUR_TERMINALS, group)
                self.breaker(NEIGHBOUR_MAIN, (NEIGHBOUR_TERMINALS, NEIGHBOUR), "closed")
            else:
                self.supply("neighbour's supply", NEIGHBOUR, group)
            self.breaker(TIE, (NEIGHBOUR, LV_BUS), "open")
        if unit.standby_generator is not None:
            self.points.append(GENERATOR)
            group = UTILITY if unit.standby_generator.parallel == "permitted" else "generator"
            moves = [("off", "on"), ("on", "off")]
            source = Source((GENERATOR,), group, ("on",))
            self.add("generator", "source", {}, positions=("off", "on"), start="off", moves=moves, source=source)
            self.breaker(GENERATOR_BREAKER, (GENERATOR, LV_BUS), "open")

    # --- what holds it ---

    def never_in_parallel(self) -> None:
        """`parallel: never` is an interlock in both directions, unless source keys do the same."""
        schemes = self.operation.schemes or []
        if "source keys" in schemes:
            return
        board, generator = self.station.unit.board, self.station.unit.standby_generator
        pairs = []
        if (
            board is not None
            and board.tie is not None
            and board.tie.parallel == "never"
            and "main-tie-main" not in schemes
        ):
            pairs.append((TIE, "board.tie.parallel"))
        if generator is not None and generator.parallel == "never":
            pairs.append((GENERATOR_BREAKER, "standby_generator.parallel"))
        for name, path in pairs:
            for held, other in ((name, MAIN), (MAIN, name)):
                open_ = DeviceIn(other, ("open",))
                self.guard(held, "closed", Guard(f"{held} needs {other} open", "mechanical", open_), path)
                self.guard(held, "closed", Guard(f"people open {other} before {held}", "rule", open_))
            self.supplied[path] = f"{name} and {MAIN} are interlocked so that never both are closed"

    def interlocks(self) -> None:
        for name, entry in self.entries.interlocks.items():
            if entry.device and entry.to and entry.needs and entry.stands and entry.kept_by:
                atom: Atom = DeviceIn(entry.needs, tuple(entry.stands))
                guard = Guard(name, entry.kept_by, atom)
                self.guard(entry.device, entry.to, guard, f"operation.interlocks.{name}")

    def doors_and_fuse(self) -> None:
        for name in self.entries.doors:
            moves = [("closed", "open"), ("open", "closed")]
            self.add(name, "door", {}, positions=("closed", "open"), start="closed", moves=moves, at=f"doors.{name}")
        for name, door in self.entries.doors.items():
            if door.reaches is None:
                expected = "the points that a hand can touch behind it"
                remedy = "for example `reaches: [fuse line side]`, or `reaches: []` where all is dead-front"
                self.findings.wrong(f"doors.{name}.reaches", expected, "nothing", remedy)
        for n, name in enumerate(self.operation.contacts_seen or ()):
            switches = [one.id for one in self.devices.values() if one.kind in ("switch", "breaker")]
            self.findings.known(f"contacts_seen[{n}]", "switch or breaker", name, switches, "switches and breakers")
        for name, where in (self.operation.gauges or {}).items():
            places = ["outside", *self.entries.doors]
            self.findings.known(f"gauges.{name}", "door", where, places, "places where gauges are read")
        drawn = self.drawn_fuse()
        if drawn is not None:
            self.fuse(drawn)

    def covers(self) -> None:
        """What no door and no room of the file reaches counts as behind covers, which somebody has to confirm."""
        ways = [door.reaches for door in self.entries.doors.values()]
        ways += [room.reaches for room in (self.operation.rooms or {}).values()]
        reached = {point for reaches in ways for point in reaches or ()}
        inside = [point for point in self.points if point in _INSIDE and point not in reached]
        if inside:
            self.supplied["operation.doors"] = (
                f"covers that hands do not open lie over all that no door of the file reaches: {', '.join(inside)}"
            )

    def fuse(self, name: str) -> None:
        """The fuse that is drawn, and with a bayonet the vent of its tank."""
        vented = DeviceIn(VENT, ("vented",))
        self.add(
            name,
            "fuse",
            {"in": [(FUSE_LINE_SIDE, PRIMARY)]},
            positions=("in", "out"),
            start="in",
            moves=[("in", "out"), ("out", "in")],
            load_break=False,
            pressure=Pressure("in", vented) if name == BAYONET else None,
        )
        shut = DeviceIn(FUSE_DOOR, ("closed",)) if FUSE_DOOR in self.entries.doors else None
        self.openings.append(Opening(name, ("out",), (FUSE_LINE_SIDE, PRIMARY), shut))
        handled = [(name, "out"), (name, "in")]
        if name == BAYONET:
            turns = [("sealed", "vented"), ("vented", "sealed")]
            self.add(VENT, "vent", {}, positions=("sealed", "vented"), start="sealed", moves=turns)
            handled += [(VENT, "vented"), (VENT, "sealed")]
            self.guard(BAYONET, "out", Guard("people vent before the fuse", "rule", vented))
            if self.operation.vent_first == "mechanical":
                self.guard(BAYONET, "out", Guard("vent before the fuse", "mechanical", vented), "operation.vent_first")
        if FUSE_DOOR in self.entries.doors:
            reach = Guard("reach through the fuse door", "access", DeviceIn(FUSE_DOOR, ("open",)))
            for device, target in handled:
                self.guard(device, target, reach, f"operation.doors.{FUSE_DOOR}")

    def earths_and_padlocks(self) -> None:
        for name, earth in (self.operation.earths or {}).items():
            if not self.findings.known(f"earths.{name}.at", "point", earth.at, self.points) or earth.at is None:
                continue
            moves = [("off", "on"), ("on", "off")]
            at, edges = f"earths.{name}", {"on": [(earth.at, EARTH)]}
            self.add(name, "earth", edges, positions=("off", "on"), start="off", moves=moves, at=at)
            if any(test.at == earth.at for test in (self.operation.tests or {}).values()):
                self.guard(name, "on", Guard(f"test before {name}", "rule", Tested(earth.at)))
            for target in ("on", "off"):
                self.behind(name, target, earth.behind, f"earths.{name}.behind")
                parked, fitting = earth.parked, f"{at}.parked"
                if parked and self.findings.known(fitting, "connector", parked, self.operation.connectors or ()):
                    fits = Guard(f"{parked} parked", "access", DeviceIn(parked, ("parked",)))
                    self.guard(name, target, fits, f"operation.{fitting}")
            counted = Guard(f"{name} counted off", "rule", DeviceIn(name, ("off",)))
            # What starts by itself at a far end or in a generator asks nobody: its breaker does.
            for one in self.devices.values():
                if one.kind in ("switch", "breaker"):
                    self.guard(one.id, "closed", counted)
        for name, device in (self.operation.padlocks or {}).items():
            able = [one.id for one in self.devices.values() if one.kind in _PADLOCKED and one.moves]
            if not self.findings.known(f"padlocks.{name}", "switch, breaker or source", device, able, "devices"):
                continue
            moves = [("off", "on"), ("on", "off")]
            at = f"padlocks.{name}"
            self.add(name, "bolt", {}, positions=("off", "on"), start="off", moves=moves, at=at)
            held = tuple(p for p in self.devices[device].positions if p not in ("closed", "on"))
            own = Guard(f"{name} needs {device} open", "mechanical", DeviceIn(device, held))
            self.guard(name, "on", own, f"operation.{at}")
            for target in ("closed", "on"):
                if target in self.devices[device].positions:
                    off = Guard(f"{name} off", "mechanical", DeviceIn(name, ("off",)))
                    self.guard(device, target, off, f"operation.{at}")
            for door in self.entries.doors:
                self.guard(
                    name, "off", Guard(f"{name} stays while {door} is open", "rule", DeviceIn(door, ("closed",)))
                )

    def behind(self, device: str, target: str, door: str | None, path: str) -> None:
        if door is None or not self.findings.known(path, "door", door, self.entries.doors):
            return
        reach = Guard(f"reach through {door}", "access", DeviceIn(door, ("open",)))
        self.guard(device, target, reach, f"operation.{path}")

    # --- the whole ---

    def machine(self) -> Machine:
        found = tuple(locks(self.entries, self.devices, self.findings))
        boxes = tuple(exchanges(self.entries, self.findings))
        own_keys = tuple(keys(self.entries, boxes, self.findings))
        keys_that_must_be_in(found, own_keys, self.devices, self.findings)
        proving = tuple(tests(self.operation, self.entries.doors, self.points, self.findings))
        charges = tuple(stores(self.operation, self.points, self.findings))
        check_interlocks(self.entries, self.devices, self.findings)
        for name, door in self.entries.doors.items():
            for n, point in enumerate(door.reaches or ()):
                self.findings.known(f"doors.{name}.reaches[{n}]", "point", point, self.points)
        extra = tuple(self.portable_sources())
        self.check_handling()
        self.findings.refuse()
        devices = tuple(self.guarded(device) for device in self.devices.values())
        openings = tuple(
            Opening(name, ("open",), tuple(door.reaches or ()), None)
            for name, door in self.entries.doors.items()
            if door.reaches
        )
        machine = Machine(
            id=self.station.unit.title,
            title="hand actions",
            points=tuple(self.points),
            links=tuple(self.links),
            devices=devices,
            locks=found,
            exchanges=boxes,
            keys=own_keys,
            tests=proving,
            stores=charges,
            openings=(*openings, *self.openings),
            loads=(LV_BUS, SECONDARY, *self.dead_break_ends()),
            no_backfeed=_backfeed(devices),
            state_hazards=tuple(self.state_hazards),
            extra_sources=extra,
            goals=(),
            safe=self.shut(),
        )
        return tasks(machine, own_padlocks(self.operation), self.operation.contacts_seen or ())

    def shut(self) -> Atom:
        """Where a crew goes that breaks off: every door shut, nobody inside, the fuse in or behind its door."""
        doors = [DeviceIn(name, ("closed",)) for name in self.entries.doors]
        people = [DeviceIn(d.id, ("out",)) for d in self.devices.values() if d.kind == "person"]
        drawn = self.drawn_fuse() if FUSE_DOOR not in self.entries.doors else None
        return AllOf((*doors, *people, *([DeviceIn(drawn, ("in",))] if drawn else [])))

    def dead_break_ends(self) -> tuple[str, ...]:
        """The unit's side of each connector that is moved only dead: it carries charging current without any load."""
        parted = [d for d in self.devices.values() if d.kind == "connector" and not d.load_break]
        return tuple(edge[1] for device in parted for edge in device.edges_at("on"))

    def check_handling(self) -> None:
        """Note every name that nothing has, or that two things have, so that one cannot tell which is handled so."""
        handled = [device.id for device in self.devices.values() if device.moves]
        handled += [*(self.operation.tests or ()), *(self.operation.charges or ())]
        handled += [*self.entries.locks, *self.entries.exchanges]
        for name in self.operation.handling or {}:
            path, what = f"handling.{name}", "device, test, charge, lock or key box"
            if self.findings.known(path, what, name, handled, at_key=True) and handled.count(name) > 1:
                remedy = f"rename one of them, for example `{name} 2`"
                self.findings.wrong(path, "the name of one thing", f"`{name}`, which two have", remedy, at_key=True)

    def portable_sources(self) -> Iterator[ExtraSource]:
        """What may turn up with a generator on a trailer: tried as a failure, never taken as part of the unit."""
        listed = self.operation.portable_sources
        path = "operation.portable_sources"
        if listed is None:
            listed = [SECONDARY]
            self.supplied[path] = f"a portable generator can be connected at the {SECONDARY}, and nowhere else"
        elif not listed:
            self.supplied[path] = "nothing at the unit lets a portable generator be connected"
        for n, point in enumerate(listed):
            if point in listed[:n]:
                here = f"portable_sources[{n}]"
                self.findings.wrong(here, "each point once", f"a second `{point}`", "leave it out")
            elif self.findings.known(f"portable_sources[{n}]", "point", point, self.points):
                yield ExtraSource(f"portable generator at the {point}", (point,), "portable")

    def guarded(self, device: Device) -> Device:
        moves = tuple(
            Move(m.origins, m.target, tuple(self.guards.get((device.id, m.target), ()))) for m in device.moves
        )
        return Device(
            device.id,
            device.kind,
            device.positions,
            device.start,
            device.edges,
            device.source,
            moves,
            device.load_break,
            device.pressure,
            device.indicator,
            f"the {device.name}",
        )


def _backfeed(devices: Sequence[Device]) -> BackfeedWatch:
    """The MV points that no source at low voltage may make live, be it in step with the utility or not.

    One in step with the utility feeds back as soon as the utility itself no longer feeds the same metal.
    """
    upstream = (UTILITY, OTHER_FEED)
    fed = [(device.id, device.source) for device in devices if device.source is not None]
    below = [(name, source.group) for name, source in fed if not set(source.at) & {SUPPLY_A, SUPPLY_B}]
    groups = tuple(dict.fromkeys(group for _, group in below if group not in upstream))
    sources = tuple(name for name, group in below if group in upstream)
    return BackfeedWatch((SWITCH_BUS, FUSE_LINE_SIDE, PRIMARY) if below else (), groups, sources)
