"""Claims: a choice of fuses as plain data. What `choose` found comes in; one JSON object and its schema go out."""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib.resources import files
from typing import Any, cast

from deadfront.claims.choice import Candidate, Choice, PairVerdict
from deadfront.project.project import Project

FORMAT = 1
"""Version of the JSON object."""


def choice_json(project: Project, choice: Choice) -> dict[str, Any]:
    """The whole choice as plain data, in the form of `choice_schema`."""
    return {
        "deadfront": FORMAT,
        "title": project.unit.title,
        "demonstration": choice.demonstration,
        "input_sha256": project.sha256,
        "catalogue": choice.catalogue.name,
        "pairs": len(choice.candidates) + len(choice.rejected),
        "candidates": [
            {"rank": number if one.proved else None, **_candidate(one)}
            for number, one in enumerate(choice.candidates, start=1)
        ],
        "rejected": [_candidate(one) for one in choice.rejected],
        "unaffected": {verdict.claim: _verdict(verdict) for verdict in choice.unaffected},
        "missing": [asdict(entry) for entry in choice.missing],
    }


def _candidate(one: Candidate) -> dict[str, Any]:
    return {
        "link": one.link.name,
        "limiter": one.limiter.name,
        "proved": one.proved,
        "worst_margin": one.worst_margin,
        "new_ratings": list(one.new_ratings),
        "verdicts": {verdict.claim: _verdict(verdict) for verdict in one.verdicts},
        "failed": [verdict.claim for verdict in one.failed],
        "reasons": list(one.reasons),
    }


def _verdict(verdict: PairVerdict) -> dict[str, Any]:
    return {name: value for name, value in asdict(verdict).items() if name != "claim"}


def choice_schema() -> dict[str, Any]:
    """The schema of the object that `deadfront choose FILE fuses --json` prints, JSON Schema 2020-12."""
    text = (files("deadfront.claims") / "choice.schema.json").read_text(encoding="utf-8")
    return cast(dict[str, Any], json.loads(text))
