"""Operation: moves and hazards in the words of a crew. Names in, plain sentences out."""

from __future__ import annotations

from deadfront.operation.machine import Device, Kind, Machine

HAZARDS: dict[Kind, str] = {
    "EXP_OPEN": "a door or cover opens on a live part",
    "EXP_CLOSE": "a part becomes live behind an open door",
    "EXP_CHARGE": "a stored charge comes within reach",
    "EARTH_LIVE": "an earth is put on a live circuit",
    "LIVE_EARTH": "a circuit is energised onto an earth",
    "PARALLEL": "two sources that are not in step are joined",
    "BACKFEED": "the MV side is made live from the LV side",
    "LOAD": "load is made or broken by a device that cannot do it",
    "FUSE_PRESS": "a fuse is drawn from a tank under pressure",
    "PERSON": "a person is locked in",
}
"""What each kind of hazard means."""

_VERBS = {
    ("switch", "closed"): "close {}",
    ("switch", "open"): "open {}",
    ("switch", "earthed"): "turn {} to earthed",
    ("breaker", "closed"): "close {}",
    ("breaker", "open"): "open {}",
    ("fuse", "out"): "draw {}",
    ("fuse", "in"): "put {} back in",
    ("connector", "parked"): "pull {} off and park it",
    ("connector", "on"): "plug {} in",
    ("earth", "on"): "put {} on, earth end first",
    ("earth", "off"): "take {} off, line end first",
    ("door", "open"): "open {}",
    ("door", "closed"): "shut {}",
    ("bolt", "on"): "put {} on",
    ("bolt", "off"): "take {} off",
    ("bolt", "loose"): "loosen {}",
    ("bolt", "tight"): "tighten {}",
    ("bolt", "locked"): "lock {}",
    ("bolt", "unlocked"): "unlock {}",
    ("vent", "vented"): "open {}",
    ("vent", "sealed"): "close {}",
    ("source", "on"): "start {}",
    ("source", "off"): "stop {}",
    ("person", "in"): "{} goes in",
    ("person", "out"): "{} comes out",
}
"""Verbs by kind of device and position it goes to; anything else is said with both positions."""


def move_words(machine: Machine, text: str) -> str:
    """Return a move, such as `SW: closed->open`, as a crew would say it."""
    if text.startswith("test "):
        test = next(test for test in machine.tests if test.id == text.removeprefix("test "))
        return f"prove {test.at} dead at {test.id}: tester on a live source, all phases, tester on a live source"
    if text.startswith("weld "):
        return failure_words(f"stuck:{text.removeprefix('weld ')}")
    if text.startswith("wait "):
        return f"wait until {text.removeprefix('wait ')} has discharged"
    subject, positions = text.rsplit(": ", 1)
    origin, target = positions.split("->")
    if subject.startswith("key ") and (origin == "hand" or target == "hand"):
        key = subject.removeprefix("key ")
        return f"take key {key} out of {origin}" if target == "hand" else f"put key {key} into {target}"
    device = _device(machine, subject)
    if device is None:
        return f"{'start' if target == 'on' else 'stop'} {subject}"
    if (device.kind, origin, target) == ("switch", "earthed", "open"):
        return f"turn {device.name} from earthed to open"
    if (device.kind, origin, target) == ("bolt", "locked", "tight"):
        return f"take the padlock off {device.name}"
    phrase = _VERBS.get((device.kind, target), f"move {{}} from {origin} to {target}")
    return phrase.format(device.name)


def _device(machine: Machine, name: str) -> Device | None:
    return next((device for device in machine.devices if device.id == name), None)


_FAILURES = {
    "defeat": "the interlock {} is defeated",
    "dupkey": "there is a second key of code {}",
    "lockbolt": "the lock {} no longer holds its device",
    "lockrelease": "the lock {} lets its key go in any position",
    "stuck": "the blade of {} is welded",
    "indicator": "the tester {} always reads dead",
    "bleed": "{} does not discharge",
    "source": "the source {} turns up",
}


def failure_words(name: str) -> str:
    """Return a failure, such as `stuck:SW` or `stuck:TIE@closed`, in plain words."""
    kind, _, what = name.partition(":")
    device, at, position = what.partition("@")
    if at:
        return f"the blade of {device} welds while it is {position}"
    return _FAILURES[kind].format(what)
