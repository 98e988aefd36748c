"""Dossier: log-log paper with equal decades. A sheet of curves, points and ranges comes in, an SVG goes out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

import numpy as np

from deadfront.claims.numbers import format_number, typographic
from deadfront.dossier.label_places import Place
from deadfront.dossier.lettering import SANS, printable, width, wrapped
from deadfront.dossier.log_axes import WIDE, Paper, axes, grid, paper_for
from deadfront.dossier.log_labels import SMALL, STYLES, Label, label_drawn, placed
from deadfront.dossier.sheet import Picture
from deadfront.dossier.svg import INK, NAME, mm, path_of, points_along, words_at
from deadfront.study.drawing import Characteristic, Edge, Point, Role, Sheet, Span, drawn

# Sizes in mm, for a page of A4 or letter.
_LEFT, _RIGHT = 16.0, 6.0
_BAND, _TITLE, _SCALE, _ROW, _NOTE = 5.6, 5.4, 9.4, 3.9, 3.0
_HEAD = 3.2
_BAR = 1.0
"""Thickness of the bar of a range of current."""
_TICKS_EACH, _TICK_LENGTH = 2.4, 1.1
"""Distance and length of the ticks on the forbidden side of a limit."""
_FREE_LEFT = (0.3, 0.5)
"""Shares of the free width that may lie left of the curves."""

_AMBER = "#F5C710"
"""Fill behind black letters, 13:1 on it; variant of the Okabe-Ito yellow [V]."""
QUIET, _SHADE = "#595959", "#F3F3F3"
_THICK = {"firm": 0.5, "thin": 0.28, "fine": 0.28, "limit": 0.6}


def log_paper(sheet: Sheet) -> Picture:
    """The sheet on log-log paper with equal decades: labels on the lines, ranges of current in rows below.

    raises  ValueError: nothing falls inside the window
    """
    paper, labels = _laid_out(sheet)
    rows = sorted(sheet.spans, key=lambda span: (span.low, span.high, span.name))
    notes = [line for note in sheet.notes for line in wrapped(printable(note), SMALL, _LEFT + WIDE)]
    top = _head_height(sheet) + (_SCALE if sheet.other else 0.0)
    below = _SCALE + _ROW * len(rows) + (2.0 if rows else 0.0) + _NOTE * len(notes) + 1.0
    wide, high = _LEFT + paper.wide + _RIGHT, top + paper.high + below
    alternate = printable(alternate_text(sheet))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{mm(wide)}mm" height="{mm(high)}mm" '
        f'viewBox="0 0 {mm(wide)} {mm(high)}" role="img" font-family="{SANS}, sans-serif">',
        f"<title>{escape(alternate)}</title>",
        f'<rect width="{mm(wide)}" height="{mm(high)}" fill="#FFFFFF"/>',
        *_title(sheet),
        f'<g transform="translate({mm(_LEFT)} {mm(top)})">',
        f'<clipPath id="paper"><rect width="{mm(paper.wide)}" height="{mm(paper.high)}"/></clipPath>',
        *grid(paper),
        *_drawing(sheet, paper, rows, labels),
        *axes(sheet, paper),
        *_rows(rows, paper),
        *_notes(notes, paper.high + _SCALE + _ROW * len(rows) + (2.0 if rows else 0.0)),
        "</g>",
        "</svg>",
        "",
    ]
    return Picture("\n".join(parts), wide, high, alternate)


def drawable(sheet: Sheet) -> bool:
    """Whether anything of the devices falls inside the window."""
    return any(len(drawn(edge, sheet.window)) for one in sheet.characteristics for edge in one.edges)


def labels_meet(sheet: Sheet) -> bool:
    """Whether a label had to stand where it must not: over another one, or outside the paper."""
    return any(not place.free for _, place in _laid_out(sheet)[1])


def alternate_text(sheet: Sheet) -> str:
    """The message of the drawing and its numbers, for who cannot see it."""
    names = "; ".join(", ".join((one.name, *one.about)) for one in sheet.characteristics)
    ranges = "; ".join(f"{span.name} {span_in_words(span)}" for span in sheet.spans)
    return f"{sheet.title}. {sheet.scale.title}. {names}. {ranges}." if ranges else f"{sheet.title}. {names}."


def span_in_words(span: Span) -> str:
    """A range of current in print: its lower end down, its upper end up; one number where both are one."""
    low, high = format_number(span.low, "A", "down"), format_number(span.high, "A", "up")
    if math.isclose(span.low, span.high, rel_tol=1e-9):
        return typographic(format_number(span.low, "A"))
    return typographic(f"{low} to {high}")


# --- paper and frame ---


def _laid_out(sheet: Sheet) -> tuple[Paper, list[tuple[Label, Place]]]:
    """Paper and labels: the curves a little left of the middle or in it, wherever the labels find better places."""
    papers = [paper_for(sheet, share) for share in _FREE_LEFT]
    found = [(paper, placed(sheet, paper)) for paper in papers]
    return min(found, key=lambda one: sum(place.cost for _, place in one[1]))


def _head_height(sheet: Sheet) -> float:
    """Room for the words over the drawing."""
    lines = len(wrapped(printable(sheet.title), _HEAD, _LEFT + WIDE)) if sheet.title else 0
    return _TITLE * lines + 1.5 + (_BAND if sheet.band else 0.0)


def _title(sheet: Sheet) -> Iterator[str]:
    """What is drawn, under the words that everyone has to see first."""
    top = _BAND if sheet.band else 0.0
    if sheet.band:
        wide = _LEFT + WIDE + _RIGHT - 0.4
        style = f'fill="{_AMBER}" stroke="{INK}" stroke-width="0.2"'
        yield f'<rect x="0.2" y="0.2" width="{mm(wide)}" height="{mm(_BAND - 1.0)}" {style}/>'
        yield words_at(wide / 2, 3.35, printable(sheet.band), NAME, "middle", bold=True)
    for number, line in enumerate(wrapped(printable(sheet.title), _HEAD, _LEFT + WIDE) if sheet.title else []):
        yield words_at(2.0, top + 4.6 + _TITLE * number, line, _HEAD, "start", bold=True)


def _notes(notes: Sequence[str], top: float) -> Iterator[str]:
    for number, line in enumerate(notes):
        yield words_at(2.0 - _LEFT, top + _NOTE * (number + 1), line, SMALL, "start", QUIET)


# --- what is drawn ---


def _drawing(sheet: Sheet, paper: Paper, rows: Sequence[Span], labels: Sequence[tuple[Label, Place]]) -> Iterator[str]:
    yield '<g clip-path="url(#paper)" fill="none" stroke-linejoin="round">'
    for one in sheet.characteristics:
        if one.banded:
            yield _filled(one, paper)
    for span in rows:
        if span.ruled:
            yield from _ruled(span, paper)
    for allowance in sheet.allowances:
        x = paper.x(np.array([allowance.low, allowance.high]))
        y = float(paper.y(np.array([allowance.time]))[0])
        yield f'<path d="M{mm(x[0])} {mm(y)}H{mm(x[1])}" stroke="{INK}" stroke-width="0.9"/>'
    for one in sheet.characteristics:
        for edge in one.edges:
            yield _stroke(edge, one.role, paper)
            if edge.weight == "limit":
                yield _forbidden(edge, one.role, paper)
    yield "</g>"
    yield from (_point(point, paper) for point in sheet.points)
    for label, place in labels:
        yield from label_drawn(label, place)


def _stroke(edge: Edge, role: Role, paper: Paper) -> str:
    colour, dashes = STYLES[role]
    if edge.weight == "fine":
        dashes = "0.9 0.7"
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    way = path_of(*paper.line(edge))
    return f'<path d="{way}" stroke="{colour}" stroke-width="{_THICK[edge.weight]}"{pattern}/>' if way else ""


def _filled(one: Characteristic, paper: Paper) -> str:
    """The band between the earliest and the latest edge."""
    (x0, y0), (x1, y1) = (paper.line(edge) for edge in one.edges[:2])
    known0, known1 = np.isfinite(y0), np.isfinite(y1)
    x = np.concatenate([x0[known0], x1[known1][::-1]])
    y = np.concatenate([y0[known0], y1[known1][::-1]])
    return f'<path d="{path_of(x, y)}Z" fill="{STYLES[one.role][0]}" fill-opacity="0.13"/>' if len(x) else ""


def _forbidden(edge: Edge, role: Role, paper: Paper) -> str:
    """Short ticks on the side of a limit that must not be reached: above and to the right."""
    x, y = points_along(*paper.line(edge), _TICKS_EACH)
    ticks = "".join(f"M{mm(a)} {mm(b)}l{mm(_TICK_LENGTH)} {mm(-_TICK_LENGTH)}" for a, b in zip(x, y, strict=True))
    return f'<path d="{ticks}" stroke="{STYLES[role][0]}" stroke-width="0.25"/>' if ticks else ""


def _point(point: Point, paper: Paper) -> str:
    x, y = float(paper.x(np.array([point.current]))[0]), float(paper.y(np.array([point.time]))[0])
    if not (0.0 <= x <= paper.wide and 0.0 <= y <= paper.high):
        return ""
    if point.shape == "ring":
        return f'<circle cx="{mm(x)}" cy="{mm(y)}" r="1.3" fill="none" stroke="{INK}" stroke-width="0.45"/>'
    r = 1.15 if point.shape == "diamond" else 0.85
    corners = ((0, -r), (r, 0), (0, r), (-r, 0)) if point.shape == "diamond" else ((-r, -r), (r, -r), (r, r), (-r, r))
    way = "L".join(f"{mm(x + dx)} {mm(y + dy)}" for dx, dy in corners)
    return f'<path d="M{way}Z" fill="{INK}" stroke="#FFFFFF" stroke-width="0.2"/>'


def _ruled(span: Span, paper: Paper) -> Iterator[str]:
    """Both ends of a range through the whole paper."""
    x = paper.x(np.array([span.low, span.high]))
    if x[1] - x[0] > 0.3:
        size = f'x="{mm(x[0])}" width="{mm(x[1] - x[0])}" height="{mm(paper.high)}"'
        yield f'<rect {size} fill="{INK}" fill-opacity="0.045"/>'
    for at in dict.fromkeys(x.tolist()):
        yield f'<path d="M{mm(at)} 0V{mm(paper.high)}" stroke="{INK}" stroke-width="0.2"/>'


def _dropped(span: Span, paper: Paper, number: int) -> Iterator[str]:
    """The ends of a ruled range from the paper down to its row, broken where the title of the scale stands."""
    bottom = paper.high + _SCALE + _ROW * (number + 0.5)
    for at in dict.fromkeys(paper.x(np.array([span.low, span.high])).tolist()):
        style = f'stroke="{INK}" stroke-width="0.15" stroke-dasharray="0.5 0.7"'
        yield f'<path d="M{mm(at)} {mm(paper.high)}v4.2m0 4.6V{mm(bottom)}" {style}/>'


def _rows(rows: Sequence[Span], paper: Paper) -> Iterator[str]:
    """Ranges of current, each in a row of its own on the scale of the paper, its words beside it."""
    shades = [_SHADE if number % 2 == 0 else "#FFFFFF" for number in range(len(rows))]
    for number, shade in enumerate(shades):
        y = paper.high + _SCALE + _ROW * number
        yield f'<rect y="{mm(y)}" width="{mm(paper.wide)}" height="{mm(_ROW)}" fill="{shade}"/>'
    for number, span in enumerate(rows):
        if span.ruled:
            yield from _dropped(span, paper, number)
    for number, (span, shade) in enumerate(zip(rows, shades, strict=True)):
        x = paper.x(np.array([span.low, span.high]))
        middle = paper.high + _SCALE + _ROW * (number + 0.5)
        yield f'<path d="M{mm(x[0])} {mm(middle)}H{mm(x[1])}" stroke="{INK}" stroke-width="{_BAR}"/>'
        for at in x:
            yield f'<path d="M{mm(at)} {mm(middle - 1.4)}v2.8" stroke="{INK}" stroke-width="0.35"/>'
        yield _row_words(span, (float(x[0]), float(x[1])), middle, paper.wide, shade)


def _row_words(span: Span, ends: tuple[float, float], y: float, wide: float, shade: str) -> str:
    """Name and numbers beside a bar, on the side with more room, on a plate that no line runs through."""
    words = f"{printable(span.name)}  {span_in_words(span)}"
    long = width(words, SMALL)
    left = ends[1] + 1.6 if wide - ends[1] >= ends[0] else ends[0] - 1.6 - long
    size = f'x="{mm(left - 0.4)}" y="{mm(y - 1.7)}" width="{mm(long + 0.8)}" height="3.4"'
    return f'<rect {size} fill="{shade}"/>' + words_at(left, y + 0.8, words, SMALL, "start")
