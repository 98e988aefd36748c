"""OC-10 and DO-01: what comes before a new limiter, and what plates and signs must say."""

from __future__ import annotations

import pytest
from claim_files import NORTH_AMERICAN, project

from deadfront.claims.promises import FIRST_TESTS, PLATE, a_blown_limiter_is_tested_first, plates_and_signs_are_complete

AFTER = {"tests": list(FIRST_TESTS), "decided_by": "transformer specialist"}
PLATES = {
    "switch.voltage": "27 kV",
    "switch.continuous": "200 A",
    "transformer.liquid": "natural ester",
    "transformer.volume": "1450 L",
    "issued": "2026-11-25",
}
DOOR = {"reaches": ["fuse line side"], "signs": ["high voltage", "back-feed"]}


def oc_10(after, changes=None):
    """OC-10 of the complete unit with what comes before a limiter is replaced."""
    return a_blown_limiter_is_tested_first(
        project(NORTH_AMERICAN, {"operation.after_limiter": after, **(changes or {})})
    )


def do_01(door, changes=None):
    """DO-01 of the complete unit with one door."""
    doors = None if door is None else {"fuse door": door}
    return plates_and_signs_are_complete(
        project(NORTH_AMERICAN, {**PLATES, "operation.doors": doors, **(changes or {})})
    )


def test_a_limiter_stays_out_until_the_tests_are_done():
    """OC-10: all four tests and somebody who decides; the evidence says first what a blown limiter means."""
    found = oc_10(AFTER)
    assert found.verdict == "shown", found.reason
    assert found.reason == "A limiter that has operated stays out until transformer specialist has seen the results."
    assert found.evidence[0].result == "the transformer counts as failed"
    assert [step.meaning for step in found.evidence[1:]] == list(FIRST_TESTS)


@pytest.mark.parametrize("test", FIRST_TESTS)
def test_a_test_that_is_left_out_refutes(test):
    """OC-10: each of the four is wanted."""
    found = oc_10({**AFTER, "tests": [one for one in FIRST_TESTS if one != test]})
    assert (found.verdict, found.value) == ("refuted", 1.0)
    assert found.reason == f"Not among the tests that come first: {test}."


def test_what_is_not_said_leaves_it_open():
    """OC-10: nothing said, or nobody named."""
    assert [m.path for m in oc_10(None).missing] == [
        "operation.after_limiter.tests",
        "operation.after_limiter.decided_by",
    ]
    assert [m.path for m in oc_10({"tests": list(FIRST_TESTS)}).missing] == ["operation.after_limiter.decided_by"]


def test_without_a_limiter_there_is_nothing_to_replace():
    """OC-10 is not applicable without one."""
    assert oc_10(AFTER, {"fuses.limiter": None}).verdict == "not applicable"


def test_plates_and_signs_are_shown_when_all_is_given():
    """DO-01: every entry of the plates, and on the door both signs that a generator and medium voltage ask for."""
    found = do_01(DOOR)
    assert found.verdict == "shown", found.reason
    assert len([step for step in found.evidence if step.symbol == "P"]) == len(PLATE)


@pytest.mark.parametrize("path", [path for path, _, _ in PLATE if path != "board.voltage"])
def test_an_entry_of_a_plate_that_is_missing_leaves_it_open(path):
    """DO-01 names it, with an example."""
    found = do_01(DOOR, {path: None})
    assert found.verdict == "open"
    assert path in [entry.path for entry in found.missing]


@pytest.mark.parametrize(
    ("door", "verdict", "words"),
    [
        ({**DOOR, "signs": ["back-feed"]}, "refuted", "A sign is not there: high voltage on fuse door."),
        ({**DOOR, "signs": []}, "refuted", "high voltage on fuse door, back-feed on fuse door"),
        ({"reaches": ["LV bus"], "signs": ["back-feed"]}, "shown", "every door has its signs"),
        ({"reaches": []}, "shown", "every door has its signs"),
        ({"reaches": ["LV bus"]}, "open", "operation.doors.fuse door.signs"),
        (None, "open", "operation.doors"),
    ],
)
def test_a_door_has_the_signs_that_what_is_behind_it_asks_for(door, verdict, words):
    """DO-01: high voltage above 1000 V, back-feed where something can feed back; none on a dead-front door."""
    found = do_01(door)
    assert found.verdict == verdict, found.reason
    assert words in found.reason
