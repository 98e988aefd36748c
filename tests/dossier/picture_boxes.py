"""Tests: what lies where in a picture, read back from its SVG. Boxes of lettering, strokes, and what lies on what."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np

from deadfront.dossier.lettering import width
from deadfront.dossier.sheet import BOLD, TEXT

SVG = "{http://www.w3.org/2000/svg}"
ASCENT, DESCENT = 0.76, 0.24
"""Height over the base line of `b` and depth of `p` in this lettering, as shares of its size (measured on the font)."""


@dataclass(frozen=True)
class Box:
    """A piece of lettering, or a stroke, with its edges."""

    left: float
    top: float
    right: float
    bottom: float
    what: str


def texts(tree: ElementTree.Element) -> list[Box]:
    """Every piece of lettering with its box."""
    found = []
    for element in tree.iter(f"{SVG}text"):
        words = element.text or ""
        wide = width(words, TEXT) * (BOLD if element.get("font-weight") == "bold" else 1.0)
        x, y = float(element.get("x", "")), float(element.get("y", ""))
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[element.get("text-anchor", "start")]
        found.append(Box(left, y - ASCENT * TEXT, left + wide, y + DESCENT * TEXT, words))
    return found


def strokes(tree: ElementTree.Element) -> list[Box]:
    """Every straight piece of every line and frame, with the room that its width takes; areas are left out."""
    found = []
    for element in tree.iter(f"{SVG}path"):
        if element.get("stroke") == "none" or "C" in element.get("d", "") or "Q" in element.get("d", ""):
            continue
        path = element.get("d", "")
        corners = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]
        half = float(element.get("stroke-width", "0")) / 2
        for (x0, y0), (x1, y1) in pairwise([*corners, corners[0]] if path.endswith("Z") else corners):
            if x0 == x1 or y0 == y1:
                blunt = element.get("stroke-linecap") == "butt"  # ends where it ends, without a cap
                along, across = 0.0 if blunt else half, half
                wide, high = (along, across) if y0 == y1 else (across, along)
                box = (min(x0, x1) - wide, min(y0, y1) - high, max(x0, x1) + wide, max(y0, y1) + high)
                found.append(Box(*box, f"{element.get('stroke', 'black')} {path}"))
            else:  # a slanting piece, as spots close together
                count = int(4 * max(abs(x1 - x0), abs(y1 - y0))) + 1
                for n in range(count + 1):
                    x, y = x0 + (x1 - x0) * n / count, y0 + (y1 - y0) * n / count
                    found.append(Box(x - half, y - half, x + half, y + half, f"slanting {path}"))
    return found


def overlaps(svg: str) -> list[tuple[str, str]]:
    """Lettering that lies on other lettering or on a straight line."""
    tree = ElementTree.fromstring(svg)
    written = texts(tree)
    return [*_pairs(written, written, twice=False), *_pairs(written, strokes(tree), twice=True)]


def _pairs(some: list[Box], others: list[Box], *, twice: bool) -> Iterator[tuple[str, str]]:
    """Pairs that share room; each pair of one and the same list once."""
    if not some or not others:
        return
    left, top, right, bottom = np.array([(b.left, b.top, b.right, b.bottom) for b in others]).T
    for n, one in enumerate(some):
        met = (left < one.right) & (right > one.left) & (top < one.bottom) & (bottom > one.top)
        for m in np.flatnonzero(met):
            if twice or m > n:
                yield one.what, others[m].what
