"""Operation: an entry that is named for a failure answers it once it is written into the file."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from published import CASES
from test_access_claims import SOUND, claims

from deadfront.claims.access_failures import ONTO_EARTH, outcomes, what_remains
from deadfront.claims.access_findings import Subject
from deadfront.operation.failures import break_all, break_midway, single_failures
from deadfront.operation.machine_file import read_machine
from deadfront.operation.singles import break_singles, every_single, shortest
from deadfront.operation.station_machine import station_machine
from deadfront.project.reading import load
from deadfront.station.station import build

EXAMPLES = Path(__file__).parents[2] / "examples"
UNITS = ("kestrel-point/unit.yaml", "tarn-edge/unit.yaml", "access/heron-quay/one-way-interlock.yaml")
SMALL = [name for name in sorted(CASES) if name != "C20"]


@pytest.mark.parametrize("mode", ["hands", "rules"])
@pytest.mark.parametrize("name", SMALL)
def test_one_search_finds_what_the_searches_of_each_failure_find(name: str, mode):
    """Published machines: the kinds of every single failure are those of `break_all` and `break_midway`."""
    machine = read_machine(CASES[name])
    names = every_single(machine)
    apart, midway = break_all(machine, mode), break_midway(machine, mode)
    found = break_singles(machine, mode, [frozenset(), *(frozenset([one]) for one in names)])
    assert found[frozenset()] == apart.sound
    for one in names:
        if one in single_failures(machine):
            assert found[frozenset([one])] == frozenset(apart.reaches[frozenset([one])].dangers), one
        else:
            assert found[frozenset([one])] == frozenset(midway[one].dangers if one in midway else ()) | apart.sound, one


def test_one_pole_of_a_blade_is_refused():
    """One line stands for three phases here; a pole is not silently taken for a blade that never welds."""
    with pytest.raises(ValueError, match=r"^sets: 'stuck:SW#A' is no whole blade of the machine; poles are looked at"):
        break_singles(read_machine(CASES["C01"]), "hands", [frozenset(["stuck:SW#A"])])


def test_a_blade_that_welds_on_the_way_stands_in_the_sequence():
    """C07: the tie welds while it is closed; the shortest way says when, and the words say what."""
    machine = read_machine(CASES["C07"])
    names = [name for name in every_single(machine) if "@closed" in name]
    reached = break_singles(machine, "hands", [frozenset(), *(frozenset([name]) for name in names)])
    worse = next(name for name in names if reached[frozenset([name])] - reached[frozenset()])
    new = reached[frozenset([worse])] - reached[frozenset()]
    search, kind = shortest(machine, "hands", worse, new)
    texts = [search.plant.moves[move].text for move in search.sequence(kind)]
    assert [text for text in texts if text.startswith("weld ")] == [f"weld {worse.removeprefix('stuck:')}"]
    assert len(texts) - 1 == break_midway(machine, "hands")[worse].dangers[kind]


def test_a_hazard_that_is_not_reached_has_no_shortest_sequence():
    """C01 has no source that turns up and no pressure: asking for it is a wrong call, and says so."""
    with pytest.raises(ValueError, match=r"^kinds: none of FUSE_PRESS is reached with 'stuck:SW'$"):
        shortest(read_machine(CASES["C01"]), "hands", "stuck:SW", ["FUSE_PRESS"])


@cache
def subject(name: str) -> Subject:
    """A unit of the examples, ready to be asked."""
    project = load(EXAMPLES / name)
    station = build(project.unit)
    return Subject(project, station, station_machine(station), ())


@pytest.mark.parametrize("name", [UNITS[0], pytest.param(UNITS[1], marks=pytest.mark.long), UNITS[2]])
def test_an_entry_that_is_named_answers_its_failure_when_it_is_in_the_file(name: str):
    """Each entry, put into the unit, leaves nothing of the failure in the claim's own searches, failure by failure."""
    unit = subject(name)
    left = what_remains(unit, outcomes(unit))
    named = {failure: told.answer for failure, told in left.items() if told.answer is not None}
    assert named
    for failure, answer in named.items():
        changed = unit.project.unit.model_copy(update={"operation": answer.entry.operation})
        machine = station_machine(build(changed)).machine
        one = frozenset([failure]) if "@" not in failure else frozenset[str]()
        sound = break_all(machine, "rules", only=[one]).reaches[frozenset()].dangers.keys()
        if "@" in failure:
            dangers = break_midway(machine, "rules", only=[failure])[failure].dangers
        else:
            dangers = break_all(machine, "rules", only=[one]).reaches[one].dangers
        assert not dangers.keys() - sound - ONTO_EARTH, (failure, answer.entry.written())
        assert sound <= unit.rules.sequences.keys() | ONTO_EARTH


def test_what_remains_says_hazard_sequence_and_the_entry_that_answers():
    """AC-06: in the detail of each failure and in the arithmetic, ready to be written into the file."""
    found = claims(SOUND)["AC-06"]
    words = {detail.subject: detail.worst_case for detail in found.details}
    assert words["the blade of main is welded"] == (
        "not answered: two sources that are not in step are joined in 3 moves; "
        "would be answered by operation.contacts_seen: [main]"
    )
    steps = [step.meaning for step in found.evidence]
    at = steps.index("the blade of main is welded")
    way, answer = found.evidence[at + 1 : at + 3]
    assert (way.formula, way.result) == ("shortest sequence, if people obey", "3 moves")
    assert way.numbers == "open the main; start the generator; close the generator breaker"
    assert (answer.formula, answer.result) == ("operation.contacts_seen: [main]", "answers it")


def test_a_named_entry_is_one_that_the_file_takes():
    """AC-06: with the contacts that it names in the file, the welded blade is answered by the rules."""
    found = claims(f"{SOUND}\ncontacts_seen: [main]")["AC-06"]
    words = {detail.subject: detail.worst_case for detail in found.details}
    assert words["the blade of main is welded"] == "answered by the rules"


def test_what_no_entry_answers_says_so():
    """AC-06: a portable generator that meets the supply in one move; only where it can be connected is left to say."""
    found = claims(SOUND)["AC-06"]
    [words] = [detail.worst_case for detail in found.details if "portable" in detail.subject]
    assert (
        "none of the entries tried answers it; say in operation.portable_sources where none can be connected" in words
    )
