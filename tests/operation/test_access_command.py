"""Operation: the command `access` prints, exports and ends as it says."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import pytest
from published import CASES

from deadfront.access_command import add_access
from deadfront.operation.failures import single_failures
from deadfront.operation.machine import KINDS
from deadfront.operation.machine_file import load_machine, read_machine
from deadfront.operation.wording import HAZARDS, failure_words, move_words


def access(*words: str) -> int:
    """Run the command with the words of a shell; return its exit status."""
    parser = argparse.ArgumentParser()
    add_access(parser)
    chosen = parser.parse_args(words)
    return int(chosen.run(chosen))


@pytest.fixture
def machine_of(tmp_path: Path):
    """Writes a published case to a machine file and returns its path."""

    def write(name: str) -> str:
        path = tmp_path / f"{name}.json"
        path.write_text(json.dumps(CASES[name]), encoding="utf-8")
        return str(path)

    return write


def test_every_kind_of_hazard_has_its_words():
    """The words stand in the order of the kinds, one for each."""
    assert tuple(HAZARDS) == KINDS


def test_a_sound_station_ends_with_0_and_a_dangerous_one_with_1(machine_of, capsys):
    """C01 is sound, C11 is not; the text names the hazard, its length and its moves."""
    assert access("--machine", machine_of("C01")) == 0
    assert "  never      a door or cover opens on a live part" in capsys.readouterr().out
    assert access("--machine", machine_of("C11")) == 1
    text = capsys.readouterr().out
    assert (
        "  in  3 moves a part becomes live behind an open door\n"
        "       1  open SW\n"
        "            live: S; earthed: nothing; open: nothing\n"
        "       2  open DOOR\n"
        "            live: S; earthed: nothing; open: DOOR\n"
        "       3  close SW  !! a part becomes live behind an open door\n"
        "            live: S, B; earthed: nothing; open: DOOR\n"
    ) in text


def test_failures_are_named_with_their_verdict_and_nearest_sequence(machine_of, capsys):
    """C01: with a lock that no longer holds the door, it opens on a live part at once."""
    access("--machine", machine_of("C01"), "--failures", "double")
    text = capsys.readouterr().out
    assert "  single failures: 0 of 7 add no hazard\n" in text
    assert (
        "    flips          the lock L_D no longer holds its device; a door or cover opens on a live part in 1; "
        "load is made or broken by a device that cannot do it in 2; a part becomes live behind an open door in 3\n"
        "           1  open DOOR\n"
    ) in text
    assert "  double failures: 0 of 21 pairs reach a hazard that neither reaches alone\n" in text


def test_json_holds_what_the_text_is_made_of(machine_of, capsys):
    """With `--json` one object is printed, with the printed answer of the case in it."""
    assert access("--machine", machine_of("C08"), "--json", "--failures", "single") == 1
    found = json.loads(capsys.readouterr().out)
    assert found["hands"]["hazards"]["EARTH_LIVE"]["seq"] == ["WA: closed->open", "WA: open->earthed"]
    assert found["rules"]["single_failures"]["indicator:VT_CA"] == {"EARTH_LIVE": 3}


def test_an_exported_machine_is_the_same_machine(machine_of, tmp_path: Path, capsys):
    """The JSON written by `--export` reads as the machine it came from; `.pml` is Promela; other names are refused."""
    path = machine_of("C16")
    assert access("--machine", path, "--export", str(tmp_path / "out.json")) == 0
    assert load_machine(tmp_path / "out.json") == load_machine(Path(path))
    assert access("--machine", path, "--export", str(tmp_path / "out.pml")) == 0
    assert "d_step" in (tmp_path / "out.pml").read_text(encoding="utf-8")
    assert access("--machine", path, "--export", str(tmp_path / "out.txt")) == 2
    assert capsys.readouterr().err.endswith("out.txt: expected a name that ends in .json or .pml\n")


def test_a_device_can_be_moved_one_phase_at_a_time(machine_of, capsys):
    """`--by-phase` draws three phases: the first phase of a dead-break connector already drops load."""
    assert access("--machine", machine_of("C16"), "--by-phase", "ELB_B") == 1
    assert "pull ELB_B, phase 1 off and park it  !! load is made or broken" in capsys.readouterr().out
    assert access("--machine", machine_of("C16"), "--by-phase", "ELB_C") == 2
    assert capsys.readouterr().err.endswith("--by-phase: expected a device, got `ELB_C`; did you mean `ELB_B`?\n")


def test_a_wrong_file_ends_with_2_and_says_where(tmp_path: Path, capsys):
    """The finding stands on stderr with its path; nothing is printed as if it had been examined."""
    path = tmp_path / "m.json"
    path.write_text('{"id": "m", "title": "m", "points": [], "devices": [{"id": "S"}]}', encoding="utf-8")
    assert access("--machine", str(path)) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.startswith(f"{path}:1:53  devices[0].kind\n")
    assert 'expected a name, got nothing\n\nhelp: for example `"kind": "switch"`\n' in printed.err
    assert [line.rpartition("  ")[2] for line in printed.err.splitlines() if line.startswith(str(path))] == [
        "devices[0].kind",
        "devices[0].positions",
        "devices[0].start",
    ]


@pytest.mark.parametrize("name", CASES)
def test_every_move_and_failure_has_words(name: str):
    """No move and no failure of a published case is said in the letters of the program."""
    machine = read_machine(CASES[name])
    texts = [
        text
        for mode in ("hands", "rules")
        for h in CASES[name]["expected"][mode]["hazards"].values()
        for text in h["seq"]
    ]
    for words in [move_words(machine, text) for text in texts] + [failure_words(f) for f in single_failures(machine)]:
        assert "->" not in words
        assert not words.startswith(("defeat:", "key "))


def test_words_for_moves_say_what_hands_do():
    """Earthing, un-earthing, keys, tests and waits each have their own sentence."""
    c08, c12, c22 = (read_machine(CASES[name]) for name in ("C08", "C12", "C22"))
    assert move_words(c08, "WA: open->earthed") == "turn WA to earthed"
    assert move_words(c08, "WA: earthed->open") == "turn WA from earthed to open"
    assert (
        move_words(c08, "test VT_CA")
        == "prove CA dead at VT_CA: tester on a live source, all phases, tester on a live source"
    )
    assert move_words(c12, "wait CAP") == "wait until CAP has discharged"
    assert move_words(c12, "G_LV: off->on") == "put G_LV on, earth end first"
    assert move_words(c22, "key A1: L_SW->hand") == "take key A1 out of L_SW"
    assert move_words(c22, "key A1: hand->X_A") == "put key A1 into X_A"
