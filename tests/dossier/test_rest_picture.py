"""Dossier: the picture of the rest states has room for every box, an arrow for every way, and words for both."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from machines import machine, task
from unit_machines import unit

from deadfront.dossier.rest_picture import letter, rest_name, rest_picture, way_words
from deadfront.dossier.sheet import HIGHEST
from deadfront.operation.procedures import procedure
from deadfront.operation.resting import rests

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ["C01", "C02", "C03", "C05", "C07", "C17"]
LONG = "loop with a far source"
SOME = ["C05", "C20", "kestrel-point/repaired", "tarn-edge/unit", LONG]


def found(name):
    """The rest states of a case, with its first task."""
    ways = () if name == "C02" else (task(name),)
    result = rests(machine(name), ways)
    assert result is not None
    return result


@cache
def graph_of(name):
    """The rest states of a unit, with all its tasks."""
    of = unit(name).machine
    result = rests(of, [done for goal in of.goals if (done := procedure(of, goal)) is not None])
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
def test_every_way_has_its_number_and_every_state_its_letter_and_name(name):
    """Numbers 1 to n once each; the outset is named as normal service; tasks stand where they begin."""
    tree = ElementTree.fromstring(rest_picture(machine(name), found(name)).svg)
    words = [element.text or "" for element in tree.iter(f"{SVG}text")]
    for number in range(1, len(found(name).moves) + 1):
        assert words.count(str(number)) == 1
    assert words.count("A normal service") == 1
    outset = found(name).states[0]
    for n, rest in enumerate(found(name).states):
        assert f"{letter(n)} {rest_name(rest, outset)}" in " ".join(words)
        for goal in rest.tasks:
            assert goal in " ".join(words)


def ways(tree):
    """Corners of every way, in the order of their numbers."""
    for element in tree.iter(f"{SVG}path"):
        if element.get("stroke-width") == "0.2" and element.get("stroke-linecap") == "butt":
            found = re.findall(r"(-?[\d.]+) (-?[\d.]+)", element.get("d", ""))
            yield [(float(x), float(y)) for x, y in found]


@pytest.mark.parametrize("name", SOME)
def test_every_way_goes_from_its_box_to_its_box_and_shares_no_stretch(name):
    """It leaves the side of its origin and meets that of its target; two ways cross, but never run on each other."""
    of, graph = unit(name).machine, graph_of(name)
    tree = ElementTree.fromstring(rest_picture(of, graph).svg)
    boxes, stretches = list(frames(tree)), []
    assert len(boxes) == len(graph.states)
    for move, corners in zip(graph.moves, ways(tree), strict=True):
        for (x, y), number in ((corners[0], move.origin), (corners[-1], move.target)):
            left, top, right, bottom = boxes[number]
            assert top < y < bottom
            assert (right < x < right + 3.4) if move.target > move.origin else (left - 3.4 < x < left)
        stretches += [(one, other) for one, other in pairwise(corners)]
    for n, ((x0, y0), (x1, y1)) in enumerate(stretches):
        for (u0, v0), (u1, v1) in stretches[:n]:
            if x0 == x1 == u0 == u1:
                assert max(y0, y1) < min(v0, v1) or max(v0, v1) < min(y0, y1)
            if y0 == y1 == v0 == v1:
                assert max(x0, x1) < min(u0, u1) or max(u0, u1) < min(x0, x1)


def test_ways_lead_where_the_search_says():
    """C20, both sides: every way out of normal service goes down on the right, every way back up on the left."""
    corners = list(ways(ElementTree.fromstring(rest_picture(unit("C20").machine, graph_of("C20")).svg)))
    for move, way in zip(graph_of("C20").moves, corners, strict=True):
        assert (way[-1][1] > way[0][1]) is (move.target > move.origin)


def test_a_graph_too_high_for_a_page_is_told_in_brief():
    """A loop with a far source: what is most is `all else`, and the picture fits; the words for readers stay whole."""
    picture = rest_picture(unit(LONG).machine, graph_of(LONG))
    assert len(graph_of(LONG).states) > 8
    assert picture.height < HIGHEST
    assert "all else" in picture.svg.partition("</title>")[2]
    assert "all else" not in picture.alternate


def test_the_picture_is_told_in_words():
    """C01: both states with what is live, both ways with what is done."""
    assert rest_picture(machine("C01"), found("C01")).alternate == (
        "Rest states. A, normal service: live: B, T1, T2; SW closed. B, SW open: not live: B, T1, T2; "
        "from here: draw_fuse. Ways. 1 from A to B: open SW. 2 from B to A: close SW."
    )


def test_a_way_through_the_work_is_said_as_its_task():
    """C09: not move by move, which is the sheet's business."""
    through = [move for move in found("C09").moves if move.task]
    assert [way_words(machine("C09"), move) for move in through] == [
        "earth_incoming_cable, out and back, as its sheet says"
    ]
