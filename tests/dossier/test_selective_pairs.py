"""Dossier: selectivity stands pair by pair, its range never printed wider and its margin never larger than it is."""

from __future__ import annotations

from io import BytesIO
from types import SimpleNamespace as Row

import pdf_text
import pikepdf
import pytest
from sample_report import sample_report

from deadfront.claims.model import SelectiveRange
from deadfront.claims.report import to_json
from deadfront.dossier.document import document
from deadfront.dossier.selective_pairs import selective_pairs


def one(**changes) -> SelectiveRange:
    """A pair that is selective throughout, 1004 A to 10.06 kA, 79.69 ms to spare at 8.041 kA."""
    whole = {
        "smallest": 1004.0,
        "largest": 10060.0,
        "up_to": 10060.0,
        "from_on": 1004.0,
        "tightest": 0.07969,
        "tightest_at": 8041.0,
        "words": "",
    }
    return SelectiveRange(**(whole | changes))


def claim(*ranges: SelectiveRange | None, name: str = "CO-03"):
    """A claim with one detail for each range."""
    details = tuple(Row(subject=f"pair {number}", selective=each) for number, each in enumerate(ranges))
    return Row(id=name, verdict="shown", sentence="Each feeder clears first.", details=details)


def row(selective: SelectiveRange):
    """The one row of a table of one pair."""
    ((found,),) = [group["pairs"] for group in selective_pairs([claim(selective)])]
    return found


def test_the_range_goes_outwards_and_the_margin_down():
    """Three digits: 1004 A down, 10.06 kA up, 79.69 ms down."""
    found = row(one())
    assert found["looked"] == "1.00\u00a0kA to 10.1\u00a0kA"
    assert (found["selective"], found["tightest"], found["at"]) == ("throughout", "79\u00a0ms", "8.04\u00a0kA")
    assert found["parts"] == [[0.0, 1.0]] == [found["bar"]]


@pytest.mark.parametrize(
    ("up_to", "from_on", "words", "parts"),
    [
        (2345.0, None, "up to 2.34\u00a0kA", 1),
        (None, 2345.0, "from 2.35\u00a0kA on", 1),
        (1999.0, 5001.0, "up to 1.99\u00a0kA and from 5.01\u00a0kA on", 2),
        (None, None, "at neither end", 0),
    ],
)
def test_a_part_of_the_range_is_printed_no_wider_than_it_is(up_to, from_on, words, parts):
    """What is selective goes inwards: up to a current down, from a current up."""
    found = row(one(up_to=up_to, from_on=from_on, tightest=-0.0101))
    assert found["selective"] == words
    assert len(found["parts"]) == parts
    assert found["tightest"] == "\u221211\u00a0ms"


def test_without_a_margin_it_says_why():
    """Either the device behind never acts, or the nearer one does not clear."""
    assert row(one(tightest=None))["tightest"] == "the device behind never acts"
    assert row(one(tightest=None, up_to=None, from_on=None))["tightest"] == "the nearer device does not clear"


def test_bars_of_one_claim_share_a_logarithmic_scale():
    """1 to 100 A: a pair over 10 to 100 A fills the right half."""
    wide, narrow = one(smallest=1.0, largest=100.0), one(smallest=10.0, largest=100.0)
    (group,) = selective_pairs([claim(wide, narrow, None)])
    assert [each["bar"] for each in group["pairs"]] == [[0.0, 1.0], [0.5, 1.0]]


def test_claims_stand_in_order_and_those_without_pairs_not_at_all():
    """By identifier; a claim whose details state no range is left out."""
    found = selective_pairs([claim(one(), name="CO-02"), claim(None, name="AE-01"), claim(one(), name="CO-01")])
    assert [group["id"] for group in found] == ["CO-01", "CO-02"]


def test_the_page_is_there_only_with_pairs(monkeypatch):
    """The sample has none; with one its table is set, with header cells."""
    from deadfront.dossier import document as module

    report = sample_report()
    assert "Selectivity,pairbypair" not in pdf_text.whole(document(report, to_json(report), ()))
    monkeypatch.setattr(module, "selective_pairs", lambda _claims: selective_pairs([claim(one())]))
    data = document(report, to_json(report), ())
    assert "Selectivity,pairbypair" in pdf_text.whole(data)
    with pikepdf.open(BytesIO(data)) as pdf:
        assert len(pdf.pages) > 1
