"""Operation: what an open door lets a hand reach, and what still covers it."""

from __future__ import annotations

from typing import Any

import pytest

from deadfront.operation.examining import examine
from deadfront.operation.machine_file import read_machine


def behind_a_door(**opening: Any) -> dict[str, Any]:
    """A source that always feeds a point behind a door, and a shutter before that point."""

    def two(name: str, kind: str, shut: str, wide: str) -> dict[str, Any]:
        moves = [{"from": [shut], "to": wide}, {"from": [wide], "to": shut}]
        return {"id": name, "kind": kind, "positions": [shut, wide], "start": shut, "moves": moves}

    feed = {"id": "U", "kind": "source", "positions": ["on"], "start": "on", "moves": []}
    feed |= {"source": {"at": "P", "group": "utility", "on": ["on"]}}
    return {
        "id": "shutter",
        "title": "a live contact behind a door and a shutter",
        "points": ["P"],
        "devices": [feed, two("DOOR", "door", "closed", "open"), two("SHUTTER", "barrier", "down", "up")],
        "openings": [{"dev": "DOOR", "in": ["open"], "reaches": ["P"]} | opening],
    }


def test_door_alone_reaches_what_nothing_covers():
    """Without a word on the shutter one move is enough."""
    assert examine(read_machine(behind_a_door()), "hands").sequences == {"EXP_OPEN": ("DOOR: closed->open",)}


@pytest.mark.parametrize(
    "unless",
    [
        {"dev": "SHUTTER", "in": ["down"]},
        {"not": {"dev": "SHUTTER", "in": ["up"]}},
        {"all": [{"dev": "SHUTTER", "in": ["down"]}, {"dev": "U", "in": ["on"]}]},
    ],
)
def test_part_behind_a_shutter_is_reached_only_with_both_open(unless):
    """Door and shutter, in either order: two moves, and the last of them is told as what it is."""
    found = examine(read_machine(behind_a_door(unless=unless)), "hands").sequences
    assert found["EXP_OPEN"] == ("SHUTTER: down->up", "DOOR: closed->open")
    assert found["EXP_CLOSE"] == ("DOOR: closed->open", "SHUTTER: down->up")
    assert len(found) == 2


def test_cover_that_cannot_be_lifted_keeps_the_part_out_of_reach():
    """A shutter that never moves: no sequence reaches the live contact."""
    machine = behind_a_door(unless={"dev": "SHUTTER", "in": ["down"]})
    machine["devices"][2]["moves"] = []
    assert examine(read_machine(machine), "hands").sequences == {}
