"""Dossier: the picture of the keys shows every place, every key, and every step that moves one."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from machines import CASES, machine, start, task

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
def test_a_badge_stands_at_the_start_and_wherever_a_key_moves(name):
    """As many badges as the raw sequence has moves of the key, and one for where it is at first."""
    found = texts(drawn(name))
    for key in CASES[name]["keys"]:
        moves = sum(step.text.startswith(f"key {key['id']}: ") for step in task(name).steps)
        places = [*CASES[name].get("locks", [])]
        named = sum(lock["id"] == key["id"] for lock in places)
        assert found.count(key["id"]) == 1 + moves + named


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
    """No two of the first six keys have the same dashes."""
    from deadfront.dossier.key_picture import _KEYS

    assert len({ink.dashes for ink in _KEYS}) == len(_KEYS)


def test_without_a_key_there_is_no_picture():
    """A call for it is refused in words."""
    with pytest.raises(ValueError, match=r"^machine: it has no keys$"):
        key_picture(machine("C08"), start("C08"), [], "Keys")
