"""Command line: nothing is written over what was read, over what is no file, or over a file of another kind."""

from __future__ import annotations

import os
import shutil
import stat
from pathlib import Path

import pytest

from deadfront.cli import main
from deadfront.project.catalogue import demonstration_catalogue
from deadfront.project.errors import ProjectErrors
from deadfront.project.fuse_writing import write_pair
from deadfront.project.writing import refuse_place

EXAMPLES = Path(__file__).parents[2] / "examples"
CURVE = "curves/link-d40.csv"
MAP = ["--claim", "SC-02", "--map", "supply.fault_current,supply.x_over_r"]
COMMANDS = {
    "dossier": ["dossier", "{unit}", "-o", "{out}.pdf"],
    "procedures": ["dossier", "{unit}", "--part", "procedures", "-o", "{out}.pdf"],
    "map": ["check", "{unit}", *MAP, "--picture", "{out}.svg"],
    "picture": ["picture", "{unit}", "time-current", "-o", "{out}.svg"],
    "bitmap": ["picture", "{unit}", "time-current", "-o", "{out}.png"],
    "curve": ["curve", "{curve}", "--picture", "{out}.png"],
    "access picture": ["access", "{unit}", "--picture", "steps", "{out}.svg"],
    "export": ["access", "{unit}", "--export", "{out}.json"],
    "model": ["access", "{unit}", "--export", "{out}.pml"],
}


@pytest.fixture(name="folder")
def _folder(tmp_path):
    """A copy of the demonstration, which a test may endanger."""
    shutil.copytree(EXAMPLES / "kestrel-point", tmp_path / "kestrel")
    return tmp_path / "kestrel"


def run(folder: Path, name: str, out: str = "out") -> tuple[int, Path]:
    """Status of a command that writes to `out`, and the place that it was told."""
    given = {"unit": str(folder / "unit.yaml"), "curve": str(folder / CURVE), "out": str(folder / out)}
    words = [word.format(**given) for word in COMMANDS[name]]
    return main(words), Path(words[-1])


def place_of(folder: Path, name: str) -> Path:
    """Where a command is told to write."""
    return folder / f"out{COMMANDS[name][-1].removeprefix('{out}')}"


@pytest.mark.parametrize("name", COMMANDS)
def test_a_file_of_another_kind_stays(folder, name, capsys):
    """Somebody's notes under the name that was given: status 2, the place, what stands there, and a way out."""
    place = place_of(folder, name)
    place.write_text("notes of a site visit\nsecond line\n", encoding="utf-8")
    assert run(folder, name) == (2, place)
    out, err = capsys.readouterr()
    assert out == ""
    joined = " ".join(err.split())
    assert joined.startswith(f"{place} expected a free name, or an earlier ")
    assert "which begins with `notes of a site visit`" in joined
    assert joined.endswith("help: give another name, or move what stands there away")
    assert place.read_text(encoding="utf-8").startswith("notes")


@pytest.mark.parametrize("name", COMMANDS)
def test_what_is_no_file_stays_what_it_is(folder, name, capsys):
    """A named pipe and a symbolic link are neither written into nor replaced."""
    place = place_of(folder, name)
    os.mkfifo(place)
    assert run(folder, name)[0] == 2
    assert stat.S_ISFIFO(place.lstat().st_mode)
    assert "got a named pipe" in " ".join(capsys.readouterr().err.split())
    place.unlink()
    place.symlink_to(folder / "unit.yaml")
    assert run(folder, name)[0] == 2
    assert place.is_symlink()
    assert (folder / "unit.yaml").read_bytes() == (EXAMPLES / "kestrel-point" / "unit.yaml").read_bytes()


@pytest.mark.parametrize("name", ["curve", "access picture", "export", "model"])
def test_what_the_same_command_wrote_is_replaced(folder, name):
    """Written twice: the second time over the first, and the same bytes."""
    _, place = run(folder, name)
    first = place.read_bytes()
    status, _ = run(folder, name)
    assert status != 2
    assert place.read_bytes() == first


@pytest.mark.parametrize("kind", ["PDF", "SVG picture", "PNG picture", "machine file", "Promela model"])
def test_an_earlier_file_of_the_kind_or_an_empty_one_may_be_replaced(tmp_path, kind):
    """The first bytes tell; nothing is lost with an empty file."""
    begins = {
        "PDF": b"%PDF-1.7\n",
        "SVG picture": b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">',
        "PNG picture": b"\x89PNG\r\n\x1a\n\0\0",
        "machine file": b'{\n "id": "x",\n "points": []',
        "Promela model": b"/* x: y\n   The machine of hand actions, one option",
    }
    place = tmp_path / "place"
    refuse_place(place, kind)
    for one, begin in begins.items():
        place.write_bytes(begin)
        if one == kind:
            refuse_place(place, kind)
        else:
            with pytest.raises(ProjectErrors, match=r"a\s+file\s+of\s+another\s+kind"):
                refuse_place(place, kind)
    place.write_bytes(b"")
    refuse_place(place, kind)


def test_a_name_or_a_hard_link_of_a_file_that_is_read_is_refused(tmp_path):
    """Also where the kind would fit: a machine is not exported over the file it was read from."""
    place, link = tmp_path / "m.json", tmp_path / "n.json"
    place.write_text('{"id": "m", "points": []}', encoding="utf-8")
    os.link(place, link)
    for one in (place, link):
        with pytest.raises(ProjectErrors, match=r"a\s+file\s+that\s+this\s+command\s+reads"):
            refuse_place(one, "machine file", [place])


@pytest.mark.parametrize("name", ["unit.yaml", "motors.csv", CURVE, "report"])
def test_a_dossier_is_written_under_a_name_of_its_own(folder, name, capsys):
    """The project file and its curves are never the place of the PDF; neither is a name that is none of a PDF."""
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert main(["dossier", str(folder / "unit.yaml"), "-o", str(folder / name)]) == 2
    assert capsys.readouterr() == ("", f"deadfront: {folder / name}: expected a name that ends in .pdf\n")
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_project_file_that_is_called_like_a_pdf_stays(folder, capsys):
    """Names do not decide: what was read is never written."""
    unit = (folder / "unit.yaml").rename(folder / "unit.pdf")
    before = unit.read_bytes()
    assert main(["dossier", str(unit)]) == 2
    assert "a file that this command reads" in " ".join(capsys.readouterr().err.split())
    assert unit.read_bytes() == before


def test_a_map_is_written_as_svg_alone(folder, capsys):
    """`--picture unit.yaml` was one way to lose a project."""
    unit = folder / "unit.yaml"
    before = unit.read_bytes()
    assert main(["check", str(unit), *MAP, "--picture", str(unit)]) == 2
    assert capsys.readouterr().err == f"deadfront: {unit}: expected a name that ends in .svg\n"
    assert unit.read_bytes() == before


@pytest.mark.long
def test_a_chosen_pair_is_not_written_over_what_is_no_curve(folder, capsys):
    """`--overwrite` replaces curves of another content, not a PDF that somebody named like one, and no pipe."""
    unit = folder / "unit.yaml"
    before = unit.read_bytes()
    pair = chosen_pair("S40 27 kV", "L100 27 kV")
    place = folder / pair["bayonet"].entries["curve"]
    place.write_bytes(b"%PDF-1.7 a certificate")
    with pytest.raises(ProjectErrors, match=r"begins\s+with\s+`%PDF-1.7 a certificate`"):
        write_pair(unit, pair, overwrite=True)
    assert (place.read_bytes(), unit.read_bytes()) == (b"%PDF-1.7 a certificate", before)
    place.unlink()
    os.mkfifo(place)
    words = ["choose", str(unit), "fuses", "--prove", "1", "--write", "S40 27 kV,L100 27 kV", "--overwrite"]
    assert main(words) == 2
    assert "named pipe" in capsys.readouterr().err
    assert (stat.S_ISFIFO(place.lstat().st_mode), unit.read_bytes()) == (True, before)


def chosen_pair(link: str, limiter: str):
    """A pair of the invented catalogue, by name."""
    rows = demonstration_catalogue()
    return {
        "bayonet": next(fuse for fuse in rows.links if fuse.name == link),
        "limiter": next(fuse for fuse in rows.limiters if fuse.name == limiter),
    }


def test_a_starter_is_not_written_into_a_pipe(tmp_path):
    """`new` writes where nothing stands, whatever stands there."""
    place = tmp_path / "mine.yaml"
    os.mkfifo(place)
    assert main(["new", str(place)]) == 2
    assert stat.S_ISFIFO(place.lstat().st_mode)
