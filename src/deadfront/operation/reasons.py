"""Operation: why a step is done. A machine, a move and how all stands around it come in; reasons in words go out."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from deadfront.operation.atoms import AllOf, AnyOf, Atom, BladeIn, DeviceIn, Not, simple_parts
from deadfront.operation.machine import EARTH, HAND, By, Device, Exchange, Machine
from deadfront.operation.telling import Situation

_LOCKS: tuple[By, ...] = ("mechanical", "key", "tool")
"""What holds a device whether people obey or not; a shut door that merely hides it is none of these."""


def changes(before: Situation, after: Situation) -> tuple[str, ...]:
    """What a step makes dead, earthed, live, proved or discharged, in words."""
    listed = [
        ("makes dead", [p for p in before.live if p not in after.live and p not in after.earthed]),
        ("earths", [p for p in after.earthed if p not in before.earthed]),
        ("takes the earth off", [p for p in before.earthed if p not in after.earthed]),
        ("makes live", [p for p in after.live if p not in before.live]),
        ("proves dead", [p for p in after.proved if p not in before.proved]),
        ("discharges", [s for s in before.charged if s not in after.charged]),
    ]
    return tuple(f"{words} {', '.join(names)}" for words, names in listed if names)


def purposes(machine: Machine, text: str, before: Situation, after: Situation, rest: Sequence[str]) -> tuple[str, ...]:
    """What a step holds, frees, parts or joins, the weightiest first; `rest` are the moves that come after it.

    Empty for a step that only changes what `changes` names, or that is an end in itself.
    """
    if text.startswith(("test ", "wait ")):
        return ()
    name = text.rsplit(": ", 1)[0]
    device = next((device for device in machine.devices if device.id == name), None)
    if device is None:
        return tuple(_of_a_key(machine, text, before, after))
    return tuple(dict.fromkeys(_of_a_device(machine, device, before, after, rest)))


def _of_a_device(
    machine: Machine, device: Device, before: Situation, after: Situation, rest: Sequence[str]
) -> Iterator[str]:
    yield from _reach(machine, device, before, after)
    yield from _pressure(machine, before, after)
    yield from _barred(machine, device, before, after)
    if not changes(before, after):
        yield from _parted(device, before, after)
    yield from _freed(machine, device, before, after, rest)


def _reach(machine: Machine, device: Device, before: Situation, after: Situation) -> Iterator[str]:
    """The points that come within reach of a hand, or out of it."""
    reached = [p for o in machine.openings if o.device == device.id for p in o.reaches]
    if reached and (device.id in before.open) != (device.id in after.open):
        yield f"{'gives access to' if device.id in after.open else 'shuts off'} {', '.join(dict.fromkeys(reached))}"


def _pressure(machine: Machine, before: Situation, after: Situation) -> Iterator[str]:
    for other in machine.devices:
        if other.pressure is None:
            continue
        was, now = (_truth(other.pressure.relieved, told.positions) for told in (before, after))
        if (was, now) == (False, True):
            yield f"lets the pressure go before {other.name} is drawn"
        elif (was, now) == (True, False):
            yield "closes the tank"


def _barred(machine: Machine, device: Device, before: Situation, after: Situation) -> Iterator[str]:
    """What hardware keeps from moving from here on; that a padlock does not fit on a closed switch is no aim."""
    for other, target, by in _turned(machine, device, before, after, wanted=False):
        if by in _LOCKS and other.kind != "bolt" and after.positions[other.id] != target:
            yield f"keeps {other.name} from being {done(other, target)}"


def _parted(device: Device, before: Situation, after: Situation) -> Iterator[str]:
    """The points between which a contact opens or closes where nothing changes by that."""
    was, now = (
        [edge for edge in device.edges_at(told.positions[device.id]) if EARTH not in edge] for told in (before, after)
    )
    for one, other in [edge for edge in was if edge not in now]:
        yield f"parts {one} from {other}"
    for one, other in [edge for edge in now if edge not in was]:
        yield f"joins {one} and {other}"


def _freed(machine: Machine, device: Device, before: Situation, after: Situation, rest: Sequence[str]) -> Iterator[str]:
    """What a later step moves, and could not have moved, or must not, without this one; failing that, what may move."""
    turned = list(_turned(machine, device, before, after, wanted=True))
    later = [
        (other, target, by)
        for other, target, by in turned
        if any(move.startswith(f"{other.id}: ") and move.endswith(f"->{target}") for move in rest)
    ]
    hard = {(other.id, target) for other, target, by in later if by != "rule"}
    for other, target, _ in [one for one in later if one[2] != "rule"]:
        yield f"lets {other.name} be {done(other, target)}"
    for other, target, by in later:
        if by == "rule" and (other.id, target) not in hard:
            yield f"comes before {other.name} is {done(other, target)}"
    if not later:
        for other, target, by in turned:
            if by in _LOCKS and after.positions[other.id] != target:
                yield f"lets {other.name} be {done(other, target)}"


def _turned(
    machine: Machine, device: Device, before: Situation, after: Situation, *, wanted: bool
) -> Iterator[tuple[Device, str, By]]:
    """Moves of other devices, open to them where they stand, with a guard that this step turns true, or false."""
    for other in machine.devices:
        for move in other.moves if other.id != device.id else ():
            if not wanted and after.positions[other.id] not in move.origins:
                continue
            for guard in move.guards:
                was, now = (_truth(guard.condition, told.positions) for told in (before, after))
                if (was, now) == (not wanted, wanted):
                    yield other, move.target, guard.by


def _truth(atom: Atom, positions: Mapping[str, str]) -> bool | None:
    """Whether a sentence about positions alone is true; None where it speaks of anything else."""
    if not all(isinstance(part, DeviceIn | BladeIn) for part in simple_parts(atom)):
        return None
    return _holds(atom, positions)


def _holds(atom: Atom, positions: Mapping[str, str]) -> bool:
    match atom:
        case DeviceIn(name, stands) | BladeIn(name, stands):
            return positions.get(name) in stands
        case AllOf(parts):
            return all(_holds(part, positions) for part in parts)
        case AnyOf(parts):
            return any(_holds(part, positions) for part in parts)
        case Not(part):
            return not _holds(part, positions)
    return False


# --- keys ---


def _of_a_key(machine: Machine, text: str, before: Situation, after: Situation) -> Iterator[str]:
    name = text.rsplit(": ", 1)[0].removeprefix("key ")
    out = after.keys.get(name) == HAND
    place = before.keys.get(name) if out else after.keys.get(name)
    lock = next((lock for lock in machine.locks if lock.id == place), None)
    if lock is not None:
        held = machine.device(lock.device)
        yield f"locks {held.name}, {after.positions[held.id]}" if out else f"frees {held.name}"
    for box in machine.exchanges:
        sides = [[slot.id for slot in slots] for slots in (box.inputs, box.outputs)]
        for here, there in (sides, sides[::-1]):
            if place in here:
                yield _in_a_box(box, here, there, after.keys, out=out)


def _in_a_box(
    box: Exchange, here: Collection[str], there: Collection[str], keys: Mapping[str, str], *, out: bool
) -> str:
    """What a key that leaves a box holds there, or what one that comes home lets out."""
    waiting = [key for key, place in keys.items() if place in there]
    inside = [place for place in keys.values() if place in here]
    if out:
        return f"holds {_named(waiting)} in {box.id}"
    return f"lets {_named(waiting)} out of {box.id}" if len(inside) == len(here) else f"{box.id} waits for it"


def _named(keys: Sequence[str]) -> str:
    return f"{'keys' if len(keys) > 1 else 'key'} {' and '.join(keys)}" if keys else "the other keys"


_DONE = {
    ("source", "on"): "started",
    ("source", "off"): "stopped",
    ("fuse", "out"): "drawn",
    ("fuse", "in"): "put in",
    ("connector", "parked"): "pulled off",
    ("connector", "on"): "plugged in",
    ("person", "in"): "let in",
    ("person", "out"): "let out",
    ("door", "closed"): "shut",
}
_ANY = {"open": "opened", "on": "put on", "off": "taken off", "loose": "loosened", "tight": "tightened"}


def done(device: Device, target: str) -> str:
    """What is done to a device that goes to a position, as a participle; `earthed` and `vented` are their own."""
    return _DONE.get((device.kind, target)) or _ANY.get(target, target)
