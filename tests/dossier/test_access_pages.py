"""Dossier: the pages about access, as texts and as a document, of a unit whose file says how people work on it."""

from __future__ import annotations

import json
import re
from functools import cache
from io import BytesIO

import pdf_text
import pikepdf
import pytest
from sample_report import sample_report

from deadfront.access_command import add_access
from deadfront.claims.report import to_json
from deadfront.cli import main
from deadfront.dossier.access_pages import Album, access
from deadfront.dossier.document import document
from deadfront.dossier.recheck import Computed, recheck
from deadfront.operation.answers import answers
from deadfront.operation.machine import KINDS
from deadfront.operation.station_machine import station_machine
from deadfront.operation.wording import HAZARDS, move_words

KEYED = {
    "schemes": ["key exchange"],
    "vent_first": "mechanical",
    "tests": {"fuse test": {"at": "fuse line side"}, "transformer test": {"at": "transformer primary terminals"}},
    "padlocks": {"switch padlock": "switch", "main padlock": "main"},
}
BARE = {"doors": {"fuse door": {"reaches": ["fuse line side"]}}}
HOSTILE = "#pagebreak() *x* $y$ <z> \\u{41} @w"


@cache
def report(name="keyed"):
    """The sample with an operation section: sound keys, no interlock at all, or a door whose name looks like code."""
    if name == "hostile":
        return sample_report(other_feed=None, operation={"doors": {HOSTILE: {"reaches": ["fuse line side"]}}})
    return sample_report(other_feed=None, operation=KEYED if name == "keyed" else BARE)


@cache
def pages(name="keyed"):
    """Its texts and pictures."""
    return access(report(name))


@cache
def pdf(name="keyed", part="whole"):
    """Its document."""
    return document(report(name), to_json(report(name)), (), part)


@cache
def print_of(name="keyed", part="whole"):
    """All print of a document."""
    return pdf_text.whole(pdf(name, part))


def squeezed(name="keyed", part="whole"):
    """The same without its spaces."""
    return pdf_text.squeezed(print_of(name, part))


@pytest.mark.parametrize("name", ["keyed", "bare"])
def test_the_table_says_what_the_command_says(name):
    """Hazard by hazard and mode by mode: the lengths of `access --json`, and the number of states."""
    told = answers(station_machine(report(name).station).machine)
    made = pages(name)[0]
    for mode, row in zip(("hands", "rules"), made["modes"], strict=True):
        assert (row["states"], row["depth"]) == (str(told[mode]["states"]), str(told[mode]["depth"]))
        for kind, line in zip(KINDS, made["hazards"], strict=True):
            found = told[mode]["hazards"].get(kind)
            assert line["kind"] == HAZARDS[kind]
            assert line[mode] == (
                "never" if found is None else f"in {found['len']} move{'s' if found['len'] > 1 else ''}"
            )


def test_each_shortest_way_is_told_move_by_move():
    """The last move names its hazard; what is live, earthed and open stands after each."""
    machine = station_machine(report("bare").station).machine
    told = answers(machine)["hands"]["hazards"]
    made = pages("bare")[0]["sequences"]
    assert made
    ways = [[step["words"] for step in one["steps"]] for one in made if one["mode"].startswith("what the hardware")]
    assert sorted(ways) == sorted(
        [list(way) for way in {tuple(move_words(machine, text) for text in one["seq"]) for one in told.values()}]
    )
    for one in made:
        assert one["steps"][-1]["danger"]
        assert all(re.match(r"live: .*; earthed: .*; open: ", step["standing"]) for step in one["steps"])


def test_every_picture_that_a_page_asks_for_is_there_and_no_other():
    """Names in the texts and names of pictures are the same."""
    for name in ("keyed", "bare"):
        made, pictures = pages(name)
        asked = set(re.findall(r'"((?:state|keys|legend|rests)-\d+)"', json.dumps(made)))
        assert asked == set(pictures)


def test_the_same_state_is_drawn_once():
    """An album keeps one picture for one key."""
    album = Album()
    made = []
    for _ in range(2):
        album.put("state", "a", lambda: made.append(1))
    assert (made, list(album.pictures)) == ([1], ["state-0"])


def test_a_file_that_says_nothing_of_doors_gets_the_reason():
    """No table, no sheet: the entry that is missing, in the texts and in print."""
    made, pictures = access(sample_report())
    assert made["reason"].startswith("operation.doors: expected the doors of the unit")
    assert (made["tasks"], pictures) == ([], {})


def test_every_step_of_every_sheet_is_in_print():
    """There and back, with cautions, distances, the initial state and the columns for two names."""
    print_ = squeezed()
    for task in pages()[0]["tasks"]:
        assert pdf_text.squeezed(task["name"]) in print_
        for step in (*task["steps"], *task["back"]):
            for words in (step["action"], step["verified"], step["turn"], step["why"], *step["stand"]):
                assert pdf_text.squeezed(words) in print_
        for words in (task["caution"], task["distances"], task["if_not"], *task["initial"]):
            assert pdf_text.squeezed(words) in print_
    assert print_.count("doneby,timeverifiedby") >= len(pages()[0]["tasks"])


def test_tags_on_the_sheets_are_those_of_the_single_line():
    """Switch, main and the drawn fuse; a door and a padlock have none."""
    tags = {step["device"]: step["tag"] for task in pages()[0]["tasks"] for step in task["steps"]}
    assert (tags["the switch"], tags["the main"], tags["the bayonet fuse"]) == ("Q1", "Q2", "F1")
    assert (tags["the fuse door"], tags["the switch padlock"]) == ("", "")


def test_the_sheets_alone_are_a_shorter_document_that_checks_itself(tmp_path):
    """`procedures`: the same sheets, the same files inside, no page of claims; valid, tagged, re-checkable."""
    short, whole = pdf(part="procedures"), pdf()
    with pikepdf.open(BytesIO(short)) as one, pikepdf.open(BytesIO(whole)) as other:
        assert len(one.pages) < len(other.pages) / 2
        assert sorted(one.attachments) == sorted(other.attachments)
        assert one.Root.MarkInfo.Marked
        with one.open_metadata() as about:
            assert (about["pdfaid:part"], about["pdfaid:conformance"]) == ("3", "A")
    print_ = squeezed(part="procedures")
    assert "Allclaims" not in print_
    assert "Replacebayonetfuse" in print_
    path = tmp_path / "sheets.pdf"
    path.write_bytes(short)
    found = recheck(path, lambda _project: Computed(to_json(report()), lambda part, *_: pdf(part=part)))
    assert (found.same, found.sheets) == (True, len(pdf_text.pages(short)))


@pytest.mark.parametrize("part", [pytest.param("whole", marks=pytest.mark.long), "procedures"])
def test_same_unit_same_bytes(part):
    """Made twice: one document."""
    assert document(report(), to_json(report()), (), part) == pdf(part=part)


def test_a_name_that_looks_like_code_is_printed_as_it_stands():
    """A door's name is data: it stands in table and picture, letter by letter."""
    assert pdf_text.squeezed(HOSTILE) in squeezed("hostile")


def test_nothing_is_promised_in_print():
    """The words that no dossier uses."""
    for name in ("keyed", "bare"):
        text = " ".join(print_of(name).split())
        for phrase in (r"\bsafe\b(?! side)", r"no hazard", r"zero risk", r"\bcompliant\b"):
            assert not re.search(phrase, text), phrase


EXAMPLE = "examples/access/heron-quay/generator-without-key.yaml"


def command(*words):
    """Run `access` with the words of a shell."""
    import argparse

    parser = argparse.ArgumentParser()
    add_access(parser)
    chosen = parser.parse_args(words)
    return chosen.run(chosen)


@pytest.mark.parametrize("what", ["keys", "steps", "hazards", "rests"])
def test_the_command_writes_each_picture(what, tmp_path, capsys, request):
    """An SVG that says in words what it shows; the same bytes each time."""
    file = str(request.config.rootpath / EXAMPLE)
    written = []
    for name in ("a.svg", "b.svg"):
        assert command(file, "--picture", what, str(tmp_path / name)) == 0
        written.append((tmp_path / name).read_bytes())
    assert written[0] == written[1]
    assert written[0].startswith(b"<svg ")
    assert f"wrote {tmp_path / 'a.svg'}" in capsys.readouterr().out


def test_what_cannot_be_drawn_is_said(tmp_path, capsys, request):
    """An unknown picture, an unknown task, a unit in which hands reach no hazard: one line each, no file, status 2."""
    file = str(request.config.rootpath / EXAMPLE)
    sound = file.replace("generator-without-key", "key-exchange")
    target = tmp_path / "a.svg"
    assert command(file, "--picture", "cat", str(target)) == 2
    assert command(file, "--picture", "keys", str(target), "--task", "sweep") == 2
    assert command(sound, "--picture", "hazards", str(target)) == 2
    assert not target.exists()
    assert capsys.readouterr().err.splitlines() == [
        "deadfront: --picture cat: expected one of keys, where each key is during a task; steps, what is live after "
        "each step of a task; hazards, the same along the shortest way to each hazard that hands reach; rests, the "
        "states in which the unit may be left, and the ways between them",
        "deadfront: --picture keys: no task 'sweep' that can be drawn as `keys`; the unit's tasks: replace bayonet "
        "fuse, transfer to the generator",
        "deadfront: --picture hazards: no hazard within reach of hands",
    ]


@pytest.mark.parametrize(("what", "unit"), [("keys", "key-exchange"), ("hazards", "one-way-interlock")])
def test_the_pictures_of_the_manual_are_what_the_command_writes(what, unit, tmp_path, request):
    """A change of the drawing is seen and kept on purpose: `access FILE --picture WHAT docs/pictures/WHAT.svg`."""
    root = request.config.rootpath
    command(str(root / f"examples/access/heron-quay/{unit}.yaml"), "--picture", what, str(tmp_path / "a.svg"))
    assert (tmp_path / "a.svg").read_text() == (root / f"docs/pictures/{what}.svg").read_text()


def test_the_command_writes_the_sheets_alone_beside_the_file(tmp_path, capsys, request):
    """`dossier FILE --part procedures`: its name ends in what it is, and the sheet of the task is in it."""
    source = request.config.rootpath / EXAMPLE
    file = tmp_path / "unit.yaml"
    file.write_bytes(source.read_bytes())
    assert main(["dossier", str(file), "--part", "procedures"]) == 0
    assert capsys.readouterr().out.endswith(f"wrote {tmp_path / 'unit.procedures.pdf'}\n")
    assert "Replacebayonetfuse" in pdf_text.squeezed(pdf_text.whole((tmp_path / "unit.procedures.pdf").read_bytes()))
