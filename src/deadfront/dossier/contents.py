"""Dossier: what stands on the pages. A report comes in; plain texts and lists go out, ready for the typesetter."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from deadfront.claims.model import Assumption, Rule, Step
from deadfront.claims.numbers import raised
from deadfront.dossier import claim_sheets, result_tables, wording
from deadfront.dossier.lettering import printable, replaced

if TYPE_CHECKING:
    from deadfront.claims.report import Report

_LONG_WORD = re.compile(r"(?<!\S)(?![0-9a-f]{64}(?!\S))\S{33,}")
"""A word that may be wider than a column; a checksum is no word."""
_LONG_PIECE = re.compile(r"\S{32}(?=\S)")
_BREAK = "\u200b"
"""Zero-width space: where a word that is too long for a column may break."""
_PRACTICES = {"north-american": "North American (IEEE, ANSI, NFPA, CSA)", "iec": "IEC"}


def contents(report: Report, attached: Mapping[str, bytes], access: Mapping[str, Any]) -> dict[str, Any]:
    """Every text of the dossier, by page; `attached` is what it carries, by name, `access` the texts about hands.

    Characters that the fonts cannot show are written out, and listed on the last sheet.
    """
    pages = {
        "head": _head(report),
        "cover": _cover(report),
        "hazards": claim_sheets.by_hazard(report.claims, _numbers(report)),
        "index": claim_sheets.index(report.claims),
        "faults": result_tables.faults(report),
        "arcs": result_tables.arcs(report),
        "access": dict(access),
        "assumptions": _assumptions(report),
        "open_items": _open_items(report),
        "sources": _sources(report),
        "tags": [{"tag": tag, "meaning": meaning} for tag, meaning in wording.TAGS],
        "rounding": wording.ROUNDING,
        "files": _files(attached),
        "tables": _tables(),
    }
    written_out = replaced(_strings(pages))
    shown: dict[str, Any] = as_shown(pages)
    return shown | {"written_out": list(written_out)}


def identification(report: Report) -> str:
    """Number of the document, from the project file itself: the same file, the same number (at most 16 characters)."""
    return f"DF-{hashlib.sha256(report.project.source).hexdigest()[:12].upper()}"


def _head(report: Report) -> dict[str, Any]:
    """The title block, fields of ISO 7200 [V2, restated]; what the file does not give stands open, never invented."""
    unit = report.project.unit
    return {
        "title": unit.title,
        "place": (unit.site.place if unit.site else None) or wording.NOT_GIVEN,
        "owner": wording.NOT_GIVEN,
        "identification": identification(report),
        "date": unit.issued or wording.NO_DATE,
        "type": "Dossier of claims",
        "creator": unit.prepared_by or wording.NOT_GIVEN,
        "approver": wording.SIGN_BY_HAND,
        "practice": _PRACTICES[unit.practice],
        "language": "en",
        "tool": f"Deadfront {report.version}",
        "band": wording.BAND if report.project.demonstration else "",
        "footer": wording.FOOTER,
    }


def _cover(report: Report) -> dict[str, Any]:
    return {
        "purpose": wording.PURPOSE,
        "counts": claim_sheets.counts(report.claims),
        "refuted": claim_sheets.worst_first(report.claims, "refuted"),
        "open": claim_sheets.worst_first(report.claims, "open"),
        "cautions": list(wording.CAUTIONS),
    }


def _numbers(report: Report) -> dict[str, str]:
    """The number of each assumption in the register, by its key."""
    keys = sorted(assumption.key for assumption in report.assumptions)
    return {key: f"A{number}" for number, key in enumerate(keys, start=1)}


def _assumptions(report: Report) -> list[dict[str, Any]]:
    """The register: each assumption once, with the claims that rest on it."""
    rows, numbers = [], _numbers(report)
    for assumption in sorted(report.assumptions, key=lambda a: a.key):
        claims = sorted(claim.id for claim in report.claims if any(a.key == assumption.key for a in claim.assumptions))
        rows.append(
            {
                "number": numbers[assumption.key],
                "key": assumption.key,
                "text": raised(assumption.text),
                "source": assumption.source,
                "tag": assumption.tag,
                "confirm": assumption.confirm,
                "owner": assumption.owner or wording.NO_OWNER,
                "claims": ", ".join(claims),
            }
        )
    return rows


def _open_items(report: Report) -> list[dict[str, str]]:
    """Every entry that the file lacks, once, with the claims that wait for it; then what is open for another reason."""
    missing: dict[str, Any] = {}
    waiting: dict[str, set[str]] = {}
    for claim in report.claims:
        for entry in claim.missing:
            missing.setdefault(entry.path, entry)
            waiting.setdefault(entry.path, set()).add(claim.id)
    rows = [
        {"what": entry.what, "path": path, "example": entry.example, "claims": ", ".join(sorted(waiting[path]))}
        for path, entry in sorted(missing.items())
    ]
    rows += [
        {"what": raised(claim.reason), "path": "", "example": "", "claims": claim.id}
        for claim in sorted(report.claims, key=lambda c: c.id)
        if claim.verdict == "open" and not claim.missing
    ]
    return [{"number": f"O{number}"} | row for number, row in enumerate(rows, start=1)]


def _sources(report: Report) -> list[dict[str, str]]:
    """Every source named in the dossier with its tag, and where it is used."""
    used: dict[tuple[str, str], set[str]] = {}
    for claim in report.claims:
        parts: list[Rule | Step | Assumption] = [claim.rule, *claim.evidence, *claim.assumptions]
        for part in parts:
            if part.source:
                used.setdefault((part.source, part.tag), set()).add(claim.id)
    return [
        {"source": source, "tag": tag, "claims": ", ".join(sorted(ids))} for (source, tag), ids in sorted(used.items())
    ]


def _files(attached: Mapping[str, bytes]) -> list[dict[str, str]]:
    return [
        {"name": name, "size": f"{len(data)} bytes", "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in sorted(attached.items())
    ]


def _tables() -> dict[str, str]:
    """One checksum over the standards' tables the tool computed with."""
    folder = files("deadfront.tables").joinpath("data")
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".csv"))
    lines = "".join(f"{hashlib.sha256(folder.joinpath(name).read_bytes()).hexdigest()}  {name}\n" for name in names)
    return {"count": str(len(names)), "sha256": hashlib.sha256(lines.encode()).hexdigest()}


def _strings(value: object) -> Iterable[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)


def as_shown(value: Any) -> Any:
    """The same structure with every text as the fonts can show it, and words cut where no column would hold them."""
    if isinstance(value, str):
        return re.sub(_LONG_WORD, lambda word: _breakable(word[0]), printable(value))
    if isinstance(value, dict):
        return {name: as_shown(inner) for name, inner in value.items()}
    return [as_shown(inner) for inner in value] if isinstance(value, list) else value


def _breakable(word: str) -> str:
    """A long word that may break after its points, strokes and slashes, and a piece without any after 32 letters."""
    pieces = re.findall(r"[^._/-]*[._/-]+|[^._/-]+", word)
    return _BREAK.join(re.sub(_LONG_PIECE, lambda piece: piece[0] + _BREAK, piece) for piece in pieces)
