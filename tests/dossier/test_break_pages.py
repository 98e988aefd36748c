"""Dossier: the pages about break points say what was proved, and a re-check finds them again."""

from __future__ import annotations

import copy
import json
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import jsonschema
import pdf_text
import pikepdf
import pytest
from sample_document import plain_document
from sample_report import sample_report

from deadfront.claims.breaking import Move, Reaches, Witness
from deadfront.claims.proving import QUICK
from deadfront.claims.reach_objects import break_points_object
from deadfront.claims.report import to_json
from deadfront.claims.schema import break_points_schema
from deadfront.cli import main
from deadfront.dossier.break_pages import HOW_TO, break_pages
from deadfront.dossier.break_picture import ranking_picture
from deadfront.dossier.document import BREAKS, document
from deadfront.dossier.errors import DossierError
from deadfront.dossier.recheck_breaks import break_differences, compare_breaks
from deadfront.intervals import Effort
from deadfront.project.quantities import Quantity
from deadfront.project.reading import load

GULL = Path(__file__).parents[2] / "examples" / "gull-rock" / "unit.yaml"
CURRENT = Quantity(3200.0, 6500.0, 9800.0, "3.2 .. 9.8 kA", "current")
RATIO = Quantity(6.0, 10.0, 14.0, "6 .. 14", "number")
LENGTH = Quantity(170.0, 180.0, 190.0, "170 .. 190 m", "length")
WITNESS = Witness({"supply.fault_current": 12719.0}, -0.01, "Cable screen", "generator off")


def move(path, quantity, direction, reach, flip, *, close=True):
    """A move outward from an end of a range."""
    start = quantity.high if direction == "up" else quantity.low
    limit = 3.0 * start if direction == "up" else start / 3.0
    share = abs(reach - start) / (quantity.high - quantity.low)
    witness = None if flip is None else WITNESS
    return Move(path, quantity.dimension, direction, start, limit, reach, flip, witness, share, close)


def found():
    """Three claims: one shown that flips, is undecided and holds; one refuted that a range may mend; one open."""
    claims = {claim.verdict: claim for claim in sample_report().claims}
    ranges = {"supply.fault_current": CURRENT, "supply.x_over_r": RATIO, "mv_cable.length": LENGTH}
    shown = (
        move("supply.fault_current", CURRENT, "down", 3200.0 / 3.0, None),
        move("supply.fault_current", CURRENT, "up", 12582.6, 12719.0),
        move("supply.x_over_r", RATIO, "up", 20.0, None, close=False),
        move("mv_cable.length", LENGTH, "down", 170.0 / 3.0, None),
        move("mv_cable.length", LENGTH, "up", 570.0, None),
    )
    mended = Move("supply.fault_current", "current", "up", 3200.0, 9800.0, 8000.0, 8010.0, WITNESS, 0.72, True)
    return [
        Reaches(claims["shown"], ranges, shown, {}),
        Reaches(claims["refuted"], {"supply.fault_current": CURRENT, "mv_cable.length": LENGTH}, (mended,), {}),
        Reaches(claims["open"], {}, (), {}),
    ]


def with_breaks():
    """The sample with these break points, as PDF."""
    report, reaches = sample_report(), found()
    breaks = break_pages(reaches, break_points_object(report.project, reaches, Effort()))
    return document(report, to_json(report), (), breaks=breaks)


def test_a_row_says_what_holds_each_way_and_what_fails():
    """What flips or is undecided stands in rows, nearest first; what holds to the end of the search in a sentence."""
    pages = break_pages(found(), {}).texts
    shown, refuted = pages["claims"]
    assert [row["range"] for row in shown["rows"]] == ["supply fault current", "supply x over r"]
    assert shown["rows"][0] == {
        "range": "supply fault current",
        "given": "3.2 .. 9.8 kA",
        "down": "holds to 1.07 kA",
        "up": "holds to 12.5 kA; fails at 12.7 kA",
        "fails": "up: Cable screen, generator off",
    }
    assert shown["rows"][1]["up"] == "holds to 20; undecided beyond"
    assert shown["whole"] == "mv cable length (holds to 56.67 m and holds to 570.00 m)"
    assert refuted["rows"][0]["up"] == "from 3.20 kA holds to 8.00 kA; fails at 8.01 kA"
    assert (len(refuted["rows"]), refuted["useless"]) == (1, "mv cable length")
    assert pages["others"].endswith("(open)")


def test_the_ranking_holds_what_flips_or_is_undecided_nearest_first():
    """The range that may move least stands first; what holds to the end of the search is left out."""
    picture = ranking_picture(found())
    claim = found()[0].claim.id
    words = f"Ranges that may move least, first to last: {claim} supply fault current; {claim} supply x over r."
    assert picture.alternate == words
    assert ranking_picture(found()[1:]) is None
    assert ranking_picture(found()).svg == picture.svg


def test_the_document_has_the_pages_and_carries_the_object():
    """The section, its picture and the attached object; the same bytes twice; the other files as without it."""
    data = with_breaks()
    assert data == with_breaks()
    text = pdf_text.whole(data)
    assert "Whatwouldflipeachclaim" in text
    assert pdf_text.squeezed("holds to 12.5 kA; fails at 12.7 kA") in text
    assert pdf_text.squeezed(HOW_TO) not in text
    with pikepdf.open(BytesIO(data)) as one, pikepdf.open(BytesIO(plain_document())) as two:
        names = set(one.attachments)
        assert names - set(two.attachments) == {BREAKS}
        for name in set(two.attachments) - {"checksums.txt"}:
            assert one.attachments[name].get_file().read_bytes() == two.attachments[name].get_file().read_bytes()
        plain = json.loads(one.attachments[BREAKS].get_file().read_bytes())
    jsonschema.Draft202012Validator(break_points_schema()).validate(plain)


def test_a_document_without_them_says_how_to_get_them():
    """One sentence, and no empty section."""
    text = pdf_text.whole(plain_document())
    assert pdf_text.squeezed(HOW_TO) in text
    assert "Whatwouldflipeachclaim" not in text


@pytest.mark.long
def test_the_command_writes_the_pages_and_a_recheck_finds_them_again(tmp_path, capsys):
    """The whole way on the small unit, of which one claim is refuted and can be mended."""
    target = tmp_path / "unit.pdf"
    assert main(["dossier", str(GULL), "--break-points", "-o", str(target)]) == 0
    assert "Whatwouldflipeachclaim" in pdf_text.whole(target.read_bytes())
    capsys.readouterr()
    assert main(["recheck", str(target)]) == 0
    said = capsys.readouterr().out
    assert re.search(r"\d+ claims with their break points and \d+ sheets, no difference\n$", said)


def test_break_points_do_not_go_with_the_sheets_of_the_crew(capsys):
    """Refused before anything is computed."""
    assert main(["dossier", str(GULL), "--break-points", "--part", "procedures"]) == 2
    expected = "deadfront: --break-points goes with the whole dossier, not with --part procedures\n"
    assert capsys.readouterr().err == expected


@pytest.fixture(scope="module")
def carried():
    """The break points of the small unit as one object."""
    from deadfront.library import break_points

    project = load(GULL)
    return break_points_object(project, break_points(project), replace(Effort(), budget=1200, tolerance=0.01))


def altered(carried, change):
    """The carried object with a change of its first move."""
    plain = copy.deepcopy(carried)
    change(next(move for claim in plain["claims"] for one in claim["ranges"] for move in one["moves"]))
    return plain


def test_a_place_that_was_altered_is_found_out(carried):
    """A reach beyond what the search leaves open, another status, a flip that is gone."""
    project = load(GULL)
    assert break_differences(GULL, json.dumps(carried).encode(), project, QUICK)[0] == []

    def longer(move):
        move["holds_to"]["value"] += 0.5 * (move["search_end"] - move["start"])

    ((words,), _) = break_differences(GULL, json.dumps(altered(carried, longer)).encode(), project, QUICK)
    assert words.startswith("break points: SC-02: ")
    assert "holds to was " in words
    (words,) = compare_breaks(altered(carried, lambda move: move.update(status="proved")), carried)
    assert words.endswith("status was 'proved', is now 'flips'")
    (words,) = compare_breaks(altered(carried, lambda move: move.update(fails_at=None)), carried)
    assert "fails at was None, is now " in words


def test_what_the_search_leaves_open_is_no_difference(carried):
    """A reach within the tolerance of the search on either side is the same."""

    def nearer(move):
        move["holds_to"]["value"] -= 0.015 * (move["search_end"] - move["start"])

    assert compare_breaks(altered(carried, nearer), carried) == []


def test_a_move_more_or_less_is_a_difference(carried):
    """Named with claim, range and direction."""
    less = copy.deepcopy(carried)
    for claim in less["claims"]:
        claim["ranges"] = []
    assert all(words.endswith("found now, but not in the dossier") for words in compare_breaks(less, carried))
    assert all(words.endswith("in the dossier, but no longer found") for words in compare_breaks(carried, less))
    assert len(compare_breaks(less, carried)) == len(compare_breaks(carried, less)) > 0


@pytest.mark.parametrize("damaged", [b"", b"[]", b'{"claims": 3}', b'{"claims": [], "effort": {}}', b"\xff"])
def test_damaged_break_points_are_refused(damaged):
    """One sentence that names the file."""
    with pytest.raises(DossierError, match=r"break-points\.json: expected break points of claims, found damaged text$"):
        break_differences(GULL, damaged, load(GULL), QUICK)
