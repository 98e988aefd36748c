"""Operation: the exported text means the same machine, to a small reader always and to spin where it is installed."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from promela_reader import run
from published import CASES

from deadfront.operation.machine import KINDS, MODES, Mode
from deadfront.operation.machine_file import read_machine
from deadfront.operation.promela import promela

READ = ("C01", "C03", "C05", "C08", "C10", "C12", "C15", "C16")
CHECKED = ("C01", "C03", "C06", "C08", "C09", "C12", "C13", "C15", "C16", "C17", "C18", "C22")


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("name", READ)
def test_exported_text_has_the_printed_states(name: str, mode: Mode):
    """Executed statement by statement, the text reaches as many states as printed."""
    states, _ = run(promela(read_machine(CASES[name])), rules=mode == "rules")
    assert states == CASES[name]["expected"][mode]["states"]


@pytest.mark.parametrize("name", ["C05", "C08", "C12", "C14"])
def test_exported_text_raises_the_printed_hazards(name: str):
    """Watching for one hazard after the other, the text raises those that are printed and no others."""
    text = promela(read_machine(CASES[name]))
    met = {kind for n, kind in enumerate(KINDS, start=1) if run(text, rules=False, watch=n)[1]}
    assert met == set(CASES[name]["expected"]["hands"]["hazards"])


def spin(text: str, folder: Path, *flags: str) -> str:
    """What the verifier that spin makes of the text prints."""
    (folder / "model.pml").write_text(text, encoding="utf-8")
    subprocess.run(["spin", "-a", *flags, "model.pml"], cwd=folder, check=True, capture_output=True, text=True)
    subprocess.run(["gcc", "-O1", "-DSAFETY", "-DVECTORSZ=4096", "-o", "pan", "pan.c"], cwd=folder, check=True)
    return subprocess.run(["./pan", "-m1000000", "-E"], cwd=folder, check=True, capture_output=True, text=True).stdout


@pytest.mark.long
@pytest.mark.skipif(
    shutil.which("spin") is None or shutil.which("gcc") is None,
    reason="NOT CHECKED BY AN INDEPENDENT MODEL CHECKER: spin (Debian package `spin`) and gcc are not installed here",
)
@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("name", CHECKED)
def test_spin_agrees_on_states_and_hazards(name: str, mode: Mode, tmp_path: Path):
    """The independent model checker stores one state more than printed, and meets the hazards that are printed."""
    text = promela(read_machine(CASES[name]))
    rules = ["-DRULES=1"] if mode == "rules" else []
    printed = CASES[name]["expected"][mode]
    stored = re.search(r"(\d+) states, stored", spin(text, tmp_path, *rules))
    assert stored is not None
    assert int(stored[1]) == printed["states"] + 1
    met = {
        kind
        for n, kind in enumerate(KINDS, start=1)
        if "assertion violated" in spin(text, tmp_path, *rules, f"-DWATCH={n}")
    }
    assert met == set(printed["hazards"])
