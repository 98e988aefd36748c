"""Command line: what a person types and what comes back, on the demonstrations as they are shipped."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import jsonschema
import pytest

from deadfront import check, load, to_json
from deadfront.claims.schema import result_schema
from deadfront.cli import main
from deadfront.command_parts import exit_status
from deadfront.dossier import terminal

EXAMPLES = Path(__file__).parents[2] / "examples"
KESTREL = EXAMPLES / "kestrel-point" / "unit.yaml"
REPAIRED = EXAMPLES / "kestrel-point" / "repaired.yaml"
TARN = EXAMPLES / "tarn-edge" / "unit.yaml"
GULL = EXAMPLES / "gull-rock" / "unit.yaml"


@pytest.fixture
def unit(tmp_path):
    """A copy of the demonstration that a test may change."""
    shutil.copytree(KESTREL.parent, tmp_path / "unit")
    return tmp_path / "unit" / "unit.yaml"


@pytest.fixture(scope="module", params=[KESTREL, TARN, REPAIRED], ids=lambda f: f"{f.parent.name}-{f.stem}")
def report(request):
    """Each demonstration, checked once."""
    return check(load(request.param))


def test_the_verdicts_give_the_exit_status(report):
    """Something refuted gives 1; all shown or not applicable gives 0."""
    expected = 0 if report.project.name == "repaired.yaml" else 1
    assert exit_status(claim.verdict for claim in report.claims) == expected


def test_text_fits_eighty_columns_without_colour(report):
    """No line is longer than 80 columns and no escape sequence is printed."""
    out = terminal.summary_text(report)
    assert max(map(len, out.splitlines())) <= 80
    assert "\x1b" not in out


def test_json_is_one_object_that_its_schema_accepts(report):
    """The result agrees with the published schema, and holds every claim of this file."""
    result = json.loads(json.dumps(to_json(report), allow_nan=False))
    jsonschema.validate(result, result_schema())
    assert {"SC-01", "AE-02", "CO-04", "DO-02"} <= {claim["id"] for claim in result["claims"]}
    assert {row["method"] for row in result["faults"]} == {"IEC 60909-0:2016", "North American per unit"}


def test_one_claim_is_shown_with_its_arithmetic(report):
    """Formula, numbers, result, source and tag of each step."""
    out = terminal.claim_text(report, "AE-02")
    for words in ("Arithmetic at the worst case", "Iarc", "IEEE 1584-2018", "[M]", "Each subject"):
        assert words in out


def test_check_prints_the_claims_and_gives_the_status(capsys):
    """The whole command, on the unit in which all is shown."""
    assert main(["check", str(REPAIRED)]) == 0
    assert "0 refuted, 0 open" in capsys.readouterr().out


def test_check_prints_json_where_asked(capsys):
    """One object and nothing else on standard output."""
    assert main(["check", str(GULL), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["title"] == "Gull Rock pumping station"


def test_a_file_with_nothing_refuted_and_something_open_gives_three(unit, capsys):
    """A half-filled file is not an error: what it lacks makes claims open."""
    unit.write_text("deadfront: 1\ntitle: Half a unit\npractice: iec\n", encoding="utf-8")
    assert main(["check", str(unit)]) == 3
    out = capsys.readouterr().out
    assert "0 refuted" in out
    assert "give supply." in out


def test_a_wrong_file_gives_two_on_standard_error_and_writes_nothing(unit, capsys):
    """All errors at once, located; no dossier is begun."""
    text = unit.read_text(encoding="utf-8").replace("24.94 kV", "24.94 MV", 1).replace("earthing:", "erthing:", 1)
    unit.write_text(text, encoding="utf-8")
    before = sorted(p.name for p in unit.parent.iterdir())
    assert main(["dossier", str(unit)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "supply.voltage" in captured.err
    assert "earthing" in captured.err
    assert sorted(p.name for p in unit.parent.iterdir()) == before


def test_an_unknown_claim_names_those_there_are(capsys):
    """The message lists the claims."""
    assert main(["check", str(GULL), "--claim", "ZZ-99"]) == 2
    assert "no claim ZZ-99; the claims are AC-01" in capsys.readouterr().err


def test_a_claim_is_found_in_small_letters_and_a_near_miss_is_asked_about(capsys):
    """`sc-02` is the claim SC-02; of another name the nearest is asked about, then all are named."""
    assert main(["check", str(GULL), "--claim", "sc-02"]) == 1
    assert "  X SC-02  refuted" in capsys.readouterr().out
    assert main(["check", str(GULL), "--claim", "sc-2"]) == 2
    assert (
        capsys.readouterr()
        .err.splitlines()[-1]
        .startswith("deadfront: no claim SC-2. Did you mean SC-02? The claims are AC-01, ")
    )


def test_the_version_is_that_of_the_package_and_imports_nothing_heavy():
    """`--version` prints one line with what the package says of itself."""
    code = (
        "import sys\nfrom deadfront.cli import main\n"
        "try:\n    main(['--version'])\nexcept SystemExit as end:\n    print(end.code)\n"
        "print(sorted({'numpy', 'pydantic', 'matplotlib', 'scipy', 'typst'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    about = tomllib.loads((EXAMPLES.parent / "pyproject.toml").read_text(encoding="utf-8"))
    assert done.stdout == f"deadfront {about['project']['version']}\n0\n[]\n"


@pytest.mark.parametrize("command", ["", "new", "dossier", "recheck", "choose", "curve", "picture", "access"])
def test_help_says_the_exit_status(command, capsys):
    """Each command says its own; that of `check` stands in the help of the program."""
    with pytest.raises(SystemExit):
        main([*command.split(), "--help"])
    assert "exit status" in capsys.readouterr().out


@pytest.mark.parametrize(("practice", "status"), [("north-american", 3), ("iec", 1)])
def test_a_starter_file_is_written_once_and_checks(tmp_path, practice, status, capsys):
    """The starter loads, is judged as its own comments say, open or refuted, and is never overwritten."""
    target = tmp_path / "mine.yaml"
    assert main(["new", str(target), "--practice", practice]) == 0
    assert main(["check", str(target)]) == status
    before = target.read_bytes()
    assert main(["new", str(target), "--practice", practice]) == 2
    assert target.read_bytes() == before
    assert "mine.yaml" in capsys.readouterr().err


def test_schema_is_printed_as_json(capsys):
    """Editors can read it."""
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["properties"]["supply"]


@pytest.mark.long
def test_a_dossier_is_written_and_rechecks(unit, capsys):
    """The PDF carries its files; computed again it says the same."""
    assert main(["dossier", str(unit)]) == 0  # written, though something is refuted: `check` says that
    pdf = unit.with_suffix(".pdf")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert main(["recheck", str(pdf)]) == 0
    assert "no difference" in capsys.readouterr().out


def test_watch_checks_again_when_a_curve_is_saved(unit):
    """The file or one of its curves is saved: the claims are printed again."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "deadfront", "check", str(unit), "--watch"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as process:
        assert process.stdout is not None
        try:
            _read_until(process.stdout, "claims:")
            curve = next((unit.parent / "curves").glob("*.csv"))
            time.sleep(0.05)
            curve.write_text(curve.read_text(encoding="utf-8") + "# saved\n", encoding="utf-8")
            _read_until(process.stdout, "claims:")
        finally:
            process.kill()


def _read_until(stream, words):
    deadline = time.monotonic() + 60
    for line in stream:
        if words in line:
            return
        assert time.monotonic() < deadline, f"{words!r} did not come"
    pytest.fail(f"the program ended before it printed {words!r}")


def test_help_imports_nothing_heavy():
    """`--help` must start at once: no numpy, no pydantic, no matplotlib."""
    code = (
        "import sys\nfrom deadfront.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'pydantic', 'matplotlib', 'scipy', 'typst'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_terminal_with_a_narrow_encoding_gets_escapes_instead_of_an_error(tmp_path):
    """A character that ASCII lacks is written out, on both streams; the status is what it is elsewhere."""
    text = GULL.read_text(encoding="utf-8")
    (tmp_path / "unit.yaml").write_text(text.replace("Gull Rock", "G\u00fcll R\u00f8ck"), encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": "ascii:strict"}
    command = [sys.executable, "-m", "deadfront", "check", str(tmp_path / "unit.yaml")]
    done = subprocess.run(command, capture_output=True, env=environment, check=False)
    assert (done.returncode, done.stderr) == (main(command[3:]), b"")
    assert b"G\\xfcll R\\xf8ck" in done.stdout
    (tmp_path / "unit.yaml").write_text("\u00fcber: 1\n", encoding="utf-8")
    done = subprocess.run(command, capture_output=True, env=environment, check=False)
    assert done.returncode == 2
    assert b"\\xfcber" in done.stderr
