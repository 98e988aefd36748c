"""Claims: a map over two ranges holds, fails and leaves undecided where it says so."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from claim_files import BARE, DEFINITIONS, judged
from study_files import subject

from deadfront.claims.comparing import ClaimDefinition, Questions, Term, same_rule
from deadfront.claims.mapping import MAPPING, margin_map
from deadfront.claims.reach_objects import map_object
from deadfront.claims.schema import map_schema
from deadfront.cli import main
from deadfront.dossier.map_picture import map_picture, map_text
from deadfront.intervals import FAILS, HOLDS, UNDECIDED

KESTREL = Path(__file__).parents[2] / "examples" / "kestrel-point" / "unit.yaml"
POWER, RATIO, IMPEDANCE = "supply.fault_power", "supply.x_over_r", "transformer.impedance"
RANGES = {
    POWER: "60 MVA .. 150 MVA",
    RATIO: "8 .. 12",
    IMPEDANCE: "5 % .. 6 %",
    "operation.places.bus section.clothing": "2.9 cal/cm2",
}


@pytest.fixture(scope="module")
def found():
    """AE-01 over fault power and impedance, with clothing that is enough in a part of the ranges."""
    return margin_map(DEFINITIONS["AE-01"], subject(BARE, RANGES), (POWER, IMPEDANCE), depth=4)


def test_all_three_areas_are_there_and_few_cells_are_undecided(found):
    """The boundary is one cell wide or little more."""
    shares = {state: float(np.mean(found.state == state)) for state in (HOLDS, FAILS, UNDECIDED)}
    assert shares[HOLDS] > 0.1
    assert shares[FAILS] > 0.05
    assert shares[UNDECIDED] < 0.2


@pytest.mark.parametrize("state", [HOLDS, FAILS])
def test_a_cell_put_into_a_file_has_the_verdict_of_the_map(found, state):
    """A file whose two ranges are one cell is shown where the map holds, and refuted where it fails."""
    rows, columns = np.nonzero(found.state == state)
    for k in (0, len(rows) // 2, len(rows) - 1):
        power = found.edges[0][columns[k] : columns[k] + 2].tolist()
        impedance = (found.edges[1][rows[k] : rows[k] + 2] * 100.0).tolist()
        changes = {POWER: f"{power[0]!r} VA .. {power[1]!r} VA", IMPEDANCE: f"{impedance[0]!r} % .. {impedance[1]!r} %"}
        verdict = judged("AE-01", {**RANGES, **changes}).verdict
        assert verdict == ("shown" if state == HOLDS else "refuted")


def test_the_smallest_margins_agree_with_the_areas(found):
    """Nowhere negative where it holds, somewhere negative where it fails at the middle of the cell."""
    assert (found.least[found.state == HOLDS] >= 0.0).all()
    assert found.least.min() < 0.0 < found.least.max()


def test_parts_that_read_one_input_each_give_a_rectangle():
    """Power at most 100 MVA and X/R at most 10: the known answer, in cells whose edges meet both limits."""

    def one(path, limit):
        return lambda walk: (
            lambda: [Term(path, walk.inputs.number(path), limit, "1", 1, (0,), lambda _: "", lambda _: ())]
        )

    parts = (one(POWER, 100e6), one(RATIO, 10.0))
    rule = same_rule("limits", "none", "C")
    definition = ClaimDefinition(
        "ZZ-01", "t", "Both.", (), rule, lambda walk: Questions([part(walk) for part in parts])
    )
    ranges = {POWER: "60 MVA .. 140 MVA", RATIO: "8 .. 12"}
    found = margin_map(definition, subject(BARE, ranges), (POWER, RATIO), depth=3)
    fails = np.ones((8, 8), dtype=bool)
    fails[:4, :4] = False
    assert (found.state[fails] == FAILS).mean() > 0.6
    assert not (found.state[fails] == HOLDS).any()
    assert (found.state[:3, :3] == HOLDS).all()
    assert not (found.state[:4, :4] == FAILS).any()


def test_text_shows_marks_and_shares_within_eighty_columns(found):
    """One row of marks for each row of cells, the second input upward."""
    text = map_text(found)
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80
    rows = [line.strip() for line in lines if line and set(line.strip()) <= set("+?X")]
    assert len(rows) == found.state.shape[0]
    marks = {HOLDS: "+", UNDECIDED: "?", FAILS: "X"}
    assert [row[0] for row in rows] == [marks[int(cell)] for cell in found.state[::-1, 0]]


def test_the_picture_is_the_same_bytes_each_time(found):
    """No date, no random identifier; the alternate text gives the shares of the areas."""
    assert map_picture(found).svg == map_picture(found).svg
    assert "<dc:date>" not in map_picture(found).svg
    assert "proved to hold" in map_picture(found).alternate


@pytest.mark.parametrize("inputs", [(POWER, POWER), (POWER, "supply.voltage"), (POWER, "no.such")])
def test_inputs_that_are_no_two_ranges_are_refused_with_those_there_are(inputs):
    """A point of the file cannot be charted; the message lists the ranges."""
    with pytest.raises(
        ValueError, match=r"^expected two different ranges that AE-01 reads \(.*supply.fault_power.*\), got "
    ):
        margin_map(DEFINITIONS["AE-01"], subject(BARE, RANGES), inputs)


def test_a_claim_without_numbers_cannot_be_mapped():
    """The message gives the verdict and its reason."""
    with pytest.raises(ValueError, match=r"^SC-07 is not applicable: The file has no MV cable"):
        margin_map(DEFINITIONS["SC-07"], subject(BARE, {**RANGES, "mv_cable": None}), (POWER, RATIO))


@pytest.mark.long
def test_check_maps_one_claim_and_writes_the_picture(tmp_path, capsys):
    """The exit status is that of the verdict; the picture is an SVG."""
    target = tmp_path / "map.svg"
    options = ["--claim", "SC-07", "--map", "supply.fault_current,supply.x_over_r", "--picture", str(target)]
    assert main(["check", str(KESTREL), *options]) == 1
    assert "SC-07  refuted" in capsys.readouterr().out
    assert target.read_text(encoding="utf-8").lstrip().startswith("<?xml")


def test_the_object_keeps_to_its_schema_and_holds_the_same_cells(found):
    """Rows of cells run from the lower end of the second input upward; margins that are no number are null."""
    plain = json.loads(json.dumps(map_object(subject(BARE, RANGES).project, found, MAPPING), allow_nan=False))
    jsonschema.Draft202012Validator(map_schema()).validate(plain)
    assert [one["path"] for one in plain["inputs"]] == [POWER, IMPEDANCE]
    words = {HOLDS: "holds", FAILS: "fails", UNDECIDED: "undecided"}
    assert plain["cells"] == [[words[int(cell)] for cell in row] for row in found.state]
    assert plain["inputs"][0]["edges"][0] == 60e6
    assert plain["least_margin"][0][-1] == found.least[0, -1]


def test_check_prints_a_map_as_one_object_and_says_elsewhere_where_the_picture_is(tmp_path, capsys):
    """Standard output is the object alone."""
    target = tmp_path / "map.svg"
    options = ["--claim", "SC-02", "--map", "supply.fault_current,supply.x_over_r", "--json", "--picture", str(target)]
    assert main(["check", str(KESTREL), *options]) == 0
    captured = capsys.readouterr()
    jsonschema.Draft202012Validator(map_schema()).validate(json.loads(captured.out))
    assert captured.err == f"\nwrote {target}\n"
    assert target.exists()
