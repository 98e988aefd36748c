"""Operation: the alternatives at Heron Quay show their hazard at once, and the sound one shows none."""

from __future__ import annotations

from pathlib import Path

import pytest

from deadfront.operation.examining import examine
from deadfront.operation.procedures import procedure
from deadfront.operation.station_machine import station_machine
from deadfront.project.reading import load
from deadfront.station.station import build

QUAY = Path(__file__).parents[2] / "examples" / "access" / "heron-quay"

FOUND = {
    "key-exchange": {},
    "live-front": {"EXP_OPEN": 1, "EXP_CLOSE": 3, "LOAD": 3},
    "fuse-outside": {"LOAD": 1, "FUSE_PRESS": 1},
    "one-way-interlock": {"EXP_CLOSE": 3},
    "generator-without-key": {"PARALLEL": 2, "BACKFEED": 2, "EXP_OPEN": 6},
}


def test_every_alternative_is_looked_at():
    """No example file is left out."""
    assert {path.stem for path in QUAY.glob("*.yaml")} == set(FOUND)


@pytest.mark.parametrize("name", FOUND)
def test_an_alternative_shows_its_hazard_at_once(name: str):
    """The kinds that make the point are reached in as few moves as printed here; a sound unit reaches none."""
    found = examine(station_machine(build(load(QUAY / f"{name}.yaml").unit)).machine, "hands")
    lengths = {kind: found.length(kind) for kind in found.sequences}
    for kind, length in FOUND[name].items():
        assert lengths.get(kind) == length
    assert bool(lengths) == bool(FOUND[name])


def test_every_task_of_the_sound_one_has_a_way_there_and_back():
    """Key exchange: bayonet fuse and transfer, with every hold point of the unit passed."""
    machine = station_machine(build(load(QUAY / "key-exchange.yaml").unit)).machine
    for goal in machine.goals:
        way = procedure(machine, goal)
        assert way is not None
        assert way.back is not None
        assert [name for step in way.steps for name in step.passes] == [hold.id for hold in goal.holds]
