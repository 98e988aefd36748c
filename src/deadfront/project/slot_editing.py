"""Project: one slot of a file written anew; a text and new entries come in, a text with all its comments goes out."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping
from typing import Any

from deadfront.project.editing import with_value
from deadfront.project.shape import Path, dotted
from deadfront.project.sources import Mark, Source
from deadfront.project.tree import Tree, parse

_PLAIN = re.compile(r"[A-Za-z0-9_.+-][A-Za-z0-9_./+%() -]*")


def with_slot(source: Source, path: Path, values: Mapping[str, str]) -> str:
    """The text of a file in which the slot at `path` holds these entries, each of one value, and no others.

    Entries that stay keep their place and their comments; those that go leave their comments behind; new ones follow
    the last. A slot in braces on one line becomes lines. Every other character stays.

    raises ProjectErrors: the text is no YAML
           ValueError: the slot cannot be written there
    """
    tree = parse(source)
    before = copy.deepcopy(tree.data)
    tree = _as_lines(_filled(tree, path, values), path)
    tree = _again(tree, _added(tree, path, values))
    for entry in [name for name, value in _find(tree.data, path).items() if name not in values or value is None]:
        tree = _again(tree, _without(tree, (*path, entry)))
    tree = _filled(tree, path, values)
    tree = _again(tree, _replaced(tree, path, values))
    tree = _again(tree, _added(tree, path, values))
    if not _as_wanted(before, tree.data, path, values):
        raise ValueError(f"path: the slot {dotted(path)} cannot be written into {source.name}")
    return tree.source.text


def _filled(tree: Tree, path: Path, values: Mapping[str, str]) -> Tree:
    """A slot that is not there, or holds nothing, with the first of the entries."""
    if _find(tree.data, path):
        return tree
    first = next(iter(values))
    return _again(tree, with_value(tree, dotted((*path, first)), values[first]))


def _again(tree: Tree, text: str) -> Tree:
    return parse(Source(tree.source.name, text))


def _find(data: Any, path: Path) -> Any:
    for part in path:
        data = data.get(part) if isinstance(data, dict) else None
    return data


def _scalar(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and text == text.strip() else json.dumps(text, ensure_ascii=False)


def _offset(source: Source, mark: Mark) -> int:
    """Characters of the text before a place."""
    position = 0
    for line in source.lines[: mark.line - 1]:
        position += len(line)
        position += 2 if source.text.startswith("\r\n", position) else 1
    return position + mark.column - 1


def _newline(source: Source) -> str:
    return "\r\n" if "\r\n" in source.text else "\n"


def _span(tree: Tree, path: Path) -> tuple[int, int]:
    """Where the value of an entry begins and ends."""
    return _offset(tree.source, tree.places[path].value), _offset(tree.source, tree.ends[path])


def _in_braces(tree: Tree, path: Path) -> bool:
    """Whether the slot stands in braces: only then is there a place where it ends."""
    return path in tree.ends and isinstance(_find(tree.data, path), dict)


def _as_lines(tree: Tree, path: Path) -> Tree:
    """A slot that stands in braces on one line of its own as a line for each entry."""
    nested = any(_in_braces(tree, path[:depth]) for depth in range(1, len(path)))
    place = tree.places[path]
    if nested or not _in_braces(tree, path) or place.key.line != tree.ends[path].line:
        return tree
    text, newline = tree.source.text, _newline(tree.source)
    start, brace = text.index("{", _offset(tree.source, place.key)), _offset(tree.source, tree.ends[path])
    indent = " " * (place.key.column + 1)
    data = _find(tree.data, path)
    lines = "".join(f"{newline}{indent}{name}: {_scalar(str(value))}" for name, value in data.items() if value)
    stop = _offset(tree.source, Mark(place.key.line, len(tree.source.line(place.key.line)) + 1))
    head, comment = text[:start].rstrip(), text[brace + 1 : stop].strip()
    return _again(tree, head + (f"  {comment}" if comment else "") + (lines or f" {{}}{newline}") + text[stop:])


def _without(tree: Tree, path: Path) -> str:
    """The text without one entry; a comment beside it stays on a line of its own."""
    source, text, place = tree.source, tree.source.text, tree.places[path]
    data = _find(tree.data, path[:-1])
    if _in_braces(tree, path[:-1]):
        return _without_in_braces(tree, path)
    behind_key = Mark(place.key.line, place.key.column + place.key.length)
    end = tree.ends.get(path, behind_key) if data[path[-1]] is not None else behind_key
    last = end.line - 1 if end.line > place.key.line and end.column == 1 else end.line
    start, stop = _offset(source, Mark(place.key.line, 1)), _offset(source, Mark(last + 1, 1))
    behind = source.line(last)[(end.column - 1 if end.line == last else 0) :]
    comment = behind[behind.index("#") :] if "#" in behind else ""
    kept = f"{' ' * (place.key.column - 1)}{comment}{_newline(source)}" if comment else ""
    return text[:start] + kept + text[stop:]


def _without_in_braces(tree: Tree, path: Path) -> str:
    text, (_, end) = tree.source.text, _span(tree, path)
    start, comma = _offset(tree.source, tree.places[path].key), re.match(r"\s*,[ ]*", text[end:])
    if comma:
        return text[:start] + text[end + comma.end() :]
    last = text[end:].lstrip(" ").startswith("}")
    return (re.sub(r",[ ]*$", "", text[:start]) if last else text[:start]) + text[end:]


def _replaced(tree: Tree, path: Path, values: Mapping[str, str]) -> str:
    """The text with new values of the entries that it has."""
    text = tree.source.text
    there = [(*path, name) for name in _find(tree.data, path) or {}]
    for entry in sorted(there, key=lambda each: -_span(tree, each)[0]):
        start, end = _span(tree, entry)
        text = text[:start] + _scalar(values[str(entry[-1])]) + text[end:]
    return text


def _added(tree: Tree, path: Path, values: Mapping[str, str]) -> str:
    """The text with the entries that it lacks, behind its last one."""
    source, text = tree.source, tree.source.text
    there = _find(tree.data, path) or {}
    new = [f"{name}: {_scalar(value)}" for name, value in values.items() if name not in there]
    if not new:
        return text
    if _in_braces(tree, path):
        end = max(_span(tree, (*path, name))[1] for name in there)
        return text[:end] + ", " + ", ".join(new) + text[end:]
    places = [tree.places[(*path, name)] for name in there]
    line = max(_last_line(tree, (*path, name)) for name in there)
    stop = _offset(source, Mark(line, len(source.line(line)) + 1))
    indent = " " * (places[0].key.column - 1)
    return text[:stop] + "".join(f"{_newline(source)}{indent}{entry}" for entry in new) + text[stop:]


def _last_line(tree: Tree, path: Path) -> int:
    """Line on which an entry ends; that of its key where it holds nothing."""
    key = tree.places[path].key.line
    if _find(tree.data, path) is None or path not in tree.ends:
        return key
    end = tree.ends[path]
    return max(key, end.line - 1 if end.column == 1 else end.line)


def _as_wanted(before: Any, after: Any, path: Path, values: Mapping[str, str]) -> bool:
    """Whether the slot holds the values, and the rest of the file is what it was."""
    slot = _find(after, path)
    if not isinstance(slot, dict) or {name: str(value) for name, value in slot.items()} != dict(values):
        return False
    rests = [copy.deepcopy(data) for data in (before, after)]
    for rest in rests:
        around = _find(rest, path[:-1])
        if isinstance(around, dict):
            around.pop(path[-1], None)
    return bool(_pruned(rests[0], path[:-1]) == _pruned(rests[1], path[:-1]))


def _pruned(data: Any, path: Path) -> Any:
    """The data without empty slots along a path, which writing may have filled."""
    for depth in range(len(path), 0, -1):
        around = _find(data, path[: depth - 1])
        if isinstance(around, dict) and not around.get(path[depth - 1], True):
            del around[path[depth - 1]]
    return data
