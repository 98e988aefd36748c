"""Edits: one entry changes, every other character stays."""

import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.project.editing import set_value, split, with_value
from deadfront.project.errors import ProjectErrors
from deadfront.project.reading import load
from deadfront.project.shape import dotted
from deadfront.project.sources import Source
from deadfront.project.starters import PRACTICES, STARTER, new, starter_files
from deadfront.project.tree import parse

TEXT = """\
# a comment above
deadfront: 1  # of the form
supply:
  voltage: 24 kV # of the utility
  # a comment inside

mv_cable: {length: 2 m,
  type: a}
board:
fuses: {limiter: }
switch:
  voltage:   # not known yet
  short_time: {}
operation: {places: {bus: {electrodes: [VCB, HCB], }}}
"""


def edited(path, text, before=TEXT):
    """The text after the edit of one entry."""
    return with_value(parse(Source("unit.yaml", before)), path, text)


@pytest.mark.parametrize(
    ("path", "text", "old", "new"),
    [
        ("supply.voltage", "25 kV", "voltage: 24 kV #", "voltage: 25 kV #"),
        ("mv_cable.length", "3 m", "length: 2 m,", "length: 3 m,"),
        ("supply.fault_current", "1 .. 2 kA", "utility\n", "utility\n  fault_current: 1 .. 2 kA\n"),
        ("mv_cable.resistance", "0.1 ohm/km", "type: a}", "type: a, resistance: 0.1 ohm/km}"),
        ("board.voltage", "480 V", "board:\n", "board:\n  voltage: 480 V\n"),
        (
            "board.main.trip.instantaneous",
            "4 kA",
            "board:\n",
            "board:\n  main:\n    trip:\n      instantaneous: 4 kA\n",
        ),
        ("fuses.limiter.rating", "5 A", "limiter: }", "limiter: {rating: 5 A} }"),
        ("fuses.bayonet.rating", "6 A", "limiter: }", "limiter: , bayonet: {rating: 6 A}}"),
        ("switch.voltage", "25 kV", "voltage:   #", "voltage: 25 kV   #"),
        ("switch.short_time.current", "12 kA", "short_time: {}", "short_time: {current: 12 kA}"),
        ("site.place", "Kestrel Point", "], }}}\n", "], }}}\nsite:\n  place: Kestrel Point\n"),
        ("title", "a: b # c", "], }}}\n", '], }}}\ntitle: "a: b # c"\n'),
        ("operation.places.bus.electrodes[1]", "VOA", "HCB", "VOA"),
        ("operation.places.bus.gap", "32 mm", "HCB], }", "HCB], gap: 32 mm }"),
        (
            "board.feeders.pump hall.rating",
            "4 A",
            "board:\n",
            "board:\n  feeders:\n    pump hall:\n      rating: 4 A\n",
        ),
        ("assumptions.a b: c.owner", "x", "], }}}\n", '], }}}\nassumptions:\n  "a b: c":\n    owner: x\n'),
    ],
)
def test_one_entry_changes_and_every_other_character_stays(path, text, old, new):
    """Values replaced or added in blocks and in braces, slots around them added where they are missing."""
    assert edited(path, text) == TEXT.replace(old, new, 1)


def test_the_files_own_line_ends_and_missing_last_one_are_kept():
    """A file from another system stays one, and a value is added behind an unfinished last line."""
    before = "deadfront: 1\r\nsupply:\r\n  voltage: 20 kV"
    assert edited("supply.x_over_r", "8", before) == before + "\r\n  x_over_r: 8"


@pytest.mark.parametrize("practice", PRACTICES)
def test_comments_of_a_starter_file_survive_an_edit_on_the_disk(tmp_path, practice):
    """Only the one line differs; the file reads back with the new value and keeps its permissions."""
    file = tmp_path / "unit.yaml"
    new(file, practice)
    file.chmod(0o640)
    before = file.read_text().split("\n")
    set_value(file, "transformer.impedance", "6 % +/- 7.5 %")
    after = file.read_text().split("\n")
    assert [line for line, old in zip(after, before, strict=True) if line != old] == ["  impedance: 6 % +/- 7.5 %"]
    assert load(file).quantities["transformer.impedance"].centre == 0.06
    assert file.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["cables.csv", "curves", "motors.csv", "unit.yaml"]


@pytest.mark.long
@pytest.mark.parametrize("practice", PRACTICES)
def test_every_value_of_a_starter_file_can_be_written_anew(practice):
    """Replacing each single value by itself leaves the file byte for byte as it is."""
    text = starter_files(practice)[STARTER].decode()
    tree = parse(Source("unit.yaml", text))
    values = [path for path in tree.places if path and not isinstance(value(tree.data, path), dict | list)]
    assert len(values) > 150
    for path in values[::4]:  # every fourth: each edit reads the whole file again
        assert with_value(tree, dotted(path), str(value(tree.data, path))) == text, path


def value(data, path):
    """What stands at a path of plain data."""
    for part in path:
        data = data[part]
    return data


@given(st.text(max_size=60))
@settings(max_examples=200)
def test_any_text_is_written_so_that_it_reads_back_or_refused(text):
    """A value never leaks into the entries around it: it is data, not YAML."""
    try:
        after = edited("site.place", text, TEXT + "site: {place: x}\n")
    except ValueError:
        return
    tree = parse(Source("unit.yaml", after))
    assert str(tree.data["site"]["place"]) == text
    assert {name: part for name, part in tree.data.items() if name != "site"} == parse(Source("u", TEXT)).data


def test_an_edit_through_a_link_changes_the_file_and_keeps_the_link(tmp_path):
    """The link stays a link; a byte order mark stays in front."""
    real = tmp_path / "real.yaml"
    real.write_bytes(b"\xef\xbb\xbf" + TEXT.encode())
    link = tmp_path / "link.yaml"
    link.symlink_to(real)
    set_value(link, "supply.voltage", "25 kV")
    assert link.is_symlink()
    assert real.read_bytes() == b"\xef\xbb\xbf" + TEXT.replace("24 kV", "25 kV").encode()


def test_a_failed_edit_leaves_the_file_and_no_other(tmp_path, monkeypatch):
    """When the last step fails, the old file stands there, alone."""
    file = tmp_path / "unit.yaml"
    file.write_text(TEXT)
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError("full")))
    with pytest.raises(OSError, match=r"^full$"):
        set_value(file, "supply.voltage", "25 kV")
    assert file.read_text() == TEXT
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_that_cannot_be_read_is_not_edited(tmp_path):
    """Its faults come as they do from load."""
    file = tmp_path / "unit.yaml"
    file.write_text("a: 1\na: 2\n")
    with pytest.raises(ProjectErrors, match="expected each entry once, got a second `a`"):
        set_value(file, "supply.voltage", "25 kV")
    assert file.read_text() == "a: 1\na: 2\n"


@pytest.mark.parametrize(
    ("path", "text", "sentence"),
    [
        ("supply.voltag", "1 kV", "path: expected an entry of one value, got 'supply.voltag'"),
        ("supply", "1 kV", "path: expected an entry of one value, got 'supply'"),
        ("supply..voltage", "1 kV", "path: expected names joined by dots, got 'supply..voltage'"),
        ("", "1 kV", "path: expected names joined by dots, got ''"),
        (
            "operation.places.bus.electrodes[7]",
            "VCB",
            "path: expected an entry of the file, got 7, which it does not have",
        ),
        ("site.place", "a\nb", r"text: expected one line that can stand at site.place, got 'a\nb'"),
    ],
)
def test_what_cannot_be_written_is_refused_in_these_words(path, text, sentence):
    """The parameter, what it must be, and what it is."""
    with pytest.raises(ValueError, match="expected") as caught:
        edited(path, text)
    assert str(caught.value) == sentence


def test_a_path_comes_apart_into_names_and_numbers():
    """The inverse of what origins and refusals print."""
    path = ("operation", "places", "pump hall panel", "electrodes", 1)
    assert split(dotted(path)) == path
