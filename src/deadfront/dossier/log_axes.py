"""Dossier: log-log paper with equal decades, bare. A sheet comes in; its scales, grid and axes go out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from deadfront.claims.numbers import grouped
from deadfront.dossier.lettering import width
from deadfront.dossier.svg import INK, NAME, Values, mm, plate, words_at
from deadfront.study.drawing import Edge, Sheet, drawn

# Sizes in mm, for a page of A4 or letter.
WIDE, _HIGH = 150.0, 155.0
_TICK = 2.3
_BEYOND = 0.6
"""Decades outside the paper to which a line is followed."""

GRID, FINE_GRID = "#A0A0A0", "#D9D9D9"


@dataclass(frozen=True, slots=True)
class Paper:
    """Where a current and a time stand on the paper, mm from its upper left corner."""

    low: float
    first: float
    decade: float
    wide: float
    high: float

    def x(self, current: Values) -> Values:
        """Current to mm."""
        found: Values = (np.log10(current) - self.low) * self.decade
        return found

    def y(self, value: Values) -> Values:
        """Value on the upright axis to mm, down from the top; far outside is brought near."""
        with np.errstate(invalid="ignore", divide="ignore"):
            found: Values = self.high - (np.log10(value) - self.first) * self.decade
        reach = _BEYOND * self.decade
        return np.clip(found, -reach, self.high + reach)

    def line(self, edge: Edge) -> tuple[Values, Values]:
        """Both for a whole line."""
        return self.x(edge.current), self.y(edge.time)


def paper_for(sheet: Sheet, share: float) -> Paper:
    """Paper over all that is drawn, with equal decades; what is left of the width stands free on both sides."""
    parts = [drawn(edge, sheet.window) for one in sheet.characteristics for edge in one.edges]
    parts.append(np.array([point.current for point in sheet.points]))
    parts.append(np.array([end for span in sheet.spans for end in (span.low, span.high)]))
    currents = np.concatenate(parts)
    currents = currents[np.isfinite(currents) & (currents > 0.0)]
    if not len(currents):
        low, high = sheet.window
        raise ValueError(f"log-log paper: expected something between {low:g} and {high:g} on the upright axis")
    first, last = math.log10(float(currents.min())) - 0.08, math.log10(float(currents.max())) + 0.08
    uprights = math.log10(sheet.window[1] / sheet.window[0])
    decade = min(_HIGH / uprights, WIDE / (last - first))
    free = WIDE / decade - (last - first)
    return Paper(first - free * share, math.log10(sheet.window[0]), decade, WIDE, decade * uprights)


def grid(paper: Paper) -> Iterator[str]:
    """Light lines at 1 to 9 of each decade, the decades themselves firmer."""
    yield f'<g fill="none" stroke="{FINE_GRID}" stroke-width="0.1">'
    yield from (_rule(paper, at, upright) for at, one, upright in _lines(paper) if one != 1)
    yield f'</g><g fill="none" stroke="{GRID}" stroke-width="0.18">'
    yield from (_rule(paper, at, upright) for at, one, upright in _lines(paper) if one == 1)
    yield "</g>"


def _lines(paper: Paper) -> Iterator[tuple[float, int, bool]]:
    """Place in mm, first figure, and direction of every line of the grid."""
    for upright, low, length in ((True, paper.low, paper.wide), (False, paper.first, paper.high)):
        for exponent in range(math.floor(low), math.ceil(low + length / paper.decade) + 1):
            for one in range(1, 10):
                at = (exponent + math.log10(one) - low) * paper.decade
                if 0.0 < at < length:
                    yield (at if upright else paper.high - at), one, upright


def _rule(paper: Paper, at: float, upright: bool) -> str:
    return f'<path d="M{mm(at)} 0V{mm(paper.high)}"/>' if upright else f'<path d="M0 {mm(at)}H{mm(paper.wide)}"/>'


def axes(sheet: Sheet, paper: Paper) -> Iterator[str]:
    """Frame, numbers and titles; the second scale along the upper edge."""
    yield f'<rect width="{mm(paper.wide)}" height="{mm(paper.high)}" fill="none" stroke="{INK}" stroke-width="0.3"/>'
    for at, text in _apart(_numbers(paper.low, paper.wide, paper.decade)):
        yield _tick(at, paper.high, 1.0) + words_at(at, paper.high + 3.6, text, _TICK, "middle")
    for at, text in _numbers(paper.first, paper.high, paper.decade):
        y = paper.high - at
        yield f'<path d="M0 {mm(y)}h-1" stroke="{INK}" stroke-width="0.2"/>'
        yield words_at(-1.6, y + 0.8, text, _TICK, "end")
    yield plate(paper.wide / 2, paper.high + 7.4, sheet.scale.title)
    yield f'<g transform="translate(-12.2 {mm(paper.high / 2)}) rotate(-90)">'
    yield words_at(0.0, 0.0, sheet.upright, NAME, "middle") + "</g>"
    if sheet.other is not None:
        for at, text in _apart(_numbers(paper.low + math.log10(sheet.other.ratio), paper.wide, paper.decade)):
            yield _tick(at, 0.0, -1.0) + words_at(at, -1.9, text, _TICK, "middle")
        yield words_at(paper.wide / 2, -5.6, sheet.other.title, NAME, "middle")


def _numbers(low: float, length: float, decade: float) -> Iterator[tuple[float, str]]:
    """Places of 1, 2 and 5 of each decade along a scale that starts at a power of ten, and their numbers."""
    for exponent in range(math.floor(low), math.ceil(low + length / decade) + 1):
        for one in (1, 2, 5):
            at = (exponent + math.log10(one) - low) * decade
            if -1e-6 <= at <= length + 1e-6:
                yield at, grouped(f"{one * 10.0**exponent:.{max(-exponent, 0)}f}")


def _apart(numbers: Iterable[tuple[float, str]]) -> Iterator[tuple[float, str]]:
    """Those of the numbers along a level scale that do not touch the one before."""
    end = -math.inf
    for at, text in numbers:
        half = width(text, _TICK) / 2
        if at - half > end + 0.8:
            yield at, text
            end = at + half


def _tick(x: float, y: float, length: float) -> str:
    return f'<path d="M{mm(x)} {mm(y)}v{mm(length)}" stroke="{INK}" stroke-width="0.2"/>'
