"""Command line: `picture` draws what stands in a file, and says what does not."""

from __future__ import annotations

import re
import shutil

import pytest
from test_command_line import GULL, KESTREL, TARN

from deadfront.claims.pictures import WHATS
from deadfront.cli import main
from deadfront.picture_command import _WHATS


def test_the_command_offers_what_the_claims_can_draw():
    """The list for `--help` is the list of sheets."""
    assert _WHATS == WHATS


@pytest.mark.parametrize("what", WHATS)
def test_a_sheet_is_written_the_same_each_time(tmp_path, capsys, what):
    """SVG twice, byte for byte; what is left out or simplified is also said on standard output."""
    for name in ("one.svg", "two.svg"):
        assert main(["picture", str(TARN), what, "-o", str(tmp_path / name)]) == 0
    out = capsys.readouterr().out
    assert f"wrote {tmp_path / 'one.svg'}" in out
    assert (tmp_path / "one.svg").read_bytes() == (tmp_path / "two.svg").read_bytes()
    text = (tmp_path / "one.svg").read_text()
    assert "demonstration data - not for construction" in text
    assert "/tmp" not in text


def test_a_png_is_a_png(tmp_path):
    """The name decides the form."""
    assert main(["picture", str(KESTREL), "time-current", "-o", str(tmp_path / "a.png")]) == 0
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG\r\n")


def test_another_feeder_is_drawn_on_request(tmp_path, capsys):
    """The one named, with its curve file; the other is said to be left out."""
    out = tmp_path / "a.svg"
    assert main(["picture", str(TARN), "time-current", "-o", str(out), "--feeder", "site offices"]) == 0
    assert "Feeder site offices 315 A" in out.read_text()
    assert "Other feeders, not drawn: jaw crusher." in capsys.readouterr().out


def test_a_feeder_that_is_not_there_is_refused_with_those_that_are(tmp_path, capsys):
    """A wrong name is an error in words, and nothing is written."""
    out = tmp_path / "a.svg"
    assert main(["picture", str(TARN), "time-current", "-o", str(out), "--feeder", "quay"]) == 2
    assert "feeder: expected one of jaw crusher, site offices, got 'quay'" in capsys.readouterr().err
    assert not out.exists()


def test_a_file_without_the_voltage_says_so_with_an_example(tmp_path, capsys):
    """Gull Rock has no board: status 3, the entry, what it is, and an example."""
    assert main(["picture", str(GULL), "earth-fault-lv", "-o", str(tmp_path / "a.svg")]) == 3
    err = capsys.readouterr().err
    assert "nothing to draw without board.voltage" in err
    assert "for example `voltage: " in err


def test_a_file_in_which_no_device_can_be_drawn_says_why_for_each(tmp_path, capsys):
    """Gull Rock, earth faults at MV: one element missing, one that no earth fault here starts, no fuses."""
    assert main(["picture", str(GULL), "earth-fault-mv", "-o", str(tmp_path / "a.svg")]) == 3
    err = capsys.readouterr().err.splitlines()
    assert err[1:] == [
        "Not drawn: earth protection of Utility supply; the file does not give supply.protection.earth.",
        "Not drawn: phase protection of Utility supply; it does not act at any current of this sheet.",
        "Not drawn: Current-limiting fuse; the file does not give fuses.limiter.curve.",
    ]
    assert not (tmp_path / "a.svg").exists()


def test_what_is_missing_on_a_sheet_that_can_be_drawn_is_said(tmp_path, capsys):
    """Gull Rock has a supply with a relay and no transformer: the relay is drawn, the rest is named."""
    assert main(["picture", str(GULL), "time-current", "-o", str(tmp_path / "a.svg")]) == 0
    out = capsys.readouterr().out
    for words in ("Current-limiting fuse; the file does not give fuses.limiter.curve", "Not drawn: transformer;"):
        assert words in out
    assert "Upstream phase relay" in (tmp_path / "a.svg").read_text()


def test_another_ending_is_refused(tmp_path, capsys):
    """Only SVG and PNG."""
    assert main(["picture", str(TARN), "time-current", "-o", str(tmp_path / "a.pdf")]) == 2
    assert "expected a name that ends in .svg or .png" in capsys.readouterr().err


def test_a_wrong_file_is_located(tmp_path, capsys):
    """An error of the file comes with its line, as from every command."""
    shutil.copytree(KESTREL.parent, tmp_path / "unit")
    file = tmp_path / "unit" / "unit.yaml"
    file.write_text(file.read_text().replace("voltage: 24.94 kV", "voltage: 24.94 kA", 1))
    assert main(["picture", str(file), "time-current", "-o", str(tmp_path / "a.svg")]) == 2
    assert re.search(r"unit\.yaml:\d+:\d+  supply\.voltage", capsys.readouterr().err)
