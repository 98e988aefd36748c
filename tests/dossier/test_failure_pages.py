"""Dossier: the table of failures says what `access` says, and what the budget left out is counted."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pdf_text
import pytest
from sample_report import sample_report
from test_access_pages import KEYED

from deadfront.claims.report import check, to_json
from deadfront.dossier.document import document
from deadfront.dossier.failure_pages import failure_tables, keys_at_work, positions_together
from deadfront.operation.answers import answers
from deadfront.operation.machine import Machine
from deadfront.operation.station_machine import station_machine
from deadfront.operation.wording import HAZARDS, failure_words
from deadfront.project.reading import load
from deadfront.station.station import build

EXAMPLES = Path(__file__).parents[2] / "examples"
UNITS = ("kestrel-point/unit.yaml", "tarn-edge/unit.yaml", "access/heron-quay/key-exchange.yaml")


@cache
def machine(name: str) -> Machine:
    """The machine of a unit of the examples."""
    return station_machine(build(load(EXAMPLES / name).unit)).machine


def words(kinds: dict[str, int]) -> set[str]:
    """Kinds with their lengths as the table prints them."""
    return {f"{HAZARDS[kind]} in {length}" for kind, length in kinds.items()} or {"adds nothing"}


@pytest.mark.parametrize("name", [UNITS[0], pytest.param(UNITS[1], marks=pytest.mark.long), UNITS[2]])
def test_the_table_holds_every_single_failure_as_access_gives_it(name: str):
    """Each failure once, with the kinds and lengths of `access --failures single --json` in both modes."""
    told = answers(machine(name), "single")
    rows = {row["failure"]: row for row in failure_tables(machine(name), None, 1)["singles"]}
    whole = {row["failure"]: row for row in failure_tables(machine(name), None)["singles"]}
    for failure in told["hands"]["single_failures"]:
        row = whole[failure_words(failure)]
        for mode in ("hands", "rules"):
            assert set(row[mode].split("; ")) == words(told[mode]["single_failures"][failure]), (failure, mode)
    assert rows == whole, "the budget is one of pairs: no single failure is left out"


def test_pairs_are_counted_and_what_is_left_out_too():
    """Kestrel Point: every pair is looked at within the budget; with a budget of one state the rest is left out."""
    every = failure_tables(machine(UNITS[0]), None)["pairs"]
    names = len(answers(machine(UNITS[0]), "single")["hands"]["single_failures"])
    for found in every:
        assert int(found["seen"]) + int(found["left_out"]) == names * (names - 1) // 2
        assert found["left_out"] == "0"
        assert len(found["rows"]) == int(found["worse"])
    double = answers(machine(UNITS[0]), "double")["rules"]["double_failures"]
    assert len(double["new_only_with_both"]) == int(every[1]["worse"])
    few = failure_tables(machine(UNITS[0]), None, 1)["pairs"]
    assert all(int(found["left_out"]) > 0 for found in few)


def test_positions_that_may_stand_together_are_those_of_the_interlock():
    """One key: the fuse door stands open beside an open switch and never beside a closed one."""
    one_key = sample_report(other_feed=None, operation={"schemes": ["one key"], "vent_first": "mechanical"})
    table = positions_together(station_machine(one_key.station).machine)
    marks = {row["name"]: dict(zip(table["heads"], row["marks"], strict=True)) for row in table["rows"]}
    assert marks["switch: closed"]["fuse door: open"] == ""
    assert marks["switch: closed"]["fuse door: closed"] == "+"
    assert marks["switch: open"]["fuse door: open"] == "+"
    assert marks["switch: open"]["switch: closed"] == "x"
    assert all(marks[one][other] == marks[other][one] for one in marks for other in marks)


def test_a_table_that_is_too_wide_says_how_wide_and_has_no_rows():
    """Nothing is printed that nobody can read."""
    wide = load(EXAMPLES / "tarn-edge/unit.yaml").unit
    doors = {
        f"more {n}": {"device": "LV door", "to": "open", "needs": f"remote switch {n}", "stands": ["open"]}
        for n in ("A", "B")
    }
    held = {
        f"held {n}": {"device": f"remote switch {n}", "to": "closed", "needs": "LV door", "stands": ["closed"]}
        for n in ("A", "B")
    }
    entries = {name: {**entry, "kept_by": "mechanical"} for name, entry in (doors | held).items()}
    operation = wide.operation
    assert operation is not None
    more = type(operation).model_validate({"interlocks": entries}).interlocks or {}
    changed = operation.model_copy(update={"interlocks": {**(operation.interlocks or {}), **more}})
    table = positions_together(station_machine(build(wide.model_copy(update={"operation": changed}))).machine)
    assert len(table["heads"]) > 18
    assert table["rows"] == []


def test_the_number_of_keys_is_that_of_the_file():
    """Key exchange: three keys of three codes, all in a lock or box in normal service."""
    keyed = station_machine(sample_report(other_feed=None, operation=KEYED).station).machine
    assert keys_at_work(keyed) == {"count": "3", "codes": "3", "trapped": "3"}


@pytest.mark.parametrize(
    ("spare", "expected"),
    [
        ({}, "(not given in the file: to be filled in by hand)"),
        ({"spare_keys": "sealed box at the gate"}, "sealed box"),
    ],
)
def test_the_place_of_spare_keys_is_printed_or_left_to_be_filled_in(spare: dict[str, str], expected: str):
    """Never invented; and the pages of failures stand in the dossier."""
    found = sample_report(other_feed=None, operation={**KEYED, **spare})
    text = pdf_text.whole(document(found, to_json(found), (), "whole"))
    printed = ("Number of keys ever to exist: 3, of 3 codes", "When one barrier has failed")
    for words in (expected, *printed, "the interlock vent before the fuse is defeated"):
        assert words.replace(" ", "") in text


def test_what_answers_a_failure_stands_beside_it():
    """The entry that AC-06 names is in the row of its failure, in the same words."""
    report = check(load(EXAMPLES / "access/heron-quay/one-way-interlock.yaml"))
    claim = next(one for one in report.claims if one.id == "AC-06")
    rows = {row["failure"]: row for row in failure_tables(station_machine(report.station).machine, claim)["singles"]}
    named = [d for d in claim.details if "would be answered by" in d.worst_case]
    assert named
    for detail in named:
        entry = detail.worst_case.partition("would be answered by ")[2]
        assert rows[detail.subject]["answer"] == f"not answered; would be answered by {entry}"
