"""Dossier: what would flip each claim. Reaches of its ranges come in; lines of text, and a picture as SVG, go out."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from deadfront.claims.numbers import Direction, format_number
from deadfront.claims.wording import DIMENSION_UNITS, path_in_words
from deadfront.dossier.chart import Field, chart
from deadfront.dossier.lettering import printable
from deadfront.dossier.sheet import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from deadfront.claims.breaking import Move, Reaches
    from deadfront.project.quantities import Quantity

WIDTH = 79
_MOST_DIGITS = 4
"""Digits added at most, until a reach and the place where the claim fails are told apart in print."""
_LEFT, _CHART, _RIGHT, _TOP, _BOTTOM, _ROW, _GAP = 62.0, 110.0, 6.0, 12.0, 14.0, 5.0, 7.0
"""mm: names, bars, margins, a row, and what a claim's heading takes."""
_MOST_ROWS = 38
"""Rows of a ranking on one sheet."""
_LETTERS = 38
"""Letters of a name that fill its column at full size."""
_LONGEST = 2.0
"""Widths of the range that the picture shows; a bar that runs farther ends in an arrow."""
_BAR, _LOOKED = "#0072B2", "#C8C8C8"
# Okabe-Ito blue and a grey [V2]: dark and light also without colour, and the lighter bars are hatched.
_HATCHING = {"hatch.linewidth": 0.5}


def break_text(found: Sequence[Reaches]) -> str:
    """Each claim with its ranges, those first that may move least, and what was proved of each way."""
    lines = [
        *textwrap.wrap(
            "How far one range may move, the others anywhere in theirs, before a verdict flips. "
            "Where it says `holds`, that is proved; ranges stand first that may move least, in widths of the range.",
            WIDTH,
        )
    ]
    for reaches in found:
        claim = reaches.claim
        lines += ["", f"  {claim.id}  {claim.verdict}", *_wrapped(claim.sentence, 4)]
        lines += [line for text in _of_claim(reaches) for line in text]
    return "\n".join(lines) + "\n"


def _of_claim(reaches: Reaches) -> Iterator[list[str]]:
    claim = reaches.claim
    if claim.verdict not in ("shown", "refuted"):
        yield _wrapped(f"Nothing to move: {claim.verdict}.", 4)
        return
    if not reaches.ranges:
        yield _wrapped("It reads no range.", 4)
    for path, moves in reaches.ranked:
        yield _wrapped(f"{path_in_words(path)}, {given(reaches.ranges[path])}", 4)
        if path in reaches.skipped:
            yield _wrapped(f"not followed: {reaches.skipped[path]}", 6)
        elif not moves:
            nothing = (
                "as far as was looked, the claim holds" if claim.verdict == "shown" else "refuted inside the range"
            )
            yield _wrapped(f"{nothing}; no move of this range alone was found to change that", 6)
        for move in moves:
            yield _wrapped(move_in_words(move, claim.verdict == "shown"), 6)


def given(quantity: Quantity) -> str:
    """A range as the file gives it, or as the tool assumed it."""
    if quantity.dimension != "assumed":
        return quantity.text
    return f"assumed {format_number(quantity.low, '1')} .. {format_number(quantity.high, '1')}"


def move_in_words(move: Move, shown: bool) -> str:
    """One way of one range: how far it holds, and where it fails; a reach is rounded back towards where it starts."""
    reach, flip = _told_apart(move)
    start = format_number(move.start, _unit(move))
    held = f"holds {move.direction} to {reach}" if shown else f"would hold from {start} {move.direction} to {reach}"
    if move.nothing:
        held = f"not proved {move.direction} from {start}"
    share = f" ({_share(move.share)} of the range's width)" if shown and not move.nothing else ""
    if move.flip is None:
        end = "the end of the search" if move.close else f"not decided from there to {_number(move, move.limit)}"
        return f"{held}{share}; {end}"
    assert move.witness is not None
    fails = "the model ends" if math.isnan(move.witness.margin) else "fails"
    between = "" if move.close else ", not decided between"
    return f"{held}{share}; {fails} at {flip}{between}: {move.witness.subject}, {move.witness.case}".rstrip(", ")


def move_cells(move: Move, shown: bool) -> tuple[str, str]:
    """One way of one range for a table: how far it holds and where it fails; and what fails there."""
    reach, flip = _told_apart(move)
    start = "" if shown else f"from {_number(move, move.start)} "
    if move.flip is None:
        end = "" if move.close else "; undecided beyond"
        return f"{start}holds to {reach}{end}", ""
    assert move.witness is not None
    verb = "model ends at" if math.isnan(move.witness.margin) else "fails at"
    held = f"no way from {_number(move, move.start)} proved" if move.nothing else f"{start}holds to {reach}"
    between = "" if move.close else ", undecided between"
    return f"{held}; {verb} {flip}{between}", f"{move.witness.subject}, {move.witness.case}".rstrip(", ")


def _unit(move: Move) -> str:
    return DIMENSION_UNITS.get(move.dimension, "1")  # a range that the tool assumed has no unit of the file


def _number(move: Move, value: float) -> str:
    return format_number(value, _unit(move))


def _told_apart(move: Move) -> tuple[str, str]:
    """Reach and flip in print: the reach rounded back, digits added until the flip reads as another number."""
    back: Direction = "down" if move.direction == "up" else "up"
    reach = flip = ""
    for extra in range(_MOST_DIGITS + 1):
        reach = format_number(move.reach, _unit(move), back, extra=extra)
        flip = "" if move.flip is None else format_number(move.flip, _unit(move), extra=extra)
        if reach != flip:
            break
    return reach, flip


def _share(share: float) -> str:
    """A share of a width, rounded down."""
    return f"{math.floor(share * 100 + 1e-9) / 100:.2f}"


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent, break_on_hyphens=False
    )


def break_picture(found: Sequence[Reaches]) -> Picture:
    """Bars that rank the ranges of each shown claim by how little they may move beyond their ends.

    The middle is the range itself; a bar to the left is how far its lower end may go down, to the right its upper end
    up, in widths of the range. A solid bar ends where the claim fails or is no longer proved; a hatched one at the end
    of the search.
    raises  ValueError: no shown claim with a range
    """
    claims = [reaches for reaches in found if reaches.claim.verdict == "shown" and reaches.moves]
    if not claims:
        raise ValueError("break points: no shown claim reads a range that was followed")
    heights = [_GAP + _ROW * len(reaches.ranges) for reaches in claims]

    def draw(axes: Axes) -> None:
        axes.set_xlim(-_LONGEST, _LONGEST)
        axes.set_ylim(sum(heights), 0.0)
        at = 0.0
        for reaches, tall in zip(claims, heights, strict=True):
            _claim(axes, reaches, at)
            at += tall
        _frame(axes)

    return chart(_field(sum(heights)), draw, break_text(claims), _HATCHING)


def ranking_picture(found: Sequence[Reaches]) -> Picture | None:
    """The ranges of all shown claims on one sheet that may move least, the nearest to a flip first, in the same look.

    None where no range of a shown claim flips, or is undecided, as far as was looked.
    """
    rows = _ranked(found)
    if not rows:
        return None

    def draw(axes: Axes) -> None:
        axes.set_xlim(-_LONGEST, _LONGEST)
        axes.set_ylim(_ROW * len(rows), 0.0)
        for number, (identifier, path, moves) in enumerate(rows):
            middle = _ROW * (number + 0.5)
            name = printable(f"{identifier}  {path_in_words(path)}")
            axes.text(-_LONGEST - 0.03, middle, name, ha="right", va="center", fontsize=_fitting(name))
            for move in moves:
                _bar(axes, move, middle)
        _frame(axes)

    words = "; ".join(f"{identifier} {path_in_words(path)}" for identifier, path, _ in rows)
    return chart(_field(_ROW * len(rows)), draw, f"Ranges that may move least, first to last: {words}.", _HATCHING)


def _field(high: float) -> Field:
    return Field(_CHART, high, _LEFT, _RIGHT, _TOP, _BOTTOM)


def _ranked(found: Sequence[Reaches]) -> list[tuple[str, str, list[Move]]]:
    """Claim, range and its moves, at most as many as one sheet holds, by the nearest flip."""
    rows = [
        (min(move.share for move in moves if move.flip is not None or not move.close), reaches.claim.id, path, moves)
        for reaches in found
        if reaches.claim.verdict == "shown"
        for path, moves in reaches.ranked
        if any(move.flip is not None or not move.close for move in moves)
    ]
    return [
        (identifier, path, moves) for _, identifier, path, moves in sorted(rows, key=lambda row: row[:3])[:_MOST_ROWS]
    ]


def _fitting(name: str) -> float:
    """Size of letters in which a name stays in its column."""
    return min(7.5, 7.5 * _LETTERS / len(name))


def _frame(axes: Axes) -> None:
    axes.set_yticks([])
    ticks = [-2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0]
    axes.set_xticks(ticks, ["2", "1", "\u00bd", "range", "\u00bd", "1", "2"])
    axes.set_xlabel("lower end down          in widths of the range          upper end up")
    axes.axvline(0.0, color="black", linewidth=1.0)
    axes.grid(True, axis="x", color="#D8D8D8", linewidth=0.4)
    axes.set_axisbelow(True)


def _claim(axes: Axes, reaches: Reaches, top: float) -> None:
    """Heading and bars of one claim from a height downward."""
    axes.text(-_LONGEST - 0.03, top + _GAP / 2, reaches.claim.id, ha="right", va="center", fontweight="bold")
    for number, (path, moves) in enumerate(reaches.ranked):
        middle = top + _GAP + _ROW * (number + 0.5)
        axes.text(-_LONGEST - 0.03, middle, printable(path_in_words(path)), ha="right", va="center")
        for move in moves:
            _bar(axes, move, middle)


def _bar(axes: Axes, move: Move, middle: float) -> None:
    """One way of one range, with the value at its end."""
    sign = 1.0 if move.direction == "up" else -1.0
    whole = move.flip is None and move.close
    length = min(move.share, _LONGEST)
    axes.barh(
        middle,
        sign * length,
        height=0.62 * _ROW,
        color=_LOOKED if whole else _BAR,
        edgecolor="black",
        linewidth=0.4,
        hatch="////" if whole else None,
    )
    beyond = "\u2192 " if move.share > _LONGEST and sign > 0 else "\u2190 " if move.share > _LONGEST else ""
    inside = length > 0.7 * _LONGEST
    axes.text(
        sign * (length - 0.04 if inside else length + 0.04),
        middle,
        printable(beyond + _told_apart(move)[0]),
        ha=("right" if sign > 0 else "left") if inside else ("left" if sign > 0 else "right"),
        va="center",
        fontsize=6.5,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8} if inside else None,
    )
