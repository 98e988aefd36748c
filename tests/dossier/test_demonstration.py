"""Dossier: the demonstration unit, from its file to a dossier that checks itself."""

from __future__ import annotations

import re
from pathlib import Path

import pdf_text
import pikepdf
import pytest

from deadfront.claims.report import check, to_json
from deadfront.dossier.assembly import dossier_bytes
from deadfront.dossier.files import attached, write_dossier
from deadfront.dossier.recheck import recheck
from deadfront.project.reading import load

FILE = Path(__file__).parents[2] / "examples" / "kestrel-point" / "unit.yaml"

pytestmark = pytest.mark.filterwarnings("ignore::RuntimeWarning")


@pytest.fixture(scope="module", name="report")
def _report():
    return check(load(FILE))


@pytest.fixture(scope="module", name="dossier")
def _dossier(report, tmp_path_factory):
    return write_dossier(report, tmp_path_factory.mktemp("dossier") / "kestrel-point.pdf")


def test_the_dossier_checks_itself(dossier, report):
    """Its own files give its own result again."""
    found = recheck(dossier)
    assert found.differences == ()
    assert found.claims == len(report.claims)


def test_a_changed_number_in_the_attached_file_is_found_out(dossier, tmp_path):
    """A larger fault current in the attached file: the checksum fails, and the claims it moves are named."""
    path = tmp_path / "forged.pdf"
    with pikepdf.open(dossier) as pdf:
        stream = pdf.attachments["unit.yaml"].get_file().obj
        stream.write(stream.read_bytes().replace(b"3.2 .. 9.8 kA", b"3.2 .. 11.8 kA"))
        pdf.save(path)
    differences = recheck(path).differences
    assert differences[0] == "unit.yaml: the attached file was altered; its checksum is not the listed one"
    assert any(re.match(r"SC-01: value was ", difference) for difference in differences)


def test_the_files_of_the_folder_are_inside(dossier):
    """Every file the project names is attached byte for byte."""
    files = attached(dossier)
    assert files["unit.yaml"] == FILE.read_bytes()
    for name in ("curves/link-d40.csv", "curves/limiter-80.csv", "cables.csv"):
        assert files[name] == (FILE.parent / name).read_bytes()


def test_same_report_same_bytes(dossier, report):
    """Written twice, and checked twice: one file."""
    assert dossier_bytes(report) == dossier.read_bytes()
    assert dossier_bytes(check(load(FILE))) == dossier.read_bytes()


def test_every_claim_stands_with_its_verdict_and_sentence(dossier, report):
    """Nothing of the check is left out of print."""
    text = pdf_text.whole(dossier.read_bytes())
    for claim in report.claims:
        assert claim.id in text
        assert pdf_text.squeezed(claim.sentence) in text
    for row in {row.point for row in report.faults}:
        assert pdf_text.squeezed(row) in text
    for place in report.arcs:
        assert pdf_text.squeezed(place.place) in text
    for assumption in report.assumptions:
        assert pdf_text.squeezed(assumption.text.replace(" ohm", "")) in text


def test_what_must_never_be_printed_is_not(dossier):
    """The rules on words hold for the real claims too."""
    text = " ".join(" ".join(pdf_text.pages(dossier.read_bytes())).split())
    for phrase in (
        r"\bsafe\b",
        r"no hazard",
        r"zero risk",
        r"arc-proof",
        r"\bcompliant\b",
        r"PPE categor",
        r"PPE adequate",
    ):
        assert not re.search(phrase, text), phrase


def test_every_page_says_that_the_data_are_a_demonstration(dossier):
    """Invented data, on each sheet."""
    band = pdf_text.squeezed("demonstration data - not for construction")
    assert all(band in pdf_text.squeezed(page) for page in pdf_text.pages(dossier.read_bytes()))


def test_the_result_inside_is_the_result_of_the_check(dossier, report):
    """The attached object is what `check` gives to machines."""
    import json

    assert json.loads(attached(dossier)["result.json"]) == json.loads(json.dumps(to_json(report)))
