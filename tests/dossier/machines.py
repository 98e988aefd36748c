"""Tests: machines to be drawn. The published cases, and a second reading of what their positions join."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import networkx

from deadfront.operation.building import build
from deadfront.operation.machine import Machine
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import Procedure, procedure
from deadfront.operation.telling import Situation, outset, situation

FILE = Path(__file__).parents[1] / "operation" / "data" / "cases.json"
CASES: dict[str, dict[str, Any]] = {case["id"]: case for case in json.loads(FILE.read_text(encoding="utf-8"))["cases"]}


@cache
def machine(name: str) -> Machine:
    """A published case."""
    return read_machine(CASES[name])


@cache
def task(name: str, number: int = 0) -> Procedure:
    """The way to one of its goals."""
    found = procedure(machine(name), machine(name).goals[number])
    assert found is not None
    return found


def start(name: str) -> Situation:
    """How it stands at the outset."""
    plant = build(machine(name), "rules")
    return situation(plant, outset(plant))


def situations(name: str) -> list[Situation]:
    """The outset, and how it stands after each step of its first task."""
    return [start(name), *(step.after for step in task(name).steps)]


def joined(name: str, positions: dict[str, str]) -> networkx.Graph:
    """What the raw case says is joined in these positions, earth left out; sharing no code with the package."""
    graph = networkx.Graph()
    case = CASES[name]
    graph.add_nodes_from(case["points"])
    graph.add_edges_from(tuple(link) for link in case.get("links", []))
    for device in case["devices"]:
        position = positions.get(device["id"], device["start"])
        graph.add_edges_from(tuple(edge) for edge in device.get("edges", {}).get(position, []) if "E" not in edge)
    return graph
