"""Operation: connectors, bolts, rooms, far sources and a main-tie-main of a unit do what such things do."""

from __future__ import annotations

from test_station_machine import BEFORE, LOOP, hands, unit

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all
from deadfront.operation.procedures import there_and_back

ONE_KEY = "schemes: [one key]\nvent_first: mechanical"
WITHOUT_GENERATOR = BEFORE[: BEFORE.index("# Standby generator")] + BEFORE[BEFORE.index("# Motors") :]


def with_tie(parallel: str) -> str:
    """The starter unit without its generator, with a tie to a neighbouring board."""
    board = "board:\n"
    assert WITHOUT_GENERATOR.count(board) == 1
    return WITHOUT_GENERATOR.replace(
        board, f"board:\n  tie: {{fault_current: 12 kA, x_over_r: 4, parallel: {parallel}}}\n"
    )


# --- connectors ---

CONNECTOR = (
    "connectors: {elbow: {cable: cable A, load_break: %s, behind: cable door}}\n"
    "earths: {cable earth: {at: cable A, parked: elbow, behind: cable door}}\n"
    "tests: {cable test: {at: cable A, behind: cable door}, fuse test: {at: fuse line side}}\n"
    "doors: {cable door: {reaches: []}}"
)


def test_an_accessory_earths_a_cable_only_at_a_parked_connector():
    """The far end open, the connector parked, the cable proved dead, the accessory on: the order of the task."""
    machine = unit(f"{ONE_KEY}\n{CONNECTOR % 'yes'}").machine
    goal = next(goal for goal in machine.goals if goal.id == "earth cable A at elbow")
    way = there_and_back(machine, goal)
    assert way is not None
    assert way[0] == (
        "main: closed->open",
        "remote switch A: closed->open",
        "cable door: closed->open",
        "elbow: on->parked",
        "test cable test",
        "cable earth: off->on",
    )
    assert way[1] is not None


def test_a_dead_break_connector_breaks_load_by_hand_and_not_by_rule():
    """Pulled live it drops the load of the unit: hardware lets it, the rule does not; a load-break one may."""
    dead = unit(f"{ONE_KEY}\n{CONNECTOR % 'no'}").machine
    assert examine(dead, "hands").sequences["LOAD"] == ("cable door: closed->open", "elbow: on->parked")
    assert "LOAD" not in examine(dead, "rules").sequences
    assert "LOAD" not in hands(f"{ONE_KEY}\n{CONNECTOR % 'yes'}")


def test_in_a_loop_a_connector_stands_between_its_cable_and_the_way():
    """Parked, it takes the cable off the way, whose earth then holds the unit's side and not the live cable."""
    machine = unit(f"{ONE_KEY}\n{CONNECTOR % 'yes'}", LOOP).machine
    assert machine.device("elbow").edges_at("on") == (("cable A", "terminals A"),)
    assert machine.device("way A").edges_at("earthed") == (("terminals A", "E"),)


# --- bolts ---


def test_a_bolt_is_loosened_before_its_door_and_locked_only_on_a_shut_one():
    """Padlock off, bolt loose, door open; with the bolt's guard defeated the door opens at once."""
    section = (
        "schemes: [one key]\ndoors: {hatch: {reaches: [fuse line side]}, lid: {reaches: []}}\n"
        "bolts: {hatch bolt: {door: hatch, behind: lid, padlock: yes}}"
    )
    machine = unit(section).machine
    assert examine(machine, "hands").sequences["EXP_OPEN"] == (
        "lid: closed->open",
        "hatch bolt: locked->tight",
        "hatch bolt: tight->loose",
        "hatch: closed->open",
    )
    assert break_all(machine, "hands").reaches[frozenset(["defeat:hatch bolt loose"])].dangers["EXP_OPEN"] == 1


# --- rooms ---

ROOM = (
    "schemes: [one key]\nvent_first: mechanical\n"
    "doors: {fuse door: {reaches: []}, room door: {reaches: [fuse line side]}}\n"
    "locks: {room lock: {device: room door, code: R, free_at: [closed]}}\n"
    "exchanges: {box: {takes: [A], gives: [R%s]}}\n"
    "keys: {R1: {code: R, start: box}%s}\n"
    "rooms: {transformer room: {door: room door, reaches: [fuse line side]%s}}"
)


def test_a_room_without_a_personnel_key_is_energised_on_the_person():
    """As in the published walk-in room: locked in, and made live on whoever is inside."""
    found = hands(ROOM % ("", "", ""))
    assert {"PERSON", "EXP_CLOSE"} <= set(found)


def test_a_personnel_key_keeps_the_room_dead_and_a_release_inside_opens_it():
    """The key carried in takes the re-energising away, not the locking in; the release takes that away too."""
    key = (", P", ", P1: {code: P, start: box}", ", personnel_key: P")
    assert set(hands(ROOM % key)) == {"PERSON"}
    assert hands(ROOM % (*key[:2], f"{key[2]}, release_inside: yes")) == {}


def test_who_walks_in_carries_the_key():
    """The task passes H9 with the key in the pocket before anybody goes in."""
    section = ROOM % (", P", ", P1: {code: P, start: box}", ", personnel_key: P, release_inside: yes")
    machine = unit(f"{section}\ntests: {{t: {{at: fuse line side}}}}").machine
    goal = next(goal for goal in machine.goals if goal.id == "walk into transformer room")
    assert "H9" in [hold.id for hold in goal.holds]
    way = there_and_back(machine, goal)
    assert way is not None
    assert way[0].index("key P1: hand->transformer room pocket") < way[0].index("crew in transformer room: out->in")


# --- what feeds back ---


def test_a_source_at_a_feeders_far_end_feeds_back():
    """Out of step it joins the supply in one move; in step it may, until the supply is gone: then it feeds back."""
    section = f"{ONE_KEY}\nfar_sources: {{ups: {{feeder: pump hall, in_step: %s}}}}"
    found = hands(section % "no")
    assert (found["PARALLEL"], found["BACKFEED"]) == (1, 1)
    assert hands(section % "yes", WITHOUT_GENERATOR) == {"EXP_OPEN": 5, "EXP_CLOSE": 5, "BACKFEED": 2}


def test_work_on_a_feeder_opens_it_and_stops_what_feeds_back():
    """Both are hold points, and the end is proved dead where it can be."""
    section = (
        f"{ONE_KEY}\nfar_sources: {{ups: {{feeder: pump hall, in_step: no}}}}\n"
        "tests: {end test: {at: feeder end pump hall}}"
    )
    machine = unit(section).machine
    way = there_and_back(machine, next(goal for goal in machine.goals if goal.id == "work on feeder pump hall"))
    assert way is not None
    assert way[0] == ("feeder pump hall: closed->open", "test end test")


def test_main_tie_main_with_two_keys_never_joins_two_feeds_and_a_third_key_does():
    """Three locks and two keys, as in the published arrangement: a duplicate key lets all three close."""
    machine = unit("schemes: [one key, main-tie-main]\nvent_first: mechanical", with_tie("never")).machine
    assert "PARALLEL" not in examine(machine, "hands").sequences
    assert break_all(machine, "hands").reaches[frozenset(["dupkey:M"])].dangers["PARALLEL"] == 2
    assert "transfer to the tie" in [goal.id for goal in machine.goals]
