"""Operation: a sheet holds, for every step, what a crew must know before, during and after it."""

from __future__ import annotations

import dataclasses

import pytest
from published import CASES
from test_access_command import access
from test_station_machine import AFTER, BEFORE, FILES

from deadfront.operation.approach import distance_words
from deadfront.operation.machine_file import read_machine
from deadfront.operation.procedures import procedure
from deadfront.operation.sheets import Sheet, sheet, sheet_text


def sheet_of(name: str, number: int = 0) -> Sheet:
    """The sheet of a published case's task."""
    machine = read_machine(CASES[name])
    found = procedure(machine, machine.goals[number])
    assert found is not None
    return sheet(machine, found, "limited approach boundary 1.83 m")


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.get("goals")])
def test_every_step_says_everything_a_printed_step_must(name: str):
    """Device, action, standing, why, verification, expectation and what if not are there in every line."""
    made = sheet_of(name)
    assert made.back is not None
    for step in (*made.steps, *made.back):
        texts = dataclasses.asdict(step)
        for entry in ("device", "action", "standing", "why", "verified_by", "expected", "if_not"):
            assert texts[entry], (step.number, entry)
    assert [step.number for step in made.steps] == list(range(1, len(made.steps) + 1))


def test_a_step_says_why_it_is_done():
    """C05: opening makes dead, earthing earths, the door gives access, the fuse takes the earth of its far side off."""
    assert [step.why for step in sheet_of("C05").steps] == [
        "makes dead B, T1, T2, LV",
        "earths B, T1, T2, LV",
        "gives access through BDOOR",
        "lets the next steps be done",
        "takes the earth off T1, T2, LV",
    ]


def test_keys_are_counted_before_and_after_each_step():
    """C01: the key is in no hand until it leaves the switch, then in hand until it sits in the door."""
    steps = sheet_of("C01").steps
    assert [(step.keys_before, step.keys_after) for step in steps] == [
        ((), ()),
        ((), ("A1",)),
        (("A1",), ()),
        ((), ()),
        ((), ()),
    ]


def test_what_nobody_would_notice_is_asked_for_at_its_step():
    """C08: an earth that does not close is noticed by no later step, so the step itself says: verify it here."""
    assert sheet_of("C08").steps[3].beware == (
        "if it does not follow its handle, no later step notices: verify it here",
    )


def test_a_sheet_has_a_box_and_two_names_for_every_step():
    """As text: one box and one line to sign for each step, there and back, the caution and the initial state on top."""
    made = sheet_of("C22")
    assert made.back is not None
    text = sheet_text(made)
    assert text.count("done by ____________  verified by ____________") == len(made.steps) + len(made.back)
    assert text.startswith("draw_fuse\nThis sheet supports and does not replace the judgement of the person in charge.")
    assert "  [ ] SW: closed\n" in text
    assert "  [ ] key A1: L_SW\n" in text


def test_distances_name_their_edition():
    """A header never gives metres without the text they come from, and says so where it has none."""
    assert distance_words("north-american", 24940.0, 12.0) == (
        "limited approach boundary 1.83 m, restricted 0.79 m (NFPA 70E, older edition); "
        "minimum approach distance 0.77 m (OSHA 1910.269, 2014)"
    )
    assert (
        distance_words("north-american", 600.0, 0.0)
        == "limited approach boundary 1.07 m, restricted 0.30 m (NFPA 70E, older edition)"
    )
    assert (
        distance_words("iec", None, None) == "distances: the file gives no voltage; take them from the site's own rules"
    )
    beyond = "distances: no row for %s kV; take them from the site's own rules"
    assert distance_words("north-american", 50e3, 0.0) == beyond % "50.00"
    assert distance_words("iec", 132e3, 0.0) == beyond % "132.00"


def test_the_command_prints_the_sheets_of_a_unit(tmp_path, capsys):
    """`access FILE --sheets` prints one sheet for each task with the distances at the unit's voltage."""
    for name, content in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    file = tmp_path / "unit.yaml"
    section = "  schemes: [one key]\n  vent_first: mechanical\n  tests: {t: {at: fuse line side}}\n"
    file.write_text(BEFORE + section + AFTER, encoding="utf-8")
    assert access(str(file), "--sheets") == 0
    text = capsys.readouterr().out
    assert text.startswith("replace bayonet fuse\n")
    assert "transfer to the generator\n" in text
    assert "limited approach boundary 1.83 m" in text
