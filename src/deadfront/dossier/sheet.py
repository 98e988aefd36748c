"""Dossier: a sheet of vector drawing. Symbols, lines and texts on the half-module grid come in, SVG goes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal
from xml.sax.saxutils import escape

from deadfront.dossier.lettering import SANS, printable, width, wrapped
from deadfront.tables import read

Place = tuple[float, float]

HALF_MODULE = 1.25
"""mm; IEC module M = 2.5 mm [M]."""
TEXT = 1.5
"""Size of lettering in half modules."""
LEADING = 1.25
"""Distance of base lines over the size of lettering."""
BOLD = 1.13
"""How much wider the bold lettering runs; measured on the font's letters."""
TYPE_AREA = 172.0
"""Width in mm of what a page of A4, the narrower of the two papers, leaves between its margins."""
LEAST = 7.0
"""Points: no lettering in print is smaller."""
WIDEST = TYPE_AREA * TEXT * HALF_MODULE / 25.4 * 72 / LEAST
"""Width in mm of a picture that fits between the margins without its lettering getting too small."""
HIGHEST = 156.0
"""Height in mm of a picture that fits a page of letter, the lower of the two papers, under a heading and a note."""
MARGIN = 2.0
"""Around every drawing, in half modules."""
_THIN, _BUS, _DASH = 0.16, 0.5, "0.7 0.5"
_STRAIGHT = {"line": ("none", False), "closed": ("none", True), "area": ("white", True), "solid": ("black", True)}
"""Straight shapes: their fill, and whether they close."""
_CUBIC = 0.5522847498
"""Control length of a quarter circle drawn as a cubic, 4/3 (sqrt 2 - 1)."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture for the page: its SVG text, its size in mm as drawn, and what it says in words."""

    svg: str
    width: float
    height: float
    alternate: str


@dataclass(frozen=True, slots=True)
class Hand:
    """How lettering stands: its anchor, the width at which it wraps, the first line bold, all quieter or white."""

    anchor: Literal["start", "middle", "end"] = "start"
    widest: float | None = None
    strong: bool = False
    faint: bool = False
    light: bool = False


@dataclass(frozen=True, slots=True)
class Stroke:
    """One part of a symbol: what kind of shape, its points, and the radius of a round one."""

    shape: str
    points: tuple[Place, ...]
    radius: float


@cache
def symbols() -> dict[str, tuple[Stroke, ...]]:
    """The parts of every symbol, by its name, in half modules; x to the right, y down."""
    found: dict[str, list[Stroke]] = {}
    for row in read("single-line-symbols").rows:
        points = tuple((float(x), float(y)) for x, y in (pair.split(",") for pair in row["points"].split()))
        found.setdefault(row["symbol"], []).append(Stroke(row["shape"], points, float(row["radius"])))
    return {name: tuple(strokes) for name, strokes in found.items()}


@dataclass(frozen=True, slots=True)
class Ink:
    """How a line is drawn: colour, width in half modules, dashes as SVG writes them."""

    colour: str
    width: float
    dashes: str = ""


class Sheet:
    """Collects shapes in drawing order and the room they take."""

    def __init__(self) -> None:
        self._shapes: list[str] = []
        self._left = self._top = float("inf")
        self._right = self._bottom = float("-inf")
        self.composed: list[str] = []

    def symbol(self, name: str, x: float, y: float) -> None:
        """A symbol with its upper terminal at (x, y). Raises KeyError for a name that the table does not hold."""
        self.strokes(symbols()[name], x, y)

    def strokes(self, parts: Iterable[Stroke], x: float, y: float) -> None:
        """Parts of a symbol, seen from (x, y)."""
        for stroke in parts:
            self._stroke(stroke, x, y)

    def compose(self, explanation: str) -> None:
        """Note the explanation of a composed symbol for the legend, once."""
        if explanation not in self.composed:
            self.composed.append(explanation)

    def line(self, *points: Place, width: float = _THIN) -> None:
        """A line through the points."""
        self._path(points, f'fill="none" stroke-width="{_n(width)}"')

    def trace(self, *points: Place, ink: Ink) -> None:
        """A line through the points in a colour of its own: a conductor that says in what state it is."""
        dashes = f' stroke-dasharray="{ink.dashes}"' if ink.dashes else ""
        style = f'fill="none" stroke="{ink.colour}" stroke-width="{_n(ink.width)}" stroke-linecap="butt"{dashes}'
        self._path(points, style)

    def frame(self, left: float, top: float, right: float, bottom: float, ink: Ink) -> None:
        """A rectangle of lines around something."""
        dashes = f' stroke-dasharray="{ink.dashes}"' if ink.dashes else ""
        style = f'fill="none" stroke="{ink.colour}" stroke-width="{_n(ink.width)}"{dashes}'
        self._path(((left, top), (right, top), (right, bottom), (left, bottom)), style, closed=True)

    def fill(self, *points: Place, colour: str) -> None:
        """An area without an edge."""
        self._path(points, f'fill="{colour}" stroke="none"', closed=True)

    def room(self, left: float, top: float, right: float, bottom: float) -> None:
        """Keep this much room, whatever stands in it, so that pictures of a series are of one size."""
        self._reach(((left, top), (right, bottom)))

    def bus(self, left: float, right: float, y: float) -> None:
        """A bus bar."""
        self.line((left, y), (right, y), width=_BUS)

    def dashes(self, *points: Place) -> None:
        """A dashed line: a trip or an outline, never a conductor."""
        self._path(points, f'fill="none" stroke-width="{_n(_THIN)}" stroke-dasharray="{_DASH}"')

    def dot(self, x: float, y: float) -> None:
        """A connection."""
        self.symbol("connection", x, y)

    def box(self, x: float, y: float, wide: float, high: float) -> None:
        """A rectangle, for a relay."""
        self._path(
            ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high)),
            f'fill="white" stroke-width="{_n(_THIN)}"',
            closed=True,
        )

    def dashed_box(self, left: float, top: float, right: float, bottom: float, words: str) -> None:
        """An outline with its words under the lower right corner."""
        corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        self._path(corners, f'fill="none" stroke-width="{_n(_THIN)}" stroke-dasharray="{_DASH}"', closed=True)
        self.text(right, bottom + 1.6, [words], Hand(anchor="end", faint=True))

    def leader(self, start: Place, end: Place) -> None:
        """A hairline from a text to what it speaks of."""
        self._path((start, end), f'fill="none" stroke="#777777" stroke-width="{_n(_THIN / 2)}"')

    def letters(self, places: Iterable[tuple[float, float, str]], x: float, y: float) -> None:
        """Short letters that belong to a symbol."""
        for dx, dy, letter in places:
            self.text(x + dx, y + dy, [letter])

    def text(self, x: float, y: float, lines: Sequence[str], hand: Hand = Hand()) -> float:
        """Lines of lettering, the first one at y. Returns where the last line stands."""
        for number, line in enumerate(lines):
            bold = hand.strong and number == 0
            room = hand.widest / BOLD if hand.widest and bold else hand.widest
            for piece in wrapped(printable(line), TEXT, room) if room else [printable(line)]:
                self._letter(x, y, piece, hand, bold=bold)
                y += TEXT * LEADING
        return y - TEXT * LEADING

    def legend(self, x: float, title: str, lines: Sequence[str], widest: float) -> None:
        """Explanations in a column beside the drawing."""
        y = self.text(x, TEXT, [title], Hand(strong=True))
        for line in lines:
            y = self.text(x, y + TEXT * LEADING + 0.5, [line], Hand(widest=widest, faint=True))

    def picture(self, alternate: str, margin: float = MARGIN) -> Picture:
        """The finished drawing, with a margin all round."""
        left, top = self._left - margin, self._top - margin
        wide, high = self._right - left + margin, self._bottom - top + margin
        size = f'width="{_n(wide * HALF_MODULE)}mm" height="{_n(high * HALF_MODULE)}mm"'
        view = f'viewBox="{_p(left, top)} {_p(wide, high)}"'
        head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} {view} role="img">'
        title = f"<title>{escape(printable(alternate))}</title>"
        pen = 'stroke="black" stroke-linecap="round" stroke-linejoin="round"'
        style = f'<g {pen} font-family="{SANS}" font-size="{_n(TEXT)}">'
        svg = "\n".join((head, title, style, *self._shapes, "</g>", "</svg>", ""))
        return Picture(svg, wide * HALF_MODULE, high * HALF_MODULE, printable(alternate))

    def _letter(self, x: float, y: float, line: str, hand: Hand, *, bold: bool) -> None:
        wide = width(line, TEXT) * (BOLD if bold else 1.0)
        start = {"start": x, "middle": x - wide / 2, "end": x - wide}[hand.anchor]
        self._reach(((start, y - TEXT), (start + wide, y + TEXT / 4)))
        weight = ' font-weight="bold"' if bold else ""
        colour = "white" if hand.light else "#333333" if hand.faint else "black"
        style = f'text-anchor="{hand.anchor}"{weight} fill="{colour}" stroke="none"'
        self._shapes.append(f'<text x="{_n(x)}" y="{_n(y)}" {style}>{escape(line)}</text>')

    def _stroke(self, stroke: Stroke, x: float, y: float) -> None:
        """One part of a symbol: straight ones by their fill, round ones as cubic curves."""
        points = tuple((x + dx, y + dy) for dx, dy in stroke.points)
        thin, r = f'stroke-width="{_n(_THIN)}"', stroke.radius
        if stroke.shape in _STRAIGHT:
            fill, closed = _STRAIGHT[stroke.shape]
            self._path(points, f'fill="{fill}" {thin}', closed=closed)
        elif stroke.shape in ("circle", "disc"):
            fill, (cx, cy) = "black" if stroke.shape == "disc" else "none", points[0]
            self._round(points[0], r, f'<circle cx="{_n(cx)}" cy="{_n(cy)}" r="{_n(r)}" fill="{fill}" {thin}/>')
        elif stroke.shape == "half circle below":
            self._round(points[0], r, f'<path d="{_half(points[0], (-r, 0.0), (0.0, r))}" fill="none" {thin}/>')
        elif stroke.shape == "half circle right":
            self._round(points[0], r, f'<path d="{_half(points[0], (0.0, -r), (r, 0.0))}" fill="none" {thin}/>')
        elif stroke.shape == "curve":
            (a, b, c), span = points, points[2][0] - points[0][0]
            wave = f"M{_p(*a)}Q{_p(*b)} {_p(*c)}T{_p(c[0] + span, c[1])}"
            self._round(b, span, f'<path d="{wave}" fill="none" {thin}/>')
        else:
            raise ValueError(f"shape of a symbol: expected one that this sheet draws, got {stroke.shape!r}")

    def _round(self, centre: Place, radius: float, shape: str) -> None:
        self._reach(((centre[0] - radius, centre[1] - radius), (centre[0] + radius, centre[1] + radius)))
        self._shapes.append(shape)

    def _path(self, points: Sequence[Place], style: str, *, closed: bool = False) -> None:
        self._reach(points)
        way = "L".join(f"{_n(x)} {_n(y)}" for x, y in points)
        self._shapes.append(f'<path d="M{way}{"Z" if closed else ""}" {style}/>')

    def _reach(self, points: Sequence[Place]) -> None:
        self._left = min(self._left, *(x for x, _ in points))
        self._right = max(self._right, *(x for x, _ in points))
        self._top = min(self._top, *(y for _, y in points))
        self._bottom = max(self._bottom, *(y for _, y in points))


def _half(centre: Place, start: Place, top: Place) -> str:
    """Half a circle from `start` over `top` to the point opposite the start, both seen from the centre."""
    (cx, cy), (sx, sy), (tx, ty), k = centre, start, top, _CUBIC
    first = f"C{_p(cx + sx + k * tx, cy + sy + k * ty)} {_p(cx + tx + k * sx, cy + ty + k * sy)} {_p(cx + tx, cy + ty)}"
    second = (
        f"C{_p(cx + tx - k * sx, cy + ty - k * sy)} {_p(cx - sx + k * tx, cy - sy + k * ty)} {_p(cx - sx, cy - sy)}"
    )
    return f"M{_p(cx + sx, cy + sy)}{first}{second}"


def _p(x: float, y: float) -> str:
    return f"{_n(x)} {_n(y)}"


def _n(number: float) -> str:
    """Fixed decimals without a tail of zeros and without a minus zero: the same bytes for the same drawing."""
    text = f"{number:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
