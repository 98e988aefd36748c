"""Dossier: documents on disk. A report in, a PDF written; a PDF in, the files it carries out."""

from __future__ import annotations

import os
import tempfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from os import PathLike
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from deadfront.dossier.errors import DossierError
from deadfront.project.writing import refuse_place

if TYPE_CHECKING:
    from deadfront.claims.breaking import Followed
    from deadfront.claims.report import Report
    from deadfront.dossier.typeset import Part

__all__ = ["Carried", "DossierError", "attached", "carried", "write_dossier"]

# Bounds for a document from anywhere; a dossier of sixty curve files stays under a tenth of each.
LARGEST_DOCUMENT = 100 << 20
MOST_FILES = 500
LARGEST_FILE = 20 << 20
LARGEST_WHOLE = 100 << 20
_LONGEST_NAME = 300


@dataclass(frozen=True, slots=True)
class Carried:
    """What a document carries: its files by name, and which of them it was made from (the associated Source).

    whole    the document itself, as it was read
    subject  what the document says that it is
    """

    files: Mapping[str, bytes]
    sources: tuple[str, ...]
    whole: bytes
    subject: str


def write_dossier(
    report: Report, path: str | PathLike[str], part: Part = "whole", followed: Followed | None = None
) -> Path:
    """Write the dossier of a report; the file appears whole or not at all. Returns its path.

    part      the whole, or `procedures`: the sheets of the crew alone
    followed  break points, if the whole is to have pages about them
    raises    DossierError: the document cannot be made, or the place cannot be written
              ProjectErrors: something else than an earlier PDF stands in that place
    """
    from deadfront.dossier.assembly import dossier_bytes  # the typesetter and the plotting library are heavy

    target = Path(path)
    refuse_place(target, "PDF")
    data = dossier_bytes(report, part, followed)
    try:
        _write(data, target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise DossierError(f"{target}: expected a place for the dossier, found none to write to ({reason})") from None
    return target


def _write(data: bytes, target: Path) -> None:
    """Beside the target first, then in its place in one step."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o666 & ~_mask())
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def attached(path: str | PathLike[str]) -> Mapping[str, bytes]:
    """The files a dossier carries, byte for byte, by name.

    raises  DossierError: not a PDF, encrypted, no file in it, a file too large or with a name that leads elsewhere
    """
    return carried(path).files


def carried(path: str | PathLike[str]) -> Carried:
    """The same with the name of the project file. Raises DossierError as `attached` does."""
    import pikepdf  # loads a native library: only where a document is read

    where = Path(path)
    try:
        size = where.stat().st_size
    except OSError as error:
        raise DossierError(f"{where}: expected a dossier, found no file that can be read ({error.strerror})") from None
    if size > LARGEST_DOCUMENT:
        raise DossierError(f"{where}: expected a dossier of at most {LARGEST_DOCUMENT >> 20} MiB, found {size} bytes")
    try:
        whole = where.read_bytes()
        with pikepdf.open(BytesIO(whole)) as pdf:
            files, sources = _carried(where, pdf)
            return Carried(files, sources, whole, str(pdf.docinfo.get("/Subject", "")))
    except pikepdf.PasswordError:
        raise DossierError(f"{where}: expected a dossier, found an encrypted PDF") from None
    except (pikepdf.PdfError, OSError) as error:
        raise DossierError(
            f"{where}: expected a dossier, found a file that is no readable PDF ({_short(error)})"
        ) from None
    except (TypeError, ValueError, AttributeError, KeyError, RuntimeError, RecursionError) as error:
        raise DossierError(
            f"{where}: expected a dossier, found a PDF whose list of files is broken ({_short(error)})"
        ) from None


def _carried(where: Path, pdf: Any) -> tuple[dict[str, bytes], tuple[str, ...]]:
    """Files of an open document, within the bounds, and which of them are its source."""
    names = list(pdf.attachments)
    if not names:
        raise DossierError(
            f"{where}: expected a dossier with its project file attached, found a PDF with no file attached"
        )
    if len(names) > MOST_FILES:
        raise DossierError(f"{where}: expected at most {MOST_FILES} attached files, found {len(names)}")
    files: dict[str, bytes] = {}
    sources: list[str] = []
    room = LARGEST_WHOLE
    for name in sorted(names):
        if not _plain(name):
            raise DossierError(f"{where}: expected attached files with plain relative names, found {name[:80]!r}")
        specification = pdf.attachments[name]
        files[name] = _bytes(where, name, specification.get_file().obj, min(LARGEST_FILE, room))
        room -= len(files[name])
        if str(specification.obj.get("/AFRelationship", "")) == "/Source":
            sources.append(name)
    return files, tuple(sources)


def _bytes(where: Path, name: str, stream: Any, limit: int) -> bytes:
    """Content of one file, unpacked no further than the limit: a small PDF may hold a bomb."""
    raw = stream.read_raw_bytes()
    filters = stream.get("/Filter")
    kinds = (
        [] if filters is None else [str(kind) for kind in (filters if not str(filters).startswith("/") else [filters])]
    )
    if kinds not in ([], ["/FlateDecode"]) or stream.get("/DecodeParms") is not None:
        raise DossierError(f"{where}: {name}: expected a file stored plain or deflated, found {', '.join(kinds)}")
    if not kinds:
        data = bytes(raw)
    else:
        unpacker = zlib.decompressobj()
        try:
            data = unpacker.decompress(bytes(raw), limit + 1)
        except zlib.error as error:
            raise DossierError(f"{where}: {name}: expected a deflated file, found damaged data ({error})") from None
    if len(data) > limit:
        raise DossierError(
            f"{where}: {name}: expected attached files of at most {limit} bytes here, found a larger one"
        )
    return data


def _plain(name: str) -> bool:
    """Whether a name is relative, stays in its folder, and can be printed."""
    parts = PurePosixPath(name).parts
    strange = not name.isprintable() or "\\" in name or ":" in name or len(name) > _LONGEST_NAME
    return bool(parts) and not strange and not name.startswith("/") and ".." not in parts


def _short(error: BaseException) -> str:
    return " ".join(str(error).split())[-120:] or type(error).__name__


def _mask() -> int:
    """The process's mask for new files; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
