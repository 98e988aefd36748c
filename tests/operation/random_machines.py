"""Tests: random machines in the form of a machine file, small enough for the second search."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

POINTS = ["A", "B", "C", "D"]


@st.composite
def machines(draw: st.DrawFn) -> dict[str, Any]:
    """A source, two or three switches, a door, perhaps locks and an exchange, a store, a test, an extra source."""
    ends = st.sampled_from(POINTS)
    edge = st.tuples(ends, ends).filter(lambda pair: pair[0] != pair[1]).map(list)
    switches = [draw(_switch(f"S{n}", edge, ends)) for n in range(draw(st.integers(2, 3)))]
    group = draw(st.sampled_from(["utility", "generator"]))
    moving = {"id": "G", "kind": "source", "positions": ["off", "on"], "start": "off"}
    moving |= {"source": {"at": draw(ends), "group": group, "on": ["on"]}}
    moving |= {"moves": [{"from": ["off"], "to": "on"}, {"from": ["on"], "to": "off"}]}
    devices = [
        {"id": "U", "kind": "source", "positions": ["on"], "start": "on", "moves": []}
        | {"source": {"at": "A", "group": "utility", "on": ["on"]}},
        *switches,
        moving,
        draw(_door(switches)),
    ]
    store = {"id": "Q", "at": draw(ends), "drains": draw(st.booleans()), "start": False}
    case = {
        "id": "random",
        "title": "random",
        "points": POINTS,
        "links": draw(st.lists(edge, max_size=1)),
        "devices": devices,
        "locks": [{"id": "L1", "dev": "S0", "code": "K", "free_at": ["open"]}] if draw(st.booleans()) else [],
        "keys": [],
        "tests": [{"id": "T", "at": "B"}],
        "stored": [store] if draw(st.booleans()) else [],
        "openings": [{"dev": "DOOR", "in": ["open"], "reaches": draw(st.lists(ends, min_size=1, max_size=2))}],
        "loads": [draw(ends)],
        "no_backfeed": {"points": [draw(ends)], "groups": draw(st.sampled_from([["generator"], []]))}
        | ({"sources": [moving["id"]]} if draw(st.booleans()) else {}),
        "extra_sources": [{"id": "X", "at": draw(ends), "group": "portable"}],
    }
    if case["locks"]:
        case["locks"].append({"id": "L2", "dev": "DOOR", "code": "K", "free_at": ["closed"]})
        case["keys"] = [{"id": "K1", "code": "K", "start": draw(st.sampled_from(["L1", "L2", "hand"]))}]
        if draw(st.booleans()):
            case["exchanges"] = [{"id": "X", "in": [{"id": "XI", "code": "K"}], "out": [{"id": "XO", "code": "P"}]}]
            case["keys"].append({"id": "P1", "code": "P", "start": "XO"})
    return case


@st.composite
def _switch(
    draw: st.DrawFn, name: str, edge: st.SearchStrategy[list[str]], ends: st.SearchStrategy[str]
) -> dict[str, Any]:
    earthing = draw(st.booleans())
    positions = ["closed", "open", "earthed"] if earthing else ["closed", "open"]
    edges = {"closed": [draw(edge)]} | ({"earthed": [[draw(ends), "E"]]} if earthing else {})
    moves: list[dict[str, Any]] = [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}]
    if earthing:
        by = draw(st.sampled_from(["rule", "mechanical"]))
        atom = draw(st.sampled_from([{"tested": "B"}, {"dead": "C"}, {"earthed": "B"}, {"not": {"dead": "B"}}]))
        guards = [{"id": f"earth_{name}", "by": by, "if": atom}]
        moves += [{"from": ["open"], "to": "earthed", "guards": guards}, {"from": ["earthed"], "to": "open"}]
    device = {"id": name, "kind": "switch", "positions": positions, "edges": edges, "moves": moves}
    device["start"] = draw(st.sampled_from(["closed", "open"]))
    if draw(st.booleans()):
        device["load_break"] = False
    if draw(st.integers(0, 4)) == 0:
        device["indicator"] = "shaft"
    return device


@st.composite
def _door(draw: st.DrawFn, switches: list[dict[str, Any]]) -> dict[str, Any]:
    held = draw(st.sampled_from(switches))["id"]
    word = draw(st.sampled_from(["dev", "blade"]))
    by = draw(st.sampled_from(["mechanical", "rule", "tool"]))
    guard = {"id": "door_needs_switch", "by": by, "if": {word: held, "in": ["open"]}}
    guards = [guard] if draw(st.booleans()) else []
    moves = [{"from": ["closed"], "to": "open", "guards": guards}, {"from": ["open"], "to": "closed"}]
    return {"id": "DOOR", "kind": "door", "positions": ["closed", "open"], "start": "closed", "moves": moves}


LONE_SOURCE = {
    "id": "lone source",
    "title": "a source may turn up at a point that nothing else is at",
    "points": ["A", "B", "C"],
    "links": [],
    "devices": [
        {
            "id": "U",
            "kind": "source",
            "positions": ["on"],
            "start": "on",
            "moves": [],
            "source": {"at": "A", "group": "utility", "on": ["on"]},
        },
        {
            "id": "S",
            "kind": "switch",
            "positions": ["closed", "open"],
            "edges": {"closed": [["A", "B"]]},
            "moves": [{"from": ["closed"], "to": "open"}, {"from": ["open"], "to": "closed"}],
            "start": "closed",
        },
    ],
    "locks": [],
    "keys": [],
    "tests": [{"id": "T", "at": "B"}],
    "stored": [],
    "openings": [],
    "loads": [],
    "no_backfeed": {"points": [], "groups": []},
    "extra_sources": [{"id": "X", "at": "C", "group": "portable"}],
}
