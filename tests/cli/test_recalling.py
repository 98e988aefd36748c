"""Command line: what was checked before is recalled only for the same bytes, whole, and never by a re-check."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from deadfront import recalling
from deadfront.claims.proving import QUICK
from deadfront.claims.report import check, to_json
from deadfront.cli import main
from deadfront.dossier import terminal
from deadfront.project.reading import load
from deadfront.project.sources import Folder
from deadfront.recalling import RECALLED, checked, key

EXAMPLES = Path(__file__).parents[2] / "examples"
SMALL = EXAMPLES / "gull-rock" / "unit.yaml"


@pytest.fixture(scope="module")
def judged():
    """The small unit, judged once."""
    return check(load(SMALL))


@pytest.fixture
def kept(judged, monkeypatch):
    """The folder in which the small unit's report is kept; judging gives that report without working for it."""
    monkeypatch.setattr("deadfront.claims.report.check", lambda project, **_: replace(judged, project=project))
    assert not checked(judged.project, QUICK, None, fresh=False).recalled
    return Path(os.environ["XDG_CACHE_HOME"]) / "deadfront" / "checks"


def the_file(folder):
    """The only kept file."""
    (file,) = folder.iterdir()
    return file


def again(project, effort=QUICK, *, fresh=False):
    """Whether a check of a project is recalled."""
    return checked(project, effort, None, fresh=fresh).recalled


def rewritten(file, change):
    """Change a kept file's data and give it the checksum that fits."""
    plain = json.loads(file.read_bytes().partition(b"\n")[2])
    change(plain)
    body = json.dumps(plain).encode()
    file.write_bytes(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)


def test_the_second_check_is_recalled_prints_the_same_and_says_so(capsys):
    """Standard output is the same bytes; the hint stands on standard error; `--fresh` judges anew."""
    found = []
    for options in ([], [], ["--fresh"]):
        status = main(["check", str(SMALL), *options])
        captured = capsys.readouterr()
        found.append((status, captured.out))
        assert captured.err == (f"deadfront: {RECALLED}\n" if len(found) == 2 else "")
    assert found[0] == found[1] == found[2]


@pytest.mark.parametrize("unit", ["gull-rock/unit.yaml", "kestrel-point/unit.yaml"])
def test_a_recalled_report_is_the_judged_one_to_the_last_bit(unit):
    """Every field of every part, endless times and numbers outside a model included."""
    project = load(EXAMPLES / unit)
    first = checked(project, QUICK, None, fresh=False)
    second = checked(project, QUICK, None, fresh=False)
    assert (first.recalled, second.recalled) == (False, True)
    assert to_json(first.report) == to_json(second.report)
    for part in ("claims", "faults", "arcs", "assumptions", "version", "effort"):
        assert repr(getattr(second.report, part)) == repr(getattr(first.report, part)).replace("np.float64", "")
    assert second.report.station == first.report.station


def test_a_recalled_check_does_not_wait_for_the_rooms_of_claims(judged, kept):
    """What is recalled needs the form of a claim, not what judges it: a process without the rooms prints the same."""
    assert the_file(kept).exists()
    code = (
        "import sys; from deadfront.cli import main; main(sys.argv[1:]); "
        "sys.exit('deadfront.claims.short_circuit' in sys.modules or 'scipy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "check", str(SMALL)], capture_output=True, check=False, text=True
    )
    assert (done.returncode, done.stderr) == (0, f"deadfront: {RECALLED}\n")
    assert done.stdout == terminal.summary_text(judged)


def test_nothing_but_the_same_bytes_and_effort_is_recalled(judged, kept):
    """One byte of the project, its name, another effort: judged anew."""
    project = judged.project
    assert kept.is_dir()
    assert again(project)
    assert not again(replace(project, source=project.source + b" "))
    assert not again(replace(project, name="other.yaml"))
    assert not again(project, replace(QUICK, tolerance=0.01))


def test_a_byte_of_a_file_that_the_project_names_changes_the_key():
    """Curves and schedules count as the project file does; so does the name each has."""
    project = load(EXAMPLES / "kestrel-point" / "unit.yaml")
    name = sorted(project.files)[0]
    changed = replace(project, files={**project.files, name: project.files[name] + b"\n"})
    renamed = {("x" + at if at == name else at): data for at, data in project.files.items()}
    assert len({key(project, QUICK), key(changed, QUICK), key(replace(project, files=renamed), QUICK)}) == 3


@pytest.mark.parametrize("unit", ["kestrel-point/unit.yaml", "tarn-edge/unit.yaml"])
def test_every_byte_that_a_reading_reads_is_in_the_key(unit, monkeypatch):
    """A file read beside the project and not kept in it would make a recalled report stale."""
    read, names = Folder.read, []

    def noted(folder, name):
        names.append(name)
        return read(folder, name)

    monkeypatch.setattr(Folder, "read", noted)
    project = load(EXAMPLES / unit)
    assert names
    assert set(names) - {project.name} <= set(project.files)


def test_a_changed_tool_recalls_nothing(judged, kept, monkeypatch):
    """The source files and tables of the tool are part of the key, whatever the version says."""
    assert kept.is_dir()
    monkeypatch.setattr(recalling, "_tool", lambda: "another")
    assert not again(judged.project)


def test_what_a_tool_found_that_was_changed_meanwhile_is_not_kept(judged, kept, monkeypatch):
    """A process that still runs the tool's former self must not write under the name of the new one."""
    before = set(kept.iterdir())
    monkeypatch.setattr(recalling, "_files_of_tool", lambda: "changed")
    assert not again(replace(judged.project, name="second.yaml"))
    assert set(kept.iterdir()) == before


def test_the_tool_is_told_by_every_file_of_its_package(tmp_path, monkeypatch):
    """A table of a standard counts as the source does."""
    (tmp_path / "table.csv").write_text("1\n", encoding="utf-8")
    monkeypatch.setattr(recalling, "__file__", str(tmp_path / "recalling.py"))
    before = recalling._files_of_tool()
    assert recalling._files_of_tool() == before
    (tmp_path / "table.csv").write_text("2\n", encoding="utf-8")
    assert recalling._files_of_tool() != before


@pytest.mark.parametrize(
    "damage",
    [
        lambda _: b"",
        lambda data: data[: len(data) // 2],
        lambda data: data.replace(b"open", b"oben", 1),
        lambda data: b"0" * 64 + data[64:],
        lambda data: data.partition(b"\n")[2],
    ],
    ids=["empty", "half", "a letter", "another checksum", "no checksum"],
)
def test_a_damaged_file_is_judged_anew_and_replaced(judged, kept, damage):
    """Nothing is said, nothing fails; the next check finds a whole file again."""
    file = the_file(kept)
    whole = file.read_bytes()
    file.write_bytes(damage(whole))
    assert not again(judged.project)
    assert file.read_bytes() == whole
    assert again(judged.project)


@pytest.mark.parametrize(
    "change",
    [
        lambda plain: plain.pop("arcs"),
        lambda plain: plain["claims"][0].pop("verdict"),
        lambda plain: plain["claims"][0].update(verdict="fine"),
        lambda plain: plain.update(claims=7),
    ],
    ids=["a part less", "a field less", "no verdict", "no list"],
)
def test_a_foreign_file_with_a_fitting_checksum_is_judged_anew(judged, kept, change):
    """What is read is checked field by field."""
    rewritten(the_file(kept), change)
    assert not again(judged.project)


def test_a_file_that_others_may_write_is_not_trusted(judged, kept):
    """A result that somebody else could have put there is judged anew."""
    the_file(kept).chmod(0o666)
    assert not again(judged.project)


def test_fresh_replaces_what_was_kept(judged, kept):
    """After `--fresh` the next check recalls what that one found."""
    file = the_file(kept)
    rewritten(file, lambda plain: plain.update(version="0"))
    assert again(judged.project)
    assert not again(judged.project, fresh=True)
    assert checked(judged.project, QUICK, None, fresh=False).report.version == judged.version


def test_no_more_checks_are_kept_than_the_limit(judged, kept, monkeypatch):
    """The one not used for the longest time goes first; recalling counts as use."""
    monkeypatch.setattr(recalling, "MOST_KEPT", 3)
    first = judged.project
    second, third, fourth = (replace(first, name=f"{number}.yaml") for number in (2, 3, 4))
    for age, project in ((3000.0, first), (2000.0, second), (1000.0, third)):
        again(project)
        os.utime(kept / f"{key(project, QUICK)}.json", (age, age))
    assert again(third)  # used last now, so the second is the oldest
    assert not again(fourth)
    assert {file.stem for file in kept.iterdir()} == {key(project, QUICK) for project in (first, third, fourth)}


@pytest.mark.parametrize("place", ["a file", "no folder that is absolute"])
def test_a_check_never_fails_for_want_of_a_place(judged, monkeypatch, tmp_path, place):
    """Where nothing can be kept, every check judges, silently."""
    (tmp_path / "taken").write_text("", encoding="utf-8")
    named = str(tmp_path / "taken") if place == "a file" else "relative"
    monkeypatch.setenv("XDG_CACHE_HOME", named)
    monkeypatch.setenv("HOME", str(tmp_path / "taken"))
    monkeypatch.setattr("deadfront.claims.report.check", lambda *_, **__: judged)
    assert not again(judged.project)
    assert not again(judged.project)


def test_a_recheck_computes_whatever_is_kept(tmp_path, capsys):
    """A kept verdict that was turned round is what a check recalls, and what a re-check finds out."""
    dossier = tmp_path / "unit.pdf"
    assert main(["dossier", str(SMALL), "-o", str(dossier)]) == 0
    file = the_file(Path(os.environ["XDG_CACHE_HOME"]) / "deadfront" / "checks")

    def turned(plain):
        for claim in plain["claims"]:
            claim["verdict"] = "shown"

    rewritten(file, turned)
    assert main(["check", str(SMALL)]) == 0
    assert main(["recheck", str(dossier)]) == 0
    assert "no difference" in capsys.readouterr().out
