"""Dossier: the pages of a document against those its files give. Two PDFs come in; what differs goes out in words."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

from deadfront.dossier.errors import DossierError

SAVED_AGAIN = "saved again by another program: the same sheets and files in other bytes"
_INHERITED = ("/Resources", "/MediaBox", "/CropBox", "/Rotate")
"""Entries that a page takes from the tree of pages where it has none of its own (ISO 32000-1, 7.7.3.4)."""
_PACKING = {"/Length", "/Filter", "/DecodeParms"}
_CALLED = {
    "/Names": "attached files",
    "/AF": "attached files",
    "/Outlines": "outline",
    "/StructTreeRoot": "reading structure, or text for a reader who does not see the pictures",
    "/Metadata": "metadata",
    "/PageLabels": "numbers of the sheets",
}


@dataclass(frozen=True, slots=True)
class Pages:
    """What a comparison of pages found: `differences` in words.

    note      what else is to be said of them; empty if nothing
    compared  whether they could be compared at all
    sheets    how many the document has
    """

    differences: tuple[str, ...]
    note: str = ""
    compared: bool = True
    sheets: int = 0


def compare_pages(path: Path, made: bytes, again: bytes) -> Pages:
    """What a document shows that its files do not give.

    made    the document as it was found
    again   the document as its files give it
    raises  DossierError: the document cannot be read
    """
    import pikepdf  # loads a native library

    try:
        with pikepdf.open(BytesIO(made)) as found, pikepdf.open(BytesIO(again)) as expected:
            sheets = len(found.pages)
            if made == again:
                return Pages((), sheets=sheets)
            setters = tuple(str(pdf.docinfo.get("/Creator", "")) for pdf in (found, expected))
            if setters[0] != setters[1]:
                return Pages(
                    (), f"the dossier was set by {setters[0] or 'nothing named'!r}, here it is {setters[1]!r}", False
                )
            differences = tuple(_differences(expected, found))
    except (pikepdf.PdfError, TypeError, ValueError, AttributeError, KeyError, RuntimeError) as error:
        words = " ".join(str(error).split())[-120:] or type(error).__name__
        raise DossierError(f"{path}: expected a dossier, found a PDF whose pages are broken ({words})") from None
    return Pages(differences, "" if differences else SAVED_AGAIN, sheets=sheets)


def _differences(expected: Any, found: Any) -> Iterator[str]:
    """Sheet by sheet, then what the document holds beside its sheets."""
    wanted, shown = list(expected.pages), list(found.pages)
    if len(wanted) != len(shown):
        yield f"sheets: the dossier has {len(shown)}, its files give {len(wanted)}"
    walk = _Walk(_numbers(wanted), _numbers(shown))
    pairs = enumerate(zip(wanted, shown, strict=False), start=1)
    others = [number for number, (one, other) in pairs if not walk.same(_page(one.obj), _page(other.obj))]
    if others:
        yield f"{_sheets(others)}: not what the attached files give"
    roots = _without(expected.Root, {"/Pages"}), _without(found.Root, {"/Pages"})
    about = {"/Info": expected.trailer.get("/Info")}, {"/Info": found.trailer.get("/Info")}
    named = {
        "metadata" if name == "/Info" else _CALLED.get(name, f"entry {name}")
        for one, other in (roots, about)
        for name in one.keys() | other.keys()
        if not walk.same(one.get(name), other.get(name))
    }
    yield from (f"beside the sheets: {what}: not what the attached files give" for what in sorted(named))


class _Walk:
    """Two documents walked side by side, never further than the expected one goes.

    A page that is met on the way stands for its number. Pairs that were found alike are not walked twice.
    """

    def __init__(self, wanted: Mapping[tuple[int, int], int], shown: Mapping[tuple[int, int], int]) -> None:
        self.wanted, self.shown = wanted, shown
        self.alike: set[tuple[tuple[int, int], tuple[int, int]]] = set()

    def same(self, expected: Any, found: Any) -> bool:
        """Whether all that two objects lead to is the same."""
        seen: set[tuple[tuple[int, int], tuple[int, int]]] = set()
        waiting = [(expected, found)]
        while waiting:
            one, other = waiting.pop()
            pair = _place(one), _place(other)
            if pair[0] in self.wanted or pair[1] in self.shown:
                if self.wanted.get(pair[0]) != self.shown.get(pair[1]):
                    return False
                continue
            if pair[0] != _DIRECT and pair[1] != _DIRECT:
                if pair in seen or pair in self.alike:
                    continue
                seen.add(pair)
            inner = _inner(one, other)
            if inner is None:
                return False
            waiting += inner
        self.alike |= seen
        return True


_DIRECT = (0, 0)


def _place(value: Any) -> tuple[int, int]:
    """Number of an indirect object; zeros for one that stands where it is used."""
    place = getattr(value, "objgen", _DIRECT)
    return int(place[0]), int(place[1])


def _inner(one: Any, other: Any) -> list[tuple[Any, Any]] | None:
    """What is to be compared next so that two values are the same; None where they differ already."""
    import pikepdf

    if isinstance(one, pikepdf.Stream):
        if not isinstance(other, pikepdf.Stream) or not _same_data(one, other):
            return None
        return _by_name(_without(one, _PACKING), _without(other, _PACKING))
    if isinstance(one, pikepdf.Dictionary | dict):
        return _by_name(dict(one), dict(other)) if isinstance(other, pikepdf.Dictionary | dict) else None
    if isinstance(one, pikepdf.Array):
        if not isinstance(other, pikepdf.Array) or len(one) != len(other):
            return None
        return list(zip(one, other, strict=True))
    return [] if _kind(one) == _kind(other) and one == other else None


def _by_name(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[tuple[Any, Any]] | None:
    return [(one[name], other[name]) for name in sorted(one)] if one.keys() == other.keys() else None


def _kind(value: Any) -> str:
    """Numbers are of one kind however they are written; a name, a string and a truth are of three."""
    import pikepdf

    if isinstance(value, pikepdf.Object):
        return str(value._type_name)
    return "number" if isinstance(value, int | Decimal) and not isinstance(value, bool) else type(value).__name__


def _same_data(one: Any, other: Any) -> bool:
    """Whether two streams unpack to the same bytes; the found one no further than the expected one."""
    packed, filters = bytes(other.read_raw_bytes()), [_names(stream.get("/Filter")) for stream in (one, other)]
    if filters[0] == filters[1] and bytes(one.read_raw_bytes()) == packed and "/DecodeParms" not in one:
        return "/DecodeParms" not in other
    wanted = bytes(one.read_bytes())
    if filters[1] == [] and "/DecodeParms" not in other:
        return packed == wanted
    if filters[1] != ["/FlateDecode"] or "/DecodeParms" in other:
        return False  # this tool never packs in another way, and what is unknown is not unpacked
    try:
        return zlib.decompressobj().decompress(packed, len(wanted) + 1) == wanted
    except zlib.error:
        return False


def _names(filters: Any) -> list[str]:
    if filters is None:
        return []
    return [str(filters)] if str(filters).startswith("/") else [str(name) for name in filters]


def _page(page: Any) -> dict[str, Any]:
    """A page with what it inherits, without the way back to its tree."""
    own, tree = _without(page, {"/Parent"}), page.get("/Parent")
    for _step in range(100):  # a tree of pages is a few steps high; a hostile one may be a ring
        if tree is None:
            break
        own = {name: tree[name] for name in _INHERITED if name in tree} | own
        tree = tree.get("/Parent")
    return own


def _without(dictionary: Any, names: set[str]) -> dict[str, Any]:
    return {name: value for name, value in dictionary.items() if name not in names}


def _numbers(pages: list[Any]) -> dict[tuple[int, int], int]:
    return {_place(page.obj): number for number, page in enumerate(pages, start=1)}


def _sheets(numbers: list[int]) -> str:
    """`sheet 3`, `sheets 3, 7 to 9`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)
    return f"sheet{'s' if len(numbers) > 1 else ''} {words}"
