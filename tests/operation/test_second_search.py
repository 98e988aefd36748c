"""Operation: random machines give what a second search, written with graph objects, finds in them."""

from __future__ import annotations

import networkx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from published import CASES
from random_machines import machines
from second_search import Second

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all, break_midway, explore_broken, single_failures
from deadfront.operation.machine import MODES, Mode
from deadfront.operation.machine_file import read_machine

FEW = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@FEW
@given(case=machines(), mode=st.sampled_from(MODES))
def test_random_machines_agree_with_the_second_search(case: dict, mode: Mode):
    """States, transitions, depth, hazards with their lengths and hazard-free states are the same."""
    found = examine(read_machine(case), mode)
    assert Second(case, mode).answer() == {
        "states": found.states,
        "transitions": found.transitions,
        "depth": found.depth,
        "states_hazard_free": found.states_hazard_free,
        "hazards": {kind: found.length(kind) for kind in found.sequences},
    }


@FEW
@given(case=machines(), mode=st.sampled_from(MODES), data=st.data())
def test_random_failures_agree_with_the_second_search(case: dict, mode: Mode, data: st.DataObject):
    """A random pair of failures, explored together with all others, reaches what it reaches when searched alone."""
    machine = read_machine(case)
    names = single_failures(machine)
    pair = data.draw(st.sets(st.sampled_from(names), min_size=1, max_size=2))
    reach = break_all(machine, mode, pairs=True).reaches[frozenset(pair)]
    alone = explore_broken(machine, mode, pair)
    second = Second(case, mode, tuple(sorted(pair))).answer()
    assert (reach.states, reach.dangers) == (second["states"], second["hazards"])
    assert (alone.states, {k: d.length for k, d in alone.dangers.items()}) == (second["states"], second["hazards"])


@pytest.mark.long
@FEW
@given(case=machines(), mode=st.sampled_from(MODES))
def test_blades_that_weld_at_any_moment_agree_with_the_second_search(case: dict, mode: Mode):
    """From every state of the sound machine on, with the blade left where it stands, the same hazards are as near."""
    sound = Second(case, mode)
    graph = sound.explored()
    distance = networkx.single_source_shortest_path_length(graph, sound.start)
    for name, reach in break_midway(read_machine(case), mode).items():
        device, _, position = name.removeprefix("stuck:").partition("@")
        if not position:
            continue
        welded = _Welded(case, mode, device, position)
        nearest: dict[object, int] = {s: far for s, far in distance.items() if dict(s.at)[device] == position}
        lengths: dict[str, int] = {}
        waiting = dict(nearest)
        for far in range(max(nearest.values(), default=0) + 200):
            for state in [s for s, f in waiting.items() if f == far]:
                for _, after, kinds in welded.next(state):
                    for kind in kinds:
                        lengths.setdefault(kind, far + 1)
                    if nearest.get(after, 10**6) > far + 1:
                        nearest[after] = waiting[after] = far + 1
        assert (reach.states, reach.dangers) == (len(nearest), lengths)


@pytest.mark.long
@FEW
@given(case=machines(), mode=st.sampled_from(MODES))
def test_only_blades_can_be_worse_in_mid_sequence(case: dict, mode: Mode):
    """Every other failure reaches in mid-sequence only kinds that it reaches from the outset, and never sooner."""
    machine = read_machine(case)
    broken = break_all(machine, mode)
    for name, reach in break_midway(machine, mode, every=True).items():
        if "@" not in name:
            outset = broken.reaches[frozenset([name])].dangers
            sound = broken.reaches[frozenset()].dangers
            for kind, length in reach.dangers.items():
                assert kind in outset or kind in sound
                assert length >= min(outset.get(kind, 10**6), sound.get(kind, 10**6))


class _Welded(Second):
    """The second search with one blade left in a position, whatever its handle does."""

    def __init__(self, case: dict, mode: str, device: str, position: str) -> None:
        self.welded = (device, position)
        super().__init__(case, mode)

    def blade(self, device: dict, at: dict[str, str]) -> str:
        """Where the contacts of a device are."""
        name, position = self.welded
        return position if device["id"] == name else super().blade(device, at)


def test_published_cases_agree_with_the_second_search():
    """The reading of the form that the second search has is the printed one."""
    for name in ("C01", "C08", "C12", "C15", "C16"):
        for mode in MODES:
            printed = CASES[name]["expected"][mode]
            answer = Second(CASES[name], mode).answer()
            assert answer["hazards"] == {kind: hazard["len"] for kind, hazard in printed["hazards"].items()}
            assert (answer["states"], answer["transitions"]) == (printed["states"], printed["transitions"])
