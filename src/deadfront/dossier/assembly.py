"""Dossier: a report comes in; its result and its sheets of curves are fetched, and the bytes of its PDF go out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from deadfront.dossier.document import document

if TYPE_CHECKING:
    from deadfront.claims.report import Report
    from deadfront.dossier.typeset import Part


def dossier_bytes(report: Report, part: Part = "whole") -> bytes:
    """The dossier of a report, or its sheets for the crew alone, in memory. Raises DossierError if that fails."""
    from deadfront.claims.pictures import sheets_of
    from deadfront.claims.report import to_json

    return document(report, to_json(report), sheets_of(report.subject) if part == "whole" else (), part)
