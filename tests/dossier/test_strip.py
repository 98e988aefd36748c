"""Dossier: on the strip every point stands once, every device between its points, and nothing on anything else."""

from __future__ import annotations

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import CASES, machine

from deadfront.dossier.strip import LAST_LEVEL, contacts, earthing, strip
from deadfront.operation.machine_file import read_machine

NAMES = sorted(CASES)


@pytest.mark.parametrize("name", NAMES)
def test_every_point_has_one_spot_of_its_own(name):
    """All points of the machine, no two of them on one spot, none outside the strip."""
    lying = strip(machine(name))
    assert sorted(lying.points) == sorted(CASES[name]["points"])
    assert len(set(lying.points.values())) == len(lying.points)
    for level, lane in lying.points.values():
        assert 0 <= lying.levels[0] <= level <= lying.levels[1] <= LAST_LEVEL
        assert 0 <= lane < lying.lanes


@pytest.mark.parametrize("name", NAMES)
def test_every_device_and_link_is_drawn_once_between_its_points(name):
    """As many pieces as the raw file has links and pairs of points; each from one of its points to the other."""
    case, lying = CASES[name], strip(machine(name))
    expected = [(None, frozenset(link)) for link in case.get("links", [])]
    for device in case["devices"]:
        pairs = {frozenset(e) for edges in device.get("edges", {}).values() for e in edges if "E" not in e}
        expected += [(device["id"], pair) for pair in pairs]
    found = [(span.device, frozenset(span.between)) for span in lying.spans]
    assert sorted(found, key=repr) == sorted(expected, key=repr)
    for span in lying.spans:
        assert lying.points[span.between[0]] == span.start
        assert span.loose or lying.points[span.between[1]] == span.end


@pytest.mark.parametrize("name", NAMES)
def test_a_ring_is_opened_once_and_no_more(name):
    """As many loose ends as the graph of all conductors has independent rings."""
    graph = networkx.MultiGraph()
    graph.add_nodes_from(CASES[name]["points"])
    graph.add_edges_from(span.between for span in strip(machine(name)).spans)
    rings = graph.number_of_edges() - graph.number_of_nodes() + networkx.number_connected_components(graph)
    assert sum(span.loose for span in strip(machine(name)).spans) == rings


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_drawn_over_anything_else(name):
    """Each piece has its own cell between two levels, and each drop its own cells between two lanes."""
    cells: list[tuple[str, float, float]] = []
    drops: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for span in strip(machine(name)).spans:
        cells.append(("across", (span.start[0] + span.end[0]) / 2, span.end[1]))
        for lane in range(span.start[1], span.end[1]):
            drops.setdefault((span.start[0], lane), set()).add(span.start)
    assert len(set(cells)) == len(cells)
    assert all(len(starts) == 1 for starts in drops.values())
    spots = {spot: point for point, spot in strip(machine(name)).points.items()}
    for (level, lane), starts in drops.items():
        crossed = spots.get((level, lane))
        assert crossed is None or starts == {(level, lane)}


def test_what_earths_a_point_is_listed_with_it():
    """C05: the switch earths the fuse side, nothing else is earthed; the earth itself is no contact."""
    assert earthing(machine("C05")) == {"B": ("SW",)}
    switch = machine("C05").device("SW")
    assert contacts(switch) == (("S", "B"),)


def test_the_way_from_the_source_is_the_uppermost_lane():
    """C01: supply, bus and both sides of the transformer on lane 0, from left to right."""
    lying = strip(machine("C01"))
    assert {lane for _, lane in lying.points.values()} == {0}
    assert sorted(lying.points, key=lambda point: lying.points[point]) == ["S", "B", "T1", "T2"]


def chain(points):
    """A line of points with a switch between each two neighbours, fed at its first point."""
    names = [f"P{n}" for n in range(points)]
    moves = [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}]
    switches = [
        {"id": f"S{n}", "kind": "switch", "positions": ["closed", "open"], "start": "closed", "moves": moves}
        | {"edges": {"closed": [[f"P{n}", f"P{n + 1}"]]}}
        for n in range(points - 1)
    ]
    source = {"id": "U", "kind": "source", "positions": ["on"], "start": "on", "moves": []}
    feeding = source | {"source": {"at": "P0", "group": "utility", "on": ["on"]}}
    return {"id": "chain", "title": "chain", "points": names, "links": [], "devices": [feeding, *switches]}


def test_a_chain_goes_to_and_fro():
    """Twenty points in a line: eight to the right, seven back on the lane below, five to the right again."""
    lying = strip(read_machine(chain(20)))
    last = LAST_LEVEL
    there, back = [(n, 0) for n in range(last + 1)], [(n, 1) for n in range(last - 1, -1, -1)]
    again = [(n, 2) for n in range(1, last + 1)][: 20 - len(there) - len(back)]
    assert [lying.points[f"P{n}"] for n in range(20)] == [*there, *back, *again]


@st.composite
def arrangements(draw):
    """Points with any links, switches between any two of them, rings and islands included, and one or two sources."""
    points = [f"P{n}" for n in range(draw(st.integers(2, 14)))]
    pair = st.lists(st.sampled_from(points), min_size=2, max_size=2, unique=True)
    switches = [
        {
            "id": f"S{n}",
            "kind": "switch",
            "positions": ["closed", "open"],
            "start": "closed",
            "edges": {"closed": edges},
        }
        | {"moves": [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}]}
        for n, edges in enumerate(draw(st.lists(st.lists(pair, min_size=1, max_size=2), max_size=12)))
    ]
    sources = [
        {"id": f"U{n}", "kind": "source", "positions": ["on"], "start": "on", "moves": []}
        | {"source": {"at": at, "group": "utility", "on": ["on"]}}
        for n, at in enumerate(draw(st.lists(st.sampled_from(points), min_size=1, max_size=2)))
    ]
    links = draw(st.lists(pair, max_size=4))
    return {"id": "any", "title": "any", "points": points, "links": links, "devices": [*sources, *switches]}


@settings(max_examples=60, deadline=None)
@given(arrangements())
def test_any_arrangement_is_laid_out_whole_and_without_overlap(case):
    """Every point once, every pair of every switch once, no two pieces in one cell, no drop through another's point."""
    lying = strip(read_machine(case))
    assert sorted(lying.points) == sorted(case["points"])
    assert len(set(lying.points.values())) == len(lying.points)
    pairs = {(d["id"], *sorted(edge)) for d in case["devices"] for edge in d.get("edges", {}).get("closed", [])}
    found = [(span.device, *sorted(span.between)) for span in lying.spans if span.device is not None]
    assert sorted(found) == sorted(pairs)
    across = [((span.start[0] + span.end[0]) / 2, span.end[1]) for span in lying.spans]
    assert len(set(across)) == len(across)
    assert lying.levels[0] == 0
    assert lying.levels[1] <= LAST_LEVEL
    spots = {spot: point for point, spot in lying.points.items()}
    for span in lying.spans:
        for lane in range(span.start[1] + 1, span.end[1] + 1):
            assert (span.start[0], lane) not in spots or span.start == (span.start[0], lane)
