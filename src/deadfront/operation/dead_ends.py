"""Operation: positions of a unit that can be reached and never left. Its machine in, what holds each of them out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from deadfront.operation.atoms import DeviceIn, simple_parts
from deadfront.operation.errors import Located
from deadfront.operation.examining import dead_ends
from deadfront.operation.station_machine import StationMachine
from deadfront.project.errors import either

Position = tuple[str, str]
"""A device, and where it stands."""


@dataclass(frozen=True, slots=True)
class _Holder:
    """An entry of the file that holds a device: where it stands, what it waits for, and the positions it looks at."""

    path: str
    words: str
    looks_at: tuple[DeviceIn, ...]

    def waits_for(self, stuck: Iterable[Position]) -> Iterator[Position]:
        """Those of the positions in which a device is for ever that this entry does not let pass."""
        for device, position in stuck:
            if any(one.device == device and position not in one.positions for one in self.looks_at):
                yield device, position


def dead_end_findings(built: StationMachine) -> list[Located]:
    """Every position that hands reach and that the interlocks and locks of the file never let go of, at each of them.

    A device that is only held because another one is, and stands in no circle with it, is left out: it follows.

    raises  MachineTooLarge
    """
    stuck = dead_ends(built.machine)
    held = {one: list(_holders(built, *one)) for one in stuck}
    waiting = {one: {other for holder in held[one] for other in holder.waits_for(stuck)} for one in stuck}
    findings = {}
    for one in stuck:
        ahead = _ahead(waiting, one)
        if ahead and one not in ahead:
            continue
        holders = [holder for holder in held[one] if any(holder.waits_for(stuck))] or held[one]
        for holder in holders:
            findings[holder.path, one] = _finding(holder, *one)
    return list(findings.values())


def _finding(holder: _Holder, device: str, position: str) -> Located:
    expected = f"a state in which `{device}` can leave `{position}`"
    remedy = "one of those that wait for each other must be able to go first"
    return Located(holder.path, expected, f"none: {holder.words}", remedy, at_key=True)


def _ahead(waiting: Mapping[Position, set[Position]], one: Position) -> set[Position]:
    """All that a position waits for, through others."""
    found: set[Position] = set()
    left = list(waiting[one])
    while left:
        other = left.pop()
        if other not in found:
            found.add(other)
            left += waiting[other]
    return found


def _holders(built: StationMachine, device: str, position: str) -> Iterator[_Holder]:
    """Entries that hold a device in a position."""
    for lock in built.machine.locks:
        if lock.device == device:
            yield _Holder(built.locked[lock.id], f"`{lock.id}` waits for a key of code `{lock.code}`", ())
    for move in built.machine.device(device).moves:
        for guard in move.guards:
            if position in move.origins and guard.by != "rule":
                parts = tuple(one for one in simple_parts(guard.condition) if isinstance(one, DeviceIn))
                where = " and ".join(f"`{one.device}` in {either(one.positions)}" for one in parts)
                words = f"`{guard.id}` waits for {where or 'what never comes'}"
                yield _Holder(built.guarded.get(guard.id, "operation"), words, parts)
