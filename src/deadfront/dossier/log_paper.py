"""Dossier: log-log paper with equal decades. A sheet of curves, points and ranges comes in, an SVG goes out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from deadfront.dossier.label_places import Ink, Place, Wanted, nearest, places
from deadfront.dossier.lettering import SANS, printable, width, wrapped
from deadfront.dossier.numbers import format_number, grouped, typographic
from deadfront.dossier.sheet import BOLD, Picture
from deadfront.study.drawing import Characteristic, Edge, Point, Role, Sheet, Span, drawn

Values = NDArray[np.float64]

# Sizes in mm, for a page of A4 or letter.
_WIDE, _HIGH = 150.0, 155.0
_LEFT, _RIGHT = 16.0, 6.0
_BAND, _TITLE, _SCALE, _ROW, _NOTE = 5.6, 5.4, 9.4, 3.9, 3.0
_HEAD, _NAME, _SMALL, _TICK = 3.2, 2.5, 2.15, 2.3
_LEADING = 1.25
_BAR = 1.0
"""Thickness of the bar of a range of current."""
_EACH = 4.0
"""Distance of the points of a line that its label may point at."""
_TICKS_EACH, _TICK_LENGTH = 2.4, 1.1
"""Distance and length of the ticks on the forbidden side of a limit."""
_FREE_LEFT = (0.3, 0.5)
"""Shares of the free width that may lie left of the curves."""
_BEYOND = 0.6
"""Decades outside the paper to which a line is followed."""

_AMBER = "#F5C710"
"""Fill behind black letters, 13:1 on it; variant of the Okabe-Ito yellow [V]."""
INK, QUIET, GRID, FINE_GRID = "#000000", "#595959", "#A0A0A0", "#D9D9D9"
_SHADE = "#F3F3F3"
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
_THICK = {"firm": 0.5, "thin": 0.28, "fine": 0.28, "limit": 0.6}


@dataclass(frozen=True, slots=True)
class _Paper:
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


@dataclass(frozen=True, slots=True)
class _Label:
    """Words at a place of the drawing: a bold name, smaller lines, the colour of what they speak of."""

    name: str
    about: tuple[str, ...]
    colour: str
    anchors: Values

    def wanted(self) -> Wanted:
        """Its size and its anchors."""
        wide = max(
            (width(self.name, _NAME) * BOLD if self.name else 0.0),
            *(width(line, _SMALL) for line in self.about),
            0.0,
        )
        high = (_NAME * _LEADING if self.name else 0.0) + len(self.about) * _SMALL * _LEADING
        return Wanted(wide + 2.4, high + 0.8, self.anchors)


def log_paper(sheet: Sheet) -> Picture:
    """The sheet on log-log paper with equal decades: labels on the lines, ranges of current in rows below.

    raises  ValueError: nothing falls inside the window
    """
    paper, labels = _laid_out(sheet)
    rows = sorted(sheet.spans, key=lambda span: (span.low, span.high, span.name))
    notes = [line for note in sheet.notes for line in wrapped(printable(note), _SMALL, _LEFT + _WIDE)]
    top = _head_height(sheet) + (_SCALE if sheet.other else 0.0)
    below = _SCALE + _ROW * len(rows) + (2.0 if rows else 0.0) + _NOTE * len(notes) + 1.0
    wide, high = _LEFT + paper.wide + _RIGHT, top + paper.high + below
    alternate = printable(alternate_text(sheet))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide)}mm" height="{_n(high)}mm" '
        f'viewBox="0 0 {_n(wide)} {_n(high)}" role="img" font-family="{SANS}, sans-serif">',
        f"<title>{escape(alternate)}</title>",
        f'<rect width="{_n(wide)}" height="{_n(high)}" fill="#FFFFFF"/>',
        *_title(sheet),
        f'<g transform="translate({_n(_LEFT)} {_n(top)})">',
        f'<clipPath id="paper"><rect width="{_n(paper.wide)}" height="{_n(paper.high)}"/></clipPath>',
        *_grid(paper),
        *_drawing(sheet, paper, rows, labels),
        *_axes(sheet, paper),
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


# --- paper ---


def _laid_out(sheet: Sheet) -> tuple[_Paper, list[tuple[_Label, Place]]]:
    """Paper and labels: the curves a little left of the middle or in it, wherever the labels find better places."""
    papers = [_paper(sheet, share) for share in _FREE_LEFT]
    found = [(paper, _placed(sheet, paper)) for paper in papers]
    return min(found, key=lambda one: sum(place.cost for _, place in one[1]))


def _paper(sheet: Sheet, share: float) -> _Paper:
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
    decade = min(_HIGH / uprights, _WIDE / (last - first))
    free = _WIDE / decade - (last - first)
    return _Paper(first - free * share, math.log10(sheet.window[0]), decade, _WIDE, decade * uprights)


def _grid(paper: _Paper) -> Iterator[str]:
    """Light lines at 1 to 9 of each decade, the decades themselves firmer."""
    yield f'<g fill="none" stroke="{FINE_GRID}" stroke-width="0.1">'
    yield from (_rule(paper, at, upright) for at, one, upright in _lines(paper) if one != 1)
    yield f'</g><g fill="none" stroke="{GRID}" stroke-width="0.18">'
    yield from (_rule(paper, at, upright) for at, one, upright in _lines(paper) if one == 1)
    yield "</g>"


def _lines(paper: _Paper) -> Iterator[tuple[float, int, bool]]:
    """Place in mm, first figure, and direction of every line of the grid."""
    for upright, low, length in ((True, paper.low, paper.wide), (False, paper.first, paper.high)):
        for exponent in range(math.floor(low), math.ceil(low + length / paper.decade) + 1):
            for one in range(1, 10):
                at = (exponent + math.log10(one) - low) * paper.decade
                if 0.0 < at < length:
                    yield (at if upright else paper.high - at), one, upright


def _rule(paper: _Paper, at: float, upright: bool) -> str:
    return f'<path d="M{_n(at)} 0V{_n(paper.high)}"/>' if upright else f'<path d="M0 {_n(at)}H{_n(paper.wide)}"/>'


def _axes(sheet: Sheet, paper: _Paper) -> Iterator[str]:
    """Frame, numbers and titles; the second scale along the upper edge."""
    yield f'<rect width="{_n(paper.wide)}" height="{_n(paper.high)}" fill="none" stroke="{INK}" stroke-width="0.3"/>'
    for at, text in _apart(_numbers(paper.low, paper.wide, paper.decade)):
        yield _tick(at, paper.high, 1.0) + _text(at, paper.high + 3.6, text, _TICK, "middle")
    for at, text in _numbers(paper.first, paper.high, paper.decade):
        y = paper.high - at
        yield f'<path d="M0 {_n(y)}h-1" stroke="{INK}" stroke-width="0.2"/>'
        yield _text(-1.6, y + 0.8, text, _TICK, "end")
    yield _plate(paper.wide / 2, paper.high + 7.4, sheet.scale.title)
    yield f'<g transform="translate(-12.2 {_n(paper.high / 2)}) rotate(-90)">'
    yield _text(0.0, 0.0, sheet.upright, _NAME, "middle") + "</g>"
    if sheet.other is not None:
        for at, text in _apart(_numbers(paper.low + math.log10(sheet.other.ratio), paper.wide, paper.decade)):
            yield _tick(at, 0.0, -1.0) + _text(at, -1.9, text, _TICK, "middle")
        yield _text(paper.wide / 2, -5.6, sheet.other.title, _NAME, "middle")


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
    return f'<path d="M{_n(x)} {_n(y)}v{_n(length)}" stroke="{INK}" stroke-width="0.2"/>'


def _head_height(sheet: Sheet) -> float:
    """Room for the words over the drawing."""
    lines = len(wrapped(printable(sheet.title), _HEAD, _LEFT + _WIDE)) if sheet.title else 0
    return _TITLE * lines + 1.5 + (_BAND if sheet.band else 0.0)


def _title(sheet: Sheet) -> Iterator[str]:
    """What is drawn, under the words that everyone has to see first."""
    top = _BAND if sheet.band else 0.0
    if sheet.band:
        wide = _LEFT + _WIDE + _RIGHT - 0.4
        style = f'fill="{_AMBER}" stroke="{INK}" stroke-width="0.2"'
        yield f'<rect x="0.2" y="0.2" width="{_n(wide)}" height="{_n(_BAND - 1.0)}" {style}/>'
        yield _text(wide / 2, 3.35, printable(sheet.band), _NAME, "middle", bold=True)
    for number, line in enumerate(wrapped(printable(sheet.title), _HEAD, _LEFT + _WIDE) if sheet.title else []):
        yield _text(2.0, top + 4.6 + _TITLE * number, line, _HEAD, "start", bold=True)


def _notes(notes: Sequence[str], top: float) -> Iterator[str]:
    for number, line in enumerate(notes):
        yield _text(2.0 - _LEFT, top + _NOTE * (number + 1), line, _SMALL, "start", QUIET)


# --- what is drawn ---


def _drawing(
    sheet: Sheet, paper: _Paper, rows: Sequence[Span], labels: Sequence[tuple[_Label, Place]]
) -> Iterator[str]:
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
        yield f'<path d="M{_n(x[0])} {_n(y)}H{_n(x[1])}" stroke="{INK}" stroke-width="0.9"/>'
    for one in sheet.characteristics:
        for edge in one.edges:
            yield _stroke(edge, one.role, paper)
            if edge.weight == "limit":
                yield _forbidden(edge, one.role, paper)
    yield "</g>"
    yield from (_point(point, paper) for point in sheet.points)
    for label, place in labels:
        yield from _label(label, place)


def _stroke(edge: Edge, role: Role, paper: _Paper) -> str:
    colour, dashes = STYLES[role]
    if edge.weight == "fine":
        dashes = "0.9 0.7"
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    way = _way(*paper.line(edge))
    return f'<path d="{way}" stroke="{colour}" stroke-width="{_THICK[edge.weight]}"{pattern}/>' if way else ""


def _filled(one: Characteristic, paper: _Paper) -> str:
    """The band between the earliest and the latest edge."""
    (x0, y0), (x1, y1) = (paper.line(edge) for edge in one.edges[:2])
    known0, known1 = np.isfinite(y0), np.isfinite(y1)
    x = np.concatenate([x0[known0], x1[known1][::-1]])
    y = np.concatenate([y0[known0], y1[known1][::-1]])
    return f'<path d="{_way(x, y)}Z" fill="{STYLES[one.role][0]}" fill-opacity="0.13"/>' if len(x) else ""


def _forbidden(edge: Edge, role: Role, paper: _Paper) -> str:
    """Short ticks on the side of a limit that must not be reached: above and to the right."""
    x, y = _along(*paper.line(edge), _TICKS_EACH)
    ticks = "".join(f"M{_n(a)} {_n(b)}l{_n(_TICK_LENGTH)} {_n(-_TICK_LENGTH)}" for a, b in zip(x, y, strict=True))
    return f'<path d="{ticks}" stroke="{STYLES[role][0]}" stroke-width="0.25"/>' if ticks else ""


def _point(point: Point, paper: _Paper) -> str:
    x, y = float(paper.x(np.array([point.current]))[0]), float(paper.y(np.array([point.time]))[0])
    if not (0.0 <= x <= paper.wide and 0.0 <= y <= paper.high):
        return ""
    if point.shape == "ring":
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="1.3" fill="none" stroke="{INK}" stroke-width="0.45"/>'
    r = 1.15 if point.shape == "diamond" else 0.85
    corners = ((0, -r), (r, 0), (0, r), (-r, 0)) if point.shape == "diamond" else ((-r, -r), (r, -r), (r, r), (-r, r))
    way = "L".join(f"{_n(x + dx)} {_n(y + dy)}" for dx, dy in corners)
    return f'<path d="M{way}Z" fill="{INK}" stroke="#FFFFFF" stroke-width="0.2"/>'


def _ruled(span: Span, paper: _Paper) -> Iterator[str]:
    """Both ends of a range through the whole paper."""
    x = paper.x(np.array([span.low, span.high]))
    if x[1] - x[0] > 0.3:
        size = f'x="{_n(x[0])}" width="{_n(x[1] - x[0])}" height="{_n(paper.high)}"'
        yield f'<rect {size} fill="{INK}" fill-opacity="0.045"/>'
    for at in dict.fromkeys(x.tolist()):
        yield f'<path d="M{_n(at)} 0V{_n(paper.high)}" stroke="{INK}" stroke-width="0.2"/>'


def _dropped(span: Span, paper: _Paper, number: int) -> Iterator[str]:
    """The ends of a ruled range from the paper down to its row."""
    bottom = paper.high + _SCALE + _ROW * (number + 0.5)
    for at in dict.fromkeys(paper.x(np.array([span.low, span.high])).tolist()):
        style = f'stroke="{INK}" stroke-width="0.15" stroke-dasharray="0.5 0.7"'
        yield f'<path d="M{_n(at)} {_n(paper.high)}V{_n(bottom)}" {style}/>'


def _rows(rows: Sequence[Span], paper: _Paper) -> Iterator[str]:
    """Ranges of current, each in a row of its own on the scale of the paper, its words beside it."""
    shades = [_SHADE if number % 2 == 0 else "#FFFFFF" for number in range(len(rows))]
    for number, shade in enumerate(shades):
        y = paper.high + _SCALE + _ROW * number
        yield f'<rect y="{_n(y)}" width="{_n(paper.wide)}" height="{_n(_ROW)}" fill="{shade}"/>'
    for number, span in enumerate(rows):
        if span.ruled:
            yield from _dropped(span, paper, number)
    for number, (span, shade) in enumerate(zip(rows, shades, strict=True)):
        x = paper.x(np.array([span.low, span.high]))
        middle = paper.high + _SCALE + _ROW * (number + 0.5)
        yield f'<path d="M{_n(x[0])} {_n(middle)}H{_n(x[1])}" stroke="{INK}" stroke-width="{_BAR}"/>'
        for at in x:
            yield f'<path d="M{_n(at)} {_n(middle - 1.4)}v2.8" stroke="{INK}" stroke-width="0.35"/>'
        yield _row_words(span, (float(x[0]), float(x[1])), middle, paper.wide, shade)


def _row_words(span: Span, ends: tuple[float, float], y: float, wide: float, shade: str) -> str:
    """Name and numbers beside a bar, on the side with more room, on a plate that no line runs through."""
    words = f"{printable(span.name)}  {span_in_words(span)}"
    long = width(words, _SMALL)
    left = ends[1] + 1.6 if wide - ends[1] >= ends[0] else ends[0] - 1.6 - long
    size = f'x="{_n(left - 0.4)}" y="{_n(y - 1.7)}" width="{_n(long + 0.8)}" height="3.4"'
    return f'<rect {size} fill="{shade}"/>' + _text(left, y + 0.8, words, _SMALL, "start")


# --- labels ---


def _placed(sheet: Sheet, paper: _Paper) -> list[tuple[_Label, Place]]:
    labels = [label for label in _labels(sheet, paper) if len(label.anchors)]
    found = places([label.wanted() for label in labels], _ink(sheet, paper))
    return list(zip(labels, found, strict=True))


def _labels(sheet: Sheet, paper: _Paper) -> Iterator[_Label]:
    for one in sheet.characteristics:
        colour = STYLES[one.role][0]
        firm = [edge for edge in one.edges if edge.weight != "fine"] or list(one.edges)
        about = tuple(printable(line) for line in one.about)
        yield _Label(printable(one.name), about, colour, _anchors(firm, paper))
        for edge in one.edges:
            if edge.meaning and edge.weight in ("fine", "limit"):
                yield _Label("", (printable(edge.meaning),), colour, _anchors([edge], paper))
    for point in sheet.points:
        at = np.array([[paper.x(np.array([point.current]))[0], paper.y(np.array([point.time]))[0]]])
        yield _Label("", tuple(printable(point.name).split("; ")), INK, _within(at, paper))
    for allowance in sheet.allowances:
        ends = paper.x(np.array([allowance.low, allowance.high]))
        y = float(paper.y(np.array([allowance.time]))[0])
        x = np.linspace(float(ends[0]), float(ends[1]), 9)
        anchors = _within(np.stack([x, np.full_like(x, y)], axis=1), paper)
        yield _Label("", (printable(allowance.name),), INK, anchors)


def _anchors(edges: Sequence[Edge], paper: _Paper) -> Values:
    """Points along lines inside the paper, a few mm apart."""
    found = [np.stack(_along(*paper.line(edge), _EACH), axis=1) for edge in edges]
    return _within(np.concatenate(found) if found else np.empty((0, 2)), paper)


def _within(points: Values, paper: _Paper) -> Values:
    x, y = points[:, 0], points[:, 1]
    found: Values = points[(x >= 0.0) & (x <= paper.wide) & (y >= 0.0) & (y <= paper.high)]
    return found


def _ink(sheet: Sheet, paper: _Paper) -> Ink:
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


def _label(label: _Label, place: Place) -> Iterator[str]:
    """A white plate with its words, a bar in the colour of its line, and a leader to the line."""
    size = label.wanted()
    ends = nearest(np.array([place.left]), np.array([place.top]), size, np.array([place.anchor]))
    end = float(ends[0][0]), float(ends[1][0])
    if math.dist(end, place.anchor) > 1.3:
        yield (
            f'<path d="M{_n(place.anchor[0])} {_n(place.anchor[1])}L{_n(end[0])} {_n(end[1])}" '
            f'stroke="{label.colour}" stroke-width="0.2"/>'
        )
        yield f'<circle cx="{_n(place.anchor[0])}" cy="{_n(place.anchor[1])}" r="0.5" fill="{label.colour}"/>'
    yield (
        f'<rect x="{_n(place.left)}" y="{_n(place.top)}" width="{_n(size.wide)}" height="{_n(size.high)}" '
        f'fill="#FFFFFF" fill-opacity="0.88"/>'
    )
    yield (
        f'<path d="M{_n(place.left + 0.4)} {_n(place.top)}v{_n(size.high)}" '
        f'stroke="{label.colour}" stroke-width="0.8"/>'
    )
    y = place.top + 0.3
    for line, tall, bold in [
        *([(label.name, _NAME, True)] if label.name else []),
        *((a, _SMALL, False) for a in label.about),
    ]:
        y += tall * _LEADING
        yield _text(place.left + 1.5, y - tall * 0.28, line, tall, "start", bold=bold)


# --- SVG ---


def _plate(x: float, y: float, words: str) -> str:
    """Words in the middle of a white plate, over whatever line runs there."""
    wide = width(words, _NAME) + 2.0
    size = f'x="{_n(x - wide / 2)}" y="{_n(y - _NAME)}" width="{_n(wide)}" height="{_n(_NAME * _LEADING)}"'
    return f'<rect {size} fill="#FFFFFF"/>' + _text(x, y, words, _NAME, "middle")


def _along(x: Values, y: Values, each: float) -> tuple[Values, Values]:
    """Points on a polyline at equal distances; its undrawn parts are skipped."""
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    if len(x) < 2:
        return x, y
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    wanted = np.arange(each / 2, max(float(along[-1]), each), each)
    return np.interp(wanted, along, x), np.interp(wanted, along, y)


def _way(x: Values, y: Values) -> str:
    """A polyline as a path; NaN parts it, points in the same place are drawn once."""
    pieces: list[str] = []
    pen, last = "M", ""
    for a, b in zip(x.tolist(), y.tolist(), strict=True):
        if not (math.isfinite(a) and math.isfinite(b)):
            pen, last = "M", ""
            continue
        here = f"{_n(a)} {_n(b)}"
        if here != last:
            pieces.append(f"{pen}{here}")
        pen, last = "L", here
    return "".join(pieces)


def _text(x: float, y: float, words: str, size: float, anchor: str, colour: str = INK, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" text-anchor="{anchor}"{weight} '
        f'fill="{colour}">{escape(words)}</text>'
    )


def _n(number: float) -> str:
    """Two decimals of a millimetre without a tail of zeros and without a minus zero: always the same bytes."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
