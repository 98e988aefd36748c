"""Operation: known arrangements of interlocks and keys, written out. Names of schemes in, entries of the file out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from deadfront.project.model import Door, Interlock, KeyExchange, Operation, TrappedKey, TrappedKeyLock
from deadfront.station.station import FUSE_LINE_SIDE, PRIMARY

FUSE_DOOR = "fuse door"
SWITCH = "switch"
MAIN = "main"
TIE = "tie"
GENERATOR_BREAKER = "generator breaker"
NEIGHBOUR_MAIN = "neighbour's main"

Table = Literal["doors", "interlocks", "locks", "exchanges", "keys"]
TABLES: tuple[Table, ...] = ("doors", "interlocks", "locks", "exchanges", "keys")


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Where an entry comes from that the file does not write under its own name.

    entry    what it would be called, `locks.switch lock`
    path     what writes it, below `operation`: `schemes[0]`
    scheme   name of that scheme; empty where it is no scheme
    """

    entry: str
    path: str
    scheme: str = ""


@dataclass(frozen=True, slots=True)
class Clash:
    """An entry that two schemes write differently."""

    second: Elsewhere
    first: Elsewhere


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
    elsewhere: dict[str, Elsewhere] = field(default_factory=dict)
    """What wrote an entry that the file does not have, by `locks.switch lock`."""
    clashes: dict[str, Clash] = field(default_factory=dict)
    """Entries that two schemes write differently, and the file does not."""


def entries(operation: Operation, positions: tuple[str, ...], lv_devices: tuple[str, ...]) -> Entries:
    """Return the entries that hold for a unit: what its schemes write out, overwritten by what the file says.

    positions   of the medium-voltage switch
    lv_devices  breakers that can feed the low-voltage bus: the main, a tie, a generator's breaker
    """
    found = Entries()
    apart = [position for position in positions if position != "closed"]
    for number, scheme in enumerate(operation.schemes or []):
        write = _Writer(found, number, scheme)
        if scheme == "door on open switch":
            _door_on_switch(write, apart, "closed")
        elif scheme == "door on earthed switch":
            _door_on_switch(write, ["earthed"], "open")
            write.step("earthing needs main", SWITCH, "earthed", MAIN, ["open"])
            write.step("main needs earth off", MAIN, "closed", SWITCH, ["closed", "open"])
        elif scheme == "one key":
            write.lock("switch lock", SWITCH, "A", apart)
            write.lock("fuse door lock", FUSE_DOOR, "A", ["closed"])
            write.key("A1", "A", "switch lock")
        elif scheme == "key exchange":
            _key_exchange(write, apart)
        elif scheme == "main-tie-main":
            _main_tie_main(write)
        else:
            _source_keys(write, lv_devices)
        if scheme not in ("source keys", "main-tie-main"):
            reaches = [FUSE_LINE_SIDE, PRIMARY]
            words = f"behind the fuse door a hand reaches {' and '.join(reaches)}"
            write.entry("doors", FUSE_DOOR, Door(reaches=reaches), words)
    _overwritten(found, operation)
    return found


def _overwritten(found: Entries, operation: Operation) -> None:
    for table in TABLES:
        for name, entry in (getattr(operation, table) or {}).items():
            getattr(found, table)[name] = entry
            found.supplied.pop(f"operation.{table}.{name}", None)
            found.elsewhere.pop(f"{table}.{name}", None)
            found.clashes.pop(f"{table}.{name}", None)


@dataclass(frozen=True, slots=True)
class _Writer:
    """Writes the entries of one scheme, the `number`th of the file."""

    found: Entries
    number: int
    scheme: str

    def entry(self, table: Table, name: str, entry: Any, words: str) -> None:
        entries_there, key = getattr(self.found, table), f"{table}.{name}"
        here = Elsewhere(key, f"schemes[{self.number}]", self.scheme)
        if entries_there.get(name, entry) != entry:
            self.found.clashes[key] = Clash(here, self.found.elsewhere[key])
        entries_there[name] = entry
        self.found.elsewhere.setdefault(key, here)
        self.found.supplied[f"operation.{key}"] = words

    def step(self, name: str, device: str, to: str, needs: str, stands: list[str]) -> None:
        words = f"{device} goes to {to} only while {needs} is {' or '.join(stands)} (scheme `{self.scheme}`)"
        entry = Interlock(device=device, to=to, needs=needs, stands=stands, kept_by="mechanical")
        self.entry("interlocks", name, entry, words)

    def lock(self, name: str, device: str, code: str, free_at: list[str]) -> None:
        at = " or ".join(free_at)
        words = f"{device} is locked without key {code}, which comes out at {at} (scheme `{self.scheme}`)"
        self.entry("locks", name, TrappedKeyLock(device=device, code=code, free_at=free_at), words)

    def key(self, name: str, code: str, start: str) -> None:
        words = f"one key of code {code}, in normal service in {start} (scheme `{self.scheme}`)"
        self.entry("keys", name, TrappedKey(code=code, start=start), words)


def _door_on_switch(write: _Writer, opens_at: list[str], held: str) -> None:
    write.step("fuse door needs switch", FUSE_DOOR, "open", SWITCH, opens_at)
    write.step("switch needs fuse door", SWITCH, held, FUSE_DOOR, ["closed"])


def _key_exchange(write: _Writer, apart: list[str]) -> None:
    write.lock("switch lock", SWITCH, "A", apart)
    write.lock("main lock", MAIN, "B", ["open"])
    write.lock("fuse door lock", FUSE_DOOR, "C", ["closed"])
    words = f"the exchange gives key C only while keys A and B are in it (scheme `{write.scheme}`)"
    write.entry("exchanges", "exchange", KeyExchange(takes=["A", "B"], gives=["C"]), words)
    write.key("A1", "A", "switch lock")
    write.key("B1", "B", "main lock")
    write.key("C1", "C", "exchange")


def _source_keys(write: _Writer, lv_devices: tuple[str, ...]) -> None:
    """One key fewer than breakers would let two close; one key for all lets one close at a time."""
    for device in lv_devices:
        write.lock(f"{device} lock", device, "S", ["open"])
    write.key("S1", "S", f"{MAIN} lock")


def _main_tie_main(write: _Writer) -> None:
    """Three locks and two keys: a third breaker stays open, whichever two are closed."""
    for device in (MAIN, TIE, NEIGHBOUR_MAIN):
        write.lock(f"{device} lock", device, "M", ["open"])
    write.key("M1", "M", f"{MAIN} lock")
    write.key("M2", "M", f"{NEIGHBOUR_MAIN} lock")
