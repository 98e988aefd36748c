"""Dossier: the pages about how far each range may move. Reaches of claims come in; texts and a picture go out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from deadfront.claims.wording import path_in_words
from deadfront.dossier.break_picture import given, move_cells, ranking_picture
from deadfront.dossier.lettering import printable
from deadfront.dossier.sheet import Picture

if TYPE_CHECKING:
    from deadfront.claims.breaking import Move, Reaches

RANKING = "break_points"
"""Name under which the pages ask for the picture."""
HOW_TO = (
    "How far each range may move before a verdict flips is not part of this document; "
    "`deadfront dossier FILE --break-points` adds it."
)
_DASH = "\u2013"


@dataclass(frozen=True, slots=True)
class BreakPages:
    """What a dossier says of break points: texts for the pages, the picture that ranks, and the object it carries.

    The object is None where the dossier was made without them.
    """

    texts: Mapping[str, Any]
    pictures: Mapping[str, Picture]
    carried: Mapping[str, Any] | None


WITHOUT = BreakPages({"note": HOW_TO, "claims": [], "others": "", "ranking": False}, {}, None)
"""A dossier made without break points says how to get them."""


def break_pages(found: Sequence[Reaches], carried: Mapping[str, Any]) -> BreakPages:
    """The pages about some claims; `carried` is the same as one object, which the dossier takes along."""
    moved = [reaches for reaches in found if reaches.ranges]
    others = [f"{reaches.claim.id} ({reaches.claim.verdict})" for reaches in found if not reaches.ranges]
    ranking = ranking_picture(found)
    texts = {
        "note": "",
        "claims": [_claim(reaches) for reaches in moved],
        "others": ", ".join(others),
        "ranking": ranking is not None,
    }
    return BreakPages(texts, {} if ranking is None else {RANKING: ranking}, carried)


def _claim(reaches: Reaches) -> dict[str, Any]:
    """One claim: a row for each range that flips it or may do so, nearest first; the others in a sentence."""
    claim, shown = reaches.claim, reaches.claim.verdict == "shown"
    rows, whole, useless = [], [], []
    for path, moves in reaches.ranked:
        if not (shown or moves or path in reaches.skipped):
            useless.append(path_in_words(path))
        elif shown and moves and all(move.flip is None and move.close for move in moves):
            ends = " and ".join(move_cells(move, shown)[0] for move in moves)
            whole.append(f"{path_in_words(path)} ({ends})")
        else:
            rows.append(_row(reaches, path, {move.direction: move for move in moves}, shown=shown))
    return {
        "id": claim.id,
        "verdict": claim.verdict,
        "sentence": printable(claim.sentence),
        "rows": rows,
        "whole": printable("; ".join(whole)),
        "useless": printable(", ".join(useless)),
    }


def _row(reaches: Reaches, path: str, moves: Mapping[str, Move], *, shown: bool) -> dict[str, str]:
    """A range: what the file gives, how far it holds each way, and what fails there first."""
    row = {"range": printable(path_in_words(path)), "given": printable(given(reaches.ranges[path]))}
    if path in reaches.skipped:
        return row | {"down": _DASH, "up": _DASH, "fails": printable(f"Not followed: {reaches.skipped[path]}.")}
    cells = {side: move_cells(moves[side], shown) if side in moves else (_DASH, "") for side in ("down", "up")}
    fails = [f"{side}: {cells[side][1]}" for side in ("down", "up") if cells[side][1]]
    return row | {side: printable(cells[side][0]) for side in cells} | {"fails": printable("; ".join(fails))}
