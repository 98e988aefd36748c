"""Dossier: the table of selectivity. Claims come in; pair by pair, a range in print and as a bar goes out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from deadfront.claims.numbers import format_number, typographic

if TYPE_CHECKING:
    from deadfront.claims.model import Claim, SelectiveRange


def selective_pairs(claims: Sequence[Claim]) -> list[dict[str, Any]]:
    """Every pair of which a claim states a range, under its claim; the bars of one claim share one scale.

    The range looked at is rounded outwards, what is selective of it inwards, the margin down.
    """
    found = []
    for claim in sorted(claims, key=lambda each: each.id):
        pairs = [(detail.subject, detail.selective) for detail in claim.details if detail.selective is not None]
        if pairs:
            scale = min(one.smallest for _, one in pairs), max(one.largest for _, one in pairs)
            rows = [_row(subject, one, scale) for subject, one in pairs]
            found.append({"id": claim.id, "verdict": claim.verdict, "sentence": claim.sentence, "pairs": rows})
    return found


def _row(subject: str, one: SelectiveRange, scale: tuple[float, float]) -> dict[str, Any]:
    low, high = format_number(one.smallest, "A", "down"), format_number(one.largest, "A", "up")
    return {
        "pair": subject,
        "looked": typographic(f"{low} to {high}"),
        "selective": _selective(one),
        "tightest": _tightest(one),
        "at": typographic(format_number(one.tightest_at, "A")),
        "bar": [_place(end, scale) for end in (one.smallest, one.largest)],
        "parts": [[_place(a, scale), _place(b, scale)] for a, b in _parts(one)],
    }


def _parts(one: SelectiveRange) -> list[tuple[float, float]]:
    """The parts of the range over which the pair is selective."""
    if one.up_to is not None and one.up_to >= one.largest:
        return [(one.smallest, one.largest)]
    found = [] if one.up_to is None else [(one.smallest, one.up_to)]
    return found if one.from_on is None else [*found, (one.from_on, one.largest)]


def _selective(one: SelectiveRange) -> str:
    """The same in words."""
    if _parts(one) == [(one.smallest, one.largest)]:
        return "throughout"
    words = []
    if one.up_to is not None:
        words.append(f"up to {format_number(one.up_to, 'A', 'down')}")
    if one.from_on is not None:
        words.append(f"from {format_number(one.from_on, 'A', 'up')} on")
    return typographic(" and ".join(words)) if words else "at neither end"


def _tightest(one: SelectiveRange) -> str:
    """Least time to spare; in words where there is none to state."""
    if one.tightest is not None:
        return typographic(format_number(one.tightest, "s", "down"))
    return "the device behind never acts" if _selective(one) == "throughout" else "the nearer device does not clear"


def _place(current: float, scale: tuple[float, float]) -> float:
    """Where a current stands on the logarithmic scale of a claim, 0 to 1."""
    low, high = (math.log(end) for end in scale)
    return round((math.log(current) - low) / (high - low), 4) if high > low else 0.0
