"""What an error offers as right is right: each line of help is put where the fault stood, and read again."""

import json
import re
from collections.abc import Iterator

import pytest
from ruamel.yaml import YAML

from deadfront.project.model import Slot, Unit
from deadfront.project.shape import Path, Shape, dotted, entries
from deadfront.project.sources import Source
from deadfront.project.tree import parse
from deadfront.project.validation import validate

NAME = "pump hall"
WRONG = ({"zz": {"y": 1}}, "@@", ["@@", ["q"]])
"""Entries, a word and a list, each of which something of another form refuses."""


def places(slot: type[Slot], path: Path = ()) -> Iterator[tuple[Path, Shape]]:
    """Every place of the model, one name for each free name, the first of each list."""
    for name, shape in entries(slot).items():
        place: Path = (*path, name)
        yield place, shape
        while shape.kind in ("names", "list") and shape.item is not None:
            place, shape = (*place, NAME if shape.kind == "names" else 0), shape.item
            yield place, shape
        if shape.slot is not None:
            yield from places(shape.slot, place)


def unit_with(place: Path, value: object) -> Source:
    """A file that holds a value at a place, and the three entries that every file has; JSON is YAML."""
    for part in reversed(place[1:]):
        value = [value] if isinstance(part, int) else {str(part): value}
    return Source("unit.yaml", json.dumps({"deadfront": 1, "title": "t", "practice": "iec"} | {str(place[0]): value}))


def faults(place: Path, value: object) -> dict[str, str]:
    """Paths of what the model refuses in such a file, each with its help."""
    tree = parse(unit_with(place, value))
    validate(tree)
    return {problem.path: problem.help for problem in tree.problems}


@pytest.mark.parametrize("slot", [name for name, shape in entries(Unit).items() if shape.kind in ("slot", "names")])
def test_a_line_that_help_offers_is_accepted_in_its_place(slot):
    """No example is itself refused: not for its form, not for an ellipsis in it, not for its unit."""
    tried = 0
    for place, _ in places(Unit):
        for wrong in WRONG if place[0] == slot else ():
            offered = re.search(r"for example `([^`:]+: .+)`", faults(place, wrong).get(dotted(place), ""))
            if offered:
                ((_, value),) = YAML(typ="safe").load(f"{{{offered[1]}}}").items()
                target = place[:-1] if isinstance(place[-1], int) else place
                assert faults(target, value) == {}, f"{dotted(place)}: {offered[1]}"
                tried += 1
    assert tried > 0
