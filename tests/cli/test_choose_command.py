"""The command `choose`: what a person types and reads, what another program reads, and what is written."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import jsonschema
import pytest

from deadfront.claims.choice_json import choice_schema
from deadfront.cli import main
from deadfront.project.reading import load

EXAMPLES = Path(__file__).parents[2] / "examples"
DEMONSTRATION = Path(__file__).parents[2] / "src" / "deadfront" / "project" / "catalogues" / "demonstration"
LINKS, LIMITERS = ("S40 23 kV", "S40 27 kV"), ("L100 27 kV", "L125 27 kV")


@pytest.fixture
def folder(tmp_path):
    """A copy of the repaired demonstration, with a small catalogue of its own beside it."""
    shutil.copytree(EXAMPLES / "kestrel-point", tmp_path / "unit")
    own = tmp_path / "unit" / "catalogue"
    shutil.copytree(DEMONSTRATION / "curves", own / "curves")
    for file, names in (("links.csv", LINKS), ("limiters.csv", LIMITERS)):
        lines = (DEMONSTRATION / file).read_text().splitlines(keepends=True)
        kept = [line for line in lines if line.startswith(("#", "fuse,", *(f"{name}," for name in names)))]
        (own / file).write_text("".join(kept))
    return tmp_path / "unit"


def test_best_pair_is_printed_with_its_reasons_and_written_with_its_curves(folder, capsys):
    """The file's own catalogue; the text, the status, the files written, and the comments that stay."""
    file = folder / "repaired.yaml"
    (folder / "curves" / "limiter-100.csv").unlink()
    file.write_text(file.read_text().replace("curves/limiter-100.csv", "curves/limiter-80.csv"))
    comments = [line[line.index("#") :] for line in file.read_text().splitlines() if "#" in line]
    assert main(["choose", str(file), "fuses", "--prove", "1", "--write", "best"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.replace(str(folder), "").splitlines())) <= 80
    for words in (
        "demonstration data - not for construction",
        "2 links and 2 limiters make 4 pairs.",
        "   1  S40 27 kV             L100 27 kV ",
        "largest worst margin of all, ",
        "REJECTED: 3 PAIRS, NEAREST FIRST",
        "link within its voltage class",
        "S40 27 kV and L100 27 kV now stand in the file",
    ):
        assert words in " ".join(out.split()) or words in out, out
    project = load(file)
    assert project.text("fuses.bayonet.curve") == "curves/link-s40.csv"
    assert (folder / "curves" / "limiter-100.csv").read_bytes() == (
        DEMONSTRATION / "curves" / "limiter-100.csv"
    ).read_bytes()
    text = file.read_text()
    assert all(comment in text for comment in comments)


def test_json_is_one_object_that_its_schema_accepts_and_nothing_else(folder, capsys):
    """Standard output is the object alone; a pair that fails names the claim and the share by which it does."""
    file = folder / "repaired.yaml"
    assert main(["choose", str(file), "fuses", "--prove", "0", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, choice_schema())
    assert (found["pairs"], len(found["candidates"])) == (4, 1)
    assert found["candidates"][0]["rank"] is None
    rejected = next(one for one in found["rejected"] if one["link"] == "S40 23 kV")
    assert "OC-04" in rejected["failed"]
    assert rejected["verdicts"]["OC-04"]["margin"] < 0.0


def test_without_a_proof_no_pair_has_a_rank(folder, capsys):
    """What points alone do not refute, a claim still may: no number before it, and the reason in words."""
    assert main(["choose", str(folder / "repaired.yaml"), "fuses", "--prove", "0"]) == 1
    out = capsys.readouterr().out
    assert "NOT PROVED, SO NOT RANKED; NO POINT TRIED REFUTES THEM\n" in out
    assert "   -  S40 27 kV             L100 27 kV " in out
    assert "   1  " not in out
    joined = " ".join(out.split())
    assert "and may refute each of these." in joined
    assert "not proved: no proof was asked for" in joined


def test_nothing_is_written_where_no_pair_is_proved(folder, capsys):
    """Without a proof `best` names nobody; the file stays as it was, and the status says that no pair was found."""
    file = folder / "repaired.yaml"
    before = file.read_bytes()
    assert main(["choose", str(file), "fuses", "--prove", "0", "--write", "best"]) == 1
    assert "nothing written: no pair is proved" in capsys.readouterr().err
    assert file.read_bytes() == before


def test_named_pair_is_written_though_it_fails_since_it_was_asked_for_by_name(folder, capsys):
    """The engineer's own choice; what fails stands in the text above."""
    file = folder / "repaired.yaml"
    main(["choose", str(file), "fuses", "--prove", "0", "--write", "S40 23 kV, L125 27 kV"])
    out = capsys.readouterr().out
    assert "S40 23 kV and L125 27 kV now stand in the file" in out
    assert load(file).text("fuses.bayonet.voltage") == "23 kV"


def test_curve_of_another_content_stops_the_writing(folder, capsys):
    """The demonstration's own curve of that name; nothing changes until asked to overwrite."""
    file = folder / "repaired.yaml"
    before = file.read_bytes()
    words = ["choose", str(file), "fuses", "--prove", "0", "--write", "S40 27 kV,L100 27 kV"]
    assert main(words) == 2
    assert "a file of another content" in capsys.readouterr().err
    assert file.read_bytes() == before
    main([*words, "--overwrite"])
    assert load(file).text("fuses.limiter.voltage") == "27 kV"
    assert file.read_bytes() != before


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--write", "S41,L100 27 kV"], "--write: expected `best` or a link of "),
        (["--write", "S40 27 kV"], "--write: expected `best` or a limiter of "),
        (["--stock", "S41"], "--stock: expected a project file, or a fuse of "),
        (["--catalogue", "nowhere"], "links.csv"),
    ],
)
def test_wrong_words_are_refused_before_anything_is_tried(folder, capsys, words, message):
    """Status 2, and what would be right."""
    assert main(["choose", str(folder / "repaired.yaml"), "fuses", *words]) == 2
    assert message in capsys.readouterr().err


def test_file_without_what_every_pair_needs_is_open(capsys):
    """Status 3 and the missing entries, with examples; the invented catalogue says what it is."""
    assert main(["choose", str(EXAMPLES / "gull-rock" / "unit.yaml"), "fuses"]) == 3
    out = capsys.readouterr().out
    assert "No pair can be tried: the file lacks" in out
    assert "  transformer.permitted_load\n" in out
    assert "demonstration data - not for construction" in out


def test_fuses_of_another_unit_are_in_stock(folder, capsys):
    """A neighbouring unit in which the pair was written: choosing it here brings no new rating."""
    neighbour = folder / "neighbour.yaml"
    shutil.copy(folder / "repaired.yaml", neighbour)
    words = ["fuses", "--prove", "0", "--json"]
    main(["choose", str(neighbour), *words, "--write", "S40 27 kV,L100 27 kV", "--overwrite"])
    capsys.readouterr()
    shutil.copy(EXAMPLES / "kestrel-point" / "unit.yaml", folder / "repaired.yaml")
    for stock, new in (([], 2), (["--stock", str(neighbour)], 0), (["--stock", "L100 27 kV"], 1)):
        main(["choose", str(folder / "repaired.yaml"), *words, *stock])
        found = json.loads(capsys.readouterr().out)
        pair = next(one for one in found["candidates"] if (one["link"], one["limiter"]) == ("S40 27 kV", "L100 27 kV"))
        assert len(pair["new_ratings"]) == new


def test_wrong_project_file_is_located(tmp_path, capsys):
    """As every other command says it."""
    file = tmp_path / "unit.yaml"
    file.write_text("deadfront: 1\ntitel: A\n")
    assert main(["choose", str(file), "fuses"]) == 2
    assert "unit.yaml:2:1" in capsys.readouterr().err
