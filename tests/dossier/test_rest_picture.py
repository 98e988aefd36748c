"""Dossier: the picture of the rest states has room for every box, an arrow for every way, and words for both."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from machines import machine, task

from deadfront.dossier.rest_picture import letter, rest_picture, way_words
from deadfront.operation.resting import rests

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ["C01", "C02", "C03", "C05", "C07", "C17"]


def found(name):
    """The rest states of a case, with its first task."""
    ways = () if name == "C02" else (task(name),)
    result = rests(machine(name), ways)
    assert result is not None
    return result


def frames(tree):
    """Left, top, right and bottom of every box."""
    for element in tree.iter(f"{SVG}path"):
        if element.get("stroke-width") == "0.3" and element.get("fill") == "none":
            corners = [float(n) for n in re.findall(r"-?[\d.]+", element.get("d", ""))]
            yield min(corners[::2]), min(corners[1::2]), max(corners[::2]), max(corners[1::2])


@pytest.mark.parametrize("name", NAMES)
def test_every_state_has_a_box_and_no_box_lies_on_another(name):
    """As many frames as rest states, apart from each other."""
    boxes = list(frames(ElementTree.fromstring(rest_picture(machine(name), found(name)).svg)))
    assert len(boxes) == len(found(name).states)
    for n, (left, top, right, bottom) in enumerate(boxes):
        for other in boxes[:n]:
            assert right < other[0] or other[2] < left or bottom < other[1] or other[3] < top


@pytest.mark.parametrize("name", NAMES)
def test_every_way_has_its_number_and_every_state_its_letter(name):
    """Numbers 1 to n once each; the outset is named as normal service; tasks stand where they begin."""
    tree = ElementTree.fromstring(rest_picture(machine(name), found(name)).svg)
    words = [element.text or "" for element in tree.iter(f"{SVG}text")]
    for number in range(1, len(found(name).moves) + 1):
        assert words.count(str(number)) == 1
    assert words.count("A, normal service") == 1
    for n in range(1, len(found(name).states)):
        assert words.count(letter(n)) == 1
    for rest in found(name).states:
        for goal in rest.tasks:
            assert goal in " ".join(words)


def test_the_picture_is_told_in_words():
    """C01: both states with what is live, both ways with what is done."""
    assert rest_picture(machine("C01"), found("C01")).alternate == (
        "Rest states. A: live: B, T1, T2; SW closed. B: not live: B, T1, T2; as in normal service, but SW open; "
        "from here: draw_fuse. Ways. 1 from A to B: open SW. 2 from B to A: close SW."
    )


def test_a_way_through_the_work_is_said_as_its_task():
    """C09: not move by move, which is the sheet's business."""
    through = [move for move in found("C09").moves if move.task]
    assert [way_words(machine("C09"), move) for move in through] == [
        "earth_incoming_cable, out and back, as its sheet says"
    ]
