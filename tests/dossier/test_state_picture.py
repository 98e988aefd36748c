"""Dossier: the picture of a state shows what is joined, what is live and what stands how, and nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import networkx
import pytest
from machines import CASES, joined, machine, situations, start, task
from unit_machines import unit

from deadfront.dossier.state_picture import (
    FRAMES,
    MEANINGS,
    Scene,
    changes_strip,
    legend_picture,
    state_of,
    state_picture,
    states_in_words,
    throws,
)
from deadfront.dossier.strip import LAST_LEVEL, strip
from deadfront.operation.building import build
from deadfront.operation.examining import examine
from deadfront.operation.phases import by_phase
from deadfront.operation.telling import told

SVG = "{http://www.w3.org/2000/svg}"
DRAWN = [name for name in sorted(CASES) if CASES[name].get("goals")]


def picture(name, after, practice="iec", moved=None):
    """The parsed picture of a case in a situation."""
    return ElementTree.fromstring(state_picture(Scene(machine(name), practice, after, moved), "alternate").svg)


def words(tree):
    """All lettering, in drawing order."""
    return [element.text or "" for element in tree.iter(f"{SVG}text")]


def paths(tree):
    """Every path with its corners."""
    for element in tree.iter(f"{SVG}path"):
        found = re.findall(r"(-?[\d.]+) (-?[\d.]+)", element.get("d", ""))
        yield element, [(float(x), float(y)) for x, y in found]


def drawn_joints(tree, points):
    """What the coloured lines of a picture join, by their ends; and where each point's bar stands, in drawing order."""
    bars = [c for e, c in paths(tree) if e.get("stroke-width") == "0.5" and e.get("stroke") is None]
    places = {
        point: (bar[0][0], round((bar[0][1] + bar[1][1]) / 2, 3)) for point, bar in zip(points, bars, strict=True)
    }
    graph = networkx.Graph()
    graph.add_nodes_from(places.values())
    for element, corners in paths(tree):
        if element.get("stroke-linecap") == "butt" and len(corners) == 2:
            graph.add_edge(*corners)
    return graph, places


@pytest.mark.parametrize("name", DRAWN)
def test_lines_join_exactly_the_points_that_are_joined(name):
    """In every state of a task: a device is a line without a gap if and only if the raw file says it conducts."""
    for after in situations(name):
        graph, places = drawn_joints(picture(name, after), list(strip(machine(name)).points))
        truth = joined(name, after.positions)
        for span in strip(machine(name)).spans:
            if span.loose or span.magnetic:
                continue
            a, b = span.between
            closed = truth.has_edge(a, b)
            assert networkx.has_path(graph, places[a], places[b]) == closed, (span, after.positions)


@pytest.mark.parametrize("name", DRAWN)
def test_every_point_has_its_name_and_its_state_in_words(name):
    """Name above, state under it; every electric device with its position."""
    for after in situations(name):
        found = words(picture(name, after))
        for point in machine(name).points:
            above = [found[n - 1] for n, word in enumerate(found) if word == point]
            charged = any(s.at == point and s.id in after.charged for s in machine(name).stores)
            if charged:
                assert "charged" in above
                above = [found[n - 2] for n, word in enumerate(found) if word == point]
            assert state_of(after, point) in above
        for device in machine(name).devices:
            if device.electric:
                beside = [found[n + 1] for n, word in enumerate(found[:-1]) if word == device.id]
                assert after.positions.get(device.id, device.start) in beside


def test_the_worst_state_of_a_point_is_its_word():
    """C08: earthing the cable that the far end feeds is a fault there, live behind, and drawn as neither."""
    plant = build(machine("C08"), "hands")
    after = told(plant, ["WA: closed->open", "WA: open->earthed"])[-1].after
    assert state_of(after, "CA") == "fault"
    assert state_of(after, "BUS") == "live"
    assert "CA fault" in states_in_words(Scene(machine("C08"), "iec", after))
    teeth = [e for e, _ in paths(picture("C08", after)) if e.get("stroke-dasharray") == "0.45 0.45"]
    assert teeth
    assert not [e for e, _ in paths(picture("C08", start("C08"))) if e.get("stroke-dasharray") == "0.45 0.45"]


def test_proved_dead_is_said_until_the_next_electrical_move():
    """C22: the word appears with the test and goes with the next switching."""
    said = [
        {point for point in machine("C22").points if state_of(step.after, point) == "proved dead"}
        for step in task("C22").steps
    ]
    tests = [step.text.startswith("test ") for step in task("C22").steps]
    assert any(said)
    for before, after, test in zip([set(), *said], said, tests, strict=False):
        assert after >= before if test else after in (before, set())


@pytest.mark.parametrize("practice", ["iec", "north-american"])
def test_the_device_of_the_step_is_framed_and_no_other(practice):
    """One frame and one pointer, only where something on the strip moves."""
    after = task("C05").steps[0].after
    frames = [e for e, c in paths(picture("C05", after, practice, "SW")) if e.get("stroke-width") == "0.34"]
    assert len(frames) == 1
    assert not [e for e, _ in paths(picture("C05", after, practice)) if e.get("stroke-width") == "0.34"]


def test_what_is_in_reach_is_framed():
    """C05 with the door open: the points behind it say so, and only they."""
    behind = next(o.reaches for o in machine("C05").openings)
    for after in situations("C05"):
        door = [o for o in machine("C05").openings if after.positions[o.device] in o.positions]
        assert words(picture("C05", after)).count("in reach") == (len(behind) if door else 0)


def test_a_step_that_moves_only_a_key_changes_nothing_on_the_strip():
    """C01: opening the switch does, taking its key out does not, opening the door does."""
    steps = [start("C01"), *(step.after for step in task("C01").steps)]
    shown = [changes_strip(machine("C01"), a, b) for a, b in pairwise(steps)]
    texts = [step.text for step in task("C01").steps]
    assert [text for text, change in zip(texts, shown, strict=True) if not change] == [
        text for text in texts if text.startswith("key ")
    ]


def test_states_are_told_apart_without_colour():
    """Every two of the four kinds of line differ in width or dashes, not in colour alone."""
    from deadfront.dossier.state_picture import _LINES

    shapes = {state: tuple((ink.width, ink.dashes) for ink in _LINES[state]) for state, _ in MEANINGS}
    del shapes["proved dead"]  # the same line as dead: the word tells them apart
    assert len(set(shapes.values())) == len(shapes)


def test_the_legend_shows_every_kind_of_line():
    """One sample and one meaning for each, lines and frames, in words for those who do not see it."""
    drawn = legend_picture()
    meanings = [*(meaning for _, meaning in MEANINGS), *(meaning for _, meaning in FRAMES)]
    assert words(ElementTree.fromstring(drawn.svg)) == meanings
    assert all(meaning in drawn.alternate for meaning in meanings)


def white(tree):
    """Lettering in white, joined."""
    return " ".join(element.text or "" for element in tree.iter(f"{SVG}text") if element.get("fill") == "white")


def test_a_dangerous_step_is_white_on_black():
    """C02: the door opens on live parts; its step shows them in white on black, the step before it nothing."""
    moves = told(build(machine("C02"), "hands"), examine(machine("C02"), "hands").sequences["EXP_OPEN"])
    before, last = (
        ElementTree.fromstring(
            state_picture(Scene(machine("C02"), "iec", m.after, m.text.partition(":")[0], bool(m.kinds)), "").svg
        )
        for m in moves[-2:]
    )
    assert white(before) == ""
    behind = next(o.reaches for o in machine("C02").openings)
    for point in behind:
        assert f"live {point} in reach" in white(last)


def test_a_charge_within_reach_is_white_on_black_wherever_it_is_stored():
    """C20: the breaker is closed, and the charge of the bus gets through it to the points behind the open door."""
    moves = told(build(machine("C20"), "hands"), examine(machine("C20"), "hands").sequences["EXP_CHARGE"])
    last = moves[-1]
    scene = Scene(machine("C20"), "iec", last.after, last.text.partition(":")[0], danger=True)
    assert white(ElementTree.fromstring(state_picture(scene, "").svg)).startswith("MB closed dead T1 in reach")


def test_an_earth_at_a_fold_hangs_on_its_point():
    """The bus at the edge of the strip, whose conductor goes down: its earth, beside the line, is joined to it."""
    of = unit("loop with connectors, earths and a store")
    after = replace(of.start(), positions=of.start().positions | {"bus earth": "on"})
    tree = ElementTree.fromstring(state_picture(Scene(of.machine, "iec", after), "").svg)
    graph, places = drawn_joints(tree, list(strip(of.machine).points))
    x, y = places["LV bus"]
    assert strip(of.machine).points["LV bus"][0] == LAST_LEVEL
    assert networkx.has_path(graph, (x, y), (x + 2.2, round(y + 2.6, 3)))


def lines_in(tree, dashes):
    """Corners of the traced lines with these dashes."""
    return [c for e, c in paths(tree) if e.get("stroke-dasharray") == dashes and e.get("stroke-linecap") == "butt"]


@pytest.mark.parametrize("practice", ["iec", "north-american"])
def test_a_switch_that_earths_has_its_blade_on_its_own_earth(practice):
    """C05: turned to earthed, the blade goes from the fuse side down to a second contact; closed, none does."""
    turned = task("C05").steps[3].after
    assert turned.positions["SW"] == "earthed"
    slanting = [
        c for c in lines_in(picture("C05", turned, practice), "0.22 0.5") if c[0][0] != c[1][0] and c[0][1] != c[1][1]
    ]
    assert len(slanting) == 1
    (x0, y0), (x1, y1) = slanting[0]
    spot = strip(machine("C05")).points["B"]
    assert x1 < x0 < spot[0] * 11.9
    assert y1 > y0
    assert throws(machine("C05").device("SW")) == {frozenset(("S", "B")): "B"}


def test_only_a_blade_with_an_earth_of_its_own_is_drawn_so():
    """C08: each way earths its cable, not the bus; the earth put on in C12 is no switch; three phases have three."""
    assert throws(machine("C08").device("WA")) == {frozenset(("CA", "BUS")): "CA"}
    assert throws(machine("C12").device("G_LV")) == {}
    assert len(throws(by_phase(machine("C05"), ()).device("SW"))) == 3


def test_the_same_state_gives_the_same_bytes():
    """Drawn twice, one picture; names are escaped, so that a name can be no markup."""
    scene = Scene(machine("C17"), "iec", start("C17"))
    assert state_picture(scene, "a").svg == state_picture(scene, "a").svg
    assert "<title>a &lt; b &amp; c</title>" in state_picture(scene, "a < b & c").svg
