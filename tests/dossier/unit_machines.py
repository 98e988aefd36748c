"""Tests: every machine that pictures are tried on. Published cases, demonstrations, starters, and units with more."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from machines import CASES, machine

from deadfront.dossier.access_pages import Unit
from deadfront.operation.phases import by_phase
from deadfront.operation.station_machine import station_machine
from deadfront.project.reading import load, load_bytes
from deadfront.project.starters import PRACTICES, STARTER, starter_files
from deadfront.station.station import build

EXAMPLES = Path(__file__).parents[2] / "examples"
DEMONSTRATIONS = sorted(
    str(path.relative_to(EXAMPLES).with_suffix(""))
    for path in EXAMPLES.rglob("*.yaml")
    if path.parent.name != "gull-rock"  # a unit without doors has no machine
)
PHASES = {"C05": ("BF",), "C10": (), "C17": ("BF",)}
"""Cases drawn with three phases, and what is moved one phase at a time."""
_ONE_KEY = "schemes: [one key]\nvent_first: mechanical"
_CONNECTORS = (
    "connectors: {elbow: {cable: cable A, load_break: yes, behind: cable door}}\n"
    "earths: {cable earth: {at: cable A, parked: elbow, behind: cable door}, bus earth: {at: LV bus}}\n"
    "tests: {cable test: {at: cable A, behind: cable door}, fuse test: {at: fuse line side}, bus test: {at: LV bus}}\n"
    "doors: {cable door: {reaches: []}, LV door: {reaches: [LV bus]}}\n"
    "charges: {capacitors: {at: LV bus, drains: yes}}"
)
_FAR = (
    "far_sources: {ups: {feeder: pump hall, in_step: no}}\n"
    "tests: {end test: {at: feeder end pump hall}, fuse test: {at: fuse line side}}"
)
_ROOM = (
    "schemes: [one key]\nvent_first: mechanical\n"
    "doors: {fuse door: {reaches: []}, room door: {reaches: [fuse line side]}}\n"
    "locks: {room lock: {device: room door, code: R, free_at: [closed]}}\n"
    "exchanges: {box: {takes: [A], gives: [R, P]}}\n"
    "keys: {R1: {code: R, start: box}, P1: {code: P, start: box}}\n"
    "rooms: {transformer room: {door: room door, reaches: [fuse line side], personnel_key: P}}\n"
    "tests: {t: {at: fuse line side}}"
)
_SEVEN_KEYS = (
    "vent_first: mechanical\n"
    "doors: {fuse door: {reaches: [fuse line side]}, LV door: {reaches: [LV bus]}}\n"
    "locks: {way A lock: {device: way A, code: A, free_at: [open]},"
    " way B lock: {device: way B, code: B, free_at: [open]},"
    " switch lock: {device: switch, code: C, free_at: [open]}, main lock: {device: main, code: D, free_at: [open]},"
    " generator lock: {device: generator breaker, code: G, free_at: [open]},"
    " fuse door lock: {device: fuse door, code: F, free_at: [closed]},"
    " LV door lock: {device: LV door, code: L, free_at: [closed]}}\n"
    "exchanges: {key box: {takes: [A, B, C, D, G], gives: [F, L]}}\n"
    "keys: {A1: {code: A, start: way A lock}, B1: {code: B, start: way B lock}, C1: {code: C, start: switch lock},"
    " D1: {code: D, start: main lock}, G1: {code: G, start: generator lock},"
    " F1: {code: F, start: key box}, L1: {code: L, start: key box}}\n"
    "tests: {t: {at: fuse line side}, u: {at: LV bus}}"
)
# Name: the section `operation`, a loop or not, a tie instead of the generator or not.
SECTIONS: dict[str, tuple[str, bool, bool]] = {
    "loop with connectors, earths and a store": (f"{_ONE_KEY}\n{_CONNECTORS}", True, False),
    "loop with a far source": (f"{_ONE_KEY}\n{_FAR}", True, False),
    "radial with a far source": (f"{_ONE_KEY}\n{_FAR}", False, False),
    "room": (_ROOM, False, False),
    "main-tie-main": ("schemes: [one key, main-tie-main]\nvent_first: mechanical", True, True),
    "source keys": ("schemes: [one key, source keys]\nvent_first: mechanical", True, False),
    "seven keys": (_SEVEN_KEYS, True, False),
    "nothing but a door": ("doors: {fuse door: {reaches: [fuse line side]}}", False, False),
}
NAMES = [*sorted(CASES), *(f"{name} by phase" for name in PHASES), *DEMONSTRATIONS, *PRACTICES, *SECTIONS]


@cache
def unit(name: str) -> Unit:
    """One of `NAMES`, with the symbols of its practice."""
    if name in CASES:
        return Unit(machine(name), "iec", "")
    if name.endswith(" by phase"):
        case = name.removesuffix(" by phase")
        return Unit(by_phase(machine(case), PHASES[case]), "iec", "")
    if name in DEMONSTRATIONS:
        project = load(EXAMPLES / f"{name}.yaml")
    else:
        practice = next((one for one in PRACTICES if one == name), "north-american")
        files = starter_files(practice)
        text = files.pop(STARTER).decode()
        project = load_bytes("unit.yaml", (_sectioned(text, name) if name in SECTIONS else text).encode(), files)
    return Unit(station_machine(build(project.unit)).machine, project.unit.practice, "")


def _sectioned(text: str, name: str) -> str:
    """The starter with another section `operation` and, where asked for, a loop and a tie instead of its generator."""
    section, loop, tie = SECTIONS[name]
    before, rest = text.split("  # Known arrangements")
    if loop:
        before = before.replace("# other_feed:", "other_feed: {parallel: never}\n# other_feed_:")
        before = before.replace("ways: radial", "ways: loop")
    if tie:
        before = before[: before.index("# Standby generator")] + before[before.index("# Motors") :]
        before = before.replace("board:\n", "board:\n  tie: {fault_current: 12 kA, x_over_r: 4, parallel: never}\n")
    return before + "".join(f"  {line}\n" for line in section.splitlines()) + rest[rest.index("\n# Who confirms") :]
