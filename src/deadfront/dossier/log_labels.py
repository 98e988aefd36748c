"""Dossier: labels of a log-log drawing. What is drawn comes in, names beside their lines go out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.dossier.label_places import Ink, Place, Wanted, nearest, places
from deadfront.dossier.lettering import printable, width
from deadfront.dossier.log_axes import Paper
from deadfront.dossier.sheet import BOLD
from deadfront.dossier.svg import INK, LEADING, NAME, Values, mm, points_along, words_at
from deadfront.study.drawing import Edge, Role, Sheet

SMALL = 2.15
"""Size of the smaller words, mm."""
_EACH = 4.0
"""Distance of the points of a line that its label may point at."""

# Okabe-Ito colours that hold as lines on white [V2]; each role has dashes of its own, so that all reads in grey.
STYLES: dict[Role, tuple[str, str]] = {
    "upstream": ("#000000", "5 1.2 0.6 1.2"),
    "link": ("#0072B2", ""),
    "limiter": ("#D55E00", "3.2 1.2"),
    "main": ("#009E73", "6 1 1.6 1"),
    "feeder": ("#A5407F", "1.1 0.9"),
    "upstream earth": ("#000000", "2.4 0.9"),
    "transformer": ("#595959", ""),
    "conductor": ("#595959", ""),
}


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place of the drawing: a bold name, smaller lines, the colour of what they speak of."""

    name: str
    about: tuple[str, ...]
    colour: str
    anchors: Values

    def wanted(self) -> Wanted:
        """Its size and its anchors."""
        wide = max(
            (width(self.name, NAME) * BOLD if self.name else 0.0),
            *(width(line, SMALL) for line in self.about),
            0.0,
        )
        high = (NAME * LEADING if self.name else 0.0) + len(self.about) * SMALL * LEADING
        return Wanted(wide + 2.4, high + 0.8, self.anchors)


def placed(sheet: Sheet, paper: Paper) -> list[tuple[Label, Place]]:
    """Every label of a sheet with the place it found beside what it speaks of."""
    labels = [label for label in _labels(sheet, paper) if len(label.anchors)]
    found = places([label.wanted() for label in labels], _ink(sheet, paper))
    return list(zip(labels, found, strict=True))


def _labels(sheet: Sheet, paper: Paper) -> Iterator[Label]:
    for one in sheet.characteristics:
        colour = STYLES[one.role][0]
        firm = [edge for edge in one.edges if edge.weight != "fine"] or list(one.edges)
        about = tuple(printable(line) for line in one.about)
        yield Label(printable(one.name), about, colour, _anchors(firm, paper))
        for edge in one.edges:
            if edge.meaning and edge.weight in ("fine", "limit"):
                yield Label("", (printable(edge.meaning),), colour, _anchors([edge], paper))
    for point in sheet.points:
        at = np.array([[paper.x(np.array([point.current]))[0], paper.y(np.array([point.time]))[0]]])
        yield Label("", tuple(printable(point.name).split("; ")), INK, _within(at, paper))
    for allowance in sheet.allowances:
        ends = paper.x(np.array([allowance.low, allowance.high]))
        y = float(paper.y(np.array([allowance.time]))[0])
        x = np.linspace(float(ends[0]), float(ends[1]), 9)
        anchors = _within(np.stack([x, np.full_like(x, y)], axis=1), paper)
        yield Label("", (printable(allowance.name),), INK, anchors)


def _anchors(edges: Sequence[Edge], paper: Paper) -> Values:
    """Points along lines inside the paper, a few mm apart."""
    found = [np.stack(points_along(*paper.line(edge), _EACH), axis=1) for edge in edges]
    return _within(np.concatenate(found) if found else np.empty((0, 2)), paper)


def _within(points: Values, paper: Paper) -> Values:
    x, y = points[:, 0], points[:, 1]
    found: Values = points[(x >= 0.0) & (x <= paper.wide) & (y >= 0.0) & (y <= paper.high)]
    return found


def _ink(sheet: Sheet, paper: Paper) -> Ink:
    """All lines, points and ruled ranges of the drawing."""
    ink = Ink(paper.wide, paper.high)
    for span in sheet.spans:
        if span.ruled:
            for at in paper.x(np.array([span.low, span.high])):
                ink.line(np.array([at, at]), np.array([0.0, paper.high]), 0.25)
    for one in sheet.characteristics:
        for edge in one.edges:
            ink.line(*paper.line(edge), 0.6 if edge.weight == "fine" else 1.0)
    for allowance in sheet.allowances:
        ink.line(paper.x(np.array([allowance.low, allowance.high])), paper.y(np.full(2, allowance.time)))
    for point in sheet.points:
        x, y = paper.x(np.array([point.current])), paper.y(np.array([point.time]))
        for across in (-1.2, 0.0, 1.2):
            ink.line(x + np.array([across, across]), y + np.array([-1.2, 1.2]), 2.0)
    return ink


def label_drawn(label: Label, place: Place) -> Iterator[str]:
    """A white plate with its words, a bar in the colour of its line, and a leader to the line."""
    size = label.wanted()
    ends = nearest(np.array([place.left]), np.array([place.top]), size, np.array([place.anchor]))
    end = float(ends[0][0]), float(ends[1][0])
    if math.dist(end, place.anchor) > 1.3:
        yield (
            f'<path d="M{mm(place.anchor[0])} {mm(place.anchor[1])}L{mm(end[0])} {mm(end[1])}" '
            f'stroke="{label.colour}" stroke-width="0.2"/>'
        )
        yield f'<circle cx="{mm(place.anchor[0])}" cy="{mm(place.anchor[1])}" r="0.5" fill="{label.colour}"/>'
    yield (
        f'<rect x="{mm(place.left)}" y="{mm(place.top)}" width="{mm(size.wide)}" height="{mm(size.high)}" '
        f'fill="#FFFFFF" fill-opacity="0.88"/>'
    )
    yield (
        f'<path d="M{mm(place.left + 0.4)} {mm(place.top)}v{mm(size.high)}" '
        f'stroke="{label.colour}" stroke-width="0.8"/>'
    )
    y = place.top + 0.3
    for line, tall, bold in [
        *([(label.name, NAME, True)] if label.name else []),
        *((a, SMALL, False) for a in label.about),
    ]:
        y += tall * LEADING
        yield words_at(place.left + 1.5, y - tall * 0.28, line, tall, "start", bold=bold)
