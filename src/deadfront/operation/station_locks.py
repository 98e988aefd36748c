"""Operation: locks, keys, tests and stores of a unit. Entries of the file in, parts of its machine out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from deadfront.operation.atoms import DeviceIn
from deadfront.operation.findings import Findings
from deadfront.operation.machine import HAND, Device, Exchange, Guard, Key, Lock, ProvingPoint, Slot, Store
from deadfront.operation.schemes import Entries
from deadfront.project.model import Operation
from deadfront.project.naming import named


def locks(entries: Entries, devices: Mapping[str, Device], findings: Findings) -> Iterator[Lock]:
    """The trapped-key locks."""
    codes = [key.code for key in entries.keys.values() if key.code]
    movable = [name for name, device in devices.items() if device.moves]
    for name, lock in entries.locks.items():
        path = f"locks.{name}"
        if name == HAND or name in entries.exchanges:
            what = "where keys are that no lock holds" if name == HAND else "an exchange as well"
            remedy = f"for example `{name} lock: {{device: {lock.device or 'switch'}, ...}}`"
            findings.wrong(path, "a name that no other place of keys has", f"`{name}`, {what}", remedy, at_key=True)
            continue
        if not findings.whole(path, device=lock.device, code=lock.code, free_at=lock.free_at):
            continue
        if not lock.device or not lock.code:
            continue
        fine = findings.known(f"{path}.device", "device", lock.device, movable)
        for n, position in enumerate(lock.free_at or () if fine else ()):
            where = f"{path}.free_at[{n}]"
            fine &= findings.position(where, lock.device, position, devices[lock.device].positions)
        if lock.code not in codes:
            _no_key(findings, f"{path}.code", lock.code, codes, f"`{lock.device}` could never move")
        elif fine:
            yield Lock(name, lock.device, lock.code, tuple(lock.free_at or ()))


def _no_key(findings: Findings, path: str, code: str, codes: list[str], so: str) -> None:
    """A code that no key has."""
    remedy = f"for example `keys: {{{code}1: {{code: {code}, start: hand}}}}`"
    if codes:
        remedy += f"; the codes of the keys are {', '.join(dict.fromkeys(codes))}"
    findings.wrong(path, "the code of one of the keys", f"{named(code)}, which no key has: {so}", remedy)


def exchanges(entries: Entries, findings: Findings) -> Iterator[Exchange]:
    """The key exchange boxes."""
    codes = [key.code for key in entries.keys.values() if key.code]
    for name, box in entries.exchanges.items():
        path = f"exchanges.{name}"
        if not findings.whole(path, takes=box.takes, gives=box.gives):
            continue
        seen: set[str] = set()
        for side, listed in (("takes", box.takes or ()), ("gives", box.gives or ())):
            for n, code in enumerate(listed):
                at = f"{path}.{side}[{n}]"
                if code in seen:
                    found = f"a second {named(code)}"
                    findings.wrong(at, "each code once in an exchange", found, "give each key a code of its own")
                elif f"{name} {code}" in entries.locks:
                    found = f"`{name}` with {named(code)}, which together are the name of a lock"
                    findings.wrong(at, "a place of its own for each key", found, "give the exchange another name")
                elif code not in codes:
                    _no_key(findings, at, code, codes, f"`{name}` would never give what it holds back")
                seen.add(code)
        sides = [tuple(Slot(f"{name} {code}", code) for code in codes_ or ()) for codes_ in (box.takes, box.gives)]
        yield Exchange(name, sides[0], sides[1])


def keys(entries: Entries, boxes: tuple[Exchange, ...], findings: Findings) -> Iterator[Key]:
    """The keys, each in its place; locks that were refused are known as places all the same."""
    places: dict[str, str | None] = {name: lock.code for name, lock in entries.locks.items()}
    places |= {slot.id: slot.code for box in boxes for slot in box.inputs + box.outputs}
    taken: dict[str, str] = {}
    for name, key in entries.keys.items():
        path = f"keys.{name}"
        if not findings.whole(path, code=key.code, start=key.start) or not key.code or not key.start:
            continue
        start = f"{key.start} {key.code}" if key.start in entries.exchanges else key.start
        fitting = [place for place, code in places.items() if code == key.code]
        if start == HAND:
            if not fitting:
                _fits_nothing(entries, findings, path, key.code)
                continue
        elif key.start not in (*entries.locks, *entries.exchanges):
            known = [HAND, *entries.locks, *entries.exchanges]
            findings.known(f"{path}.start", "lock or exchange", key.start, known, "places of keys")
            continue
        elif start in places and places[start] is None:
            continue  # a lock without a code was noted
        elif places.get(start) != key.code:
            _does_not_fit(entries, findings, path, key.start, key.code)
            continue
        elif start in taken:
            other = findings.written_at(f"keys.{taken[start]}")
            found_there = f"`{key.start}`, which holds the key `{taken[start]}`"
            findings.wrong(
                f"{path}.start", "a place without a key", found_there, f"for example `start: {HAND}`", other=other
            )
            continue
        if start != HAND:
            taken[start] = name
        yield Key(name, key.code, start)


def _fits_nothing(entries: Entries, findings: Findings, path: str, code: str) -> None:
    codes = [lock.code for lock in entries.locks.values() if lock.code]
    codes += [code for box in entries.exchanges.values() for code in (*(box.takes or ()), *(box.gives or ()))]
    remedy = f"for example `locks: {{main lock: {{device: main, code: {code}, free_at: [open]}}}}`"
    if codes:
        remedy += f"; the codes there are {', '.join(dict.fromkeys(codes))}"
    findings.wrong(f"{path}.code", "the code of a lock or an exchange", f"{named(code)}, which fits nothing", remedy)


def _does_not_fit(entries: Entries, findings: Findings, path: str, place: str, code: str) -> None:
    if place in entries.exchanges:
        box = entries.exchanges[place]
        takes = [*(box.takes or ()), *(box.gives or ())]
        kind = "exchanges"
    else:
        takes = [word for word in [entries.locks[place].code] if word]
        kind = "locks"
    found = f"`{place}`, which takes {' and '.join(f'`{word}`' for word in takes) or 'none'}"
    findings.wrong(
        f"{path}.start",
        f"a place that takes a key of code {named(code)}",
        found,
        f"for example `start: {HAND}`, or another `code`",
        other=findings.written_at(f"{kind}.{place}"),
    )


def keys_that_must_be_in(
    found: tuple[Lock, ...], own: tuple[Key, ...], devices: Mapping[str, Device], findings: Findings
) -> None:
    """Note a lock without its key on a device that stands where the key is trapped: no hand could bring that about."""
    trapping = {lock.id: lock for lock in found if devices[lock.device].start not in lock.free_at}
    held = {key.start for key in own}
    for name, lock in trapping.items():
        same = [key for key in own if key.code == lock.code]
        if name in held or not same:  # without a key of the code, that was noted already
            continue
        stands = f"`{lock.device}` stands `{devices[lock.device].start}` in normal service, where its key is trapped"
        spare = [key for key in same if key.start not in trapping]
        if spare:
            path, found_there = f"keys.{spare[0].id}.start", f"`{spare[0].start}`"
            findings.wrong(path, f"`{name}`: {stands}", found_there, f"write `start: {name}`")
        else:
            where = ", ".join(f"`{key.start}`" for key in same)
            remedy = f"give `{name}` a code of its own, for example `code: {lock.code}2`, and a key that starts in it"
            findings.wrong(f"locks.{name}", f"its key in it: {stands}", f"no key in it, but in {where}", remedy)


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
            findings.wrong(f"charges.{name}.drains", "`yes` or `no`", "nothing", "for example `drains: yes`")
        elif fine and charge.at is not None:
            yield Store(name, charge.at, charge.drains == "yes", start=True)
