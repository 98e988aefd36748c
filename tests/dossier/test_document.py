"""Dossier: the PDF says what the report says, the same bytes every time, and nothing it must not say."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pdf_text
import pikepdf
import pytest
from sample_document import plain_document, sample_document, sample_sheet
from sample_report import sample_report

from deadfront.claims.report import to_json
from deadfront.dossier.document import CHECKSUMS, RESULT, canonical, document
from deadfront.dossier.errors import DossierError

HERE = Path(__file__).parent
FORBIDDEN = (
    r"\bsafe\b",
    r"no hazard",
    r"zero risk",
    r"arc-proof",
    r"compliant",
    r"PPE categor",
    r"PPE adequate",
    r"prohibited approach",
    r"\bCE\b",
    r"\blisted\b",
    r"certified",
)


def test_each_page_has_its_header_and_caution():
    """Title, number, sheet n of N and the caution stand on every page."""
    texts = pdf_text.pages(plain_document())
    assert len(texts) > 5
    for number, text in enumerate(texts, start=1):
        assert "Gannet Quay cold store" in text
        assert pdf_text.squeezed(f"sheet {number} of {len(texts)}") in pdf_text.squeezed(text)
        assert pdf_text.squeezed("Supports, and does not replace, the judgement and seal") in pdf_text.squeezed(text)


def test_demonstration_data_is_said_on_each_page():
    """The band stands on every page of a demonstration, and on none of a project."""
    band = pdf_text.squeezed("demonstration data - not for construction")
    assert all(band in pdf_text.squeezed(text) for text in pdf_text.pages(plain_document()))
    assert band not in pdf_text.whole(sample_document(data="project"))


@pytest.mark.parametrize(
    "phrase",
    [
        "AE-02",
        "where only the MV fuses clear, the incident energy at 610 mm stays below the 40 cal/cm² of the clothing",
        "63.2 cal/cm²",
        "40.0 cal/cm²",
        "−57.9 %",
        "264.2 J/cm²",
        "utility at 3.2 kA, fed by way A, generator off, motors off, conductors hot, reduced arcing current",
        "sampled, 4096 points",
        "mv_cable.screen_area",
        "screen_area: 16 mm2",
        "arcing current at 480 V",
        "IEEE 1584-2018 eq. (3) to (6)[V2]",
        "North American per unit (governs)",
        "IEC 60909-0:2016",
        "Outside the model, no result.",
        "no owner named",
        "maintenance planner",
        "largest boundary",
        "6.32 m (20 ft 9 in)",
        "working distance 610 mm",
        "to be signed by hand",
        "2026-03-02",
        "from memory, not seen",
    ],
)
def test_what_the_report_says_is_on_the_pages(phrase):
    """Verdicts, numbers, worst cases, missing entries, tables and registers are all in print."""
    assert pdf_text.squeezed(phrase) in pdf_text.whole(plain_document())


@pytest.mark.parametrize("phrase", FORBIDDEN)
def test_what_must_never_be_printed_is_not(phrase):
    """No page calls anything safe, gives a PPE category, or claims a mark or a conformity."""
    text = " ".join(" ".join(pdf_text.pages(plain_document())).split())
    assert not re.search(phrase, text, re.IGNORECASE if phrase.islower() else 0)


def test_no_energy_without_its_working_distance():
    """A place without working distance prints no energy."""
    text = pdf_text.whole(
        sample_document(operation={"places": {"main section": {"at": "bus"}, "feeder section": {"at": "bus"}}})
    )
    assert pdf_text.squeezed("no working distance") in text
    assert pdf_text.squeezed("61.9 cal/cm²") not in text


def test_same_input_same_bytes():
    """Two documents of one report are one and the same file."""
    assert sample_document() == plain_document()


@pytest.mark.parametrize("folder", ["/", str(HERE)])
def test_same_bytes_in_another_process_and_folder(folder):
    """Neither the process, its hash seed, its locale nor its folder reaches the bytes."""
    code = (
        f"import sys; sys.path.insert(0, {str(HERE)!r}); import hashlib; from sample_document import plain_document; "
        "print(hashlib.sha256(plain_document()).hexdigest())"
    )
    seed = "7" if folder == "/" else "8"
    environment = os.environ | {"PYTHONHASHSEED": seed, "LC_ALL": "C", "TZ": "Asia/Tokyo", "HOME": "/nowhere"}
    out = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, env=environment, capture_output=True, text=True, check=True
    )
    assert out.stdout.strip() == hashlib.sha256(plain_document()).hexdigest()


def test_without_a_date_of_issue_the_document_says_so():
    """No clock: a file without `issued` is dated 1970 inside and says so in print."""
    data = sample_document(issued=None)
    assert pdf_text.squeezed("date of issue not given") in pdf_text.whole(data)
    assert b"D:1970" in _metadata(data) or b"1970-01-01T00:00:00" in _metadata(data)


def test_all_times_in_the_document_are_the_date_of_issue():
    """Trap 9: date, attachment date and XMP dates are the places with time in them."""
    data = plain_document()
    assert set(re.findall(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", _metadata(data))) == {b"2026-03-02T00:00:00"}
    with pikepdf.open(BytesIO(data)) as pdf:
        dates = {str(pdf.attachments[name].get_file().obj.Params.ModDate) for name in pdf.attachments}
    assert dates == {"D:20260302000000Z"}


def test_the_document_names_itself_archivable_and_accessible():
    """XMP says PDF/A-3A and PDF/UA-1; the document is tagged and has its language and title."""
    data = plain_document()
    xmp = _metadata(data)
    assert re.search(rb"<pdfaid:part>3</pdfaid:part>", xmp)
    assert re.search(rb"<pdfaid:conformance>A</pdfaid:conformance>", xmp)
    assert re.search(rb"<pdfuaid:part>1</pdfuaid:part>", xmp)
    with pikepdf.open(BytesIO(data)) as pdf:
        assert str(pdf.Root.Lang) == "en"
        assert bool(pdf.Root.MarkInfo.Marked)
        assert "/OutputIntents" in pdf.Root


def test_the_files_are_attached_byte_for_byte():
    """Project file as Source, curves and result as Data, checksums as Supplement; each an associated file."""
    report = sample_report()
    with pikepdf.open(BytesIO(plain_document())) as pdf:
        found = {name: pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments}
        kinds = {str(file.UF): str(file.AFRelationship) for file in pdf.Root.AF}
    curve = "curves/bayonet-65.csv"
    assert found[report.project.name] == report.project.source
    assert found[curve] == report.project.files[curve]
    assert json.loads(found[RESULT]) == json.loads(canonical(to_json(report)))
    lines = [f"{hashlib.sha256(found[name]).hexdigest()}  {name}" for name in sorted(found) if name != CHECKSUMS]
    assert found[CHECKSUMS].decode().splitlines() == lines
    assert kinds == {report.project.name: "/Source", curve: "/Data", RESULT: "/Data", CHECKSUMS: "/Supplement"}


def test_the_checksums_are_printed():
    """The last sheet prints the digest of each attached file."""
    text = pdf_text.whole(plain_document())
    assert hashlib.sha256(sample_report().project.source).hexdigest() in text
    assert all(name in text for name in (RESULT, CHECKSUMS, "curves/bayonet-65.csv"))


@pytest.mark.parametrize(
    "title",
    [
        "#let x = 1",
        "$ integral_0^1 $",
        "back\\slash",
        "*bold* _under_",
        "@claim <label>",
        "`code` // not a comment",
        'quotes " and \' and #"text"',
        "= heading",
        "https://example.invalid/",
        '#panic("no")',
        "{{x}} %s {0}",
        "a -- b ... c",
        "</svg><script>",
    ],
)
def test_text_from_the_file_is_never_markup(title):
    """Whatever stands in the title, in a name of a feeder or of a place, comes out letter by letter."""
    board = dict(sample_report().project.unit.board)
    feeders = {title: board["feeders"]["compressors"]}
    data = sample_document(title=title, board=board | {"feeders": feeders})
    texts = pdf_text.pages(data)
    assert pdf_text.squeezed(title) in pdf_text.squeezed(texts[0])
    assert any(pdf_text.squeezed(f"Feeder {title}") in pdf_text.squeezed(text) for text in texts)


def test_characters_without_a_glyph_are_written_out_and_listed():
    """A title with characters that no font holds, or that turn the writing round, stays readable."""
    text = pdf_text.whole(sample_document(title="quay \u4e2d\u202eevil\u0007 \U0001f9ef"))
    assert "quay[U+4E2D][U+202E]evil[U+0007][U+1F9EF]" in text
    assert "U+0007,U+202E,U+4E2D,U+1F9EF" in text


def test_a_very_long_word_stays_on_the_page():
    """A word of 390 letters is broken, not run over the edge."""
    word = "W" * 390
    assert word in pdf_text.whole(sample_document(title=word))


def test_a_dossier_of_next_to_nothing():
    """A half-filled file still gives a dossier: only the slots that exist are drawn."""
    empty = dict.fromkeys(
        ("supply", "other_feed", "terminations", "mv_cable", "switch", "fuses", "transformer", "board")
    )
    empty |= dict.fromkeys(("standby_generator", "motors", "site", "operation"))
    report = sample_report(**empty)
    data = document(report, to_json(report), ())
    assert pdf_text.squeezed("What clears, and when") not in pdf_text.whole(data)
    assert "tobegiven" in pdf_text.whole(data)


def test_curves_outside_the_window_make_no_picture():
    """Devices that all act faster than the window leave the page out instead of stopping the dossier."""
    report, sample = sample_report(), sample_sheet()
    edge = sample.characteristics[2].edges[0]
    fast = replace(sample.characteristics[2], edges=(replace(edge, time=edge.time * 0 + 0.005),), banded=False)
    data = document(report, to_json(report), (replace(sample, characteristics=(fast,), spans=()),))
    assert pdf_text.squeezed("What clears, and when") not in pdf_text.whole(data)


def test_a_project_file_with_the_name_of_the_result_is_refused():
    """The dossier's own names are taken."""
    report = sample_report()
    project = report.project
    clash = replace(report, project=replace(project, name=RESULT))
    with pytest.raises(
        DossierError, match=r"^a file of the project is named 'result\.json'; a dossier needs that name for itself$"
    ):
        document(clash, {}, ())


def test_the_tagged_tables_have_headers_and_the_pictures_their_words():
    """Each table has header cells, and each picture has alternate text."""
    kinds: list[str] = []
    words: list[str] = []
    with pikepdf.open(BytesIO(plain_document())) as pdf:
        _walk(pdf.Root.StructTreeRoot, kinds, words)
    assert kinds.count("/TH") >= kinds.count("/Table") > 5
    assert kinds.count("/Figure") >= 2
    assert any("Single-line diagram of Gannet Quay cold store" in word for word in words)
    assert any("bolted 20.7 kA to 33.4 kA" in word.replace("\u00a0", " ") for word in words)


def _walk(node, kinds, words):
    kinds.append(str(node.get("/S", "")))
    if "/Alt" in node:
        words.append(str(node.Alt))
    children = node.get("/K", [])
    for child in children if isinstance(children, pikepdf.Array) else [children]:
        if isinstance(child, pikepdf.Dictionary):
            _walk(child, kinds, words)


def _metadata(data: bytes) -> bytes:
    with pikepdf.open(BytesIO(data)) as pdf:
        return bytes(pdf.Root.Metadata.read_bytes())


def test_a_hazard_begins_where_the_one_before_it_ends():
    """The last claim of one hazard and the first of the next share a sheet; none is left nearly empty for its title."""
    claims = [page for page in pdf_text.pages(plain_document())[3:] if "What clears, and when" not in page]
    assert any("SC-09" in page and "AE-01" in page and "Attached files" not in page for page in claims)
