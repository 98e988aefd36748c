"""Comment lines of a curve file: what they state becomes an entry of the fuse; what contradicts it is located."""

from __future__ import annotations

import pytest

from deadfront.project.curve_checking import check_curve, check_source
from deadfront.project.errors import ProjectErrors
from deadfront.project.reading import load_bytes
from deadfront.project.sources import Source

ROWS = "current_a,min_melt_s,total_clear_s\n100,100,200\n200,10,20\n300,1,2\n1000,0.1,0.2\n2000,0.01,0.02\n"
UNIT = "deadfront: 1\ntitle: A\npractice: iec\nfuses: {{bayonet: {{curve: link.csv{}}}}}\n"


def loaded(header: str, entries: str = ""):
    """A project whose link has a curve file with this header."""
    return load_bytes("unit.yaml", UNIT.format(entries).encode(), {"link.csv": (header + ROWS).encode()})


def refusal(header: str, entries: str = "") -> str:
    """The text of the refusal."""
    with pytest.raises(ProjectErrors) as caught:
        loaded(header, entries)
    return str(caught.value)


def test_statements_count_as_if_the_project_file_gave_them():
    """Four lines become four entries, each of which stands where the line does."""
    header = "# temperature: 20 degC\n# Frequency: 50 Hz\n#tolerance: 10 .. 20 %\n# arcing time: 16 ms\n"
    project = loaded(header)
    texts = {path.rpartition(".")[2]: quantity.text for path, quantity in project.quantities.items()}
    assert texts == {
        "reference_temperature": "20 degC",
        "reference_frequency": "50 Hz",
        "melting_tolerance": "10 .. 20 %",
        "arcing_time": "16 ms",
    }
    assert project.origins["fuses.bayonet.reference_frequency"] == "link.csv:2"


def test_other_comments_and_comments_below_the_header_state_nothing():
    """A remark with a colon, and a statement behind the header, are comments."""
    project = loaded("# source: test report\n")
    assert not project.quantities
    late = ROWS.replace("\n200", "\n# temperature: 20 degC\n200")
    project = load_bytes("unit.yaml", UNIT.format("").encode(), {"link.csv": late.encode()})
    assert not project.quantities


def test_project_file_may_repeat_a_statement_in_another_unit():
    """77 degF is 25 degC: no contradiction, and the project file's own text stays."""
    project = loaded("# temperature: 25 degC\n", ", reference_temperature: 77 degF")
    assert project.quantities["fuses.bayonet.reference_temperature"].text == "77 degF"


def test_contradiction_is_located_in_the_project_file():
    """Neither of the two temperatures is silently preferred."""
    assert refusal("# temperature: 40 degC\n", ", reference_temperature: 25 degC") == (
        "unit.yaml:4:59  fuses.bayonet.reference_temperature\n"
        "    fuses: {bayonet: {curve: link.csv, reference_temperature: 25 degC}}\n"
        "                                                              ^^^^^^^\n"
        "expected `40 degC`, as line 1 of link.csv states, got `25 degC`\n"
        "\n"
        "help: correct the one that is wrong"
    )


def test_statement_that_is_no_number_of_its_kind_is_located():
    """A frequency in place of a temperature: where it stands and what would be right."""
    assert refusal("# a list\n# temperature: 60 Hz\n").splitlines()[:3] == [
        "link.csv:2:16  temperature",
        "    # temperature: 60 Hz",
        "                   ^^^^^",
    ]


def test_second_statement_of_the_same_thing_is_refused():
    """Two lines about one temperature: one of them would be passed over unseen."""
    assert "expected one line `# temperature:`, got a second one" in refusal("# temperature: 25 degC\n" * 2)


def checked(header: str, rows: str = ROWS):
    """A curve file in memory, checked by itself."""
    return check_source(Source("x.csv", header + rows))


WHOLE = "# temperature: 25 degC\n# frequency: 60 Hz\n"


def test_whole_curve_has_nothing_against_it():
    """Temperature and frequency stated, a point in each decade, down to 0.01 s."""
    found = checked(WHOLE)
    assert (found.wrong, found.doubtful) == ((), ())
    assert found.stated == {"temperature": "25 degC", "frequency": "60 Hz"}


def test_missing_statements_are_doubtful_each_by_name():
    """Without them nobody knows in which liquid and at which frequency the curve holds."""
    assert [problem.path for problem in checked("").doubtful] == ["temperature", "frequency"]
    melting_only = "current_a,min_melt_s\n100,10\n200,1\n300,0.1\n900,0.01\n"
    assert [problem.path for problem in checked(WHOLE, melting_only).doubtful] == ["tolerance"]


def test_too_few_points_in_a_decade_are_located():
    """From 100 s to 1 s in one step: the row behind the gap, in each column that has it."""
    found = checked(WHOLE, ROWS.replace("200,10,20\n", ""))
    assert [(p.line, p.path, p.found) for p in found.doubtful] == [
        (5, "min_melt_s", "a step from 100 s to 1 s"),
        (5, "total_clear_s", "a step from 200 s to 2 s"),
    ]


def test_curve_that_rises_or_clears_before_it_melts_is_wrong():
    """Both make it unfit for a project, with the row."""
    found = checked(WHOLE, ROWS.replace("200,10,20", "200,10,250").replace("1000,0.1,0.2", "1000,0.1,0.05"))
    assert [(p.line, p.path, p.expected) for p in found.wrong] == [
        (5, "total_clear_s", "at most 200, the row above"),
        (7, "min_melt_s", "at most 0.05, the total clearing time"),
    ]
    assert found.curve is None


def test_early_end_and_misspelt_statement_are_doubtful():
    """Melting that ends at 0.1 s says nothing about the inrush at 0.01 s; `tempreature` states nothing."""
    found = checked("# tempreature: 25 degC\n" + WHOLE, ROWS.replace("2000,0.01,0.02\n", ""))
    assert [(p.line, p.column, p.found) for p in found.doubtful] == [(1, 3, "`tempreature`"), (8, 6, "0.1 s")]


def test_file_that_is_not_there_is_wrong_in_words(tmp_path):
    """No exception: a problem with the name."""
    found = check_curve(tmp_path / "none.csv")
    assert found.wrong[0].found == "nothing: there is no such file"
