"""Dossier: texts and pictures come in, the bytes of a PDF/A-3 document with its files attached go out."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import typst

from deadfront.dossier.errors import DossierError
from deadfront.dossier.lettering import font_folder
from deadfront.dossier.sheet import Picture

STANDARDS: tuple[Literal["a-3a"], Literal["ua-1"]] = ("a-3a", "ua-1")
"""PDF/A-3 with its full structure (ISO 19005-3), and accessible (ISO 14289-1)."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file the document carries, and how it stands to it."""

    name: str
    data: bytes
    relationship: Literal["source", "data", "supplement"]
    mime: str
    description: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """The pictures of a dossier; there is no sheet of characteristics where no device has a curve."""

    single_line: Picture
    sheets: tuple[Picture, ...]
    drawings: Mapping[str, Picture]
    """Those that the pages about access and about break points ask for by name."""


Part = Literal["whole", "procedures"]
"""A whole dossier, or the sheets of the crew alone."""
_PARTS: dict[Part, tuple[str, ...]] = {
    "whole": ("frame", "access", "breaks", "pages", "carried"),
    "procedures": ("frame", "access", "crew", "carried"),
}


def typeset(
    pages: Mapping[str, Any],
    pictures: Pictures,
    attachments: Sequence[Attachment],
    issued: str | None,
    part: Part = "whole",
) -> bytes:
    """The document: the same input gives the same bytes.

    pages        every text, as `contents` makes it; handed over as data, so that no text is ever read as markup
    pictures     as SVG
    attachments  carried byte for byte, each an associated file
    issued       date of issue, ISO 8601; it is the only time in the document, 1970-01-01 where there is none
    part         what of it is set
    raises       DossierError: the typesetter refused, with its message
    """
    compiler = typst.Compiler(_source(part), font_paths=own_fonts(), sys_inputs=_inputs(pages, pictures, attachments))
    try:
        pdf, warnings = compiler.compile_with_warnings(
            format="pdf", pdf_standards=list(STANDARDS), timestamp=_seconds(issued)
        )
    except typst.TypstError as refusal:
        hints = " ".join(refusal.hints)
        raise DossierError(f"the typesetter refused the pages: {refusal.message} {hints}".strip()) from refusal
    if warnings:
        raise DossierError(f"the typesetter warned about the pages: {'; '.join(str(warning) for warning in warnings)}")
    if not isinstance(pdf, bytes):
        raise DossierError("the typesetter made no document")
    return pdf


def _inputs(pages: Mapping[str, Any], pictures: Pictures, attachments: Sequence[Attachment]) -> dict[str, str]:
    whole = dict(pages) | {
        "picture": _size(pictures.single_line),
        "attachments": [_attached(file) for file in attachments],
    }
    whole["sheets"] = [named | _size(picture) for named, picture in zip(pages["sheets"], pictures.sheets, strict=True)]
    drawings = {name: _size(picture) | {"svg": picture.svg} for name, picture in sorted(pictures.drawings.items())}
    inputs = {"single_line": pictures.single_line.svg, "drawings": json.dumps(drawings, ensure_ascii=False)}
    inputs |= {f"sheet_{number}": picture.svg for number, picture in enumerate(pictures.sheets)}
    return inputs | {"contents": json.dumps(whole, ensure_ascii=False, sort_keys=True, allow_nan=False)}


def _size(picture: Picture) -> dict[str, float | str]:
    return {"width": picture.width, "height": picture.height, "alternate": picture.alternate}


def _attached(file: Attachment) -> dict[str, Any]:
    """An attachment for the pages: text as text, of which the typesetter makes the same bytes; all else as numbers."""
    about = {"name": file.name, "relationship": file.relationship, "mime": file.mime, "description": file.description}
    try:
        return about | {"bytes": file.data.decode("utf-8")}
    except UnicodeDecodeError:
        return about | {"bytes": list(file.data)}


def _seconds(issued: str | None) -> int:
    return int(datetime.fromisoformat(issued).replace(tzinfo=UTC).timestamp()) if issued else 0


@cache
def _source(part: Part) -> bytes:
    folder = files("deadfront.dossier")
    return b"\n".join(folder.joinpath(f"{name}.typ").read_bytes() for name in _PARTS[part])


@cache
def own_fonts() -> typst.Fonts:
    """Fonts of the typesetter and of the plotting library; never those of the machine, which would change the bytes."""
    return typst.Fonts(include_system_fonts=False, font_paths=[str(font_folder())])
