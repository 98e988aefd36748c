"""Reads the text of a PDF's pages back through the character maps of its fonts."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from io import BytesIO

import pikepdf


def pages(data: bytes) -> list[str]:
    """The text of each page in drawing order, runs of one text object joined, zero-width spaces removed."""
    with pikepdf.open(BytesIO(data)) as pdf:
        return [re.sub("[\u200b\u00ad]", "", _content(page.obj)) for page in pdf.pages]


def whole(data: bytes) -> str:
    """The text of all pages without spaces and breaks: for finding a phrase wherever it wraps."""
    return squeezed("".join(pages(data)))


def squeezed(text: str) -> str:
    """Text without anything that a line break may add or take away."""
    return re.sub(r"[\s\u200b\u00ad]", "", text)


def _content(owner: pikepdf.Object) -> str:
    resources = owner.get("/Resources", pikepdf.Dictionary())
    fonts = {name: _character_map(font) for name, font in resources.get("/Font", {}).items()}
    forms = resources.get("/XObject", {})
    out: list[str] = []
    current: dict[int, str] = {}
    for operands, operator in pikepdf.parse_content_stream(owner):
        match str(operator):
            case "Tf":
                current = fonts.get(str(operands[0]), {})
            case "Tj":
                out.append(_decoded(bytes(operands[0]), current))
            case "TJ":
                out += [_decoded(bytes(part), current) for part in operands[0] if isinstance(part, pikepdf.String)]
            case "ET":
                out.append("\n")
            case "Do":
                form = forms.get(str(operands[0]))
                if form is not None and form.get("/Subtype") == "/Form":
                    out.append(_content(form))
    return "".join(out)


def _decoded(data: bytes, characters: dict[int, str]) -> str:
    return "".join(characters.get(int.from_bytes(data[i : i + 2], "big"), "") for i in range(0, len(data), 2))


def _character_map(font: pikepdf.Object) -> dict[int, str]:
    if "/ToUnicode" not in font:
        return {}
    text = font.ToUnicode.read_bytes().decode("latin-1")
    found: dict[int, str] = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", text, re.S):
        for code, target in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            found[int(code, 16)] = bytes.fromhex(target).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", text, re.S):
        for first, last, target in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            start = bytes.fromhex(target).decode("utf-16-be")
            for code in range(int(first, 16), int(last, 16) + 1):
                found[code] = start[:-1] + chr(ord(start[-1]) + code - int(first, 16))
    return found


def sizes(data: bytes) -> list[list[tuple[float, str]]]:
    """Page by page, every run of lettering with its size in points as it stands on the paper, pictures included."""
    with pikepdf.open(BytesIO(data)) as pdf:
        return [list(_sized(page.obj, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0))) for page in pdf.pages]


Matrix = tuple[float, ...]


def _sized(owner: pikepdf.Object, page: Matrix) -> Iterator[tuple[float, str]]:
    """Runs of one content stream; `page` takes its units to the paper's."""
    resources = owner.get("/Resources", pikepdf.Dictionary())
    fonts = {name: _character_map(font) for name, font in resources.get("/Font", {}).items()}
    forms = resources.get("/XObject", {})
    kept: list[Matrix] = []
    text: Matrix = page
    size, current = 0.0, dict[int, str]()
    for operands, operator in pikepdf.parse_content_stream(owner):
        match str(operator):
            case "q":
                kept.append(page)
            case "Q":
                page = kept.pop()
            case "cm":
                page = _after(tuple(map(float, operands)), page)
            case "BT":
                text = page
            case "Tm":
                text = _after(tuple(map(float, operands)), page)
            case "Tf":
                size, current = float(operands[1]), fonts.get(str(operands[0]), {})
            case "Tj" | "TJ" as name:
                parts = operands if name == "Tj" else [p for p in operands[0] if isinstance(p, pikepdf.String)]
                words = "".join(_decoded(bytes(part), current) for part in parts)
                yield size * math.hypot(text[2], text[3]), words
            case "Do":
                form = forms.get(str(operands[0]))
                if form is not None and form.get("/Subtype") == "/Form":
                    own = tuple(map(float, form.get("/Matrix", (1, 0, 0, 1, 0, 0))))
                    yield from _sized(form, _after(own, page))


def _after(first: Matrix, then: Matrix) -> Matrix:
    """One transformation after the other, as the six numbers of a PDF."""
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)
