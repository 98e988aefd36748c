"""Dossier: a report comes in; its result and its sheets of curves are fetched, and the bytes of its PDF go out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from deadfront.dossier.break_pages import WITHOUT, break_pages
from deadfront.dossier.document import document

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.claims.report import Report
    from deadfront.dossier.typeset import Part


def dossier_bytes(
    report: Report, part: Part = "whole", followed: Followed | None = None, result: Mapping[str, Any] | None = None
) -> bytes:
    """The dossier of a report, or its sheets for the crew alone, in memory. Raises DossierError if that fails.

    followed  break points for the pages about them; without, a sentence says how to get them
    result    what the dossier carries along; that of the report if not given
    """
    from deadfront.claims.pictures import sheets_of
    from deadfront.claims.reach_objects import break_points_object
    from deadfront.claims.report import to_json

    breaks = WITHOUT
    if followed is not None:
        plain = break_points_object(report.project, followed.reaches, followed.effort)
        breaks = break_pages(followed.reaches, plain)
    sheets = sheets_of(report.subject) if part == "whole" else ()
    return document(report, result or to_json(report), sheets, part, breaks)
