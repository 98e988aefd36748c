"""Reads the text of a PDF's pages back through the character maps of its fonts."""

from __future__ import annotations

import re
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
