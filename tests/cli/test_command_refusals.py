"""Command line: what is refused, and in which words; no refusal shows the inside of the program."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from deadfront.cli import main
from deadfront.project.errors import unwritable

EXAMPLES = Path(__file__).parents[2] / "examples"
KESTREL = EXAMPLES / "kestrel-point" / "unit.yaml"
GULL = EXAMPLES / "gull-rock" / "unit.yaml"
CURVE = EXAMPLES / "kestrel-point" / "curves" / "link-d40.csv"


@pytest.mark.parametrize(
    "words",
    [
        ["access", str(KESTREL), "--export", "{}.json"],
        ["access", str(KESTREL), "--picture", "steps", "{}.svg"],
        ["picture", str(GULL), "time-current", "-o", "{}.svg"],
        ["curve", str(CURVE), "--picture", "{}.svg"],
        [
            "check",
            str(GULL),
            "--claim",
            "SC-02",
            "--map",
            "supply.fault_current,supply.x_over_r",
            "--picture",
            "{}.svg",
        ],
    ],
    ids=lambda words: f"{words[0]} {words[-2]}",
)
def test_a_place_that_cannot_be_written_to_is_named_in_words(words, tmp_path, capsys):
    """A folder that is not there gives status 2 and one sentence with the place, whatever was to be written."""
    place = str(tmp_path / "nowhere" / "out")
    assert main([word.replace("{}", place) for word in words]) == 2
    refusal = "expected a place that can be written to, got a refusal of the system (No such file or directory)\n"
    assert capsys.readouterr().err.removeprefix("\n") == f"deadfront: {place}{words[-1][2:]}: {refusal}"


def test_a_reader_that_stopped_reading_is_no_refusal():
    """A closed pipe goes on to `main`, which ends in silence."""
    closed = BrokenPipeError(errno.EPIPE, "Broken pipe")
    with pytest.raises(BrokenPipeError):
        unwritable(closed)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["access", str(KESTREL), "--task", "work behind LV door"],
            "--task goes with --picture: it names the task that is drawn",
        ),
        (["access", str(KESTREL), "--picture", "steps", "steps.png"], "steps.png: expected a name that ends in .svg"),
        (
            ["check", str(GULL), "--watch", "--json"],
            "--json prints one object, --watch prints again and again: ask for one of them",
        ),
        (
            ["check", str(GULL), "--claim", "SC-02", "--json"],
            "--json of a plain check holds every claim; --claim goes with it only for --break-points or --map",
        ),
    ],
    ids=lambda value: " ".join(value[2:]) if isinstance(value, list) else "",
)
def test_an_option_that_would_change_nothing_is_refused(words, said, tmp_path, monkeypatch, capsys):
    """Options that do not go together are refused before anything is written or printed."""
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert (out, err, list(tmp_path.iterdir())) == ("", f"deadfront: {said}\n", [])


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "got nothing: there is no such file"),
        ("a folder", "got a folder"),
        (b"id: x", "got a fault: expecting value"),
        (b"[" * 100_000, "expected at most 64 objects and lists within each other, got more"),
        (b'{"id": 1' + b"0" * 5000 + b"}", "got a fault: Exceeds the limit"),
        (b'{"id": "\xff"}', "expected text in UTF-8, got the byte 0xff at position 8"),
        (b'{"id": "a\x1b[2J"}', "expected characters that print and keep the writing direction, got U+001B"),
        (b" " * (1 << 20) + b"{}", "expected a machine file of at most 1 MiB, got 1048578 bytes"),
        (b"[]", "expected an object, got a list"),
        (b"", "got a fault: expecting value"),
    ],
    ids=["absent", "folder", "no JSON", "too deep", "digits", "encoding", "escape", "too large", "list", "empty"],
)
def test_a_machine_file_that_cannot_be_read_is_refused_in_words(content, said, tmp_path, capsys):
    """Whatever lies there is said with the file's name and status 2, in lines that a terminal holds."""
    path = tmp_path / "no.json"
    if content == "a folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    assert main(["access", "--machine", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(str(path))
    assert said in " ".join(err.split())
    assert "Traceback" not in err
    assert "\x1b" not in err


@pytest.mark.parametrize(
    "command", ["check {}", "dossier {}", "access {}", "choose {} fuses", "picture {} time-current -o x.svg"]
)
@pytest.mark.parametrize("what", ["absent", "folder"])
def test_a_project_file_that_is_not_there_is_refused_in_the_same_words(command, what, tmp_path, monkeypatch, capsys):
    """A file that is absent, or a folder in its place: status 2, one sentence, nothing written."""
    monkeypatch.chdir(tmp_path)
    if what == "folder":
        (tmp_path / "unit.yaml").mkdir()
    assert main(command.format("unit.yaml").split()) == 2
    found = "a folder" if what == "folder" else "nothing: there is no such file"
    assert capsys.readouterr() == (
        "",
        f"unit.yaml\nexpected a project file of at most 1 MiB, got {found}\n\n"
        "help: `deadfront new FILE` writes a starter file\n",
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--budget 0", "argument --budget: expected a whole number of states from 1 on, got '0'"),
        ("--budget many", "argument --budget: expected a whole number of states from 1 on, got 'many'"),
        ("--by-phase swich", "--by-phase: expected a device, got `swich`; did you mean `switch`?"),
        ("--picture steps x.svg --task sweep", "--picture steps: no task 'sweep' that can be drawn as `steps`"),
    ],
)
def test_an_option_of_access_that_fits_nothing_is_refused(words, said, tmp_path, monkeypatch, capsys):
    """A budget of nothing, a device and a task that the unit has not: status 2 and what there is instead."""
    monkeypatch.chdir(tmp_path)
    try:
        status = main(["access", str(KESTREL), *words.split()])
    except SystemExit as stopped:
        status = int(str(stopped.code))
    out, err = capsys.readouterr()
    assert (status, out, list(tmp_path.iterdir())) == (2, "", [])
    assert said in err
