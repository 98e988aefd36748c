"""Dossier: small pieces of SVG, always the same bytes. Words, lines and places in mm come in, elements go out."""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from deadfront.dossier.lettering import width

Values = NDArray[np.float64]

INK = "#000000"
NAME = 2.5
"""Size of the letters of names, mm."""
LEADING = 1.25
"""Height of a line of words, shares of its letters' size."""


def plate(x: float, y: float, words: str) -> str:
    """Words in the middle of a white plate, over whatever line runs there."""
    wide = width(words, NAME) + 2.0
    size = f'x="{mm(x - wide / 2)}" y="{mm(y - NAME)}" width="{mm(wide)}" height="{mm(NAME * LEADING)}"'
    return f'<rect {size} fill="#FFFFFF"/>' + words_at(x, y, words, NAME, "middle")


def points_along(x: Values, y: Values, each: float) -> tuple[Values, Values]:
    """Points on a polyline at equal distances; its undrawn parts are skipped."""
    known = np.isfinite(x) & np.isfinite(y)
    x, y = x[known], y[known]
    if len(x) < 2:
        return x, y
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    wanted = np.arange(each / 2, max(float(along[-1]), each), each)
    return np.interp(wanted, along, x), np.interp(wanted, along, y)


def path_of(x: Values, y: Values) -> str:
    """A polyline as a path; NaN parts it, points in the same place are drawn once."""
    pieces: list[str] = []
    pen, last = "M", ""
    for a, b in zip(x.tolist(), y.tolist(), strict=True):
        if not (math.isfinite(a) and math.isfinite(b)):
            pen, last = "M", ""
            continue
        here = f"{mm(a)} {mm(b)}"
        if here != last:
            pieces.append(f"{pen}{here}")
        pen, last = "L", here
    return "".join(pieces)


def words_at(x: float, y: float, words: str, size: float, anchor: str, colour: str = INK, *, bold: bool = False) -> str:
    """Words that start, stand in the middle or end at a place: `anchor` as SVG writes it."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{mm(x)}" y="{mm(y)}" font-size="{mm(size)}" text-anchor="{anchor}"{weight} '
        f'fill="{colour}">{escape(words)}</text>'
    )


def mm(number: float) -> str:
    """Two decimals of a millimetre without a tail of zeros and without a minus zero: always the same bytes."""
    text = f"{number:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
