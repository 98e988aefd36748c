"""README: what it shows is what the program does. RENEW_README=1 in the environment rewrites its blocks."""

from __future__ import annotations

import contextlib
import io
import os
import re
from pathlib import Path

import pytest

from deadfront.cli import main

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
BLOCK = re.compile(r"<!-- (?P<kind>sample|output) (?P<words>[^>]+) -->\n```\w*\n(?P<body>.*?)```\n<!-- end -->", re.S)


def expected(kind: str, words: str) -> str:
    """What a block must hold: a file of the repository, or the output of a command."""
    if kind == "sample":
        return (ROOT / words).read_text(encoding="utf-8")
    out = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(out):
        main(words.split())
    return out.getvalue()


def test_sample_files_and_outputs_are_those_of_the_program():
    """Each sample is the file, each output is what the command prints."""
    text = README.read_text(encoding="utf-8")
    if os.environ.get("RENEW_README"):
        fresh = BLOCK.sub(_filled, text)
        README.write_text(fresh, encoding="utf-8")
        pytest.skip("README renewed")
    blocks = list(BLOCK.finditer(text))
    assert len(blocks) == 2
    for block in blocks:
        assert block["body"] == expected(block["kind"], block["words"])


def _filled(match: re.Match[str]) -> str:
    """A block with its content made anew."""
    begin = match.start("body") - match.start()
    return match[0][:begin] + expected(match["kind"], match["words"]) + match[0][begin + len(match["body"]) :]


def test_the_library_example_runs(tmp_path, monkeypatch, capsys):
    """The lines under "as a library" run as they stand."""
    code = re.search(r"<!-- library -->\n```python\n(.*?)```", README.read_text(encoding="utf-8"), re.S)
    assert code is not None
    monkeypatch.chdir(tmp_path)
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    exec(compile(code[1], "README.md", "exec"), {})
    assert "SC-01 shown" in capsys.readouterr().out
    assert (tmp_path / "repaired.pdf").exists()


def test_the_sample_file_has_about_twenty_lines():
    """Short enough to be read at once."""
    assert len((ROOT / "examples" / "gull-rock" / "unit.yaml").read_text(encoding="utf-8").splitlines()) <= 21
