"""Catalogues of fuses: the invented one against its source, and located faults of a folder."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from deadfront.project.catalogue import demonstration_catalogue, read_catalogue
from deadfront.project.curve_checking import check_source
from deadfront.project.errors import ProjectErrors
from deadfront.project.sources import Source

DATA = Path(__file__).parents[1] / "physics"


def rows(name: str) -> list[dict[str, str]]:
    """Rows of the invented reference data."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_demonstration_catalogue_holds_every_fuse_of_the_reference_data():
    """8 links and 27 limiters of three classes: ratings, currents, energies, and every point of every curve."""
    catalogue = demonstration_catalogue()
    assert catalogue.demonstration
    links = {fuse.name: fuse for fuse in catalogue.links}
    limiters = {fuse.name: fuse for fuse in catalogue.limiters}
    assert (len(links), len(limiters)) == (88, 40)
    for row in rows("demonstration-links.csv"):
        for kv in ("8.3", "15.5", "23"):
            fuse = links[f"{row['link']} {kv} kV"]
            assert fuse.quantities["interrupting"].centre == float(row[f"IR_A_{kv}kV"])
            assert fuse.quantities["arcing_time"].centre == pytest.approx(float(row["arcing_time_s"]))
            assert 1 + fuse.quantities["melting_tolerance"].centre == float(row["tolerance_current_plus"])
            curve = dict(zip(fuse.curve.current, fuse.curve.minimum_melting, strict=True))
            assert points(row).items() <= curve.items()
    for row in rows("demonstration-limiters.csv"):
        fuse = limiters[f"L{row['In_A']} {float(row['class_kV']):g} kV"]
        energy = fuse.quantities["melting_energy"]
        assert (energy.low, energy.high) == (float(row["melt_I2t_min_A2s"]), float(row["melt_I2t_max_A2s"]))
        assert fuse.quantities["minimum_interrupting"].centre == float(row["I_min_interrupt_A"])
        assert fuse.quantities["total_energy"].centre == float(row["total_clear_I2t_A2s"])
        curve = dict(zip(fuse.curve.current, fuse.curve.minimum_melting, strict=True))
        assert points(row).items() <= curve.items()


def test_limiters_beyond_the_reference_data_follow_its_rule():
    """27 kV class and 90 A: melting energy 2 I^2 (I / 50)^0.45, 3.3 times that in all, smallest current 6 I [D]."""
    limiters = {fuse.name: fuse for fuse in demonstration_catalogue().limiters}
    for rating in (40, 90, 250):
        numbers = limiters[f"L{rating} 27 kV"].quantities
        least = 2.0 * rating**2 * (rating / 50.0) ** 0.45
        assert numbers["melting_energy"].low == pytest.approx(least, abs=0.6)
        assert numbers["total_energy"].centre == pytest.approx(3.3 * least, abs=6.0)
        assert numbers["minimum_interrupting"].centre == pytest.approx(6.0 * rating, abs=5.0)


def points(row: dict[str, str]) -> dict[float, float]:
    """Melting time by current."""
    prefix = "I_minmelt_A_"
    return {float(value): float(name[len(prefix) : -1]) for name, value in row.items() if name.startswith(prefix)}


def test_curves_of_the_demonstration_have_nothing_wrong():
    """Each is fit for a project; what is doubtful is the frequency, which invented curves have none of."""
    catalogue = demonstration_catalogue()
    for fuse in (*catalogue.links, *catalogue.limiters):
        found = check_source(Source(fuse.curve.source, fuse.content.decode()))
        assert not found.wrong
        assert {problem.path for problem in found.doubtful} <= {"frequency"}


CURVE = "# temperature: 25 degC\ncurrent_a,min_melt_s,total_clear_s\n100,100,200\n200,1,2\n1000,0.01,0.02\n"


def folder(tmp_path: Path, links: str, limiters: str = "fuse,curve\nL80,c.csv\n") -> Path:
    """A catalogue on the disk."""
    (tmp_path / "c.csv").write_text(CURVE)
    (tmp_path / "links.csv").write_text(links)
    (tmp_path / "limiters.csv").write_text(limiters)
    return tmp_path


def refusal(path: Path) -> str:
    """What is wrong with a catalogue, its folder left out."""
    with pytest.raises(ProjectErrors) as caught:
        read_catalogue(path)
    return str(caught.value).replace(f"{path}/", "")


def test_row_and_curve_file_make_one_fuse(tmp_path):
    """Statements of the curve file stand beside the columns; the row says where it stands."""
    catalogue = read_catalogue(folder(tmp_path, "fuse,curve,rating_a,interrupting_ka\nD40,c.csv,40,2.5\n"))
    link = catalogue.links[0]
    assert dict(link.entries) == {
        "curve": "c.csv",
        "rating": "40 A",
        "interrupting": "2.5 kA",
        "reference_temperature": "25 degC",
    }
    assert (link.place, catalogue.demonstration) == ("links.csv:2", False)


def test_faults_of_all_files_come_in_one_go(tmp_path):
    """A missing curve, a missing column, a wrong unit and a contradiction, each with its place."""
    links = "fuse,curve,rating_a,reference_temperature_degc\nA,none.csv,40,\nB,,40,\nC,c.csv,forty,\nD,c.csv,40,30\n"
    text = " ".join(refusal(folder(tmp_path, links, "fuse,curve,rating_kg\nL80,c.csv,1\n")).split())
    for expected in (
        "links.csv:2:3 curve",
        "got nothing: there is no such file",
        "links.csv:3:1 curve",
        "expected a curve file for `B`, got none",
        "limiters.csv:1:12",
        "links.csv:4:9 rating_a",
        "links.csv:5:12 reference_temperature",
        "expected `25 degC`, as line 1 of c.csv states, got `30 degC`",
    ):
        assert expected in text, text


def test_curve_without_melting_times_is_no_fuse(tmp_path):
    """A breaker's curve in a list of fuses is located."""
    there = folder(tmp_path, "fuse,curve\nD40,b.csv\n")
    (there / "b.csv").write_text("current_a,total_clear_s\n100,200\n200,2\n1000,0.02\n")
    assert "links.csv:2:5  curve" in refusal(there)
    assert "expected a curve with a column `min_melt_s`, got `b.csv` without" in refusal(there)


def test_folder_that_is_no_catalogue_is_refused(tmp_path):
    """Both lists are named, with what a catalogue is."""
    text = refusal(tmp_path)
    assert "links.csv" in text
    assert "limiters.csv" in text
    assert "a catalogue is a folder with `links.csv`, `limiters.csv`" in " ".join(text.split())
