"""Project: one entry of a file written anew; a path and a text come in, the file changes in that place and no other."""

from __future__ import annotations

import copy
import json
import os
import re
import shutil
import tempfile
from os import PathLike
from pathlib import Path as FilePath
from typing import Any

from deadfront.project.errors import ProjectErrors
from deadfront.project.model import Unit
from deadfront.project.shape import Path, at
from deadfront.project.sources import Mark, Source, decode, read_project_file
from deadfront.project.tree import Tree, parse

NEW_FILE = 0o644
"""Permissions of a file that was not there before."""

_PART = re.compile(r"([^.\[\]]+)((?:\[[0-9]+\])*)")


def set_value(file: str | PathLike[str], path: str, text: str) -> None:
    """Write `text` as the entry at `path` (`transformer.impedance`) into the file.

    A value that is there is replaced; a missing one is added behind the last entry of its slot, with the slots around
    it where they are missing too. Every other character of the file, comments included, stays. The file is replaced in
    one step, so a reader sees the old or the new one. Whether the text fits the entry is for `load` to say.

    raises ProjectErrors: the file cannot be read
           ValueError: the model has no such entry of one value, or the text cannot be written there
           OSError: the folder cannot be written to
    """
    where = FilePath(file).resolve()
    content = read_project_file(where)
    tree = parse(decode(str(file), content))
    if tree.problems:
        raise ProjectErrors(tree.problems)
    mark = content[: len(content) - len(tree.source.text.encode())]  # the byte order mark, where there is one
    replace_file(where, mark + with_value(tree, path, text).encode())


def with_value(tree: Tree, path: str, text: str) -> str:
    """The text of a tree's file with one entry written anew; ValueError as `set_value`."""
    parts = split(path)
    shape = at(Unit, parts)
    if shape is None or shape.kind in ("slot", "names", "list"):
        raise ValueError(f"path: expected an entry of one value, got {path!r}")
    expected = copy.deepcopy(tree.data)
    _put(expected, parts, text)
    for value in (text, json.dumps(text, ensure_ascii=False)):
        edited = _edited(tree, parts, value)
        try:
            again = parse(Source(tree.source.name, edited))
        except ProjectErrors:
            continue
        if not again.problems and _alike(again.data, expected):
            return edited
    raise ValueError(f"text: expected one line that can stand at {path}, got {text!r}")


def split(path: str) -> Path:
    """The parts of a path, `operation.places.bus.electrodes[0]` to its names and number; ValueError if it is none."""
    parts: list[str | int] = []
    for piece in path.split("."):
        match = _PART.fullmatch(piece)
        if match is None:
            raise ValueError(f"path: expected names joined by dots, got {path!r}")
        parts += [match[1], *(int(number) for number in re.findall(r"[0-9]+", match[2]))]
    return tuple(parts)


def _edited(tree: Tree, path: Path, value: str) -> str:
    """The text with `value` at `path`, as it is written in the file."""
    text = tree.source.text
    if path in tree.places:
        place = tree.places[path]
        if _get(tree.data, path) is None:
            at_colon = _behind_colon(tree.source, place.key)
            return f"{text[:at_colon]} {value}{text[at_colon:]}"
        start, end = _offset(tree.source, place.value), _offset(tree.source, tree.ends[path])
        return text[:start] + value + text[end:]
    depth = next(n for n in range(len(path) - 1, -1, -1) if path[:n] in tree.places)
    around, missing = path[:depth], [_key(part) for part in path[depth:]]
    nested = ": {".join(missing) + f": {value}" + "}" * (len(missing) - 1)
    data = _get(tree.data, around)
    if data is None and any(around[:n] in tree.ends for n in range(depth)):
        at_colon = _behind_colon(tree.source, tree.places[around].key)
        return f"{text[:at_colon]} {{{nested}}}{text[at_colon:]}"
    if data is not None and around in tree.ends:
        brace = _offset(tree.source, tree.ends[around])
        bare = text[:brace].rstrip()
        behind = brace if bare.endswith(":") or not text[:brace].rpartition("\n")[2].strip() else len(bare)
        comma = "" if not data else " " if bare.endswith(",") else ", "
        return f"{text[:behind]}{comma}{nested}{text[behind:]}"
    return _with_lines(tree, around, missing, value)


def _with_lines(tree: Tree, around: Path, missing: list[str], value: str) -> str:
    """New lines behind the last entry of a block."""
    source = tree.source
    inner = [place for path, place in tree.places.items() if path[:-1] == around and path]
    if inner:
        indent = inner[0].key.column - 1
        last = max(_last_line(tree, path) for path in tree.places if path[: len(around)] == around)
    else:
        indent = tree.places[around].key.column + 1
        last = tree.places[around].key.line
    newline = "\r\n" if "\r\n" in source.text else "\n"
    lines = [f"{' ' * (indent + 2 * n)}{key}:" for n, key in enumerate(missing)]
    lines[-1] += f" {value}"
    at_line = _offset(source, Mark(last, len(source.line(last)) + 1))
    return source.text[:at_line] + "".join(newline + line for line in lines) + source.text[at_line:]


def _last_line(tree: Tree, path: Path) -> int:
    end = tree.ends.get(path)
    line = tree.places[path].key.line
    if end is None or _get(tree.data, path) is None:
        return line
    return max(line, end.line - 1 if end.column == 1 else end.line)


def _behind_colon(source: Source, key: Mark) -> int:
    start = _offset(source, key) + key.length
    return source.text.index(":", start) + 1


def _offset(source: Source, mark: Mark) -> int:
    """Characters of the text before a place."""
    position = 0
    for number, line in enumerate(source.lines, start=1):
        if number == mark.line:
            return position + mark.column - 1
        position += len(line)
        position += 2 if source.text.startswith("\r\n", position) else 1
    return len(source.text)


def _key(part: str | int) -> str:
    return (
        str(part)
        if re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9_ ]*", str(part))
        else json.dumps(str(part), ensure_ascii=False)
    )


def _get(data: Any, path: Path) -> Any:
    for part in path:
        data = data[part]
    return data


def _put(data: Any, path: Path, text: str) -> None:
    for part in path[:-1]:
        if isinstance(data, dict) and data.get(str(part)) is None:
            data[str(part)] = {}
        data = _item(data, part)
    if isinstance(data, dict):
        data[str(path[-1])] = text
    elif not isinstance(path[-1], int) or not isinstance(data, list) or path[-1] >= len(data):
        raise ValueError(f"path: expected an entry of the file, got {path[-1]!r}, which it does not have")
    else:
        data[path[-1]] = text


def _item(data: Any, part: str | int) -> Any:
    if isinstance(data, list) and isinstance(part, int) and part < len(data):
        return data[part]
    if isinstance(data, dict) and isinstance(part, str):
        return data[part]
    raise ValueError(f"path: expected an entry of the file, got {part!r}, which it does not have")


def _alike(left: Any, right: Any) -> bool:
    """Equal data, where a number and its text are the same."""
    if isinstance(left, dict) and isinstance(right, dict):
        return list(left) == list(right) and all(_alike(left[key], right[key]) for key in left)
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(map(_alike, left, right))
    return left == right or (left is not None and right is not None and str(left) == str(right))


def replace_file(where: FilePath, content: bytes) -> None:
    """Put the content in the file's place in one step, with the permissions of the file that stands there."""
    descriptor, name = tempfile.mkstemp(dir=where.parent, prefix=f".{where.name}.")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if where.exists():
            shutil.copymode(where, name)
        else:
            os.chmod(name, NEW_FILE)
        os.replace(name, where)
    except BaseException:
        os.unlink(name)
        raise
