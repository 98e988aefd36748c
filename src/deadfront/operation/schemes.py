"""Operation: known arrangements of interlocks and keys, written out. Names of schemes in, entries of the file out."""

from __future__ import annotations

from dataclasses import dataclass, field

from deadfront.project.model import Door, Interlock, KeyExchange, Operation, TrappedKey, TrappedKeyLock
from deadfront.station.station import FUSE_LINE_SIDE, PRIMARY

FUSE_DOOR = "fuse door"
SWITCH = "switch"
MAIN = "main"
TIE = "tie"
GENERATOR_BREAKER = "generator breaker"
NEIGHBOUR_MAIN = "neighbour's main"


@dataclass(slots=True)
class Entries:
    """Entries of the `operation` section by name, those of schemes first, those of the file over them."""

    doors: dict[str, Door] = field(default_factory=dict)
    interlocks: dict[str, Interlock] = field(default_factory=dict)
    locks: dict[str, TrappedKeyLock] = field(default_factory=dict)
    exchanges: dict[str, KeyExchange] = field(default_factory=dict)
    keys: dict[str, TrappedKey] = field(default_factory=dict)
    supplied: dict[str, str] = field(default_factory=dict)
    """What a scheme or default supplied, by path: in words, for the register of assumptions."""


def entries(operation: Operation, positions: tuple[str, ...], lv_devices: tuple[str, ...]) -> Entries:
    """Return the entries that hold for a unit: what its schemes write out, overwritten by what the file says.

    positions   of the medium-voltage switch
    lv_devices  breakers that can feed the low-voltage bus: the main, a tie, a generator's breaker
    """
    found = Entries()
    apart = [position for position in positions if position != "closed"]
    for scheme in operation.schemes or []:
        if scheme == "door on open switch":
            _door_on_switch(found, scheme, apart, "closed")
        elif scheme == "door on earthed switch":
            _door_on_switch(found, scheme, ["earthed"], "open")
            _lock_step(found, scheme, "earthing needs main", SWITCH, "earthed", MAIN, ["open"])
            _lock_step(found, scheme, "main needs earth off", MAIN, "closed", SWITCH, ["closed", "open"])
        elif scheme == "one key":
            _lock(found, scheme, "switch lock", SWITCH, "A", apart)
            _lock(found, scheme, "fuse door lock", FUSE_DOOR, "A", ["closed"])
            _key(found, scheme, "A1", "A", "switch lock")
        elif scheme == "key exchange":
            _key_exchange(found, scheme, apart)
        elif scheme == "main-tie-main":
            _main_tie_main(found, scheme)
        else:
            _source_keys(found, scheme, lv_devices)
    if set(operation.schemes or ()) - {"source keys", "main-tie-main"}:
        reaches = [FUSE_LINE_SIDE, PRIMARY]
        found.doors[FUSE_DOOR] = Door(reaches=reaches)
        found.supplied[f"operation.doors.{FUSE_DOOR}"] = f"behind the fuse door a hand reaches {' and '.join(reaches)}"
    _overwritten(found, operation)
    return found


def _overwritten(found: Entries, operation: Operation) -> None:
    for name in ("doors", "interlocks", "locks", "exchanges", "keys"):
        for key, entry in (getattr(operation, name) or {}).items():
            getattr(found, name)[key] = entry
            found.supplied.pop(f"operation.{name}.{key}", None)


def _door_on_switch(found: Entries, scheme: str, opens_at: list[str], held: str) -> None:
    _lock_step(found, scheme, "fuse door needs switch", FUSE_DOOR, "open", SWITCH, opens_at)
    _lock_step(found, scheme, "switch needs fuse door", SWITCH, held, FUSE_DOOR, ["closed"])


def _lock_step(found: Entries, scheme: str, name: str, device: str, to: str, needs: str, stands: list[str]) -> None:
    found.interlocks[name] = Interlock(device=device, to=to, needs=needs, stands=stands, kept_by="mechanical")
    words = f"{device} goes to {to} only while {needs} is {' or '.join(stands)} (scheme `{scheme}`)"
    found.supplied[f"operation.interlocks.{name}"] = words


def _lock(found: Entries, scheme: str, name: str, device: str, code: str, free_at: list[str]) -> None:
    found.locks[name] = TrappedKeyLock(device=device, code=code, free_at=free_at)
    words = f"{device} is locked without key {code}, which comes out at {' or '.join(free_at)} (scheme `{scheme}`)"
    found.supplied[f"operation.locks.{name}"] = words


def _key(found: Entries, scheme: str, name: str, code: str, start: str) -> None:
    found.keys[name] = TrappedKey(code=code, start=start)
    found.supplied[f"operation.keys.{name}"] = (
        f"one key of code {code}, in normal service in {start} (scheme `{scheme}`)"
    )


def _key_exchange(found: Entries, scheme: str, apart: list[str]) -> None:
    _lock(found, scheme, "switch lock", SWITCH, "A", apart)
    _lock(found, scheme, "main lock", MAIN, "B", ["open"])
    _lock(found, scheme, "fuse door lock", FUSE_DOOR, "C", ["closed"])
    found.exchanges["exchange"] = KeyExchange(takes=["A", "B"], gives=["C"])
    words = f"the exchange gives key C only while keys A and B are in it (scheme `{scheme}`)"
    found.supplied["operation.exchanges.exchange"] = words
    _key(found, scheme, "A1", "A", "switch lock")
    _key(found, scheme, "B1", "B", "main lock")
    _key(found, scheme, "C1", "C", "exchange")


def _source_keys(found: Entries, scheme: str, lv_devices: tuple[str, ...]) -> None:
    """One key fewer than breakers would let two close; one key for all lets one close at a time."""
    for device in lv_devices:
        _lock(found, scheme, f"{device} lock", device, "S", ["open"])
    _key(found, scheme, "S1", "S", f"{MAIN} lock")


def _main_tie_main(found: Entries, scheme: str) -> None:
    """Three locks and two keys: a third breaker stays open, whichever two are closed."""
    for device in (MAIN, TIE, NEIGHBOUR_MAIN):
        _lock(found, scheme, f"{device} lock", device, "M", ["open"])
    _key(found, scheme, "M1", "M", f"{MAIN} lock")
    _key(found, scheme, "M2", "M", f"{NEIGHBOUR_MAIN} lock")
