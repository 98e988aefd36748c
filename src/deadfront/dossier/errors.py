"""Dossier: what goes wrong with a document, in one sentence."""

from __future__ import annotations


class DossierError(Exception):
    """A dossier cannot be written, read or checked; the text says what was found and what was expected."""
