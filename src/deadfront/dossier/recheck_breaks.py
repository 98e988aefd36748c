"""Dossier: break points check themselves. Those a dossier carries and those found again come in; differences go out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from deadfront.dossier.document import BREAKS, canonical
from deadfront.dossier.errors import DossierError

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.intervals import Effort
    from deadfront.project.project import Project

Moves = Mapping[tuple[str, str, str], Mapping[str, Any]]
"""Moves by claim, path and direction."""


def break_differences(path: Path, carried: bytes, project: Project, judging: Effort) -> tuple[list[str], Followed]:
    """What differs between the break points a dossier carries and those found again with the same effort, in words.

    judging  effort of the verdicts
    returns  the differences, and what was found again
    raises   DossierError: the carried file is no object of break points
    """
    from deadfront.claims.reach_objects import break_points_object

    before = _read(path, carried)
    found = _again(path, before, project, judging)
    after = json.loads(canonical(break_points_object(project, found.reaches, found.effort)))
    return compare_breaks(before, after), found


def compare_breaks(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    """What differs between two objects of break points, beyond what the search itself leaves open."""
    tolerance = float(after["effort"]["tolerance"])
    old, new = _moves(before), _moves(after)
    differences = []
    for key in sorted(old.keys() | new.keys()):
        name = f"break points: {key[0]}: {key[1]} {key[2]}"
        if key not in new:
            differences.append(f"{name}: in the dossier, but no longer found")
        elif key not in old:
            differences.append(f"{name}: found now, but not in the dossier")
        else:
            differences += [f"{name}: {words}" for words in _differs(old[key], new[key], tolerance)]
    return differences


def _differs(old: Mapping[str, Any], new: Mapping[str, Any], tolerance: float) -> list[str]:
    """What differs on one way; two places are alike within the tolerance of the search on either side."""
    near = 2.0 * tolerance * abs(new["search_end"] - new["start"])
    found = []
    if old["status"] != new["status"]:
        found.append(f"status was {old['status']!r}, is now {new['status']!r}")
    for field in ("holds_to", "fails_at"):
        was, now = (None if one[field] is None else one[field]["value"] for one in (old, new))
        if (was is None) != (now is None) or (was is not None and now is not None and abs(was - now) > near):
            found.append(f"{field.replace('_', ' ')} was {was!r}, is now {now!r}")
    return found


def _moves(plain: Mapping[str, Any]) -> Moves:
    return {
        (claim["id"], one["path"], move["direction"]): move
        for claim in plain["claims"]
        for one in claim["ranges"]
        for move in one["moves"]
    }


def _read(path: Path, carried: bytes) -> dict[str, Any]:
    """The carried object, in the form its schema asks for as far as it is compared."""
    try:
        plain = json.loads(carried)
        for move in _moves(plain).values():
            _differs(move, move, float(plain["effort"]["tolerance"]))
        int(plain["effort"]["budget"])
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        raise DossierError(f"{path}: {BREAKS}: expected break points of claims, found damaged text") from None
    return dict(plain)


def _again(path: Path, before: Mapping[str, Any], project: Project, judging: Effort) -> Followed:
    """The break points of every claim, followed with the effort that the carried object states."""
    from dataclasses import replace

    from deadfront.claims.breaking import REACHING, Followed, every_reach
    from deadfront.claims.comparing import CLAIMS
    from deadfront.claims.report import subject_of

    given = before["effort"]
    try:
        effort = replace(REACHING, budget=int(given["budget"]), tolerance=float(given["tolerance"]))
    except ValueError as error:
        raise DossierError(f"{path}: {BREAKS}: {error}") from None
    found = every_reach(CLAIMS, subject_of(project), (effort, judging))
    return Followed(tuple(sorted(found, key=lambda reaches: reaches.claim.id)), effort)
