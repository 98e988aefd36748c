"""Dossier: the lettering of pages and pictures. Text comes in; text that the fonts can show, and its width, go out."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache
from importlib.util import find_spec
from pathlib import Path

SANS = "DejaVu Sans"
"""Lettering of the pictures, and fallback of the pages: the font file that comes with the plotting library."""
_SHOWN_SPACES = "\u0020\u00a0\u2009\u202f"
_HIDDEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def font_folder() -> Path:
    """Folder of the font files, found without importing the plotting library (that would cost its start-up)."""
    spec = find_spec("matplotlib")
    if spec is None or not spec.submodule_search_locations:
        raise FileNotFoundError("the fonts of the dossier are missing: the package matplotlib is not installed")
    return Path(next(iter(spec.submodule_search_locations))) / "mpl-data" / "fonts" / "ttf"


def printable(text: str) -> str:
    """The text with every character that the fonts cannot show, or that shows nothing, written as [U+XXXX].

    Line ends and tabs become spaces. Characters that turn the direction of writing or hide are written out too, so
    that what is read is what stands in the file.
    """
    return "".join(_visible(character) for character in text)


def replaced(texts: Iterable[str]) -> tuple[str, ...]:
    """The characters of these texts that `printable` writes out, sorted, as U+XXXX."""
    found = {c for text in texts for c in text if _visible(c).startswith("[U+") and c != "["}
    return tuple(f"U+{ord(c):04X}" for c in sorted(found))


def width(text: str, size: float) -> float:
    """How wide the text is in the lettering of the pictures, in the unit of its size."""
    characters, advances, units = _font()
    fallback = advances[characters[ord("M")]]
    return sum(advances.get(characters.get(ord(c), ""), fallback) for c in text) * size / units


def wrapped(text: str, size: float, widest: float) -> list[str]:
    """The text in lines that are no wider than `widest`; a longer word is cut."""
    lines: list[str] = []
    for word in text.split():
        while width(word, size) > widest and len(word) > 1:
            cut = next(n for n in range(len(word) - 1, 0, -1) if n == 1 or width(word[:n], size) <= widest)
            lines.append(word[:cut])
            word = word[cut:]
        if lines and width(f"{lines[-1]} {word}", size) <= widest:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines or [""]


def coverage() -> frozenset[int]:
    """Code points that the fallback font holds."""
    return frozenset(_font()[0])


def _visible(character: str) -> str:
    if character in "\n\r\t":
        return " "
    if character in _SHOWN_SPACES:
        return character
    hidden = unicodedata.category(character) in (*_HIDDEN, "Zs")
    return f"[U+{ord(character):04X}]" if hidden or ord(character) not in _font()[0] else character


@cache
def _font() -> tuple[dict[int, str], dict[str, int], int]:
    """Code point to glyph, glyph to advance, units per em."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # heavy: only a dossier needs it

    with TTFont(font_folder() / "DejaVuSans.ttf", lazy=True) as font:
        advances = {glyph: advance for glyph, (advance, _) in font["hmtx"].metrics.items()}
        return dict(font.getBestCmap()), advances, int(font["head"].unitsPerEm)
