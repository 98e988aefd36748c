"""Operation: locks, keys, tests and stores of a unit. Entries of the file in, parts of its machine out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from deadfront.operation.atoms import DeviceIn
from deadfront.operation.findings import Findings
from deadfront.operation.machine import HAND, Device, Exchange, Guard, Key, Lock, ProvingPoint, Slot, Store
from deadfront.operation.schemes import Entries
from deadfront.project.model import Operation


def interlock_names(entries: Entries, devices: Mapping[str, Device], findings: Findings) -> None:
    """Note every device and position that an interlock names and the unit has not."""
    for name, entry in entries.interlocks.items():
        path = f"interlocks.{name}"
        for part, device, positions in (
            ("device", entry.device, [entry.to] if entry.to else []),
            ("needs", entry.needs, entry.stands or []),
        ):
            if device is not None and findings.known(f"{path}.{part}", "device", device, devices):
                where = f"{path}.{'to' if part == 'device' else 'stands'}"
                for position in positions:
                    findings.known(where, f"position of {device}", position, devices[device].positions)


def locks(entries: Entries, devices: Mapping[str, Device], findings: Findings) -> Iterator[Lock]:
    """The trapped-key locks."""
    for name, lock in entries.locks.items():
        path = f"locks.{name}"
        if not findings.whole(path, device=lock.device, code=lock.code, free_at=lock.free_at):
            continue
        if lock.device and lock.code and findings.known(f"{path}.device", "device", lock.device, devices):
            for position in lock.free_at or ():
                findings.known(
                    f"{path}.free_at", f"position of {lock.device}", position, devices[lock.device].positions
                )
            if lock.code not in {key.code for key in entries.keys.values()}:
                findings.wrong(f"{path}.code", f"no key has the code {lock.code!r}: {lock.device} can never move")
            yield Lock(name, lock.device, lock.code, tuple(lock.free_at or ()))


def exchanges(entries: Entries, findings: Findings) -> Iterator[Exchange]:
    """The key exchange boxes."""
    for name, box in entries.exchanges.items():
        if findings.whole(f"exchanges.{name}", takes=box.takes, gives=box.gives):
            sides = [tuple(Slot(f"{name} {code}", code) for code in codes or ()) for codes in (box.takes, box.gives)]
            yield Exchange(name, sides[0], sides[1])


def keys(entries: Entries, found: tuple[Lock, ...], boxes: tuple[Exchange, ...], findings: Findings) -> Iterator[Key]:
    """The keys, each in its place."""
    places = {lock.id: lock.code for lock in found} | {s.id: s.code for x in boxes for s in x.inputs + x.outputs}
    taken: set[str] = set()
    for name, key in entries.keys.items():
        path = f"keys.{name}"
        if not findings.whole(path, code=key.code, start=key.start) or not key.code or not key.start:
            continue
        start = f"{key.start} {key.code}" if key.start in {box.id for box in boxes} else key.start
        if start != HAND and start not in places:
            known = [HAND, *(lock.id for lock in found), *(box.id for box in boxes)]
            findings.known(f"{path}.start", "lock or exchange", key.start, known)
        elif start != HAND and places[start] != key.code:
            findings.wrong(
                f"{path}.start", f"a key of code {key.code!r} does not fit {start}, which takes {places[start]!r}"
            )
        elif key.code not in places.values():
            findings.wrong(f"{path}.code", f"a key of code {key.code!r} fits nothing")
        elif start in taken:
            findings.wrong(f"{path}.start", f"{start} holds two keys")
        else:
            taken |= {start} - {HAND}
            yield Key(name, key.code, start)


def tests(
    operation: Operation, doors: Collection[str], points: Collection[str], findings: Findings
) -> Iterator[ProvingPoint]:
    """The places where absence of voltage is proved."""
    for name, test in (operation.tests or {}).items():
        fine = findings.known(f"tests.{name}.at", "point", test.at, points)
        guards: tuple[Guard, ...] = ()
        if test.behind is not None:
            fine &= findings.known(f"tests.{name}.behind", "door", test.behind, doors)
            guards = (Guard(f"reach through {test.behind}", "access", DeviceIn(test.behind, ("open",))),)
        if fine and test.at is not None:
            yield ProvingPoint(name, test.at, guards)


def stores(operation: Operation, points: Collection[str], findings: Findings) -> Iterator[Store]:
    """What stays charged."""
    for name, charge in (operation.charges or {}).items():
        fine = findings.known(f"charges.{name}.at", "point", charge.at, points)
        if charge.drains is None:
            findings.wrong(f"charges.{name}.drains", "expected yes or no, got nothing")
        elif fine and charge.at is not None:
            yield Store(name, charge.at, charge.drains == "yes", start=True)
