"""Operation: the rest states of a unit are few, told apart by what is live, and joined by direct ways."""

from __future__ import annotations

from dataclasses import replace

import pytest
from published import CASES
from second_search import Second

from deadfront.operation import resting
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import procedure
from deadfront.operation.resting import MOST_RESTS, Rests, rests


def rests_of(name: str) -> Rests:
    """The rest states of a published case, with its tasks."""
    machine = read_machine(CASES[name])
    ways = [found for goal in machine.goals if (found := procedure(machine, goal)) is not None]
    found = rests(machine, ways)
    assert found is not None
    return found


def test_two_keys_for_three_breakers_leave_six_ways_to_stand():
    """C07 by hand: none or the tie alone, all dead; one main, twice; both mains; one main and the tie, twice."""
    found = rests_of("C07")
    closed = {tuple(name for name, stands in rest.positions.items() if stands == ("closed",)) for rest in found.states}
    assert len(found.states) == 6
    assert closed == {(), ("M1",), ("M2",), ("M1", "M2"), ("M1", "TIE"), ("M2", "TIE")}
    # Eight pairs differ by one breaker, both mains to main and tie takes a rest between: two ways for each pair.
    assert len(found.moves) == 16
    assert {(m.target, m.origin) for m in found.moves} == {(m.origin, m.target) for m in found.moves}


def test_a_radial_unit_is_left_live_or_dead():
    """C01: switch closed or open; the work begins from the dead one."""
    found = rests_of("C01")
    assert [(rest.live, rest.dead) for rest in found.states] == [(("B", "T1", "T2"), ()), ((), ("B", "T1", "T2"))]
    assert [rest.outset for rest in found.states] == [True, False]
    assert found.states[0].tasks == ()
    assert found.states[1].tasks == tuple(goal["id"] for goal in CASES["C01"]["goals"])
    assert [(move.origin, move.target, move.texts) for move in found.moves] == [
        (0, 1, ("SW: closed->open",)),
        (1, 0, ("SW: open->closed",)),
    ]


@pytest.mark.parametrize("name", ["C03", "C05", "C07", "C22"])
def test_a_second_search_finds_the_same_rest_states(name: str):
    """Graph objects and dictionaries: the states at rest, told apart by what is live and earthed."""
    case, found = CASES[name], rests_of(name)
    second = Second(case, "rules")
    patterns, reached, waiting = set(), {second.start}, [second.start]
    while waiting:
        state = waiting.pop()
        fresh = {after for _, after, kinds in second.next(state) if not kinds} - reached
        reached |= fresh
        waiting += fresh
        at, keys = dict(state.at), dict(state.keys)
        still = all(
            at.get(d["id"], d["start"]) == d["start"]
            for d in case["devices"]
            if d["kind"] not in ("switch", "breaker", "source")
        )
        if still and "hand" not in keys.values():
            live, earthed, *_ = second.electricity(at)
            patterns.add((tuple(p for p in found.points if live[p]), tuple(p for p in found.points if earthed[p])))
    assert patterns == {(rest.live, rest.earthed) for rest in found.states}


@pytest.mark.parametrize("name", ["C08", "C09", "C17"])
def test_too_many_are_cut_down_to_the_ways_of_the_tasks(name: str):
    """A picture has few nodes; where there are more, it says that it does not show them all."""
    found = rests_of(name)
    assert not found.whole
    assert 2 <= len(found.states) <= MOST_RESTS
    assert found.states[0].outset
    assert sum(len(rest.tasks) for rest in found.states) == len(CASES[name]["goals"])


def test_every_way_starts_and_ends_where_it_says():
    """C03: walked move by move from some state of its origin, each way is possible and has no rest in between."""
    found = rests_of("C03")
    for move in found.moves:
        assert move.origin != move.target
        assert move.texts
    ways = {(move.origin, move.target): len(move.texts) for move in found.moves}
    for (origin, target), length in ways.items():
        for between in range(len(found.states)):
            if (origin, between) in ways and (between, target) in ways:
                assert ways[origin, between] + ways[between, target] > length


def test_a_way_of_a_task_is_cut_into_legs_between_rests():
    """C17: the legs are pieces of the procedures, in their words; the work begins from the last rest before it."""
    machine, found = read_machine(CASES["C17"]), rests_of("C17")
    ways = []
    for goal in machine.goals:
        done = procedure(machine, goal)
        assert done is not None
        ways += ["; ".join(step.text for step in done.steps), "; ".join(step.text for step in done.back or ())]
    assert found.moves
    for move in found.moves:
        assert any("; ".join(move.texts) in way for way in ways)


def test_a_way_with_the_work_on_it_names_its_task():
    """C09: from the state in which the work begins the way on leads through the work, and only that one."""
    found = rests_of("C09")
    goal = CASES["C09"]["goals"][0]["id"]
    through = [move for move in found.moves if move.task]
    assert [(move.task, found.states[move.origin].tasks) for move in through] == [(goal, (goal,))]


def test_with_too_many_states_only_the_ways_of_the_tasks_are_told(monkeypatch):
    """C03 over a bound of ten states: part of its rest states, and it says so; without a task the outset alone."""
    machine, every = read_machine(CASES["C03"]), rests_of("C03")
    assert every.whole
    monkeypatch.setattr(resting, "MOST_STATES", 10)
    few = rests_of("C03")
    assert not few.whole
    assert {(rest.live, rest.earthed) for rest in few.states} <= {(rest.live, rest.earthed) for rest in every.states}
    alone = rests(machine)
    assert alone is not None
    assert ([rest.outset for rest in alone.states], alone.moves) == ([True], ())


def test_where_the_outset_is_no_rest_nothing_is_told():
    """A door that counts as open from the start: no rest states rather than wrong ones."""
    machine = read_machine(CASES["C03"])
    opened = replace(machine, openings=tuple(replace(o, positions=("closed", "open")) for o in machine.openings))
    assert rests(opened) is None
