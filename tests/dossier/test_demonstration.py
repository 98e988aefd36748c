"""Dossier: every unit of the examples, from its file to a dossier that checks itself."""

from __future__ import annotations

import json
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

EXAMPLES = Path(__file__).parents[2] / "examples"
FILES = sorted(EXAMPLES.glob("*/*.yaml"))


LONG = [pytest.param(file, marks=() if file.stem == "repaired" else pytest.mark.long) for file in FILES]


@pytest.fixture(scope="module", name="report", params=LONG, ids=lambda file: f"{file.parent.name}-{file.stem}")
def _report(request):
    return check(load(request.param))


@pytest.fixture(scope="module", name="dossier")
def _dossier(report, tmp_path_factory):
    return write_dossier(report, tmp_path_factory.mktemp("dossier") / "unit.pdf")


@pytest.fixture(scope="module", name="pages")
def _pages(dossier):
    return pdf_text.pages(dossier.read_bytes())


def test_the_examples_are_there():
    """No example, no test."""
    assert len(FILES) >= 2


@pytest.mark.long
def test_the_dossier_checks_itself(dossier, report):
    """Its own files give its own result again."""
    found = recheck(dossier)
    assert found.differences == ()
    assert found.claims == len(report.claims)


def test_the_files_and_the_result_are_inside(dossier, report):
    """The project, every file it names, byte for byte, and what `check` gives to machines."""
    files = attached(dossier)
    assert files[report.project.name] == report.project.source
    assert {name: files[name] for name in report.project.files} == dict(report.project.files)
    assert json.loads(files["result.json"]) == json.loads(json.dumps(to_json(report)))


@pytest.mark.long
def test_same_report_same_bytes(dossier, report):
    """Written twice: one file."""
    assert dossier_bytes(report) == dossier.read_bytes()


def test_every_claim_point_place_and_assumption_is_in_print(pages, report):
    """Nothing of the check is left out."""
    text = pdf_text.squeezed("".join(pages))
    for words in (
        *(claim.id for claim in report.claims),
        *(row.point for row in report.faults),
        *(place.place for place in report.arcs),
        *(assumption.key for assumption in report.assumptions),
        *(entry.path for claim in report.claims for entry in claim.missing),
    ):
        assert pdf_text.squeezed(words) in text


def test_what_must_never_be_printed_is_not(pages):
    """The rules on words hold for the real claims too."""
    text = " ".join(" ".join(pages).split())
    for phrase in (
        r"\bsafe\b(?! side)",
        r"no hazard",
        r"zero risk",
        r"arc-proof",
        r"\bcompliant\b",
        r"PPE categor",
        r"PPE adequate",
    ):
        assert not re.search(phrase, text), phrase


def test_every_page_says_that_invented_data_are_a_demonstration(pages, report):
    """On each sheet, and only where it is so."""
    band = pdf_text.squeezed("demonstration data - not for construction")
    assert {band in pdf_text.squeezed(page) for page in pages} == {report.project.demonstration}


def test_a_changed_number_in_the_attached_file_is_found_out(dossier, report, tmp_path):
    """A larger fault current in the attached file: the checksum fails, and the claims it moves are named."""
    entry, unit, scale = next(
        (name, unit, scale)
        for name, unit, scale in (("fault_current", "kA", 1e3), ("fault_power", "MVA", 1e6))
        if report.project.text(f"supply.{name}") is not None
    )
    given = report.project.text(f"supply.{entry}")
    larger = f"{2 * report.project.quantities[f'supply.{entry}'].high / scale:g} {unit}"
    path = tmp_path / "forged.pdf"
    with pikepdf.open(dossier) as pdf:
        stream = pdf.attachments[report.project.name].get_file().obj
        stream.write(stream.read_bytes().replace(f"{entry}: {given}".encode(), f"{entry}: {larger}".encode(), 1))
        pdf.save(path)
    differences = recheck(path).differences
    assert differences[0] == f"{report.project.name}: the attached file was altered; its checksum is not the listed one"
    assert any(": value was " in difference for difference in differences)


@pytest.mark.long
def test_no_lettering_of_the_station_or_of_access_is_smaller_than_seven_points(dossier):
    """The station, and every page from what hands can do to the end, text and pictures, as it stands on the paper."""
    data = dossier.read_bytes()
    titles = [re.sub(r"\s", "", page) for page in pdf_text.pages(data)]
    station = next(n for n, words in enumerate(titles) if "Thestation" in words and "Composedsymbols" in words)
    hands = next(n for n, words in enumerate(titles) if "Everystate" in words or "Nothingwasexamined" in words)
    small = [
        (number + 1, round(size, 2), words)
        for number, runs in enumerate(pdf_text.sizes(data))
        for size, words in runs
        if (number == station or number >= hands) and size < 6.995 and words.strip()
    ]
    assert small == []
