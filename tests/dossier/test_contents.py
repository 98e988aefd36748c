"""Dossier: the texts of the pages, before they are set."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from sample_report import WARM, sample_claims, sample_faults, sample_report

from deadfront.claims.model import Detail
from deadfront.dossier import result_tables, wording
from deadfront.dossier.access_pages import access
from deadfront.dossier.claim_sheets import counts, formula, index, sheet, worst_first
from deadfront.dossier.contents import contents, identification

NUMBERS = {"conductor-temperature": "A1", "motor.x-over-r": "A2"}
GOLDEN = Path(__file__).parent / "contents.json"


def pages(**changes):
    """Every text of the sample's dossier."""
    report = sample_report(**changes)
    return contents(report, {report.project.name: report.project.source}, access(report)[0])


def test_the_texts_of_the_sample_are_the_kept_ones():
    """Golden: a change of any printed text is seen and kept on purpose (the new ones go to contents.json)."""
    found = pages()
    found["tables"] = {"count": "0", "sha256": "depends on the tables"}
    assert json.loads(json.dumps(found)) == json.loads(GOLDEN.read_text(encoding="utf-8"))


def test_refuted_comes_first_and_worst_margin_leads():
    """The reader sees first what fails, and of that the worst."""
    claims = sample_claims()
    worse = replace(claims[3], id="AE-09", margin=-2.0)
    endless = replace(claims[3], id="AE-10", margin=-math.inf)
    assert [row["id"] for row in worst_first([*claims, worse, endless], "refuted")] == ["AE-10", "AE-09", "AE-02"]
    assert [row["verdict"] for row in counts(claims)] == ["refuted", "open", "shown", "not applicable"]
    assert [row["count"] for row in counts(claims)] == [1, 1, 2, 1]
    assert [row["id"] for row in index(claims)] == ["AE-02", "SC-07", "AE-01", "SC-03", "SC-09"]


def test_the_cover_names_two_missing_entries_and_counts_the_rest():
    """A long list does not push the cautions off the cover; the register has every entry."""
    claim = sample_claims()[1]
    entry = claim.missing[0]
    many = replace(claim, missing=tuple(replace(entry, path=f"mv_cable.{name}") for name in ("a", "b", "c", "d")))
    assert worst_first([many], "open")[0]["why"] == (
        "The file does not give the cross-section of the screen. "
        "Missing: mv_cable.a, mv_cable.b and 2 more, see the open items."
    )
    assert worst_first([claim], "open")[0]["why"].endswith("Missing: mv_cable.screen_area.")


def test_a_claim_names_its_assumptions_by_their_number():
    """The number leads to the register, where source and owner stand."""
    found = sheet(sample_claims()[0], NUMBERS)["assumptions"]
    assert [(row["number"], row["text"]) for row in found][1] == ("A2", WARM.text)


def test_an_endless_value_is_said_and_has_no_margin():
    """A fault that nothing clears: no number pretends to be one."""
    claim = replace(sample_claims()[3], value=math.inf, margin=-math.inf)
    texts = [entry["text"] for entry in sheet(claim, NUMBERS)["figures"]]
    assert texts == ["unlimited", "40.0\u00a0cal/cm²", "none"]
    clearing = replace(claim, value=math.inf, limit=1.0, unit="s")
    assert [entry["text"] for entry in sheet(clearing, NUMBERS)["figures"]] == ["never", "1.00\u00a0s", "none"]


def test_a_count_against_none_has_no_share_of_a_limit():
    """A limit of zero gives no share; the margin is left out rather than divided."""
    claim = replace(sample_claims()[0], value=4.0, limit=0.0, unit="1", margin=-4.0, verdict="open")
    assert [entry["label"] for entry in sheet(claim, NUMBERS)["figures"]] == ["value", "limit"]
    assert index([claim])[0]["margin"] == ""


def test_a_value_without_a_limit_stands_alone():
    """A number that is only reported has neither limit nor margin."""
    claim = replace(sample_claims()[0], limit=None, margin=None)
    assert sheet(claim, NUMBERS)["figures"] == [{"label": "value", "text": "9.62\u00a0kA", "second": ""}]


def test_subjects_stand_worst_first_and_outside_the_model_before_all():
    """NaN is never the best."""
    rows = (
        Detail("good", 1.0, 2.0, "A", 0.5, ""),
        Detail("none", math.nan, 2.0, "A", math.nan, ""),
        Detail("bad", 3.0, 2.0, "A", -0.5, ""),
    )
    found = sheet(replace(sample_claims()[0], details=rows), NUMBERS)["details"]
    assert [(row["subject"], row["value"]) for row in found] == [
        ("none", "outside the model"),
        ("bad", "3.00\u00a0A"),
        ("good", "1.00\u00a0A"),
    ]


def test_the_worst_case_names_each_input_once():
    """What is listed beside the words is not in them a second time."""
    claim = sample_claims()[3]
    words = "supply fault current 3.2 kA, supply x over r 6; " + claim.worst_case.words
    found = sheet(replace(claim, worst_case=replace(claim.worst_case, words=words)), NUMBERS)
    assert found["worst"] == claim.worst_case.words.replace("3.2 kA", "3.2\u00a0kA")
    assert found["inputs"] == [
        {"path": "supply.fault_current", "text": "3.2\u00a0kA"},
        {"path": "supply.x_over_r", "text": "6"},
    ]


@pytest.mark.parametrize(
    ("plain", "written"),
    [
        ("c U / (sqrt(3) |Z1|)", "c U / (√(3) |Z1|)"),
        ("1 x 600 V / (1.732 x 14.31 mohm)", "1 × 600\u00a0V / (1.732 × 14.31\u00a0mΩ)"),
        ("sqrt(2) I (1 + e^(-2 pi tau / (X/R)))", "√(2) I (1 + e^(\u22122 π τ / (X/R)))"),
        ("I2t <= k^2 S^2", "I²t <= k² S²"),
        ("max x-ray", "max x-ray"),
    ],
)
def test_formulas_are_written_as_by_hand(plain, written):
    """Roots, Greek letters, squares and times; words are left alone."""
    assert formula(plain) == written


def test_the_assumption_register_names_claims_and_owner():
    """Each assumption once, with what rests on it and who confirms it."""
    rows = pages()["assumptions"]
    assert [(row["number"], row["key"], row["owner"], row["claims"]) for row in rows] == [
        ("A1", "conductor-temperature", wording.NO_OWNER, "SC-03, SC-07"),
        ("A2", "motor.x-over-r", "maintenance planner", "AE-01, AE-02, SC-03"),
    ]
    assert rows[1]["text"] == WARM.text


def test_open_items_are_entries_first_then_what_was_not_decided():
    """Each missing entry once with the claims that wait; an undecided claim by its reason."""
    report = sample_report()
    undecided = replace(report.claims[0], verdict="open", reason="Undecided, margin at least -0.2 %.", missing=())
    same = replace(report.claims[1], id="SC-08")
    changed = replace(report, claims=(*report.claims[1:], undecided, same))
    rows = contents(changed, {}, {})["open_items"]
    assert [(row["number"], row["path"], row["claims"]) for row in rows] == [
        ("O1", "mv_cable.screen_area", "SC-07, SC-08"),
        ("O2", "", "SC-03"),
    ]


def test_both_methods_stand_side_by_side_and_one_governs():
    """Never mixed: each cell comes from a row of its own method."""
    table = pages()["faults"]
    assert table["governing"] == "North American per unit"
    assert [method["columns"] for method in table["methods"]] == [
        ["current", "peak", "thermal", "ratio"],
        ["current", "peak", "ratio"],
    ]
    bus = next(point for point in table["points"] if point["name"] == "LV bus")["rows"]
    assert [(row["kind"], row["extreme"]) for row in bus] == [
        ("three-phase", "maximum"),
        ("line-earth", "maximum"),
        ("line-line-earth", "maximum"),
        ("line-line", "minimum"),
    ]
    assert [cells["current"] for cells in bus[0]["cells"]] == ["34.8\u00a0kA", "33.4\u00a0kA"]
    assert [cells["current"] for cells in bus[3]["cells"]] == ["21.6\u00a0kA", "20.7\u00a0kA"]
    assert bus[2]["cells"][1]["current"] == "\u2013"
    assert bus[3]["cells"][0]["peak"] == "\u2013"


def test_a_line_that_carries_nothing_says_so_without_decimals():
    """Two lines carry a fault between phases; what the arithmetic leaves of the third is rounding, not a current."""
    report = sample_report()
    rows = tuple(replace(row, primary_lines=(379.2, 3e-13, 379.2)) for row in report.faults)
    points = result_tables.faults(replace(report, faults=rows))["points"]
    ends = {cell["case"].partition("; MV lines ")[2] for point in points for cell in point["rows"]}
    assert ends - {""} == {"380\u00a0A, 0\u00a0A, 380\u00a0A", "379\u00a0A, 0\u00a0A, 379\u00a0A"}


def test_settings_that_are_missing_are_not_a_fault_that_lasts():
    """Nobody clears it, and nobody said how it is set, are two different things."""
    report = sample_report()
    rows = [row for row in sample_faults() if row.point == "LV bus" and row.governs][:2]
    lasting = replace(rows[0], clearing_device=None, clearing_time=math.inf, time_parts=())
    unknown = replace(rows[1], clearing_device=None, clearing_time=math.nan, time_parts=())
    found = result_tables.faults(replace(report, faults=(lasting, unknown)))["points"][0]["rows"]
    assert [(row["device"], row["time"]) for row in found] == [
        ("nothing clears it", "never"),
        ("settings not in the file", "\u2013"),
    ]


def test_the_largest_energy_and_the_largest_boundary_are_both_named():
    """Trap 3: they may come from different configurations; the dossier names both cases."""
    place = pages()["arcs"]["places"][0]
    assert [(row["what"], row["electrodes"], row["energy"], row["boundary"]) for row in place["rows"]] == [
        ("largest energy", "VCB", "63.2\u00a0cal/cm² (264.2\u00a0J/cm²)", "6.11\u00a0m (20\u00a0ft 1\u00a0in)"),
        ("largest boundary", "HCB", "61.9\u00a0cal/cm² (259.0\u00a0J/cm²)", "6.32\u00a0m (20\u00a0ft 9\u00a0in)"),
    ]


def test_too_many_cases_make_no_appendix():
    """Above sixty rows the attached result holds them all."""
    report = sample_report()
    place = report.arcs[0]
    many = replace(report, arcs=(replace(place, rows=place.rows * 31),))
    assert not result_tables.arcs(many)["appendix"]
    assert result_tables.arcs(report)["appendix"]


def test_a_shortened_exposure_is_said_beside_the_clearing_time():
    """The time counted is not the time the device takes."""
    report = sample_report()
    row = replace(report.arcs[0].governing, clearing_time=5.0, exposure_time=2.0)
    place = replace(report.arcs[0], governing=row, largest_boundary=row)
    assert (
        result_tables.arcs(replace(report, arcs=(place,)))["places"][0]["rows"][0]["time"]
        == "5.00\u00a0s, counted 2.00\u00a0s"
    )


def test_the_number_of_the_document_comes_from_the_file_and_fits_the_title_block():
    """ISO 7200: at most 16 characters; the same file, the same number."""
    assert identification(sample_report()) == identification(sample_report())
    assert len(identification(sample_report())) <= 16
    assert identification(sample_report(title="Other")) != identification(sample_report())


def test_what_the_file_does_not_give_is_left_to_be_given():
    """Trap 14: no example value, no name is invented."""
    head = pages(issued=None, prepared_by=None, site=None)["head"]
    assert (head["date"], head["creator"], head["place"], head["owner"]) == (
        wording.NO_DATE,
        "to be given",
        "to be given",
        "to be given",
    )
    assert head["approver"] == "to be signed by hand"


def test_long_words_may_break_and_checksums_stay_whole():
    """A path breaks after its points and strokes, an endless word after 32 letters, a checksum nowhere."""
    path = "assumptions.supply.protection.earth_fault.owner"
    assert (
        pages(title=path)["head"]["title"]
        == "assumptions.\u200bsupply.\u200bprotection.\u200bearth_\u200bfault.\u200bowner"
    )
    assert pages(title="x" * 70)["head"]["title"] == "x" * 32 + "\u200b" + "x" * 32 + "\u200b" + "x" * 6
    assert pages()["files"][0]["sha256"].isalnum()
    assert pages(title="short.path")["head"]["title"] == "short.path"


def test_sources_keep_their_tags():
    """The tag of a source is printed as it came, never upgraded, and every tag used is explained."""
    found = pages()
    rows = {(row["source"], row["tag"]) for row in found["sources"]}
    assert ("ICEA P-45-482", "M") in rows
    assert {row["tag"] for row in found["sources"]} <= {row["tag"] for row in found["tags"]}
