"""Reading from disk and memory: what a Project holds, what is refused unread, and that nothing else escapes."""

import os
import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.project.errors import ProjectErrors
from deadfront.project.model import Unit
from deadfront.project.project import CurveData, Project
from deadfront.project.reading import load, load_bytes
from deadfront.project.starters import PRACTICES, STARTER, starter_files

UNIT = """\
deadfront: 1
title: Kestrel Point ferry landing
practice: north-american
supply:
  voltage: 24.94 kV
  fault_current: 3.2 .. 9.8 kA  # a range
  earthing: solid
mv_cable: {length: 180 m, catalogue: cables.csv, type: A, reactance: 0.2 ohm/km}
fuses: {limiter: {curve: curves/limiter.csv}}
board:
  feeders:
    pump hall: {cable: {length: 20 m, catalogue: cables.csv, type: B}}
    spare:
motors:
  schedule: motors.csv
  groups: {12: {power: 3 kW}}
operation:
  places:
    bus: {electrodes: [VCB, HCB], without_detection: no work}
"""
FILES = {
    "cables.csv": (
        b"# a list\ntype,resistance_ohm_per_km,reactance_ohm_per_km,conductor\nA,0.2,0.1,copper\nB, 0.3 .. 0.4 ,,\n"
    ),
    "motors.csv": b'name,power_kw,power_factor,drive\n"fans, roof",45,0.88,direct\n',
    "curves/limiter.csv": (
        b"\xef\xbb\xbfcurrent_a,min_melt_s,total_clear_s\r\n100,100,200\r\n\r\n200,1,2\r\n1000,0.01,0.02\r\n"
    ),
}


@pytest.fixture
def folder(tmp_path):
    """The unit and its files on the disk."""
    (tmp_path / "unit.yaml").write_text(UNIT, encoding="utf-8")
    (tmp_path / "curves").mkdir()
    for name, content in FILES.items():
        (tmp_path / name).write_bytes(content)
    return tmp_path


def refusal(path):
    """The text of the refusal of a file on the disk, its folder left out."""
    with pytest.raises(ProjectErrors) as caught:
        load(path)
    return str(caught.value).replace(f"{path.parent}{os.sep}", "")


def test_a_project_holds_every_number_of_the_file_and_of_what_it_names():
    """Values of catalogues and schedules stand at the paths they would have in the file."""
    project = load_bytes("unit.yaml", UNIT.encode(), FILES)
    assert {path: quantity.text for path, quantity in project.quantities.items()} == {
        "supply.voltage": "24.94 kV",
        "supply.fault_current": "3.2 .. 9.8 kA",
        "mv_cable.length": "180 m",
        "mv_cable.resistance": "0.2 ohm/km",
        "mv_cable.reactance": "0.2 ohm/km",
        "board.feeders.pump hall.cable.length": "20 m",
        "board.feeders.pump hall.cable.resistance": "0.3 .. 0.4 ohm/km",
        "motors.groups.12.power": "3 kW",
        "motors.groups.fans, roof.power": "45 kW",
        "motors.groups.fans, roof.power_factor": "0.88 pu",
    }
    assert project.quantities["board.feeders.pump hall.cable.resistance"].high == 0.0004


def test_an_entry_of_the_file_wins_over_the_catalogue():
    """The reactance 0.2 ohm/km stands in the file, 0.1 in the catalogue."""
    project = load_bytes("unit.yaml", UNIT.encode(), FILES)
    assert project.unit.mv_cable.reactance.centre == 0.0002
    assert project.origins["mv_cable.reactance"] == "unit.yaml:8"


def test_the_unit_carries_the_merged_values_too():
    """Whoever reads the slots sees what whoever reads the numbers sees."""
    unit = load_bytes("unit.yaml", UNIT.encode(), FILES).unit
    assert unit.mv_cable.resistance.centre == 0.0002
    assert unit.mv_cable.conductor == "copper"
    assert unit.motors.groups["fans, roof"].drive == "direct"


def test_each_entry_knows_where_it_stands():
    """Origins name file and line, of the catalogue where the value comes from there; words and slots included."""
    origins = load_bytes("unit.yaml", UNIT.encode(), FILES).origins
    assert origins["supply.fault_current"] == "unit.yaml:6"
    assert origins["supply.earthing"] == "unit.yaml:7"
    assert origins["supply"] == "unit.yaml:4"
    assert origins["mv_cable.resistance"] == "cables.csv:3"
    assert origins["motors.groups.fans, roof.power"] == "motors.csv:2"
    assert origins["operation.places.bus.electrodes[1]"] == "unit.yaml:19"


def test_a_curve_is_kept_under_the_name_in_the_file():
    """Numbers of the CSV file, read past a byte order mark, blank lines and other line ends."""
    project = load_bytes("unit.yaml", UNIT.encode(), FILES)
    assert project.curves["curves/limiter.csv"] == CurveData(
        (100.0, 200.0, 1000.0), (100.0, 1.0, 0.01), (200.0, 2.0, 0.02), "curves/limiter.csv"
    )


def test_a_breakers_curve_needs_no_melting_times():
    """A file with total clearing times only is a whole curve; flat stretches are allowed."""
    files = {"b.csv": b"current_a,total_clear_s\n100,100\n200,1\n1000,0.02\n5000,0.02\n"}
    source = "deadfront: 1\ntitle: a\npractice: iec\nboard: {main: {curve: b.csv}}\n"
    curve = load_bytes("unit.yaml", source.encode(), files).curves["b.csv"]
    assert curve.minimum_melting is None
    assert curve.total_clearing == (100.0, 1.0, 0.02, 0.02)


def test_text_gives_words_and_numbers_as_written():
    """An entry by its path; None where the file has none, or where it has entries of its own."""
    project = load_bytes("unit.yaml", UNIT.encode(), FILES)
    assert project.text("supply.earthing") == "solid"
    assert project.text("supply.fault_current") == "3.2 .. 9.8 kA"
    assert project.text("operation.places.bus.without_detection") == "no work"
    assert project.text("supply") is None
    assert project.text("transformer.impedance") is None
    assert project.text("zebra.stripes") is None


def test_a_half_filled_file_is_no_fault():
    """Only three entries are required; empty slots, names and values are open questions."""
    source = (
        "deadfront: 1\ntitle: a\npractice: iec\n"
        "supply:\nfuses: {limiter: }\nboard: {voltage: , feeders: {pump hall: }}\n"
    )
    project = load_bytes("unit.yaml", source.encode(), {})
    assert project.unit.supply is None
    assert list(project.unit.board.feeders) == ["pump hall"]
    assert dict(project.quantities) == {}


def test_invented_data_are_known_by_the_file_or_by_its_csv():
    """`data: demonstration`, or the first comment line of any file it names, also in quotes as spreadsheets save it."""
    plain = load_bytes("unit.yaml", UNIT.encode(), FILES)
    said = load_bytes("unit.yaml", (UNIT + "data: demonstration\n").encode(), FILES)
    quoted = b'"# INVENTED demonstration data - not any product, not for construction"\n' + FILES["cables.csv"]
    by_csv = load_bytes("unit.yaml", (UNIT + "data: project\n").encode(), FILES | {"cables.csv": quoted})
    assert [plain.demonstration, said.demonstration, by_csv.demonstration] == [False, True, True]


def test_the_disk_and_memory_give_the_same_project(folder):
    """What a dossier carries is read as the files were."""
    there, here = load(folder / "unit.yaml"), load_bytes("unit.yaml", UNIT.encode(), FILES)
    for field in ("unit", "name", "source", "files", "curves", "quantities", "origins", "demonstration"):
        assert getattr(there, field) == getattr(here, field), field
    assert list(there.files) == sorted(FILES)
    assert there.sha256 == here.sha256 == load_bytes("other.yaml", there.source, there.files).sha256


def test_places_on_the_disk_lead_there_from_where_one_stands(folder, monkeypatch):
    """The name before line and column is one that an editor in that terminal opens, for the CSV files too."""
    (folder / "curves" / "limiter.csv").write_bytes(b"current_a,total_clear_s\n1,x\n")
    monkeypatch.chdir(folder.parent)
    with pytest.raises(ProjectErrors) as caught:
        load(f"{folder.name}/unit.yaml")
    assert caught.value.problems[0].place == f"{folder.name}{os.sep}curves/limiter.csv:2:3"


def test_a_missing_file_is_refused_with_the_way_to_one(tmp_path):
    """The whole sentence, without line or column."""
    assert refusal(tmp_path / "no.yaml") == (
        "no.yaml\nexpected a project file of at most 1 MiB, got nothing: there is no such file\n\n"
        "help: `deadfront new FILE` writes a starter file"
    )


def test_a_folder_a_pipe_and_a_device_are_refused_unread(tmp_path):
    """None of them is opened for longer than it takes to see what it is."""
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "zero.yaml").symlink_to("/dev/zero")
    expected = "expected a project file of at most 1 MiB, got"
    assert f"{expected} a folder\n" in refusal(tmp_path)
    assert f"{expected} a device, pipe or socket\n" in refusal(tmp_path / "pipe.yaml").replace("\n    ", " ")
    assert f"{expected} a device, pipe or socket\n" in refusal(tmp_path / "zero.yaml").replace("\n    ", " ")


def test_a_hundred_megabytes_are_refused_at_once(tmp_path):
    """The size is asked before the content; 0.1 s would be enough to read a tenth of it."""
    with (tmp_path / "big.yaml").open("wb") as file:
        file.truncate(100 << 20)
    start = time.perf_counter()
    said = refusal(tmp_path / "big.yaml")
    assert time.perf_counter() - start < 0.1
    assert said == (
        "big.yaml\nexpected a project file of at most 1 MiB, got 104857600 bytes\n\n"
        "help: `deadfront new FILE` writes a starter file"
    )


def test_a_link_may_not_lead_out_of_the_projects_folder(folder, tmp_path_factory):
    """A link beside the file is followed inside its folder only."""
    outside = tmp_path_factory.mktemp("elsewhere") / "limiter.csv"
    outside.write_bytes(FILES["curves/limiter.csv"])
    inside = folder / "inside.csv"
    inside.write_bytes(FILES["curves/limiter.csv"])
    link = folder / "curves" / "limiter.csv"
    link.unlink()
    link.symlink_to(outside)
    assert refusal(folder / "unit.yaml") == (
        "unit.yaml:9:26  fuses.limiter.curve\n"
        "    fuses: {limiter: {curve: curves/limiter.csv}}\n"
        "                             ^^^^^^^^^^^^^^^^^^\n"
        "expected a CSV file of at most 1 MiB beside this one, got a link that leads out\n"
        "    of the project's folder\n\n"
        "help: put the file there or leave the entry out"
    )
    link.unlink()
    link.symlink_to(inside)
    assert load(folder / "unit.yaml").curves


def read_or_refused(source, files):
    """The project or the refusal; anything else fails the test."""
    try:
        project = load_bytes("unit.yaml", source, files)
    except ProjectErrors as refusal:
        said = str(refusal)
    else:
        said = "read"
        assert isinstance(project, Project)
        assert isinstance(project.unit, Unit)
    assert said


@given(
    st.one_of(st.binary(max_size=400), st.text(max_size=400).map(lambda text: text.encode("utf-8", "surrogatepass")))
)
def test_any_bytes_are_a_project_or_refused(source):
    """Whatever the file holds, the reader answers with a Project or with ProjectErrors."""
    read_or_refused(source, {})


MARKS = (
    r"supply|voltage|24.94 kV|board|feeders|1|-|~|{|}|[|]|:|: |,|#|'|\"|? |<<|*a|&a|!!int|>|%YAML|---|...|\U00110000"
)
WORDS = st.sampled_from([*MARKS.split("|"), "|", "\n", "\n  ", "\n    ", "\t", "\r"])


@given(st.lists(WORDS, max_size=40).map("".join))
@settings(max_examples=300)
def test_any_sequence_of_yaml_marks_is_a_project_or_refused(tail):
    """Marks of YAML in any order after a good beginning raise nothing else."""
    read_or_refused(f"deadfront: 1\ntitle: a\npractice: iec\n{tail}".encode(), {})


@given(st.text(alphabet='abcdeghilmnopstu_0123456789.,;-+eE"# \n\r\t\ufeff', max_size=200))
def test_any_curve_file_is_a_curve_or_refused(content):
    """A curve file of any content raises nothing else."""
    source = b"deadfront: 1\ntitle: a\npractice: iec\nfuses: {limiter: {curve: a.csv}}\n"
    read_or_refused(source, {"a.csv": b"current_a,total_clear_s\n" + content.encode()})


@pytest.mark.long
@pytest.mark.parametrize("practice", PRACTICES)
@given(seed=st.integers(0, 2**32))
@settings(max_examples=150, deadline=None)
def test_a_damaged_starter_file_is_a_project_or_refused(practice, seed):
    """Lines and characters deleted, doubled and replaced, in the project file and in what it names."""
    chance = random.Random(seed)
    files = starter_files(practice)
    name = chance.choice([STARTER, STARTER, STARTER, *files])
    text = files[name].decode()
    for _ in range(chance.randint(1, 4)):
        text = damaged(text, chance)
    files[name] = text.encode("utf-8", "surrogatepass")
    read_or_refused(files.pop(STARTER), files)


def damaged(text, chance):
    """The text with one line or a few characters deleted, doubled, moved or replaced."""
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    action = chance.randrange(5)
    if action == 0:
        del lines[at]
    elif action == 1:
        lines.insert(chance.randrange(len(lines) + 1), lines[at])
    elif action == 2:
        lines[at] = " " * chance.randrange(9) + lines[at].lstrip()
    else:
        position = chance.randrange(len(lines[at]) + 1)
        new = "".join(chance.choices("aZ09 .:,-{}[]&*!|>'\"%@`#\\\t\r\x00\x85\u202e\ud800é", k=chance.randrange(3)))
        lines[at] = lines[at][:position] + new + lines[at][position + chance.randrange(4) :]
    return "\n".join(lines) or " "


def test_a_name_that_the_system_cannot_take_is_refused(tmp_path):
    """Neither a null character nor an endless name ends in another exception, nor reaches the terminal raw."""
    assert "got a refusal of the system (embedded null byte)" in refusal(tmp_path / "a\0b.yaml").replace("\n    ", " ")
    assert "\0" not in refusal(tmp_path / "a\0b.yaml")
    assert "got a refusal of the system (File name too long)" in refusal(tmp_path / ("x" * 999)).replace("\n    ", " ")


def test_a_link_of_which_only_melting_is_published_keeps_its_curve():
    """The file may leave the clearing times out: they follow from its tolerance and its arcing time."""
    text = b"deadfront: 1\ntitle: a\npractice: iec\nfuses: {bayonet: {curve: a.csv}}\n"
    project = load_bytes("unit.yaml", text, {"a.csv": b"current_a,min_melt_s\n100,300\n200,10\n1000,0.02\n"})
    assert project.curves["a.csv"] == CurveData((100.0, 200.0, 1000.0), (300.0, 10.0, 0.02), None, "a.csv")
