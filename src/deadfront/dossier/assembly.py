"""Dossier: a report comes in; its result and its curves are fetched, and the bytes of its PDF go out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from deadfront.dossier.document import Characteristics, document

if TYPE_CHECKING:
    from deadfront.claims.report import Report


def dossier_bytes(report: Report) -> bytes:
    """The dossier of a report, in memory. Raises DossierError when it cannot be made."""
    from deadfront.claims.pictures import curves_for_picture
    from deadfront.claims.report import to_json

    curves, markers, reference = curves_for_picture(report)
    return document(report, to_json(report), Characteristics(curves, markers, reference))
