"""Project: files as they lie on the disk; names and bytes come in, lines of harmless text with their places go out."""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path, PurePosixPath

from deadfront.project.errors import Problem, ProjectErrors, shortened

LARGEST_FILE = 1 << 20
"""Bytes of a project file or of a file beside it; a long one has some ten thousand."""

_LINE_BREAK = re.compile(r"\r\n|\r|\n")
_BYTE_ORDER_MARK = "\ufeff"
_JOINERS = "\u200c\u200d"  # format characters that scripts need to be spelt right
_MOST_CHARACTERS = 20  # problems of this kind that are worth listing for one file


@dataclass(frozen=True)
class Source:
    """A text file: its name as the user knows it, and its text."""

    name: str
    text: str

    @cached_property
    def lines(self) -> list[str]:
        """Lines without their ends, split as YAML splits them."""
        return _LINE_BREAK.split(self.text)

    def line(self, number: int) -> str:
        """Line by its number from 1; empty beyond the end."""
        return self.lines[number - 1] if 0 < number <= len(self.lines) else ""

    def problem(
        self, mark: Mark, path: str, *, expected: str, found: str, remedy: str = "", length: int | None = None
    ) -> Problem:
        """A problem at a place of this file."""
        size = mark.length if length is None else length
        line = self.line(mark.line)
        return Problem(self.name, mark.line, mark.column, path, expected, found, remedy, line, max(1, size))


@dataclass(frozen=True, slots=True)
class Mark:
    """A place in a file: line and column from 1, and how many characters stand there."""

    line: int
    column: int
    length: int = 1


class Unreadable(Exception):  # noqa: N818  what was found, for the one who knows where the name stands
    """A file that cannot be read; `found` says what is there instead."""

    def __init__(self, found: str) -> None:
        super().__init__(found)
        self.found = found


class Folder:
    """The folder of a project on the disk: the only place from which a project's files are read."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def shown(self, name: str) -> str:
        """The name as it leads there from where the user stands."""
        return str(self.folder / name)

    def read(self, name: str) -> bytes:
        """Bytes of a file in this folder. Raises Unreadable: not there, outside, not a file, too large."""
        try:
            real = (self.folder / name).resolve(strict=True)
        except (OSError, RuntimeError, ValueError):
            raise Unreadable("nothing: there is no such file") from None
        if not real.is_relative_to(self.folder.resolve()):
            raise Unreadable("a link that leads out of the project's folder")
        return read_bytes(real)


class Bundle:
    """A project's files in memory, by relative name, as a dossier carries them."""

    def __init__(self, files: Mapping[str, bytes]) -> None:
        self.files = files

    def shown(self, name: str) -> str:
        """The name itself."""
        return name

    def read(self, name: str) -> bytes:
        """Bytes of a file of the bundle. Raises Unreadable: not there, too large."""
        if name not in self.files:
            raise Unreadable("nothing: it is not among the files")
        if len(self.files[name]) > LARGEST_FILE:
            raise Unreadable(f"{len(self.files[name])} bytes")
        return self.files[name]


def read_bytes(path: Path) -> bytes:
    """Bytes of a regular file of at most LARGEST_FILE, never read further than needed to know that.

    Raises Unreadable: no such file, no permission, a folder, a device or pipe, too large.
    """
    quick = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        descriptor = os.open(path, os.O_RDONLY | quick)
    except FileNotFoundError:
        raise Unreadable("nothing: there is no such file") from None
    except (OSError, ValueError) as error:
        raise Unreadable(f"a refusal of the system ({getattr(error, 'strerror', None) or error})") from None
    try:
        status = os.fstat(descriptor)
        if stat.S_ISDIR(status.st_mode):
            raise Unreadable("a folder")
        if not stat.S_ISREG(status.st_mode):
            raise Unreadable("a device, pipe or socket")
        if status.st_size > LARGEST_FILE:
            raise Unreadable(f"{status.st_size} bytes")
        with open(descriptor, "rb", closefd=False) as file:
            content = file.read(LARGEST_FILE + 1)
    finally:
        os.close(descriptor)
    if len(content) > LARGEST_FILE:
        raise Unreadable("a file that grows while it is read")
    return content


def read_project_file(path: Path) -> bytes:
    """Bytes of a project file; ProjectErrors where it cannot be read."""
    try:
        return read_bytes(path)
    except Unreadable as error:
        expected = f"a project file of at most {LARGEST_FILE >> 20} MiB"
        remedy = "`deadfront new FILE` writes a starter file"
        raise ProjectErrors([Problem(str(path), 0, 0, "", expected, error.found, remedy)]) from None


def decode(name: str, content: bytes) -> Source:
    """The text of a file in UTF-8, without its byte order mark; ProjectErrors locates what is not harmless text."""
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8")
        lines = _LINE_BREAK.split(before)
        here = _LINE_BREAK.split(content[error.start :].decode("utf-8", "backslashreplace"))[0]
        mark = Mark(len(lines), len(lines[-1]) + 1, 4)  # a byte shows as its escape, four characters
        problem = Problem(
            file=name,
            line=mark.line,
            column=mark.column,
            path="",
            expected="text in UTF-8",
            found=f"the byte 0x{content[error.start]:02x} at position {error.start}",
            help="save the file with the encoding UTF-8",
            source_line=lines[-1] + here,
            length=mark.length,
        )
        raise ProjectErrors([problem]) from None
    source = Source(name, text.removeprefix(_BYTE_ORDER_MARK))
    problems = list(_harmful(source))
    if problems:
        raise ProjectErrors(problems)
    return source


def first_harmful(text: str) -> int | None:
    """Where the first character stands that does not print or turns the writing direction; None where all is well."""
    if text.isascii() and text.isprintable():
        return None
    return next((number for number, character in enumerate(text) if _is_harmful(character)), None)


def character_name(character: str) -> str:
    """`U+202E RIGHT-TO-LEFT OVERRIDE`, or the number alone where the character has no name."""
    return f"U+{ord(character):04X} {unicodedata.name(character, '')}".rstrip()


def unfit_name(name: str) -> str:
    """Why a name cannot stand in a path; empty where it can."""
    harmful = first_harmful(name)
    if harmful is not None:
        return f"a name with {character_name(name[harmful])}"
    if not name:
        return "no name"
    if "." in name or "[" in name or "]" in name:
        return f"`{shortened(name)}`, with a dot or bracket in it"
    return f"`{shortened(name)}`, with a space at its end" if name != name.strip() else ""


def relative_name(name: str) -> str | None:
    """Why a file name may not stand in a project; None where it may."""
    pure = PurePosixPath(name)
    if "\\" in name:
        return "a name with a backslash"
    if pure.is_absolute() or re.match(r"[A-Za-z]:", name):
        return "an absolute name"
    if ".." in pure.parts:
        return "a name that leads out of the project's folder"
    if str(pure) != name or name == ".":
        return f"`{shortened(name)}`, not in its plain form"
    return None


def _harmful(source: Source) -> Iterator[Problem]:
    if source.text.isascii() and source.text.replace("\n", "").isprintable():
        return
    count = 0
    for number, line in enumerate(source.lines, start=1):
        for column, character in enumerate(line, start=1):
            if character == "\t" or not _is_harmful(character):
                continue
            yield source.problem(
                Mark(number, column),
                "",
                expected="characters that print and keep the writing direction",
                found=character_name(character),
                remedy="delete the character",
            )
            count += 1
            if count == _MOST_CHARACTERS:
                return


def _is_harmful(character: str) -> bool:
    """Controls, separators that look like line ends, surrogates, and format characters such as direction overrides."""
    if character in _JOINERS:
        return False
    return unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp") or (ord(character) & 0xFFFE) == 0xFFFE
