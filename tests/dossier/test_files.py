"""Dossier: a document is written whole or not at all, and a hostile one is refused in one sentence."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_document import plain_document
from sample_report import sample_report

from deadfront.dossier import files
from deadfront.dossier.errors import DossierError
from deadfront.dossier.files import attached, carried, write_dossier


@pytest.fixture
def dossier(tmp_path: Path) -> Path:
    """The sample's document on disk."""
    path = tmp_path / "gannet-quay.pdf"
    path.write_bytes(plain_document())
    return path


@pytest.fixture(name="known_bytes")
def _known(monkeypatch):
    """The document is made elsewhere; here only its way to the disk counts."""
    monkeypatch.setattr("deadfront.dossier.assembly.dossier_bytes", lambda *_: b"%PDF made")


def refused(path: Path, sentence: str) -> None:
    """Reading this file fails with exactly this sentence after its path."""
    with pytest.raises(DossierError, match=f"^{re.escape(str(path))}: {sentence}$"):
        attached(path)


def with_file(path: Path, name: str, data: bytes, **entries: object) -> Path:
    """A small PDF with one embedded file, built by hand; `entries` go into the stream's dictionary."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    stream = pdf.make_indirect(pikepdf.Stream(pdf, data))
    for key, value in entries.items():
        stream[f"/{key}"] = value
    spec = pdf.make_indirect(
        pikepdf.Dictionary(Type=pikepdf.Name.Filespec, F=name, UF=name, EF=pikepdf.Dictionary(F=stream, UF=stream))
    )
    pdf.Root.Names = pikepdf.Dictionary(
        EmbeddedFiles=pikepdf.Dictionary(Names=pikepdf.Array([pikepdf.String(name), spec]))
    )
    pdf.save(path, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.none)
    return path


@pytest.mark.usefixtures("known_bytes")
def test_writing_returns_the_path_and_leaves_nothing_beside(tmp_path):
    """The file stands there whole; no half-written neighbour."""
    path = write_dossier(sample_report(), tmp_path / "out.pdf")
    assert path.read_bytes() == b"%PDF made"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("known_bytes")
def test_a_failed_write_leaves_the_old_file_and_no_other(tmp_path, monkeypatch):
    """When the last step fails, the old dossier is untouched."""
    path = tmp_path / "out.pdf"
    path.write_bytes(b"%PDF-old")
    monkeypatch.setattr(files.os, "replace", lambda *_: (_ for _ in ()).throw(OSError("disk gone")))
    sentence = r"expected a place for the dossier, found none to write to \(disk gone\)"
    with pytest.raises(DossierError, match=f"^{re.escape(str(path))}: {sentence}$"):
        write_dossier(sample_report(), path)
    assert path.read_bytes() == b"%PDF-old"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.usefixtures("known_bytes")
def test_a_place_that_does_not_exist_is_said(tmp_path):
    """A folder that is not there: one sentence."""
    path = tmp_path / "no" / "out.pdf"
    sentence = r"expected a place for the dossier, found none to write to \(No such file or directory\)"
    with pytest.raises(DossierError, match=f"^{re.escape(str(path))}: {sentence}$"):
        write_dossier(sample_report(), path)


def test_the_attached_files_come_out_byte_for_byte(dossier):
    """What went in comes out, and the project file is known by its relationship."""
    report = sample_report()
    found = carried(dossier)
    assert found.files[report.project.name] == report.project.source
    assert found.files["curves/bayonet-65.csv"] == report.project.files["curves/bayonet-65.csv"]
    assert found.sources == (report.project.name,)
    assert attached(dossier) == found.files


def test_a_missing_file_is_named(tmp_path):
    """No file: said so."""
    refused(tmp_path / "no.pdf", r"expected a dossier, found no file that can be read \(No such file or directory\)")


@pytest.mark.parametrize("content", [b"", b"not a pdf", b"%PDF-1.7\n%%EOF", b"\x00" * 5000])
def test_what_is_no_pdf_is_refused(tmp_path, content):
    """Anything else than a PDF."""
    path = tmp_path / "x.pdf"
    path.write_bytes(content)
    refused(path, r"expected a dossier, found a file that is no readable PDF \(.*\)")


def test_a_pdf_without_files_is_no_dossier(tmp_path):
    """Another document altogether."""
    path = tmp_path / "letter.pdf"
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.save(path)
    refused(path, "expected a dossier with its project file attached, found a PDF with no file attached")


def test_an_encrypted_pdf_is_refused(tmp_path, dossier):
    """A dossier is never encrypted."""
    path = tmp_path / "locked.pdf"
    with pikepdf.open(dossier) as pdf:
        pdf.save(path, encryption=pikepdf.Encryption(owner="a", user="b"))
    refused(path, "expected a dossier, found an encrypted PDF")


def test_a_document_that_is_too_large_is_not_opened(tmp_path, monkeypatch):
    """The size is looked at before the content."""
    monkeypatch.setattr(files, "LARGEST_DOCUMENT", 1 << 20)
    path = tmp_path / "huge.pdf"
    path.write_bytes(b"0" * ((1 << 20) + 1))
    refused(path, r"expected a dossier of at most 1 MiB, found 1048577 bytes")


@pytest.mark.parametrize("name", ["../../etc/passwd", "/etc/passwd", "a\\b", "C:evil", "a\nb", "x" * 400])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path, name):
    """Attached names stay in their folder."""
    refused(with_file(tmp_path / "x.pdf", name, b"x"), r"expected attached files with plain relative names, found '.*'")


def test_a_packed_bomb_is_not_unpacked(tmp_path, monkeypatch):
    """A few kilobytes that unpack to more than the limit are refused at the limit."""
    monkeypatch.setattr(files, "LARGEST_FILE", 1 << 20)
    data = zlib.compress(b"0" * (64 << 20))
    path = with_file(tmp_path / "x.pdf", "a.csv", data, Filter=pikepdf.Name.FlateDecode)
    refused(path, r"a\.csv: expected attached files of at most 1048576 bytes here, found a larger one")


def test_damaged_and_unknown_packing_is_refused(tmp_path):
    """Damage is said; a filter this tool never writes is not tried."""
    path = with_file(tmp_path / "x.pdf", "a.csv", b"no zlib", Filter=pikepdf.Name.FlateDecode)
    refused(path, r"a\.csv: expected a deflated file, found damaged data \(.*\)")
    path = with_file(tmp_path / "y.pdf", "a.csv", b"x", Filter=pikepdf.Name.LZWDecode)
    refused(path, r"a\.csv: expected a file stored plain or deflated, found /LZWDecode")


def test_too_many_files_are_refused(dossier, monkeypatch):
    """A count beyond anything a dossier carries."""
    monkeypatch.setattr(files, "MOST_FILES", 3)
    refused(dossier, "expected at most 3 attached files, found 4")


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_dossier_gives_its_files_or_one_sentence(tmp_path_factory, data):
    """Bytes changed or cut anywhere: a clean error or files, never a traceback."""
    content = bytearray(plain_document())
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    del content[data.draw(st.integers(1, len(content))) :]
    path = tmp_path_factory.mktemp("damaged") / "x.pdf"
    path.write_bytes(bytes(content))
    said = ""
    try:
        assert attached(path)
    except DossierError as error:
        said = str(error)
    assert said == "" or said.startswith(f"{path}: ")
