"""Operation: a remedy restores safety, and a door that never opens again is none."""

from __future__ import annotations

import copy
from functools import cache

from published import CASES

from deadfront.operation.failures import break_all
from deadfront.operation.machine_file import read_machine
from deadfront.operation.remedies import Answer, answered, remedies


@cache
def c22() -> dict[str, tuple[Answer, ...]]:
    """What answers the failures of the station with tests and padlocks."""
    return answered(read_machine(CASES["C22"]))


def test_an_earth_behind_the_main_answers_a_welded_main():
    """C22: of the two failures left open there, the welded main is answered by an earth on the transformer's side."""
    found = c22()
    assert set(found) == {"stuck:MB", "source:portable_gen"}
    whole = [answer.text for answer in found["stuck:MB"] if not answer.left]
    assert "an earth at T2, put on after it is proved dead and kept while DOOR is open" in whole
    assert "see the contacts of MB apart before DOOR is opened" in whole


def test_what_a_remedy_leaves_is_said():
    """C22: with an earth the portable generator meets the earth and not a hand; that it is out of step remains."""
    earth = next(a for a in c22()["source:portable_gen"] if a.text.startswith("an earth at T2"))
    assert earth.left == ("LIVE_EARTH", "PARALLEL")


def test_seeing_the_contacts_answers_a_welded_switch():
    """C01: the door opens on a welded switch; a look at its contacts, or a test, refuses it."""
    texts = [answer.text for answer in answered(read_machine(CASES["C01"]))["stuck:SW"] if not answer.left]
    assert "see the contacts of SW apart before DOOR is opened" in texts
    assert "prove B dead with DOOR shut, before it is opened" in texts


def test_an_answer_holds_when_it_is_searched_again():
    """Every full answer for C12, built in, takes the failure's hazards away in a search of its own."""
    machine = read_machine(CASES["C12"])
    built = {remedy.text: remedy.machine for remedy in remedies(machine)}
    for failure, answers in answered(machine).items():
        for answer in answers:
            assert set(break_all(built[answer.text], "rules").new([failure])) == set(answer.left)


def test_a_remedy_that_locks_everybody_out_is_none():
    """C08 with no rest for the loop: an earth or test that can never be made is not offered as an answer."""
    case = copy.deepcopy(CASES["C08"])
    for device in case["devices"]:
        if device["id"] == "REM":
            device["moves"] = []
    case["goals"] = []
    machine = read_machine(case)
    texts = {answer.text for answers in answered(machine).values() for answer in answers}
    assert not any(text.startswith("prove CA dead") for text in texts)


def test_one_more_lock_answers_a_second_key():
    """C01: with a duplicate key the door opens on a closed switch; an interlock of its own between the two holds it."""
    found = answered(read_machine(CASES["C01"]))["dupkey:A"]
    assert "one more lock: DOOR opens only while SW is apart, and back" in [a.text for a in found if not a.left]
