"""Dossier: the crew's sheets of every demonstration in print: number of pages, size of type, what each row holds."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path

import pdf_text
import pikepdf
import pytest

from deadfront.claims.proving import QUICK
from deadfront.claims.report import Report, subject_of
from deadfront.claims.sampling import walks
from deadfront.dossier import document as documents
from deadfront.dossier.access_pages import access
from deadfront.project.reading import load
from deadfront.study.tables import arc_places

ROOT = Path(__file__).parents[2]
STARTERS = ROOT / "src" / "deadfront" / "project" / "templates"
FILES = [
    ROOT / "examples" / "kestrel-point" / "unit.yaml",
    ROOT / "examples" / "kestrel-point" / "repaired.yaml",
    ROOT / "examples" / "tarn-edge" / "unit.yaml",
    *sorted((ROOT / "examples" / "access" / "heron-quay").glob("*.yaml")),
    STARTERS / "iec" / "starter.yaml",
    STARTERS / "north-american" / "starter.yaml",
]
LONG = [pytest.param(f, marks=() if f.stem in ("repaired", "key-exchange") else pytest.mark.long) for f in FILES]
PAPERS = ("us-letter", "a4")
MOST_STEPS, MOST_PAGES = 16, 2
"""A task of so many steps there is on so many pages, its way back to service included."""
HEADED = "verifybeforethenextstep"
"""Stands at the head of the table of steps, on each of its pages."""


@cache
def report(file):
    """A report with the arcs at the places of work and no claim: what the sheets are made of."""
    project = load(file)
    subject = subject_of(project)
    arcs = arc_places(*walks(subject, lambda walk_at, points: arc_places(walk_at, points[:1])))
    return Report(project, subject.station, subject, (), (), arcs, (), "0", QUICK)


@cache
def tasks(file):
    """The texts of its sheets."""
    return access(report(file), only_sheets=True)[0]["tasks"]


@pytest.fixture(name="sheets", params=LONG, ids=lambda file: f"{file.parent.name}-{file.stem}", scope="module")
def _sheets(request):
    return request.param


@cache
def printed(file, paper):
    """The sheets of a unit on a paper, whatever its practice."""
    kept = dict(documents._PAPER)
    documents._PAPER.update(dict.fromkeys(kept, paper))
    try:
        return documents.document(report(file), {}, (), "procedures")
    finally:
        documents._PAPER.update(kept)


@cache
def pages_of(file, paper):
    """Their print, page by page, without spaces."""
    return [pdf_text.squeezed(page) for page in pdf_text.pages(printed(file, paper))]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_task_is_one_or_two_pages_there_and_back(sheets, paper):
    """Counted by the heads of the tables; the first page says the same number."""
    pages = pages_of(sheets, paper)
    headed = [number for number, page in enumerate(pages) if HEADED in page]
    first = [n for n, page in enumerate(pages) if re.search(r"\d+stepsthere,\d+backtoservice", page)]
    assert len(first) == len([task for task in tasks(sheets) if task["way"]]) > 0
    for number, task, following in zip(first, tasks(sheets), [*first[1:], len(pages)], strict=True):
        taken = len([n for n in headed if number <= n < following])
        said = re.search(r"backtoservice,on(thispage|\d+)", pages[number])
        assert said is not None
        assert taken == (1 if said[1] == "thispage" else int(said[1])), task["name"]
        assert len(task["steps"]) <= MOST_STEPS
        assert taken <= MOST_PAGES, (task["name"], paper)


def pieces(data: bytes) -> Iterator[tuple[int, float, str]]:
    """Page, size of type and text of every run that stands on a page itself; what is in a picture is scaled."""
    with pikepdf.open(BytesIO(data)) as pdf:
        for number, page in enumerate(pdf.pages):
            fonts = {name: pdf_text._character_map(font) for name, font in page.Resources.Font.items()}
            current, size, scales = {}, 0.0, [1.0]
            for operands, operator in pikepdf.parse_content_stream(page):
                match str(operator):
                    case "q":
                        scales.append(scales[-1])
                    case "Q":
                        scales.pop()
                    case "cm":
                        a, b, c, d = (float(number) for number in operands[:4])
                        scales[-1] *= abs(a * d - b * c)
                    case "Tf":
                        current, size = fonts[str(operands[0])], float(operands[1])
                    case "TJ" | "Tj" if abs(scales[-1] - 1.0) < 1e-3:
                        parts = operands if str(operator) == "Tj" else operands[0]
                        runs = (bytes(part) for part in parts if isinstance(part, pikepdf.String))
                        yield number, size, "".join(pdf_text._decoded(run, current) for run in runs)


def test_type_is_large_enough_for_a_head_lamp(sheets):
    """Actions 13 pt, what is verified 10 pt, nothing below 8.5 pt but the edges of the page."""
    data = printed(sheets, "us-letter")
    headed = {n for n, page in enumerate(pages_of(sheets, "us-letter")) if HEADED in page}
    found = [(size, pdf_text.squeezed(text)) for page, size, text in pieces(data) if page in headed]
    edges = report(sheets).project.unit.title, "sheet", "DF-", "Supports, and does not replace"
    for size, text in found:
        if not any(pdf_text.squeezed(edge) in text or text in pdf_text.squeezed(edge) for edge in edges):
            assert size >= 8.5, text
    for least, part in ((13.0, "action"), (10.0, "verified")):
        large = "".join(text for size, text in found if size >= least)
        for task in tasks(sheets):
            for step in (*task["steps"], *task["back"]):
                for word in step[part].split():
                    assert word in large, (part, step[part])


def test_every_row_holds_what_a_crew_must_know(sheets):
    """Action, verification, where to stand or a blank in the head, reason, where it stops, how to break off."""
    text = "".join(pages_of(sheets, "a4"))
    for task in tasks(sheets):
        for name in task["blanks"]:
            assert pdf_text.squeezed(name) in text
        for step in (*task["steps"], *task["back"]):
            whole = [step[part] for part in ("action", "verified", "turn", "doors", "why", "near", "away")]
            for words in (*whole, *step["stand"], *step["noticed"], *step["beware"], *step["never"]):
                assert pdf_text.squeezed(words) in text, (task["name"], step["number"], words)
            for hold in step["holds"]:
                assert pdf_text.squeezed(hold["id"] + hold["words"]) in text


def test_each_point_has_a_mark_in_each_row(sheets):
    """As many marks as points, each of letters that the legend explains; in print all of them, and the legend's."""
    expected = Counter()
    for task in tasks(sheets):
        explained = {row["letter"] for row in task["letters"]}
        for row in (task["outset"], *(step["marks"] for step in (*task["steps"], *task["back"]))):
            assert len(row) == len(task["points"])
            assert {letter for mark in row for letter in mark["letters"]} <= explained
            expected.update(mark["letters"] for mark in row)
    pages = pages_of(sheets, "us-letter")
    starts = [n for n, page in enumerate(pages) if re.search(r"\d+stepsthere,", page)]
    for n, page in enumerate(pages):
        if HEADED in page:
            task = tasks(sheets)[sum(start <= n for start in starts) - 1]
            expected.update(row["letter"] for row in task["letters"])
    found = Counter(text for _, size, text in pieces(printed(sheets, "us-letter")) if size in (8.6, 9.5))
    assert {letters: found[letters] for letters in expected} == dict(expected)


def test_demonstrations_leave_no_blank_about_handling():
    """Those that show how it is done say for every device where to stand; the others leave it to a hand, and say so."""
    blank = {f"{file.parent.name}/{file.stem}" for file in FILES if any(task["blanks"] for task in tasks(file))}
    assert not blank & {"kestrel-point/repaired", "tarn-edge/unit", "iec/starter", "north-american/starter"}
    assert "kestrel-point/unit" in blank


def test_a_place_of_work_that_a_task_does_not_come_near_is_left_out():
    """Tarn Edge: nobody who isolates cable B stands at the low-voltage board; who works behind its door does."""
    named = {task["name"]: [row["name"] for row in task["places"]] for task in tasks(FILES[2])}
    assert named["Isolate and earth cable B"] == []
    assert "bus section" in named["Work behind LV door"]
    assert not any("crusher terminal box" in names for names in named.values())
