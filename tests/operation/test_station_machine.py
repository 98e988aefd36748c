"""Operation: a unit's machine is built from its file, and what contradicts itself is refused where it stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_access_command import access

from deadfront.operation.examining import examine
from deadfront.operation.failures import break_all
from deadfront.operation.machine_file import read_machine, write_machine
from deadfront.operation.procedures import procedure
from deadfront.operation.station_machine import NothingToExamine, StationMachine, station_machine
from deadfront.operation.tasks import lacking
from deadfront.project.reading import load_bytes
from deadfront.project.starters import PRACTICES, STARTER, starter_files
from deadfront.station.station import build

FILES = starter_files("north-american")
WHOLE = FILES.pop(STARTER).decode()
BEFORE, REST = WHOLE.split("  # Known arrangements")
AFTER = REST[REST.index("\n# Who confirms") :]
LOOP = BEFORE.replace("# other_feed:", "other_feed: {parallel: never}\n# other_feed_:").replace(
    "ways: radial", "ways: loop"
)


def unit(section: str, before: str = BEFORE) -> StationMachine:
    """The machine of the starter unit with another `operation` section, written without its first indent."""
    text = before + "".join(f"  {line}\n" for line in section.splitlines()) + AFTER
    return station_machine(build(load_bytes("unit.yaml", text.encode(), FILES).unit))


def hands(section: str, before: str = BEFORE) -> dict[str, int]:
    """The hazards that hands reach in such a unit, with their lengths."""
    found = examine(unit(section, before).machine, "hands")
    return {kind: found.length(kind) for kind in found.sequences}


@pytest.mark.parametrize("practice", PRACTICES)
def test_the_starter_unit_is_safe_under_its_rules_and_every_task_has_a_way(practice):
    """No hazard is left even without the rules, each task has a way there and back, no hold point lacks its means."""
    files = starter_files(practice)
    text = files.pop(STARTER)
    machine = station_machine(build(load_bytes("unit.yaml", text, files).unit)).machine
    assert examine(machine, "rules").sequences == {}
    assert examine(machine, "hands").sequences == {}
    drawn = {"north-american": "bayonet fuse", "iec": "current-limiting fuse"}[practice]
    assert [goal.id for goal in machine.goals] == [
        f"replace {drawn}",
        "work behind LV door",
        "transfer to the generator",
    ]
    for goal in machine.goals:
        way = procedure(machine, goal)
        assert way is not None
        assert way.back is not None
        assert {hold for step in way.steps for hold in step.passes} == {hold.id for hold in goal.holds}
    assert lacking(machine) == ()


def test_a_machine_of_a_unit_survives_being_exported():
    """What `--export` writes of a unit reads as the same machine."""
    machine = unit("schemes: [key exchange]").machine
    assert read_machine(write_machine(machine)) == machine


@pytest.mark.parametrize(
    ("scheme", "states"),
    [
        ("schemes: [door on open switch]", 72),
        ("schemes: [door on earthed switch]\nswitch_positions: [closed, open, earthed]", 80),
        ("schemes: [one key]", 120),
        ("schemes: [key exchange]", 272),
        ("schemes: [one key, source keys]", 200),
    ],
)
def test_every_scheme_is_sound_in_hardware(scheme, states):
    """With the vent interlocked no sequence of hands reaches anything; without it only the pressure is left."""
    assert hands(scheme + "\nvent_first: mechanical") == {}
    assert set(hands(scheme)) == {"FUSE_PRESS"}
    assert examine(unit(scheme).machine, "hands").states == states


def test_a_fuse_door_without_interlock_opens_on_a_live_part_at_once():
    """The alternative with nothing on the door: exposed in one move, fuse on load in two."""
    found = hands("doors: {fuse door: {reaches: [fuse line side]}}")
    assert (found["EXP_OPEN"], found["LOAD"], found["FUSE_PRESS"], found["EXP_CLOSE"]) == (1, 2, 2, 3)


def test_a_fuse_outside_any_door_is_drawn_on_load_at_once():
    """The alternative with the fuse in reach of everybody: load and pressure in one move."""
    assert hands("doors: {hatch: {reaches: []}}") == {
        "EXP_OPEN": 1,
        "EXP_CLOSE": 3,
        "LOAD": 1,
        "FUSE_PRESS": 1,
    }, "the well that the holder leaves is live"


def test_a_door_interlocked_only_on_opening_lets_the_switch_close_behind_it():
    """One direction of the interlock only: open the switch, open the door, close the switch; then the fuse on load."""
    one_way = "interlocks: {one: {device: fuse door, to: open, needs: switch, stands: [open], kept_by: mechanical}}"
    doors = "doors: {fuse door: {reaches: [fuse line side]}}"
    assert hands(f"{one_way}\nvent_first: mechanical\n{doors}") == {"EXP_CLOSE": 3, "LOAD": 5}


def test_a_generator_without_lock_feeds_back_through_the_transformer():
    """The alternative with no key on the generator: it runs in parallel, and reaches the fuse from behind."""
    before = BEFORE.replace("\n  parallel: never", "")
    assert before != BEFORE
    found = hands("schemes: [one key]\nvent_first: mechanical", before)
    assert {"PARALLEL", "BACKFEED", "EXP_OPEN"} <= set(found)
    assert hands("schemes: [key exchange]\nvent_first: mechanical", before) == {"PARALLEL": 2, "BACKFEED": 2}


def test_a_loop_earths_its_cable_live_from_the_other_end():
    """Loop feed: that a way stands open says nothing of its cable; the hold point to prove it dead answers that."""
    section = "schemes: [one key]\nvent_first: mechanical\ntests: {cable test: {at: cable A}}"
    machine = unit(section, LOOP).machine
    assert examine(machine, "hands").sequences["EARTH_LIVE"] == ("way B: open->earthed",)
    ways = {goal.id: procedure(machine, goal) for goal in machine.goals}
    found = ways["isolate and earth cable A"]
    assert found is not None
    assert [step.text for step in found.steps] == [
        "main: closed->open",
        "remote switch A: closed->open",
        "way A: closed->open",
        "test cable test",
        "way A: open->earthed",
    ], "way B stands open: the load comes off before its only feed does"


def test_what_a_scheme_supplies_is_listed_until_the_file_says_it():
    """Each entry a scheme wrote out is listed by its path; an entry of the file by the same name takes its place."""
    supplied = unit("schemes: [one key]").supplied
    assert "operation.locks.switch lock" in supplied
    assert supplied["operation.switch_positions"] == "the switch has the positions closed and open, and earths nothing"
    own = unit("schemes: [one key]\nlocks: {switch lock: {device: switch, code: A, free_at: [open]}}").supplied
    assert "operation.locks.switch lock" not in own


def test_a_hold_point_without_means_is_named():
    """Without a test or an earth the task says what it lacks, instead of a procedure that looks complete."""
    found = lacking(unit("schemes: [one key]").machine)
    assert [(task, hold) for task, hold, _ in found] == [("replace bayonet fuse", hold) for hold in ("H2", "H3", "H4")]
    assert found[0][2] == "an own padlock on the switch, the main (`operation.padlocks`)"


def test_proving_dead_comes_before_the_earth():
    """With an earthing switch and a test, the crew proves dead before it earths, and the door opens last."""
    section = (
        "schemes: [door on earthed switch]\nswitch_positions: [closed, open, earthed]\n"
        "vent_first: mechanical\ntests: {t: {at: fuse line side}}"
    )
    machine = unit(section).machine
    way = procedure(machine, machine.goals[0])
    assert way is not None
    texts = [step.text for step in way.steps]
    assert texts.index("test t") < texts.index("switch: open->earthed") < texts.index("fuse door: closed->open")


def test_padlocks_answer_a_second_key():
    """One key: a duplicate flips it; with the crew's own padlock on the switch the rules hold again."""
    bare = "schemes: [one key]\nvent_first: mechanical"
    assert break_all(unit(bare).machine, "rules").verdict(["dupkey:A"]) == "flips"
    locked = (
        f"{bare}\npadlocks: {{own: switch}}\ninterlocks: "
        "{use it: {device: fuse door, to: open, needs: own, stands: [on], kept_by: rule}}"
    )
    assert break_all(unit(locked).machine, "rules").verdict(["dupkey:A"]) == "still safe"


def test_a_file_without_doors_and_schemes_is_asked_for_them():
    """Nothing is examined, and the file is told what to say where."""
    with pytest.raises(NothingToExamine) as error:
        unit("")
    assert str(error.value) == (
        "operation.doors: expected the doors of the unit, or a scheme that holds them, got nothing; for example "
        "`operation: {schemes: [one key], doors: {fuse door: {reaches: [fuse line side]}}}`"
    )


def test_the_command_examines_a_project_file(tmp_path: Path, capsys):
    """`access FILE` prints the proof of the unit and what the tool supplied; the exit status follows the hands."""
    for name, content in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    file = tmp_path / "unit.yaml"
    file.write_text(BEFORE + "  schemes: [one key]\n  vent_first: mechanical\n" + AFTER, encoding="utf-8")
    assert access(str(file)) == 0
    text = capsys.readouterr().out
    assert "120 states looked at" in text
    assert "supplied by the tool, to be confirmed\n" in text


TRAP = """\
doors:
  fuse door: {reaches: [fuse line side]}
interlocks:
  opens on open: {device: fuse door, to: open, needs: switch, stands: [open], kept_by: mechanical}
  shuts on closed: {device: fuse door, to: closed, needs: switch, stands: [closed], kept_by: mechanical}
  closes on shut: {device: switch, to: closed, needs: fuse door, stands: [closed], kept_by: mechanical}
"""


def test_a_door_that_opens_for_ever_is_refused_at_its_interlocks(tmp_path, capsys):
    """The door shuts only with the switch closed, the switch closes only with the door shut: a lock for ever."""
    text = BEFORE + "".join(f"  {line}\n" for line in TRAP.splitlines()) + AFTER
    for name, content in FILES.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    file = tmp_path / "unit.yaml"
    file.write_text(text, encoding="utf-8")
    assert access(str(file)) == 2
    said = capsys.readouterr().err
    line = text[: text.index("shuts on closed")].count("\n") + 1
    assert f"unit.yaml:{line}:5  operation.interlocks.shuts on closed\n" in said
    assert "expected a state in which `fuse door` can leave `open`, got none:" in said
    mended = text.replace("to: closed, needs: switch, stands: [closed]", "to: closed, needs: switch, stands: [open]")
    file.write_text(mended, encoding="utf-8")
    assert access(str(file)) != 2
