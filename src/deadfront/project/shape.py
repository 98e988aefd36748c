"""Project: what may stand where; a path of the file comes in, the kind of entry the model has there goes out."""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from deadfront.project.model import Slot
from deadfront.project.quantities import Measured

Kind = Literal["slot", "names", "list", "number", "choice", "file", "date", "whole", "text"]
Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """One kind of entry: entries of a slot, free names, a list, a number with unit, one of some words, a file, ..."""

    kind: Kind
    description: str = ""
    slot: type[Slot] | None = None
    item: Shape | None = None
    measured: Measured | None = None
    choices: tuple[str, ...] = ()


@cache
def entries(slot: type[Slot]) -> dict[str, Shape]:
    """The entries of a slot, in the order of the model."""
    return {name: _field(field) for name, field in slot.model_fields.items()}


def at(root: type[Slot], path: Path) -> Shape | None:
    """What may stand at a path; None where the model has no such entry."""
    shape: Shape | None = Shape("slot", slot=root)
    for part in path:
        if shape is None:
            return None
        shape = entries(shape.slot).get(str(part)) if shape.slot is not None else shape.item
    return shape


def walk(root: type[Slot], data: object, path: Path = ()) -> Iterator[tuple[Path, Shape, Any]]:
    """Every entry of plain data that the model knows, outermost first; what has the wrong form is passed over."""
    shape = at(root, path)
    if shape is None or data is None:
        return
    yield path, shape, data
    if isinstance(data, dict) and shape.kind in ("slot", "names"):
        for key, value in data.items():
            yield from walk(root, value, (*path, key))
    elif isinstance(data, list) and shape.kind == "list":
        for number, value in enumerate(data):
            yield from walk(root, value, (*path, number))


def dotted(path: Path) -> str:
    """A path as the file's reader knows it: `board.feeders.pump hall.cable`, `operation.places.bus.electrodes[0]`."""
    text = ""
    for part in path:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _field(field: FieldInfo) -> Shape:
    return _shape(field.annotation, list(field.metadata), field.description or "", field.json_schema_extra)


def _shape(annotation: Any, metadata: list[Any], description: str, extra: Any = None) -> Shape:
    """Shape of an annotation; the marks of `Annotated` at any depth count, an optional entry is its own type."""
    if get_origin(annotation) is Annotated:
        inner, *marks = get_args(annotation)
        extras = [mark.json_schema_extra for mark in marks if isinstance(mark, FieldInfo)]
        return _shape(inner, [*metadata, *marks], description, next(iter(extras), extra))
    if get_origin(annotation) in (Union, types.UnionType):
        return _union([kind for kind in get_args(annotation) if kind is not type(None)], metadata, description, extra)
    for mark in metadata:
        if isinstance(mark, Measured):
            return Shape("number", description, measured=mark)
    if get_origin(annotation) is Literal:
        return Shape("choice", description, choices=tuple(str(word) for word in get_args(annotation)))
    if get_origin(annotation) is list:
        return Shape("list", description, item=_shape(get_args(annotation)[0], [], ""))
    if get_origin(annotation) is dict:
        return Shape("names", description, item=_shape(get_args(annotation)[1], [], ""))
    if isinstance(annotation, type) and issubclass(annotation, Slot):
        return Shape("slot", description, slot=annotation)
    if annotation is int:
        return Shape("whole", description)
    if isinstance(extra, dict) and extra.get("format") == "uri-reference":
        return Shape("file", description)
    marks = [inner for mark in metadata for inner in (mark, *getattr(mark, "metadata", ()))]
    patterned = any(getattr(mark, "pattern", None) for mark in marks)
    return Shape("date" if patterned else "text", description)


def _union(kinds: list[Any], metadata: list[Any], description: str, extra: Any) -> Shape:
    """A number with unit may have words instead; every other union is an optional entry."""
    shapes = [_shape(kind, metadata, description, extra) for kind in kinds]
    choices = tuple(word for shape in shapes for word in shape.choices)
    first = shapes[0]
    return Shape(first.kind, description, first.slot, first.item, first.measured, choices)
