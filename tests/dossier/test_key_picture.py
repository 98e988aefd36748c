"""Dossier: the picture of the keys shows every place, every key, and every step that moves one."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from machines import CASES, machine, start, task
from unit_machines import unit

from deadfront.dossier.access_picture import access_picture
from deadfront.dossier.key_picture import KeyStep, key_picture
from deadfront.operation.wording import move_words

SVG = "{http://www.w3.org/2000/svg}"
KEYED = [name for name in sorted(CASES) if CASES[name].get("goals") and CASES[name].get("keys")]


def steps(name):
    """The steps of a case's first task as the picture takes them."""
    done = task(name)
    return [KeyStep(n, move_words(machine(name), step.text), step.after) for n, step in enumerate(done.steps, start=1)]


def drawn(name):
    """The parsed picture."""
    return ElementTree.fromstring(key_picture(machine(name), start(name), steps(name), "Keys").svg)


def texts(tree):
    """All lettering."""
    return [element.text or "" for element in tree.iter(f"{SVG}text")]


@pytest.mark.parametrize("name", KEYED)
def test_a_key_is_named_at_both_ends_of_a_row_and_wherever_it_moves(name):
    """As often as the raw sequence has moves of the key, and twice in each row of steps."""
    found = texts(drawn(name))
    rows = found.count("before")
    for key in CASES[name]["keys"]:
        moves = sum(step.text.startswith(f"key {key['id']}: ") for step in task(name).steps)
        named = sum(lock["id"] == key["id"] for lock in CASES[name]["locks"])
        assert found.count(key["id"]) == 2 * rows + moves + rows * named


def test_more_steps_than_a_page_is_wide_go_on_below():
    """C03: nine steps that move something, four and five; numbers go on from row to row."""
    tree = drawn("C03")
    places = {e.text: (float(e.get("x")), float(e.get("y"))) for e in tree.iter(f"{SVG}text") if e.text.isdigit()}
    numbers = sorted(places, key=int)
    heights = [places[number][1] for number in numbers]
    assert heights == sorted(heights)
    assert len(set(heights)) == 2
    assert (heights.count(heights[0]), heights.count(heights[-1])) == (4, 5)


def unit_drawn(name, goal):
    """The parsed picture of a task of one of the units."""
    return ElementTree.fromstring(access_picture(unit(name), "keys", goal).svg)


def test_seven_keys_fit_a_page_and_each_row_shows_those_that_move():
    """Three rows: first the key of the way alone, last that of the generator and the door; the other door's never."""
    found = texts(unit_drawn("seven keys", "replace bayonet fuse"))
    rows = " ".join(found).split("before")
    seen = [set(re.findall(r"\b[A-Z]1\b", row)) for row in rows]
    assert found.count("before") == 3
    assert "L1" not in set().union(*seen)
    assert {"A1", "B1", "C1", "D1", "G1", "F1"} <= set().union(*seen)
    assert "Each row shows the keys that move in it, with their places." in found


def test_two_keys_in_one_place_run_on_tracks_of_their_own():
    """Both personnel and room key in the hand at once: no line lies on the other one."""
    machine_of = unit("room").machine
    begin = unit("room").start()
    both = replace(begin, keys=begin.keys | {"R1": "hand", "P1": "hand"})
    drawn_so = key_picture(machine_of, begin, [KeyStep(1, "take both", both)], "Keys")
    tree = ElementTree.fromstring(drawn_so.svg)
    ends = {e.text: float(e.get("y")) for e in tree.iter(f"{SVG}text") if e.text in ("R1", "P1")}
    assert abs(ends["R1"] - ends["P1"]) > 2


@pytest.mark.parametrize("name", KEYED)
def test_every_place_of_a_key_has_its_lane(name):
    """The hand, each lock with where its key comes out, each slot."""
    words = " ".join(texts(drawn(name)))
    assert "in somebody's hand" in words
    for lock in CASES[name]["locks"]:
        assert lock["id"] in words
        assert f"{lock['code']} comes out at" in words
    for box in CASES[name].get("exchanges", []):
        for slot in (*box["in"], *box["out"]):
            assert slot["id"] in words


def test_steps_that_move_no_key_and_no_locked_device_are_left_out():
    """C01: of open, key out, key in, open door, draw, only the draw is left out; numbers stay those of the sheet."""
    numbers = [word for word in texts(drawn("C01")) if re.fullmatch(r"\d+", word)]
    assert [step.text.partition(":")[0] for step in task("C01").steps] == ["SW", "key A1", "key A1", "DOOR", "F"]
    assert numbers == ["1", "2", "3", "4"]


def test_the_picture_is_told_in_words():
    """Where each key is at first, and every move of it with its step."""
    words = key_picture(machine("C01"), start("C01"), steps("C01"), "Keys").alternate
    assert words.startswith("Keys. Before step 1: key A1 in ")
    for number, step in enumerate(task("C01").steps, start=1):
        if step.text.startswith("key "):
            assert f"step {number}: key A1 from " in words


def test_lines_of_keys_differ_without_colour():
    """No two of the first eight keys have the same pattern: width, dashes, hollow or not."""
    from deadfront.dossier.key_picture import _KEYS

    assert len({tuple((ink.width, ink.dashes) for ink in inks) for inks in _KEYS}) == len(_KEYS) == 8


def test_without_a_key_there_is_no_picture():
    """A call for it is refused in words."""
    with pytest.raises(ValueError, match=r"^machine: it has no keys$"):
        key_picture(machine("C08"), start("C08"), [], "Keys")
