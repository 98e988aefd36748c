"""Project: plain data against the model; a tree comes in, a unit goes out or the tree notes what is wrong and where."""

from __future__ import annotations

import copy
import difflib
from typing import Any

from pydantic import ValidationError

from deadfront.project.errors import either
from deadfront.project.model import Unit
from deadfront.project.naming import named, suggestion
from deadfront.project.quantities import ARTICLES, QuantityError
from deadfront.project.shape import Path, Shape, at, dotted, entries, walk
from deadfront.project.tree import Tree

_STAND_INS = {"deadfront": 1, "title": "?", "practice": "iec"}
"""What a faulty file lacks of the three entries without which there is no unit; such a unit is only checked further."""


WORDS = {
    "at": "LV bus",
    "behind": "fuse door",
    "code": "A",
    "contacts_seen": "switch",
    "covers": "bus",
    "device": "switch",
    "door": "fuse door",
    "free_at": "open",
    "gauges": "outside",
    "gives": "C",
    "needs": "main",
    "padlocks": "switch",
    "personnel_key": "P",
    "portable_sources": "LV bus",
    "reaches": "fuse line side",
    "size": "4/0",
    "stands": "open",
    "start": "hand",
    "takes": "A",
    "to": "open",
}
"""Text that means something where any text may stand, by the entry's name."""


def validate(tree: Tree) -> tuple[Unit | None, bool]:
    """The unit of a tree, and whether all of the tree is in it.

    Where something is wrong, it is noted in the tree, and the unit is that of the tree without it, so that further
    checks can say what else is wrong in the same run.
    """
    _fill_empty_slots(tree)
    try:
        return Unit.model_validate(tree.data), True
    except ValidationError as error:
        faulty = _note(tree, error)
    rest = copy.deepcopy(tree.data)
    for path in sorted(faulty, key=len, reverse=True):
        _remove(rest, path)
    for name, value in _STAND_INS.items():
        rest.setdefault(name, value)
    try:
        return Unit.model_validate(rest), False
    except ValidationError:  # a removed entry can only have left its list too short; then nothing more is checked
        return None, False


def _fill_empty_slots(tree: Tree) -> None:
    """A name without entries (`pump hall:`) stands for a slot of which nothing is known yet."""
    for path, shape, data in list(walk(Unit, tree.data)):
        if shape.kind == "names" and shape.item is not None and shape.item.kind == "slot" and isinstance(data, dict):
            for name, value in data.items():
                if value is None and (*path, name) in tree.places:
                    data[name] = {}


def _note(tree: Tree, error: ValidationError) -> list[Path]:
    """Note each fault once; paths of what must go for the rest to be valid."""
    faults: dict[Path, dict[str, Any]] = {}
    for details in error.errors(include_url=False):
        path = _path(tree.data, details["loc"])
        if details["type"] == "missing":
            path = (*path, details["loc"][-1])
        if path not in faults or details["type"] == "quantity":
            faults[path] = dict(details)
    noted = {problem.path for problem in tree.problems}
    for path, fault in faults.items():
        if "[key]" in fault["loc"] and dotted(path) in noted:  # a name that the tree could not take either
            continue
        if fault["type"] == "extra_forbidden":
            _note_unknown(tree, path)
        elif fault["type"] == "missing":
            example = "Kestrel Point ferry landing" if path[-1] == "title" else _example(at(Unit, path))
            remedy = f"for example `{path[-1]}: {example}`"
            expected = f"the entry `{path[-1]}`"
            tree.report(path[:-1], expected=expected, found="a file without it", remedy=remedy, at_key=True)
        else:
            _note_value(tree, path, fault)
    return [path for path in faults if path in tree.places]


def _path(data: Any, location: tuple[str | int, ...]) -> Path:
    """The part of pydantic's location that is a path of the file; marks of unions and keys fall away."""
    path: Path = ()
    for part in location:
        known = part in data if isinstance(data, dict) else isinstance(part, int) and isinstance(data, list)
        if not known:
            break
        data = data[part]
        path = (*path, part)
    return path


def _note_unknown(tree: Tree, path: Path) -> None:
    slot = at(Unit, path[:-1])
    known = list(entries(slot.slot)) if slot is not None and slot.slot is not None else []
    name = str(path[-1])
    remedy = suggestion(name, known, "its entries")
    where = f"an entry of `{dotted(path[:-1])}`" if len(path) > 1 else "an entry of this file"
    tree.report(path, expected=where, found=named(name), remedy=remedy, at_key=True)


def _note_value(tree: Tree, path: Path, fault: dict[str, Any]) -> None:
    shape = at(Unit, path)
    assert shape is not None  # what pydantic validates has a shape
    key = next((str(part) for part in reversed(path) if isinstance(part, str)), "")
    value = fault["input"]
    if fault["type"] == "quantity":
        context = fault["ctx"]
        error = QuantityError(context["expected"], context["found"], context["remedy"], context["instead"])
        words = f" or {either(shape.choices)}" if shape.choices else ""
        tree.report(path, expected=error.expected + words, found=error.found, remedy=error.help(key))
        return
    if fault["type"] == "string_too_long":
        in_key = "[key]" in fault["loc"]
        expected = f"at most {fault['ctx']['max_length']} characters"
        tree.report(path, expected=expected, found=f"{len(value)}", at_key=in_key)
        return
    near = difflib.get_close_matches(str(value), shape.choices, n=1) if not isinstance(value, dict | list) else []
    found = _found(value)
    if near and near[0] == value:
        remedy = "write it without quotes"
        found += " in quotes"
    elif near:
        remedy = f"did you mean `{near[0]}`?"
    else:
        word = next((WORDS[str(part)] for part in reversed(path) if str(part) in WORDS), "pump hall")
        remedy = f"for example `{_line(key, shape, word, in_list=isinstance(path[-1], int))}`"
    tree.report(path, expected=_expected(shape), found=found, remedy=remedy)


def _expected(shape: Shape) -> str:
    """What may stand there, in words."""
    if shape.choices:
        return either(shape.choices)
    if shape.measured is not None:
        return ARTICLES[shape.measured.dimension]
    return {
        "slot": "entries of its own, indented below it",
        "names": "names indented below it, each with its entries",
        "list": "a list",
        "file": "the name of a CSV file beside this one",
        "date": "a date as year-month-day",
        "whole": "a whole number from 1 to 1000",
    }.get(shape.kind, "one line of text")


def _found(value: object) -> str:
    if value in (None, ""):
        return "nothing"
    if isinstance(value, dict):
        return "entries of its own"
    if isinstance(value, list):
        return "a list"
    return named(str(value))


def _line(key: str, shape: Shape, word: str, *, in_list: bool) -> str:
    """A line of the file that would be right; `word` is what may stand where any text may."""
    if shape.kind == "list" and shape.item is not None:
        words = shape.item.choices[:2] or (word,)
        return f"{key}: [{', '.join(words)}]"
    if in_list:
        return f"{key}: [{_example(shape, word)}]"
    if shape.slot is not None:
        inside = entries(shape.slot)
        name = next((name for name, inner in inside.items() if inner.kind != "text"), next(iter(inside)))
        return f"{key}: {{{_line(name, inside[name], WORDS.get(name, word), in_list=False)}}}"
    if shape.kind == "names" and shape.item is not None:
        return f"{key}: {{{_line('pump hall', shape.item, word, in_list=False)}}}"
    return f"{key}: {_example(shape, word)}"


def _example(shape: Shape | None, word: str = "pump hall") -> str:
    """A value that would be right."""
    if shape is None:
        return "..."
    if shape.measured is not None:
        return shape.measured.example
    if shape.choices:
        return shape.choices[0]
    return {"file": "curves/limiter.csv", "date": "2025-03-31", "whole": "2"}.get(shape.kind, word)


def _remove(data: Any, path: Path) -> None:
    for part in path[:-1]:
        data = data[part]
    if isinstance(data, dict):
        del data[path[-1]]
    else:
        data[path[-1]] = None
        while data and data[-1] is None:
            data.pop()
