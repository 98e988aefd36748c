"""Starter files: complete, explained, readable, and never written over anything."""

import inspect
import re
from itertools import pairwise

import pytest

from deadfront.claims.report import check
from deadfront.project.errors import ProjectErrors
from deadfront.project.model import Slot, Unit
from deadfront.project.reading import load, load_bytes
from deadfront.project.shape import entries, walk
from deadfront.project.sources import Source
from deadfront.project.starters import PRACTICES, STARTER, new, starter_files
from deadfront.project.tree import parse

ENTRY = re.compile(
    r"^( *)(# )?([a-z0-9_]+|pump hall|pump hall panel|feeder compartment|crane|name of the assumption):( |$)"
)
REQUIRED = ("deadfront:", "title:", "practice:")


def every_entry(slot: type[Slot], seen: set[tuple[str, str]]) -> set[tuple[str, str]]:
    """Each entry of each kind of slot that a file can have."""
    for name, shape in entries(slot).items():
        if (declared_by(slot, name), name) not in seen:
            seen.add((declared_by(slot, name), name))
            inner = shape
            while inner.item is not None:
                inner = inner.item
            if inner.slot is not None:
                every_entry(inner.slot, seen)
    return seen


def declared_by(slot: type[Slot], name: str) -> str:
    """The kind of slot that first has the entry: a feeder's `rating` is explained as any device's."""
    return next((kind.__name__ for kind in reversed(slot.__mro__) if name in inspect.get_annotations(kind)), "")


def with_all_alternatives(text):
    """The starter file with every entry behind a `#` made one of its own."""
    return "\n".join(re.sub(r"^( *)# ", r"\1", line) if ENTRY.match(line) else line for line in text.split("\n"))


def starter(practice):
    """Text of a starter file, and the files beside it."""
    files = starter_files(practice)
    return files.pop(STARTER).decode(), files


@pytest.mark.parametrize("practice", PRACTICES)
def test_a_starter_file_loads_as_a_unit_of_its_practice(practice):
    """It is without fault, complete enough to show the form, and says that its data are invented."""
    text, files = starter(practice)
    project = load_bytes("unit.yaml", text.encode(), files)
    assert project.unit.practice == practice
    assert project.demonstration
    assert sorted(project.files) == sorted(files)
    assert all(content.startswith(b"# INVENTED demonstration data - not any product; ") for content in files.values())


@pytest.mark.parametrize("practice", PRACTICES)
def test_every_entry_of_the_model_stands_in_each_starter_file(practice):
    """As a working value or behind a `#`: nobody needs another document to know what can be said."""
    text, _ = starter(practice)
    tree = parse(Source("unit.yaml", with_all_alternatives(text)))
    assert tree.problems == []
    found = {
        (declared_by(shape.slot, str(name)), str(name))
        for _, shape, data in walk(Unit, tree.data)
        if shape.slot is not None and isinstance(data, dict)
        for name in data
    }
    assert found == every_entry(Unit, set())


@pytest.mark.parametrize("practice", PRACTICES)
def test_every_entry_on_a_line_of_its_own_is_explained_above_it(practice):
    """A comment stands directly above each entry, whether it works or waits behind a `#`."""
    text, _ = starter(practice)
    lines = text.split("\n")
    known = {name for _, name in every_entry(Unit, set())}
    for above, line in pairwise(lines):
        match = ENTRY.match(line)
        if match and (not match[2] or match[3] in known):
            assert above.strip().startswith("# "), line
            assert not ENTRY.match(above), line


@pytest.mark.parametrize("practice", PRACTICES)
def test_the_alternatives_of_a_starter_file_are_right_in_themselves(practice):
    """All at once they contradict each other, and nothing else is wrong with them."""
    text, files = starter(practice)
    files["curves/breaker.csv"] = files["curves/bayonet.csv"] = b"current_a,total_clear_s\n100,100\n200,1\n1000,0.1\n"
    with pytest.raises(ProjectErrors) as caught:
        load_bytes("unit.yaml", with_all_alternatives(text).encode(), files)
    expected = [problem.expected for problem in caught.value.problems]
    assert expected
    assert [words for words in expected if not re.match(r"either |entries that go with|`time_dial`", words)] == []


@pytest.mark.parametrize("practice", PRACTICES)
def test_a_starter_file_without_its_values_is_half_filled(practice):
    """With everything optional behind a `#`, what remains is a project of which nothing is known yet."""
    text, _ = starter(practice)
    kept = [line for line in text.split("\n") if line.startswith((*REQUIRED, "#"))]
    project = load_bytes("unit.yaml", "\n".join(kept).encode(), {})
    assert dict(project.quantities) == {}
    assert project.unit.supply is None


@pytest.mark.long
@pytest.mark.parametrize(
    ("practice", "others", "words"),
    [
        ("north-american", {"DO-02": "open"}, r"every claim about this unit is shown, but for\n# DO-02"),
        ("iec", {"DO-02": "open", "CO-02": "refuted"}, r"but for two\.\n# DO-02 .* CO-02 stays refuted, as the entry"),
    ],
)
def test_a_starter_is_a_coherent_unit_and_says_which_claims_are_not_shown(practice, others, words):
    """Nobody owns the assumptions yet, which is left to the reader; a switch with fuses keeps CO-02 from holding."""
    text, files = starter(practice)
    claims = check(load_bytes("unit.yaml", text.encode(), files)).claims
    assert {claim.id: claim.verdict for claim in claims if claim.verdict not in ("shown", "not applicable")} == others
    assert re.search(words, text)


def test_new_writes_the_starter_file_and_what_it_names(tmp_path):
    """The paths come back, the file loads from the disk, its bytes are those of the package."""
    written = new(tmp_path / "landing.yaml", "iec")
    names = [path.relative_to(tmp_path).as_posix() for path in written]
    assert names == ["cables.csv", "curves/feeder-315.csv", "curves/limiter-31.csv", "motors.csv", "landing.yaml"]
    assert load(tmp_path / "landing.yaml").source == starter_files("iec")[STARTER]


def test_a_second_unit_shares_the_csv_files_that_are_there(tmp_path):
    """What stands there already with the same content is neither written nor refused."""
    new(tmp_path / "one.yaml", "north-american")
    assert new(tmp_path / "two.yaml", "north-american") == [tmp_path / "two.yaml"]


def test_new_overwrites_nothing(tmp_path):
    """A project file or a CSV file of other content stops it before anything is written."""
    (tmp_path / "one.yaml").write_text("mine")
    (tmp_path / "one-cables.csv").write_text("mine")
    (tmp_path / "cables.csv").write_text("mine")
    with pytest.raises(ProjectErrors) as caught:
        new(tmp_path / "one.yaml", "iec")
    assert str(caught.value).replace(f"{tmp_path}/", "") == (
        "one-cables.csv\nexpected a name that is free, got a file that stands there already\n\n"
        "help: give another name or move the file away\n\n"
        "one.yaml\nexpected a name that is free, got a file that stands there already\n\n"
        "help: give another name or move the file away"
    )
    assert sorted(path.name for path in tmp_path.iterdir()) == ["cables.csv", "one-cables.csv", "one.yaml"]
    assert (tmp_path / "one.yaml").read_text() == (tmp_path / "cables.csv").read_text() == "mine"


@pytest.mark.parametrize("stem", ["two", "annex 3", "a$b"])
def test_a_second_unit_of_another_practice_has_csv_files_of_its_own(tmp_path, stem):
    """Where a name is taken by another content, the starter calls its own file after itself, and names it so."""
    new(tmp_path / "one.yaml", "north-american")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.csv")}
    target = tmp_path / f"{stem}.yaml"
    names = [path.relative_to(tmp_path).as_posix() for path in new(target, "iec")]
    own = [f"{stem}-cables.csv", "curves/feeder-315.csv", "curves/limiter-31.csv", f"{stem}-motors.csv", target.name]
    assert names == own
    assert {path: path.read_bytes() for path in before} == before
    assert sorted(load(target).files) == sorted(own[:-1])
    assert b" cables.csv" not in target.read_bytes()
    assert load(tmp_path / "one.yaml").source == starter_files("north-american")[STARTER]


def test_new_says_when_the_folder_is_not_there(tmp_path):
    """A folder that does not exist is not made."""
    with pytest.raises(ProjectErrors) as caught:
        new(tmp_path / "no" / "one.yaml", "iec")
    assert str(caught.value).replace(f"{tmp_path}/", "").replace("\n    ", " ") == (
        "no/cables.csv\n"
        "expected a folder that can be written to, got a refusal of the system (No such file or directory)"
    )


def test_a_practice_that_nobody_has_is_refused():
    """The parameter and its value are named."""
    with pytest.raises(ValueError, match=r"^practice: expected north-american or iec, got 'metric'$"):
        starter_files("metric")
