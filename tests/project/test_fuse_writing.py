"""A chosen pair written into a file: comments stay, what belonged to the old fuse goes, nothing is left half done."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from deadfront.project.catalogue import demonstration_catalogue
from deadfront.project.errors import ProjectErrors
from deadfront.project.fuse_writing import loaded, provisional, with_pair, write_pair
from deadfront.project.reading import load
from deadfront.project.slot_editing import with_slot
from deadfront.project.sources import Source
from deadfront.project.tree import parse

EXAMPLES = Path(__file__).parents[2] / "examples"
VALUES = {"curve": "curves/n.csv", "rating": "40 A", "melting_energy": "1 .. 2 A2s"}
LINK = ("fuses", "bayonet")
CATALOGUE = demonstration_catalogue()
PAIR = {
    "bayonet": next(fuse for fuse in CATALOGUE.links if fuse.name == "D50 15.5 kV"),
    "limiter": next(fuse for fuse in CATALOGUE.limiters if fuse.name == "L125 15.5 kV"),
}

FORMS = {
    "one line in braces becomes lines": (
        "fuses:\n  bayonet: {curve: x, test_x_over_r: 12}   # the link\nb: 2\n",
        "fuses:\n  bayonet:  # the link\n    curve: curves/n.csv\n    rating: 40 A\n"
        "    melting_energy: 1 .. 2 A2s\nb: 2\n",
    ),
    "lines keep their comments, also those of entries that go": (
        "fuses:\n  bayonet:   # a\n    curve: x   # b\n    # c\n    test_x_over_r: 12   # d\n"
        "    rating: 3 A # e\n\nb: 2\n",
        "fuses:\n  bayonet:   # a\n    curve: curves/n.csv   # b\n    # c\n    # d\n    rating: 40 A # e\n"
        "    melting_energy: 1 .. 2 A2s\n\nb: 2\n",
    ),
    "braces within braces stay braces": (
        "fuses: {bayonet: {curve: x, element: tin}, limiter: {curve: y}}\n",
        "fuses: {bayonet: {curve: curves/n.csv, rating: 40 A, melting_energy: 1 .. 2 A2s}, limiter: {curve: y}}\n",
    ),
    "braces over several lines keep their comments": (
        "fuses:\n  bayonet: {curve: x,  # one\n    voltage: 3 kV}  # two\n",
        "fuses:\n  bayonet: {curve: curves/n.csv,  # one\n    rating: 40 A, melting_energy: 1 .. 2 A2s}  # two\n",
    ),
    "a slot that was not there follows the others": (
        "fuses:\n  limiter: {curve: y}\nb: 1\n",
        "fuses:\n  limiter: {curve: y}\n  bayonet:\n    curve: curves/n.csv\n    rating: 40 A\n"
        "    melting_energy: 1 .. 2 A2s\nb: 1\n",
    ),
    "an empty slot is filled": (
        "fuses:\n  bayonet:  # to come\nb: 1\n",
        "fuses:\n  bayonet:  # to come\n    curve: curves/n.csv\n    rating: 40 A\n"
        "    melting_energy: 1 .. 2 A2s\nb: 1\n",
    ),
    "none of the old entries stays": (
        "fuses:\r\n  bayonet:\r\n    voltage: 3 kV # x\r\n    element: tin",
        "fuses:\r\n  bayonet:\r\n    # x\r\n    curve: curves/n.csv\r\n    rating: 40 A\r\n"
        "    melting_energy: 1 .. 2 A2s",
    ),
}


@pytest.mark.parametrize("name", FORMS)
def test_slot_is_written_in_the_form_it_has(name):
    """Each form of a slot in YAML, character by character."""
    before, after = FORMS[name]
    assert with_slot(Source("u.yaml", before), LINK, VALUES) == after


def test_text_that_is_no_plain_word_is_quoted():
    """A name with a comma or a colon stands in quotes, in lines and in braces."""
    odd = {"curve": "curves/a, b: c.csv"}
    assert with_slot(Source("u", "fuses:\n  bayonet:\n    curve: x\n"), LINK, odd).endswith('"curves/a, b: c.csv"\n')


def everything(data):
    """Plain data in which a number and its text are the same."""
    if isinstance(data, dict):
        return {name: everything(value) for name, value in data.items()}
    return [everything(value) for value in data] if isinstance(data, list) else None if data is None else str(data)


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_form_of_a_slot_is_written_and_nothing_else_changes(data):
    """Random entries, some to stay and some to go, in lines or braces, with comments anywhere a person may put them."""
    names = data.draw(st.lists(st.sampled_from(["curve", "rating", "voltage", "element", "preload"]), unique=True))
    comments = st.sampled_from(["", "  # a note", " # b: c, {d}"])
    value = st.sampled_from(["x y.csv", "40 A", '"a, b"', "''", ""])
    if data.draw(st.booleans()):
        inner = "".join(f"    {name}: {data.draw(value)}{data.draw(comments)}\n" for name in names)
        slot = f"  bayonet:{data.draw(comments)}\n{inner}"
    else:
        parts = [f"{name}: {data.draw(value)}," + (f"{data.draw(comments)}\n      ") for name in names]
        slot = "  bayonet: {" + "".join(parts) + "}" + data.draw(comments) + "\n"
    around = data.draw(st.sampled_from(["", "  limiter: {curve: y}\n", "  limiter:\n    curve: y # z\n"]))
    text = f"title: A # {{\nfuses:\n{slot}{around}\n# end\nlast: 3\n"
    after = with_slot(Source("u", text), LINK, VALUES)
    old, new = (everything(parse(Source("u", each)).data) for each in (text, after))
    assert new["fuses"].pop("bayonet") == VALUES
    old["fuses"].pop("bayonet")
    assert new == old
    for comment in ("# a note", "# b: c, {d}", "# z", "# end", "# {"):
        assert after.count(comment) == text.count(comment)


@pytest.fixture
def unit(tmp_path):
    """A copy of a demonstration that a test may change."""
    shutil.copytree(EXAMPLES / "kestrel-point", tmp_path / "unit")
    return tmp_path / "unit" / "unit.yaml"


def test_project_in_memory_has_the_numbers_of_the_catalogue_and_no_others_of_the_fuse(unit):
    """Nothing of the fuse of before is left at its slot; everything else is what it was."""
    project = load(unit)
    changed = loaded(project, with_pair(project, PAIR))
    quick = provisional(project, PAIR)
    assert (quick.unit, dict(quick.quantities)) == (changed.unit, dict(changed.quantities))
    for name, fuse in PAIR.items():
        own = {path for path in changed.quantities if path.startswith(f"fuses.{name}.")}
        assert own == {f"fuses.{name}.{entry}" for entry in fuse.quantities}
        assert changed.curves[fuse.entries["curve"]].current == fuse.curve.current
    rest = {
        path: q for path, q in project.quantities.items() if not path.startswith(("fuses.bayonet", "fuses.limiter"))
    }
    assert {path: changed.quantities[path] for path in rest} == rest


def test_written_file_is_the_one_that_was_looked_at(unit):
    """The bytes on the disk are those that were proved, and the comments of the file are all there."""
    project, comments = load(unit), [line for line in unit.read_text().splitlines() if "#" in line]
    expected = with_pair(project, PAIR)
    paths = write_pair(unit, PAIR)
    assert [path.name for path in paths] == ["link-d50.csv", "limiter-125.csv", "unit.yaml"]
    assert unit.read_bytes() == expected.source
    assert load(unit).unit == loaded(project, expected).unit
    text = unit.read_text()
    assert all(line[line.index("#") :] in text for line in comments)
    assert [path.name for path in write_pair(unit, PAIR)] == ["unit.yaml"]


def test_curve_of_another_content_is_not_overwritten_unless_asked(unit):
    """The refusal names the file, and nothing at all has changed; asked to, it is overwritten."""
    taken = unit.parent / "curves" / "limiter-125.csv"
    taken.write_text("current_a,total_clear_s\n")
    before = {path: path.read_bytes() for path in unit.parent.rglob("*") if path.is_file()}
    with pytest.raises(ProjectErrors) as caught:
        write_pair(unit, PAIR)
    assert "limiter-125.csv" in str(caught.value)
    assert "a file of another content" in str(caught.value)
    assert {path: path.read_bytes() for path in unit.parent.rglob("*") if path.is_file()} == before
    write_pair(unit, PAIR, overwrite=True)
    assert taken.read_bytes() == PAIR["limiter"].content


def test_curve_that_another_device_uses_is_never_overwritten(unit):
    """An upstream fuse with its curve from the same file would change unseen."""
    unit.write_text("deadfront: 1\ntitle: A\npractice: iec\nsupply: {protection: {fuse: curves/link-d50.csv}}\n")
    (unit.parent / "curves" / "link-d50.csv").write_text(
        "current_a,min_melt_s,total_clear_s\n9,9,9\n99,1,1\n999,0.1,0.1\n"
    )
    with pytest.raises(ProjectErrors, match=r"supply\.protection\.fuse"):
        write_pair(unit, PAIR, overwrite=True)


def test_beside_what_the_project_has_a_curve_gets_a_free_name(unit):
    """Looked at, not written: the curve of the same name stays for whoever else uses it."""
    (unit.parent / "curves" / "link-d50.csv").write_bytes((unit.parent / "curves" / "limiter-80.csv").read_bytes())
    unit.write_text("deadfront: 1\ntitle: A\npractice: iec\nsupply: {protection: {fuse: curves/link-d50.csv}}\n")
    project = load(unit)
    written = with_pair(project, PAIR, overwrite=False)
    changed = loaded(project, written)
    assert written.clashes == ("curves/link-d50.csv",)
    assert changed.curves["curves/link-d50.csv"] == project.curves["curves/link-d50.csv"]
    assert changed.unit.fuses.bayonet.curve == "curves/link-d50-2.csv"


def test_pair_that_stops_half_way_leaves_the_project_as_it_was(unit, monkeypatch):
    """A full disk at the project file: curves may stand there, the file is the old one, whole."""
    before = unit.read_bytes()
    real = __import__("os").replace

    def full(source, target):
        if str(target).endswith(".yaml"):
            raise OSError("no space left on device")
        real(source, target)

    monkeypatch.setattr("deadfront.project.editing.os.replace", full)
    with pytest.raises(OSError, match="no space left"):
        write_pair(unit, PAIR)
    assert unit.read_bytes() == before
    assert not [path for path in unit.parent.rglob(".*") if path.is_file()]
