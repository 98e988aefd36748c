"""Project: what an entry of the file is; a path comes in, its explanation and an example that works go out."""

from __future__ import annotations

import inspect
import re
import types
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from ruamel.yaml import YAML

from deadfront.project.model import Unit
from deadfront.project.quantities import Measured
from deadfront.project.starters import STARTER, Practice, starter_files

_ANY = "*"
"""Stands for a free name in a path of the model."""
_LINE = re.compile(r"^( *)(# )?( *)([A-Za-z0-9_][\w ]*?):(?: +(.*?))?(?: +# .*)?$")


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the file in words, with an example."""

    what: str
    example: str


def describe(path: str, practice: Practice = "north-american") -> Entry:
    """Explanation and example of the entry at a dot-joined path; names of feeders, places and motors may be any.

    The example is what the starter file of the practice has there, of a slot its first entries.

    Raises KeyError when the model has no such entry.
    """
    field = _field(path)
    name = path.rsplit(".", 1)[-1]
    return Entry(field.description or path, f"{name}: {_from_starter(path, practice) or _example(field)}")


def _from_starter(path: str, practice: Practice) -> str:
    """What the starter file has at a path; else what a slot of the same kind has there; empty where there is nothing.

    Of a slot, or of free names, the first entry within that names no file and is no mere choice of words.
    """
    found = _starter_entries(practice)
    if text := found.texts.get(_plain(path)) or found.of_kind.get(_kind(path)):
        return text
    inside = [(name, inner, _from_starter(inner, practice)) for name, inner in found.inside.get(_plain(path), ())]
    usable = [(name, inner, text) for name, inner, text in inside if text and _nests(text)]
    telling = [one for one in usable if get_origin(_inner(_field(one[1]).annotation)) is not Literal]
    return next((f"{{{name}: {text}}}" for name, _, text in telling or usable), "")


@dataclass(frozen=True, slots=True)
class _StarterEntries:
    """Entries of a starter file: texts by path with free names as `*` and by kind of slot; what stands in a slot."""

    texts: dict[str, str]
    of_kind: dict[tuple[str, str], str]
    inside: dict[str, list[tuple[str, str]]]


@cache
def _starter_entries(practice: Practice) -> _StarterEntries:
    """Every entry of a starter file, those behind a `#` too: they are written to be used."""
    found = _StarterEntries({}, {}, {})
    above: list[tuple[int, str]] = []
    for line in starter_files(practice)[STARTER].decode().splitlines():
        match = _LINE.match(line)
        if match is None:
            continue
        depth, name, text = len(match[1]) + len(match[3]), match[4], (match[5] or "").strip()
        while above and above[-1][0] >= depth:
            above.pop()
        path = ".".join([*(part for _, part in above), name])
        if not _is_entry(path) or (match[2] and _plain(path).endswith(_ANY) and text[:1] not in ("{", "[")):
            continue  # a sentence of the comments that looks like an entry
        _keep(found, path, text)
        above.append((depth, name))
    return found


def _keep(found: _StarterEntries, path: str, text: str) -> None:
    """Enter what stands at a path, and what stands inside it where it is written in one line."""
    plain = _plain(path)
    if text:
        found.texts.setdefault(plain, text)
        if ".csv" not in text:
            found.of_kind.setdefault(_kind(path), text)
    inside = found.inside.setdefault(plain.rpartition(".")[0], [])
    if plain not in [one for _, one in inside]:
        inside.append((path.rpartition(".")[2], plain))
    if text.startswith("{"):
        for name, value in YAML(typ="safe", pure=True).load(text).items():
            _keep(found, f"{path}.{name}", _flow(value))


def _flow(value: Any) -> str:
    """A value in one line, as the file has it."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name}: {_flow(one)}" for name, one in value.items()) + "}"
    return f"[{', '.join(map(str, value))}]" if isinstance(value, list) else str(value)


def _nests(text: str) -> bool:
    """Whether a text may stand within braces, and needs no file beside the project."""
    return ".csv" not in text and (text[0] in "{[" or "," not in text)


def _is_entry(path: str) -> bool:
    try:
        _field(path)
    except (KeyError, IndexError):
        return False
    return True


def _plain(path: str) -> str:
    """The path with `*` for every free name."""
    return ".".join(_ANY if model is None else name for name, model in _models(path))


def _kind(path: str) -> tuple[str, str]:
    """The slot that first has an entry, and its name: a feeder's rating is any device's; `*` for a free name."""
    parts = list(_models(path))
    names = [name for name, _ in parts]
    at, slot = [(i, model) for i, (_, model) in enumerate(parts) if model is not None][-1]
    name = names[at]
    first = next(kind for kind in reversed(slot.__mro__) if name in inspect.get_annotations(kind))
    return first.__name__, ".".join([name, *(_ANY for _ in names[at + 1 :])])


def _models(path: str) -> Iterator[tuple[str, type[BaseModel] | None]]:
    """Each part of a path with the slot it is an entry of; None for a free name."""
    model: Any = Unit
    for name in path.split("."):
        if isinstance(model, type) and issubclass(model, BaseModel):
            yield name, model
            model = _inner(model.model_fields[name].annotation)
        else:
            yield name, None
            model = _inner(get_args(model)[1])


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


def _example(field: FieldInfo) -> str:
    """An example by form alone."""
    for measured in _metadata(field):
        if isinstance(measured, Measured):
            return measured.example
    annotation = _inner(field.annotation)
    if get_origin(annotation) is Literal:
        return str(get_args(annotation)[0])
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        first, inner = next(iter(annotation.model_fields.items()))
        return f"{{{first}: {_example(inner)}}}"
    if get_origin(annotation) is dict:
        return "{a name: {}}"
    if get_origin(annotation) is list:
        return "[a name]"
    return "2" if int in (annotation, *get_args(annotation)) else "a name"


def _metadata(field: FieldInfo) -> list[Any]:
    """Markers of the field itself and of the annotated type inside an optional."""
    found = list(field.metadata)
    for argument in get_args(field.annotation):
        found.extend(getattr(argument, "__metadata__", ()))
    return found
