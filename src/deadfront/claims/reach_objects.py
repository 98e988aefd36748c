"""Claims: break points and maps as one JSON object each. What was found comes in, plain data goes out."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from importlib.metadata import version
from typing import Any

from deadfront.claims.breaking import Move, Reaches
from deadfront.claims.mapping import MarginMap
from deadfront.claims.model import Claim
from deadfront.claims.report import FORMAT, finite
from deadfront.claims.wording import DIMENSION_UNITS
from deadfront.intervals import FAILS, HOLDS, UNDECIDED, Effort
from deadfront.project.project import Project
from deadfront.project.quantities import SPELLINGS, UNITS, ZERO_POINTS, Quantity

_DIGITS = 6
"""Significant digits of a value as the file could write it."""
_STATES = {HOLDS: "holds", UNDECIDED: "undecided", FAILS: "fails"}
_NUMBER = re.compile(r"\s*[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?\s*(\S*)\s*")


def break_points_object(project: Project, found: Sequence[Reaches], effort: Effort) -> dict[str, Any]:
    """Break points of some claims; the form is `break-points.schema.json`."""
    return _head(project, "break points", effort) | {
        "claims": [_of_claim(reaches) for reaches in found],
        "ranking": _ranking(found),
    }


def map_object(project: Project, found: MarginMap, effort: Effort) -> dict[str, Any]:
    """A map of a claim over two ranges; the form is `map.schema.json`."""
    inputs = [
        _range(path, quantity) | {"edges": [float(edge) for edge in edges]}
        for path, quantity, edges in zip(found.paths, found.ranges, found.edges, strict=True)
    ]
    return _head(project, "map", effort) | {
        "claim": _claim(found.claim),
        "inputs": inputs,
        "cells": [[_STATES[int(state)] for state in row] for row in found.state],
        "least_margin": [[finite(float(margin)) for margin in row] for row in found.least],
        "boxes": found.boxes,
    }


def _head(project: Project, question: str, effort: Effort) -> dict[str, Any]:
    return {
        "deadfront": FORMAT,
        "question": question,
        "version": version("deadfront"),
        "title": project.unit.title,
        "practice": project.unit.practice,
        "demonstration": project.demonstration,
        "input_sha256": project.sha256,
        "effort": {"budget": effort.budget, "tolerance": effort.tolerance},
    }


def _claim(claim: Claim) -> dict[str, Any]:
    return {
        "id": claim.id,
        "sentence": claim.sentence,
        "verdict": claim.verdict,
        "margin": finite(claim.margin),
        "bound": finite(claim.bound),
    }


def _of_claim(reaches: Reaches) -> dict[str, Any]:
    ranges = [
        _range(path, reaches.ranges[path])
        | {"not_followed": reaches.skipped.get(path), "moves": [_move(move, reaches.ranges[path]) for move in moves]}
        for path, moves in reaches.ranked
    ]
    return _claim(reaches.claim) | {"ranges": ranges}


def _range(path: str, quantity: Quantity) -> dict[str, Any]:
    return {
        "path": path,
        "text": quantity.text,
        "unit": DIMENSION_UNITS.get(quantity.dimension, "1"),
        "low": quantity.low,
        "high": quantity.high,
    }


def _move(move: Move, quantity: Quantity) -> dict[str, Any]:
    up = move.direction == "up"
    flip = None if move.flip is None else {"value": move.flip, "text": as_written(move.flip, quantity, upward=up)}
    return {
        "direction": move.direction,
        "start": move.start,
        "search_end": move.limit,
        "status": _status(move),
        "holds_to": {"value": move.reach, "text": as_written(move.reach, quantity, upward=not up)},
        "share_of_range": move.share,
        "fails_at": flip,
        "failing_point": None
        if move.witness is None
        else {
            "inputs": dict(move.witness.inputs),
            "margin": finite(move.witness.margin),
            "subject": move.witness.subject,
            "case": move.witness.case,
        },
    }


def _status(move: Move) -> str:
    """`proved`: holds as far as was looked. `flips`: proved to beside a failing point. `undecided`: neither."""
    if not move.close:
        return "undecided"
    return "proved" if move.flip is None else "flips"


def _ranking(found: Sequence[Reaches]) -> list[dict[str, Any]]:
    """Moves of all shown claims: first those that flip or are undecided, the shortest first; then the others."""
    moves = [
        (reaches.claim.id, move) for reaches in found if reaches.claim.verdict == "shown" for move in reaches.moves
    ]
    moves.sort(key=lambda one: (_status(one[1]) == "proved", one[1].share, one[0], one[1].path, one[1].direction))
    return [
        {
            "claim": identifier,
            "path": move.path,
            "direction": move.direction,
            "share_of_range": move.share,
            "status": _status(move),
        }
        for identifier, move in moves
    ]


def as_written(value: float, quantity: Quantity, *, upward: bool) -> str | None:
    """A value in the unit in which the file writes this range, rounded upward or downward to six digits.

    None for a range that the tool assumed, since the file has no unit for it.
    """
    part = re.split(r"\+/-|±", quantity.text)[0].split("..")[-1]
    match = _NUMBER.fullmatch(part)
    unit = SPELLINGS.get(match[1], match[1]) if match else ""
    factors = UNITS.get(quantity.dimension, {})
    if match is None or unit not in factors or not math.isfinite(value):
        return None
    exact = (Fraction(value) - ZERO_POINTS.get(unit, Fraction(0))) / factors[unit]
    number = Decimal(exact.numerator) / Decimal(exact.denominator)
    step = Decimal(1).scaleb(number.adjusted() - _DIGITS + 1) if number else Decimal(1)
    rounded = number.quantize(step, rounding=ROUND_CEILING if upward else ROUND_FLOOR)
    return f"{rounded.normalize():f} {unit}".rstrip()
