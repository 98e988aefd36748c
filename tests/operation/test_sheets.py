"""Operation: a sheet holds, for every step, what a crew must know before, during and after it."""

from __future__ import annotations

import dataclasses
import re

import pytest
from published import CASES
from test_access_command import access
from test_station_machine import AFTER, BEFORE, FILES, LOOP, unit

from deadfront.operation.approach import distance_words
from deadfront.operation.building import build
from deadfront.operation.errors import BrokenMachine
from deadfront.operation.handling import Stand, handling
from deadfront.operation.machine import Machine
from deadfront.operation.machine_file import read_machine
from deadfront.operation.phases import by_phase
from deadfront.operation.point_marks import in_line
from deadfront.operation.procedures import procedure
from deadfront.operation.reasons import done
from deadfront.operation.sheet_text import sheet_text
from deadfront.operation.sheets import IF_NOT, Sheet, sheet
from deadfront.operation.station_machine import station_machine
from deadfront.operation.telling import consequence, consequences, outset
from deadfront.project.reading import load_bytes
from deadfront.station.station import build as build_station


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
        for entry in ("device", "action", "doors", "verified_by", "marks", "expected"):
            assert texts[entry], (step.number, entry)
        assert step.changes or step.purposes, step.number
    assert [step.number for step in made.steps] == list(range(1, len(made.steps) + 1))


def test_a_step_says_what_it_changes_and_what_else_it_is_for():
    """C05: the switch makes dead, then earths and frees the door; the vent lets the pressure go."""
    assert [(step.changes, step.purposes) for step in sheet_of("C05").steps] == [
        (("makes dead B, T1, T2, LV",), ()),
        (("earths B, T1, T2, LV",), ("lets BDOOR be opened",)),
        ((), ("gives access to B, T1", "keeps SW from being opened", "lets BF be drawn", "lets VENT be vented")),
        ((), ("lets the pressure go before BF is drawn", "comes before BF is drawn")),
        (("takes the earth off T1, T2, LV",), ()),
    ]


def test_a_padlock_keeps_its_device_open_and_each_key_says_what_it_locks_or_lets_out():
    """C22: own locks hold switch and main; two keys go into the box before it gives the third one for the door."""
    made = sheet_of("C22")
    found = {step.action: step.purposes[0] for step in made.steps if step.purposes}
    assert found["put LOTO_SW on"] == "keeps SW from being closed"
    assert found["take key A1 out of L_SW"] == "locks SW, open"
    assert found["put key A1 into X_A"] == "X waits for it"
    assert found["put key B1 into X_B"] == "lets key C1 out of X"
    assert found["take key C1 out of X_C"] == "holds keys A1 and B1 in X"
    assert found["put key C1 into L_D"] == "frees DOOR"
    assert {step.action: step.purposes for step in made.back or ()}["take LOTO_SW off"] == ("lets SW be closed",)


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.get("goals")])
def test_what_a_step_keeps_from_moving_cannot_move_and_what_it_lets_move_could_not(name: str):
    """By the moves that the machine allows by hand before and after the step, found without the reasons."""
    machine = read_machine(CASES[name])
    found = procedure(machine, machine.goals[0])
    assert found is not None
    plant = build(machine, "hands")
    code = outset(plant)
    possible = [set(consequences(plant, code))]
    for step in found.steps:
        moved = consequence(plant, code, step.text)
        assert moved is not None
        code = moved.code
        possible.append(set(consequences(plant, code)))
    for number, line in enumerate(sheet_of(name).steps):
        for words in line.purposes:
            if match := re.fullmatch(r"(keeps|lets) (\S+) (?:from being|be) (.+)", words):
                move = re.compile(f"{re.escape(match[2])}: .*->{_target(machine, match[2], match[3])}$")
                after = number + (match[1] == "keeps")
                assert not any(move.match(text) for text in possible[after]), (line.number, words)


def _target(machine: Machine, name: str, participle: str) -> str:
    return next(p for p in machine.device(name).positions if done(machine.device(name), p) == participle)


def test_marks_are_what_a_second_reading_of_the_state_says():
    """C05, step by step: live, dead, earthed, and within reach of a hand while the door stands open."""
    made = sheet_of("C05")
    assert made.points == ("S", "B", "T1", "T2", "LV")
    rows = [made.outset, *(step.marks for step in made.steps)]
    assert [" ".join(f"{m.letters}{'!' * m.within_reach}" for m in row) for row in rows] == [
        "L L L L L",
        "L D D D D",
        "L E E E E",
        "L E! E! E E",
        "L E! E! E E",
        "L E! D! D D",
    ]
    assert [m.changed for m in rows[5]] == [False, False, True, True, True]


def test_a_mark_says_earthed_and_proved_and_charged_at_once():
    """C12: the capacitor's charge stands beside the dead bus, and is gone after the wait."""
    assert [step.marks[1].letters for step in sheet_of("C12").steps] == ["DC", "D", "D", "P", "E"]
    assert [step.marks[1].letters for step in sheet_of("C22").steps][10:12] == ["P", "P"]


def test_points_stand_in_the_order_of_the_single_line():
    """A loop unit: cable A before the switch bus, the board at the end of the longest way, then what branches off."""
    machine = unit("schemes: [one key]\n", LOOP).machine
    assert in_line(machine) == (
        "supply point A",
        "cable A",
        "switch bus",
        "fuse line side",
        "transformer primary terminals",
        "transformer secondary terminals",
        "LV bus",
        "generator terminals",
        "cable B",
        "supply point B",
    )
    assert sorted(in_line(machine)) == sorted(machine.points)


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
    assert sheet_of("C08").steps[3].beware == ("failed: nothing later stops you, verify it here",)


def test_a_sheet_has_a_box_and_two_names_for_every_step():
    """As text: one box and one line to sign for each step, there and back, the caution and the initial state on top."""
    made = sheet_of("C22")
    assert made.back is not None
    text = sheet_text(made)
    assert text.count("done by ____________  verified by ____________") == len(made.steps) + len(made.back)
    assert text.startswith("draw_fuse\nThis sheet supports and does not replace the judgement of the person in charge.")
    assert "  [ ] SW: closed\n" in text
    assert "  [ ] key A1: L_SW\n" in text
    assert f"  if it does not verify: {IF_NOT}\n" in text
    assert "  points: 1 S; 2 B; 3 T1; 4 T2; 5 LV\n" in text
    assert "[ ] 13  open DOOR\n" in text
    assert "        after it: 1 L 2 [P] 3 [P] 4 D 5 D\n" in text
    assert "        why: keeps SW from being closed; comes before DOOR is opened\n" in text


HANDLED = """
doors: {fuse door: {reaches: [fuse line side]}}
switch_positions: [closed, open, earthed]
interlocks: {a: {device: fuse door, to: open, needs: switch, stands: [earthed], kept_by: mechanical}}
tests: {t: {at: fuse line side}}
padlocks: {p: switch}
"""


def handled(entries: str) -> Sheet:
    """The first sheet of a unit whose file says something about handling."""
    text = BEFORE + "".join(f"  {line}\n" for line in (HANDLED + entries).strip().splitlines()) + AFTER
    project = load_bytes("unit.yaml", text.encode(), FILES)
    machine = station_machine(build_station(project.unit)).machine
    found = procedure(machine, machine.goals[0])
    assert found is not None
    return sheet(machine, found, "distances", handling(project.unit))


def test_where_to_stand_is_said_at_the_step_and_what_is_not_given_is_a_blank():
    """The switch whole, the test without its stick, all else in blanks; nothing is supposed."""
    made = handled(
        "handling: {switch: {side: MV front, hot_stick: 2.4 m, body: left}, t: {side: MV front, body: left}}"
    )
    stands = {step.action: (step.stand, step.blank) for step in made.steps}
    assert stands["open the switch"] == (("MV front", "hot stick 2.4 m", "left"), "")
    assert stands["prove dead: fuse line side"] == (("MV front", "left"), "t, hot stick")
    assert stands["put the p on"] == ((), "p")
    assert made.blanks[:2] == ("main", "p")
    assert "switch" not in made.blanks
    text = sheet_text(made)
    assert "to be filled in before step 1 (where one stands" in text
    assert "  t, hot stick: ____________\n" in text
    assert "        MV front; hot stick 2.4 m; left\n" in text


def test_a_device_worked_by_hand_asks_for_no_stick():
    """`none` is said as `by hand`; a door is not asked for a stick at all."""
    made = handled(
        "handling: {switch: {side: front, hot_stick: none, body: left}, fuse door: {side: front, body: left}}"
    )
    stands = {step.action: (step.stand, step.blank) for step in made.steps}
    assert stands["open the switch"] == (("front", "by hand", "left"), "")
    assert stands["open the fuse door"] == (("front", "left"), "")


def test_each_phase_of_a_device_is_handled_as_the_device():
    """C05 with a switch of three phases: all of them from the front, a blank for what nobody says of the door."""
    machine = by_phase(read_machine(CASES["C05"]), ["SW"])
    found = procedure(machine, machine.goals[0])
    assert found is not None
    made = sheet(machine, found, "distances", {"SW": Stand("front", "2 m", "left")})
    phases = [step for step in made.steps if step.action.startswith("open SW")]
    assert [step.stand for step in phases] == [("front", "hot stick 2 m", "left")] * 3
    assert "BDOOR" in made.blanks
    assert not any("SW" in name for name in made.blanks)


def test_handling_of_what_the_unit_has_not_is_refused():
    """The name is told with those that there are."""
    with pytest.raises(BrokenMachine) as refusal:
        handled("handling: {swich: {side: MV front}}")
    (found,) = refusal.value.findings
    assert str(found) == (
        "operation.handling.swich: expected a device, test, charge, lock or key box of this unit, got `swich`"
    )
    assert found.remedy == "did you mean `switch`?"


def test_contacts_are_seen_only_where_the_file_says_so():
    """Without `contacts_seen` the position shown proves nothing; with it somebody looks."""
    blind = next(step for step in handled("").steps if step.action == "open the switch")
    assert blind.verified_by == "shown: open; only the tester proves it"
    seen = next(step for step in handled("contacts_seen: [switch]").steps if step.action == "open the switch")
    assert seen.verified_by == "seen apart, all phases; shown open"


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
