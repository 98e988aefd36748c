"""Project: YAML; text comes in, plain mappings, lists and words with the place of each go out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

from deadfront.project.errors import Problem, ProjectErrors, shortened
from deadfront.project.shape import Path, dotted
from deadfront.project.sources import Mark, Source, character_name, first_harmful, unfit_name

DEEPEST = 16
"""Entries within entries; the model needs seven."""

MOST_ENTRIES = 20_000
"""Entries of one file; a long one has some hundreds."""

_NULLS = ("", "~", "null", "Null", "NULL")  # YAML 1.2.2, 10.3.2
_ONE_LINE = "write the text on one line, without escapes"
_SURROGATE = re.compile("[\ud800-\udfff]")
"""Half a character, which only an escape can write and no encoding can hold."""
_WHOLE = re.compile(r"0|-?[1-9][0-9]{0,8}")


@dataclass(frozen=True, slots=True)
class Place:
    """Where an entry stands: the file, its key, and its value."""

    source: Source
    key: Mark
    value: Mark


@dataclass(slots=True)
class Tree:
    """Plain data (mappings, lists, text, whole numbers, None) and where each entry of it stands.

    Numbers other than small whole ones stay text, so that an error can show them as they were written. `ends` gives
    for one value the place behind it, for a mapping in braces that of its closing brace.
    """

    source: Source
    data: Any = None
    places: dict[Path, Place] = field(default_factory=dict)
    ends: dict[Path, Mark] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def place(self, path: Path) -> Place:
        """Where the entry stands, or else the nearest entry around it."""
        while path not in self.places:
            path = path[:-1]
        return self.places[path]

    def report(self, path: Path, *, expected: str, found: str, remedy: str = "", at_key: bool = False) -> None:
        """Note a problem with an entry, at its value or its key."""
        place = self.place(path)
        mark = place.key if at_key else place.value
        self.problems.append(place.source.problem(mark, dotted(path), expected=expected, found=found, remedy=remedy))


def parse(source: Source) -> Tree:
    """The tree of a file.

    Only what a person needs is read: one document of mappings, lists and words. Anchors, aliases, merge keys, tags,
    directives and non-text keys are refused, so no short file can grow large. Duplicate keys, names that cannot stand
    in a path and unprintable text are noted in `problems`; the rest is read on.

    raises ProjectErrors: the text is no YAML, has no entries, several documents, or is too deep or too long
    """
    builder = _Builder(source)
    try:
        for event in YAML(typ="safe", pure=True).parse(source.text):
            builder.take(event)
    except MarkedYAMLError as error:
        raise _syntax(source, error) from None
    except (YAMLError, ValueError, OverflowError) as error:
        found = "a fault: " + shortened(" ".join(str(error).split()), 200)
        problem = source.problem(
            builder.last,
            "",
            expected="YAML that can be read",
            found=found,
            remedy="look at the line and those above it",
        )
        raise ProjectErrors([problem]) from None
    if not isinstance(builder.tree.data, dict):
        raise ProjectErrors([_no_entries(source, builder.tree)])
    return builder.tree


class _Builder:
    """Takes the parser's events one by one; `stack` holds the open mappings and lists."""

    def __init__(self, source: Source) -> None:
        self.tree = Tree(source)
        self.stack: list[_Open] = []
        self.last = Mark(1, 1)
        self.documents = 0
        self.entries = 0

    def take(self, event: Event) -> None:
        start, end = event.start_mark, event.end_mark
        here = Mark(start.line + 1, start.column + 1)
        if isinstance(event, StreamEndEvent):
            return
        self.last = here
        if isinstance(event, DocumentStartEvent):
            self._document(event, here)
        elif isinstance(event, NodeEvent):
            self._refuse_references(event, here)
            self.entries += 1
            if self.entries > MOST_ENTRIES:
                raise self._stop(here, f"at most {MOST_ENTRIES} entries", "more", "")
            if isinstance(event, ScalarEvent):
                line = self.tree.source.line(here.line)
                stop = end.column if end.line == start.line else len(line.rstrip())
                mark = Mark(here.line, here.column, max(0, stop - start.column))
                self._scalar(event, mark, Mark(end.line + 1, end.column + 1))
            elif isinstance(event, MappingStartEvent | SequenceStartEvent):
                self._open(event, here)
        elif isinstance(event, MappingEndEvent | SequenceEndEvent):
            closed = self.stack.pop()
            if end.line > start.line or end.column > start.column:  # a brace or bracket; a block's end has no length
                self.tree.ends[closed.path] = here

    def _document(self, event: DocumentStartEvent, here: Mark) -> None:
        self.documents += 1
        if self.documents > 1:
            raise self._stop(here, "one document in the file", "a second one", "delete the line `---` and what follows")
        if event.version or event.tags:
            line = next(n for n, text in enumerate(self.tree.source.lines, start=1) if text.startswith("%"))
            directive = Mark(line, 1)
            raise self._stop(directive, "a file without directives", "a line that begins with `%`", "delete that line")

    def _refuse_references(self, event: NodeEvent, here: Mark) -> None:
        anchor = getattr(event, "anchor", None)
        if isinstance(event, AliasEvent):
            raise self._stop(here, "the entries themselves", f"the alias `*{anchor}`", "write the entries out")
        if anchor is not None:
            raise self._stop(here, "the entries themselves", f"the anchor `&{anchor}`", "delete the anchor")
        if getattr(event, "tag", None) is not None:
            written = self.tree.source.line(here.line)[here.column - 1 :].split(" ")[0]
            raise self._stop(here, "an entry without a tag", f"the tag `{shortened(written)}`", "delete the tag")

    def _open(self, event: MappingStartEvent | SequenceStartEvent, here: Mark) -> None:
        if self._awaits_key():
            raise self._stop(here, "a name", "a list or entries as a name", "for example `voltage: 24.94 kV`")
        if len(self.stack) == DEEPEST:
            raise self._stop(here, f"at most {DEEPEST} entries within each other", "more", "")
        container: dict[str, Any] | list[Any] = {} if isinstance(event, MappingStartEvent) else []
        path, kept = self._place(container, Mark(here.line, here.column), scalar=False)
        self.stack.append(_Open(container, path, kept))

    def _scalar(self, event: ScalarEvent, mark: Mark, end: Mark) -> None:
        bare = event.style is None or event.style == ""
        text = _SURROGATE.sub("?", event.value)
        if self._awaits_key():
            self._key(text, event.value, mark, bare)
            return
        value = _plain(text, bare)
        text = event.value if text != event.value else str(value or "")
        harmful = first_harmful(text)
        path, kept = self._place(value, mark, scalar=True)
        if kept:
            self.tree.ends[path] = end
        if harmful is not None and kept:
            found = "several lines" if text[harmful] in "\r\n" else character_name(text[harmful])
            self.tree.report(path, expected="one line of characters that print", found=found, remedy=_ONE_LINE)

    def _awaits_key(self) -> bool:
        return bool(self.stack) and isinstance(self.stack[-1].container, dict) and self.stack[-1].key is None

    def _key(self, name: str, written: str, mark: Mark, bare: bool) -> None:
        top = self.stack[-1]
        top.key, top.key_mark, top.doubled = name, mark, False
        if bare and name == "<<":
            raise self._stop(mark, "the entries themselves", "the merge key `<<`", "write the entries out")
        path = (*top.path, name)
        if not top.kept:
            return
        found = "" if top.path == ("assumptions",) else unfit_name(written)  # names of assumptions are paths themselves
        if name in top.container:
            first = self.tree.places[path].key.line
            found = f"a second `{shortened(name)}`; the first is on line {first}"
            top.doubled = True
            expected, remedy = "each entry once", "delete one of the two"
        elif found:
            expected, remedy = "a name of plain words", "for example `pump hall`"
        if found:
            source = self.tree.source
            self.tree.problems.append(source.problem(mark, dotted(path), expected=expected, found=found, remedy=remedy))

    def _place(self, value: Any, mark: Mark, *, scalar: bool) -> tuple[Path, bool]:
        """Put a value into the innermost open mapping or list; its path, and whether it was kept."""
        if not self.stack:
            self.tree.data = value
            self.tree.places[()] = Place(self.tree.source, mark, mark)
            return (), True
        top = self.stack[-1]
        if isinstance(top.container, list):
            path: Path = (*top.path, len(top.container))
            kept = top.kept
            key_mark = mark
            top.container.append(value)
        else:
            assert top.key is not None and top.key_mark is not None  # noqa: PT018  the parser gives a key before each value
            path, key_mark = (*top.path, top.key), top.key_mark
            kept = top.kept and not top.doubled
            if kept:
                top.container[top.key] = value
            top.key = None
        if kept:
            shown = mark if scalar and mark.length else key_mark
            self.tree.places[path] = Place(self.tree.source, key_mark, shown)
        return path, kept

    def _stop(self, mark: Mark, expected: str, found: str, remedy: str) -> ProjectErrors:
        source = self.tree.source
        line = source.line(mark.line)
        word = re.match(r"\S*", line[mark.column - 1 :])
        length = max(1, mark.length, len(word[0]) if word else 1)
        problem = source.problem(mark, "", expected=expected, found=found, remedy=remedy, length=length)
        return ProjectErrors([*self.tree.problems, problem])


@dataclass(slots=True)
class _Open:
    """An open mapping or list; `kept` is false inside the second of two entries of one name."""

    container: Any
    path: Path
    kept: bool
    key: str | None = None
    key_mark: Mark | None = None
    doubled: bool = False


def _plain(value: str, bare: bool) -> str | int | None:
    if not bare:
        return value.rstrip("\n")
    if value in _NULLS:
        return None
    return int(value) if _WHOLE.fullmatch(value) else value


def _syntax(source: Source, error: MarkedYAMLError) -> ProjectErrors:
    """What the parser says, at the place where it noticed."""
    at = error.problem_mark or error.context_mark
    mark = Mark(at.line + 1, at.column + 1) if at is not None else Mark(1, 1)
    found = f"a fault {error.context or ''}: {error.problem or ''}".replace(" :", ":")
    line = source.line(mark.line)
    if "\t" in line[: len(line) - len(line.lstrip())] or "'\\t'" in found:
        remedy = "indent with spaces, not with tabs"
    elif "mapping values are not allowed" in found:
        remedy = "text with `: ` in it stands in quotes; deeper entries are indented by two spaces"
    else:
        remedy = "each entry is `name: value`, deeper entries are indented by two spaces"
    problem = source.problem(
        mark, "", expected="YAML that can be read", found=shortened(" ".join(found.split()), 200), remedy=remedy
    )
    return ProjectErrors([problem])


def _no_entries(source: Source, tree: Tree) -> Problem:
    found = "a list" if isinstance(tree.data, list) else "no entries" if tree.data is None else "a single word"
    return source.problem(
        Mark(1, 1),
        "",
        expected="entries such as `title: ...`",
        found=found,
        remedy="`deadfront new FILE` writes a starter file",
    )


def paths(data: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every entry of plain data, outermost first."""
    yield path, data
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        yield from paths(value, (*path, key))
