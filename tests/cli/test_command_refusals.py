"""Command line: what is refused, and in which words; no refusal shows the inside of the program."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from deadfront.cli import main
from deadfront.operation.errors import BrokenMachine
from deadfront.operation.machine_file import load_machine
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
    ("text", "said"),
    [
        (None, "no.json: expected a machine file, got no file that can be read (No such file or directory)"),
        ("id: x", "no.json: expected JSON text, got a fault in it: Expecting value: line 1 column 1 (char 0)"),
        ("[" * 100_000, "no.json: expected JSON text, got a fault in it: maximum recursion depth exceeded"),
    ],
    ids=["absent", "no JSON", "too deep"],
)
def test_a_machine_file_that_cannot_be_read_is_refused_in_words(text, said, tmp_path):
    """Nothing there, no JSON, and brackets without end are each said with the file's name."""
    path = tmp_path / "no.json"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(BrokenMachine) as refused:
        load_machine(path)
    assert str(refused.value).startswith(said)
