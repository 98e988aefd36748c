"""Operation: hold points bind in their order and to the end; energy, earth and load are what the traps say they are."""

from __future__ import annotations

from typing import Any

import pytest
from test_station_machine import BEFORE, unit

from deadfront.operation.building import build
from deadfront.operation.machine import Machine
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import there_and_back
from deadfront.operation.telling import Situation, told

OPEN, CLOSED = {"dev": "S", "in": ["open"]}, {"dev": "S", "in": ["closed"]}


def two_way(name: str, kind: str, one: str, other: str, guards: list[Any] | None = None, **more: Any) -> dict[str, Any]:
    """A device that goes from its first position to the second and back; the guards hold the way there."""
    moves = [{"from": [one], "to": other, "guards": guards or []}, {"from": [other], "to": one, "guards": []}]
    return {"id": name, "kind": kind, "positions": [one, other], "start": one, "edges": {}, "moves": moves, **more}


def machine(goals: list[Any], lamp: list[Any]) -> Machine:
    """A door, a lamp and a switch, the door first in the file, so that ties put it first."""
    devices = [
        two_way("D", "door", "closed", "open"),
        two_way("L", "breaker", "off", "on", lamp),
        two_way("S", "switch", "closed", "open", edges={"closed": [["A", "B"]]}),
    ]
    return read_machine({"id": "m", "title": "m", "points": ["A", "B"], "devices": devices, "goals": goals})


def goal(condition: Any, **hold: Any) -> list[Any]:
    """One goal with one hold point: the switch open."""
    return [{"id": "g", "if": condition, "holds": [{"id": "H2", "if": OPEN, **hold}]}]


def way(made: Machine) -> tuple[str, ...] | None:
    """The moves to the goal."""
    found = there_and_back(made, made.goals[0])
    return None if found is None else found[0]


def test_a_hold_point_comes_before_what_it_is_before():
    """The door stands first in the file: only the hold point puts the switch before it."""
    door = {"dev": "D", "in": ["open"]}
    assert way(machine(goal(door, before=door), [])) == ("S: closed->open", "D: closed->open")
    assert way(machine(goal(door), [])) == ("D: closed->open", "S: closed->open")


@pytest.mark.parametrize(("kept", "moves"), [(True, None), (False, 3)])
def test_a_hold_point_that_is_kept_is_never_left_again(kept: bool, moves: int | None):
    """A lamp that lights only with the switch closed: not to be had while the open switch is held."""
    lit = {"all": [{"dev": "L", "in": ["on"]}, CLOSED]}
    found = way(machine(goal(lit, kept=kept), [{"id": "l", "by": "mechanical", "if": CLOSED}]))
    assert (found if found is None else len(found)) == moves


def test_doors_are_shut_before_what_was_opened_closes_again():
    """H11 on the way back: without an interlock between them, only the hold point puts the door before the switch."""
    made = unit("doors: {fuse door: {reaches: []}}\nvent_first: mechanical").machine
    found = there_and_back(made, made.goals[0])
    assert found is not None
    assert found[1] is not None
    back = found[1]
    assert back.index("fuse door: open->closed") < back.index("switch: open->closed")


def test_the_way_back_counts_earths_off_and_shuts_doors():
    """H10 wherever the unit has a work earth, H11 always."""
    bare = unit("schemes: [one key]").machine.goals[0]
    earthed = unit("schemes: [one key]\nearths: {e: {at: LV bus}}").machine.goals[0]
    assert [hold.id for hold in bare.back] == ["H11"]
    assert [hold.id for hold in earthed.back] == ["H10", "H11"]


def last(made: Machine, *moves: str) -> tuple[tuple[str, ...], Situation]:
    """The kinds that the last of some moves raises, and how everything stands after it."""
    step = told(build(made, "hands"), moves)[-1]
    return step.kinds, step.after


def test_a_fuse_drawn_behind_an_open_main_breaks_magnetising_current():
    """The LV bus is dead already; the transformer still draws what no fuse may break."""
    made = unit("doors: {fuse door: {reaches: []}}").machine
    moves = ("main: closed->open", "fuse door: closed->open", "tank vent: sealed->vented", "bayonet fuse: in->out")
    assert "LOAD" in last(made, *moves)[0]


def test_a_back_feed_is_seen_at_the_transformer_alone():
    """With the fuse drawn only the primary terminals are live from the generator: that is a back-feed."""
    made = unit("doors: {fuse door: {reaches: []}}", BEFORE.replace("\n  parallel: never", "")).machine
    moves = ("switch: closed->open", "fuse door: closed->open", "bayonet fuse: in->out", "generator: off->on")
    kinds, after = last(made, *moves, "generator breaker: open->closed")
    assert "BACKFEED" in kinds
    assert "transformer primary terminals" in after.live
    assert "fuse line side" not in after.live


EARTHED = {
    "id": "m",
    "title": "m",
    "points": ["A", "B"],
    "devices": [
        {"id": "U", "kind": "source", "positions": ["on"], "start": "on", "moves": [], "edges": {}}
        | {"source": {"at": "A", "group": "u", "on": ["on"]}},
        two_way("EA", "earth", "off", "on", edges={"on": [["A", "E"]]}),
        two_way("EB", "earth", "off", "on", edges={"on": [["B", "E"]]}),
    ],
}


def test_earth_conducts_to_no_other_circuit():
    """Trap 2: a source on its own earth makes nothing of another earthed point."""
    _, after = last(read_machine(EARTHED), "EB: off->on", "EA: off->on")
    assert after.faulted == ("A",)
    assert after.earthed == ("A", "B")


def test_what_a_source_feeds_onto_an_earth_is_no_live_part_but_a_fault():
    """Trap 3: energised and earthed is neither live nor fine."""
    kinds, after = last(read_machine(EARTHED), "EA: off->on")
    assert kinds == ("EARTH_LIVE",)
    assert after.live == ()
    assert after.fault
