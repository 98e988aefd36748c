"""Dossier: a whole document in memory. A report with its result and curves comes in, the bytes of the PDF go out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from deadfront.dossier.access_pages import access
from deadfront.dossier.break_pages import WITHOUT, BreakPages
from deadfront.dossier.contents import as_shown, contents
from deadfront.dossier.errors import DossierError
from deadfront.dossier.log_paper import drawable, log_paper
from deadfront.dossier.selective_pairs import selective_pairs
from deadfront.dossier.single_line import single_line
from deadfront.dossier.typeset import Attachment, Part, Pictures, typeset

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.study.drawing import Sheet

RESULT = "result.json"
"""Name under which a dossier carries what was computed."""
BREAKS = "break-points.json"
"""Name under which a dossier that has pages about break points carries them."""
CHECKSUMS = "checksums.txt"
"""Name of the list of checksums of all other files, one a line: hexadecimal SHA-256, two spaces, name."""
TYPES: dict[Part, str] = {"whole": "Dossier of claims", "procedures": "Sheets of the crew"}
"""What a document says that it is, in its title block and in its metadata; a re-check reads there which part it is."""
_PAPER = {"north-american": "us-letter", "iec": "a4"}


def document(
    report: Report,
    result: Mapping[str, Any],
    sheets: Sequence[Sheet],
    part: Part = "whole",
    breaks: BreakPages = WITHOUT,
) -> bytes:
    """The dossier of a report: the same report gives the same bytes, on any machine with the same pinned packages.

    result  the report as one object for machines; carried along for the re-check
    sheets  of log-log paper; one on which nothing falls inside its window is left out
    part    the whole, or the sheets of the crew alone; both carry the same files
    breaks  the pages about break points, which also carry what they say as one object
    raises  DossierError: a file of the project has the name of one of the dossier's own
    """
    unit = report.project.unit
    attachments = _attachments(report, result, breaks.carried)
    about, drawings = access(report, only_sheets=part == "procedures")
    pages = contents(report, {file.name: file.data for file in attachments}, about)
    pages["head"]["paper"] = _PAPER[unit.practice]
    pages["head"]["type"] = TYPES[part]
    pages["breaks"] = breaks.texts
    shown = [sheet for sheet in sheets if drawable(sheet)]
    pages["sheets"] = as_shown([_sheet(sheet, unit.title) for sheet in shown])
    pages["selective"] = as_shown(selective_pairs(report.claims))
    bare = [replace(sheet, title="", band="") for sheet in shown]  # the page has both
    pictures = Pictures(single_line(report), tuple(log_paper(sheet) for sheet in bare), {**drawings, **breaks.pictures})
    return typeset(pages, pictures, attachments, unit.issued, part)


def _sheet(sheet: Sheet, unit: str) -> dict[str, Any]:
    """Title of a sheet without the unit's, which stands on every page, and how each device came onto it."""
    rows = [
        {"name": one.name, "about": "; ".join(one.about), "referred": one.referred} for one in sheet.characteristics
    ]
    return {"title": sheet.title.removeprefix(f"{unit}. "), "devices": rows}


def _attachments(report: Report, result: Mapping[str, Any], breaks: Mapping[str, Any] | None) -> list[Attachment]:
    """The project file, every file it names, the result, break points if any, and the checksums, sorted by name."""
    project = report.project
    taken = {project.name, *project.files} & {RESULT, BREAKS, CHECKSUMS}
    if taken or project.name in project.files:
        raise DossierError(
            f"a file of the project is named {min(taken or {project.name})!r}; a dossier needs that name for itself"
        )
    files = [Attachment(project.name, project.source, "source", "application/yaml", "project file")]
    files += [
        Attachment(name, data, "data", "text/csv", "named by the project file") for name, data in project.files.items()
    ]
    files.append(Attachment(RESULT, canonical(result), "data", "application/json", "every claim with its numbers"))
    if breaks is not None:
        files.append(Attachment(BREAKS, canonical(breaks), "data", "application/json", "how far each range may move"))
    files.sort(key=lambda file: file.name)
    lines = "".join(f"{hashlib.sha256(file.data).hexdigest()}  {file.name}\n" for file in files)
    return [*files, Attachment(CHECKSUMS, lines.encode(), "supplement", "text/plain", "SHA-256 of the other files")]


def canonical(result: Mapping[str, Any]) -> bytes:
    """A result as JSON text, always the same bytes: sorted keys, two spaces, no number that JSON does not know."""
    return (json.dumps(result, ensure_ascii=False, sort_keys=True, indent=2, allow_nan=False) + "\n").encode()
