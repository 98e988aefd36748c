"""Project: what an entry of the file is; a path comes in, its explanation and an example that works go out."""

from __future__ import annotations

import types
from dataclasses import dataclass
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from deadfront.project.model import Unit
from deadfront.project.quantities import Measured


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the file in words, with an example."""

    what: str
    example: str


def describe(path: str) -> Entry:
    """Explanation and example of the entry at a dot-joined path; names of feeders, places and motors may be any.

    Raises KeyError when the model has no such entry.
    """
    field = _field(path)
    return Entry(field.description or path, _example(field, path.rsplit(".", 1)[-1]))


def plausible_span(path: str) -> tuple[float, float]:
    """Smallest and largest value that the entry at a path may have, in SI. Raises KeyError when it holds no number."""
    for measured in _metadata(_field(path)):
        if isinstance(measured, Measured):
            return measured.smallest, measured.largest
    raise KeyError(path)


def _field(path: str) -> FieldInfo:
    """The field of the model at a path."""
    model: Any = Unit
    field: FieldInfo | None = None
    for name in path.split("."):
        if isinstance(model, type) and issubclass(model, BaseModel):
            if name not in model.model_fields:
                raise KeyError(path)
            field = model.model_fields[name]
            model = _inner(field.annotation)
        else:
            model = _inner(get_args(model)[1])  # a mapping by name: any name will do
    if field is None:
        raise KeyError(path)
    return field


def _inner(annotation: Any) -> Any:
    """The type inside an optional, a mapping kept as it is."""
    if get_origin(annotation) in (Union, types.UnionType):
        return _inner(next(a for a in get_args(annotation) if a is not type(None)))
    return annotation


def _example(field: FieldInfo, name: str) -> str:
    for measured in _metadata(field):
        if isinstance(measured, Measured):
            return f"{name}: {measured.example}"
    annotation = _inner(field.annotation)
    if get_origin(annotation) is Literal:
        return f"{name}: {get_args(annotation)[0]}"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        first, inner = next(iter(annotation.model_fields.items()))
        return f"{name}: {{{_example(inner, first)}}}"
    if get_origin(annotation) is dict:
        return f"{name}: {{a name: {{...}}}}"
    if get_origin(annotation) is list:
        return f"{name}: [{', '.join(str(word) for word in get_args(get_args(annotation)[0])[:2]) or 'a name'}]"
    return f"{name}: {'2' if annotation is int else 'words'}"


def _metadata(field: FieldInfo) -> list[Any]:
    """Markers of the field itself and of the annotated type inside an optional."""
    found = list(field.metadata)
    for argument in get_args(field.annotation):
        found.extend(getattr(argument, "__metadata__", ()))
    return found
