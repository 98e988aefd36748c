"""Dossier: a sheet in print holds what a crew must know at each step, and nothing that only the file's author reads."""

from __future__ import annotations

import re

import pytest
from machines import CASES, machine, task
from sample_report import sample_report

from deadfront.dossier.procedure_sheets import HOLD_POINTS, MOST_COLUMNS, places, sheet_texts
from deadfront.operation.sheets import sheet

TASKS = [name for name in sorted(CASES) if CASES[name].get("goals")]


def texts(name):
    """The printed texts of a case's first task."""
    return sheet_texts(sheet(machine(name), task(name), "distances"), {"SW": "Q1"})


@pytest.mark.parametrize("name", TASKS)
def test_every_step_is_printed_there_and_back_with_all_its_parts(name):
    """Number, action, verification, the mark of every point, and why, where the marks do not show it."""
    made = texts(name)
    assert [step["number"] for step in made["steps"]] == [str(n + 1) for n in range(len(task(name).steps))]
    assert len(made["back"]) == len(task(name).back or ())
    for step in (*made["steps"], *made["back"]):
        for part in ("device", "action", "verified", "marks"):
            assert step[part], (name, step["number"], part)
        assert step["why"] or any(mark["changed"] for mark in step["marks"])
        assert step["action"][0] == step["action"][0].upper()


@pytest.mark.parametrize("name", TASKS)
def test_each_step_says_what_comes_of_leaving_it_out(name):
    """By the second reading of the deviations: noticed at a later step, dangerous, or noticed by nobody."""
    for step, printed in zip(task(name).steps, texts(name)["steps"], strict=True):
        number = int(printed["number"])
        if number == len(task(name).steps):
            continue
        left = [d for d in task(name).deviations if (d.step, d.how, d.mode) == (number, "left out", "rules")]
        said = " ".join((*printed["beware"], *printed["noticed"]))
        assert len(left) == 1, step
        if left[0].outcome == "unnoticed":
            assert re.search(r"skipped( or failed)?: nothing later stops you, verify it here", said)
        elif left[0].outcome == "hazard":
            assert re.search(rf"skipped( or failed)?: step {left[0].at} is dangerous: ", said)
        else:
            assert re.search(rf"skipped( or failed)?: stops you at {left[0].at}\b", said)


def test_a_mistake_is_named_where_it_first_becomes_possible():
    """C04: behind the open door a start of the generator makes the part live; said at that step, not again later."""
    made = texts("C04")
    named = [step["number"] for step in made["steps"] if any("start GEN" in words for words in step["never"])]
    assert named == ["2"]
    assert made["steps"][1]["never"] == [
        "draw BF (a fuse is drawn from a tank under pressure)",
        "start GEN (a part becomes live behind an open door)",
    ]


def test_what_is_live_at_the_device_is_named():
    """C08: at the far switch both sides, at the test its point whatever it shows, at the door nothing."""
    assert [step["near"] for step in texts("C08")["steps"]] == ["SR, CA", "CA, BUS", "CA", "BUS", ""]


def test_a_hold_point_without_means_is_left_to_a_name():
    """C01 has no test point: that stands on the sheet, without the name of an entry of the file."""
    made = texts("C01")
    assert made["unmet"] == [
        "H3, proved dead on all phases, live-dead-live: the unit lacks a place where the place of work is proved dead"
    ]


def test_hold_points_are_the_twelve_of_the_rules():
    """H1 to H12, each with what it demands."""
    assert list(HOLD_POINTS) == [f"H{n}" for n in range(1, 13)]
    assert all(HOLD_POINTS.values())


def test_a_test_is_one_short_action_and_its_way_stands_under_verify():
    """C08: how the tester is proved is not part of the headline."""
    step = texts("C08")["steps"][2]
    assert step["action"] == "Prove dead: CA"
    assert step["turn"] == "at VT_CA"
    assert step["verified"] == "live-dead-live, all phases"


def test_an_energy_is_printed_only_with_its_distance():
    """The sample's places: what is known, rounded up; what is not stays empty, never nought."""
    rows = places(sample_report())
    assert [row["name"] for row in rows] == [place.place for place in sample_report().arcs]
    for row in rows:
        assert (row["energy"] != "") <= (row["distance"] != "")
        assert not re.match(r"0(\.0*)? ", row["energy"])
    bare = {"places": {place.place: {"at": "bus"} for place in sample_report().arcs}}
    assert {row["energy"] for row in places(sample_report(operation=bare))} == {""}


def test_a_device_has_its_tag_of_the_single_line():
    """C05: the switch has one, the door has none."""
    assert [step["tag"] for step in texts("C05")["steps"]] == ["Q1", "Q1", "", "", ""]


def test_the_end_state_is_what_the_task_finds():
    """C05: what stands otherwise than at the outset; what is live and earthed is in the marks of the last row."""
    assert texts("C05")["final"] == [
        "SW: earthed",
        "BF: out",
        "VENT: vented",
        "BDOOR: open",
    ]


def test_of_too_many_points_those_that_nothing_changes_are_said_once(monkeypatch):
    """C20 with room for nine columns: each point has one in which something changes, or is named as unchanged."""
    assert len(texts("C20")["points"]) == len(machine("C20").points) == MOST_COLUMNS
    assert texts("C20")["throughout"] == []
    monkeypatch.setattr("deadfront.dossier.procedure_sheets.MOST_COLUMNS", 9)
    made = texts("C20")
    still = [point for row in made["throughout"] for point in row["points"].split(", ")]
    assert sorted([*made["points"], *still]) == sorted(machine("C20").points)
    steps = [*made["steps"], *made["back"]]
    assert all(len(step["marks"]) == len(made["points"]) for step in steps)
    assert all(any(step["marks"][n]["changed"] for step in steps) for n in range(len(made["points"])))
    assert made["throughout"][0]["letters"] == "L"
    for step in (*task("C20").steps, *(task("C20").back or ())):
        assert set(made["throughout"][0]["points"].split(", ")) <= set(step.after.live)
