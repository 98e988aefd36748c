"""Dossier: the single-line picture shows the slots that exist, with their tags, and no others."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest
from picture_boxes import overlaps
from sample_report import sample_report

from deadfront.claims.report import check
from deadfront.dossier.ratings import found, ratings_of
from deadfront.dossier.sheet import Sheet, Stroke, symbols
from deadfront.dossier.single_line import fault_lines, single_line
from deadfront.project.model import Unit
from deadfront.project.reading import load_bytes
from deadfront.project.starters import PRACTICES, STARTER, starter_files

GOLDEN = Path(__file__).parent / "single_line.svg"
NAMESPACE = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    """The lettering of a picture; parses it, so it must be well formed."""
    return [element.text or "" for element in ElementTree.fromstring(svg).iter(f"{NAMESPACE}text")]


def test_the_picture_of_the_sample_is_the_kept_one():
    """Golden: a change of the drawing is seen and kept on purpose (the new picture goes to single_line.svg)."""
    assert single_line(sample_report()).svg == GOLDEN.read_text(encoding="utf-8")


def test_every_device_of_the_station_has_its_tag_and_name():
    """Tags equal those of the tables."""
    report = sample_report()
    words = " ".join(texts(single_line(report).svg))
    for device in report.station.devices:
        for tag in device.tag.split(", "):
            assert tag in words
    for name in (
        "Utility supply",
        "LV main breaker",
        "Standby generator",
        "draw-out expulsion link",
        "current-limiting fuse",
    ):
        assert name in words


def test_the_fault_currents_stand_at_their_points():
    """Largest up, smallest down, of the governing method only."""
    assert fault_lines(sample_report(), "LV bus") == ["fault max 33.4\u00a0kA", "fault min 20.7\u00a0kA"]
    assert fault_lines(sample_report(), "no such point") == []
    assert texts(single_line(sample_report()).svg).count("fault max 33.4\u00a0kA") == 1


@pytest.mark.parametrize(
    "slot",
    ["other_feed", "standby_generator", "motors", "fuses", "transformer", "supply", "mv_cable", "board", "switch"],
)
def test_what_the_file_does_not_give_has_no_symbol(slot):
    """Each device of the station is named; one of which the file says nothing is a dashed box, never a symbol."""
    report = sample_report(**{slot: None})
    words = "".join("".join(texts(single_line(report).svg)).split())
    absent = [device for device in report.station.devices if found(report.project.unit, device.path) is None]
    assert words.count("notinthefile") == len(absent)
    assert len(absent) == (0 if slot in ("other_feed", "standby_generator", "motors") else 1)
    for device in report.station.devices:
        if device.kind != "fuse":
            assert "".join(device.name.split()) in words
    whole = sample_report()
    gone = {device.name for device in whole.station.devices} - {device.name for device in report.station.devices}
    assert not any("".join(name.split()) in words for name in gone)


def test_one_fuse_alone_is_drawn_alone():
    """Without the limiter in the file only the draw-out link has a symbol."""
    fuses = {"bayonet": sample_report().project.unit.fuses.bayonet}
    words = " ".join(texts(single_line(sample_report(fuses=fuses)).svg))
    assert "F1 draw-out expulsion link" in " ".join(words.split())
    assert "current-limiting fuse" not in words


def test_a_tie_that_may_never_run_in_parallel_is_normally_open():
    """N.O. stands beside tie and generator that are interlocked, and not beside those that may run in parallel."""
    assert texts(single_line(sample_report()).svg).count("N.O.") == 2
    report = sample_report()
    generator = report.project.unit.standby_generator.model_copy(update={"parallel": "permitted"})
    assert texts(single_line(sample_report(standby_generator=generator)).svg).count("N.O.") == 1


def test_the_practice_chooses_the_symbols():
    """A bar and a circle make the load-break switch of IEC 60617; letters and a bare blade that of IEEE 315."""
    american, european = (single_line(sample_report(practice=name)).svg for name in ("north-american", "iec"))
    assert "LBS" in texts(american)
    assert "LBS" not in texts(european)
    assert american != european


def test_an_earthed_position_is_drawn_only_where_the_file_gives_one():
    """Wrong mark, wrong device ordered: three positions come from the file."""
    report = sample_report()
    assert "three-position" not in single_line(report).svg
    unit = report.project.unit
    switch = SimpleNamespace(
        **{name: getattr(unit.switch, name) for name in type(unit.switch).model_fields},
        positions=["closed", "open", "earthed"],
    )
    three = sample_report()
    object.__setattr__(
        three.project,
        "unit",
        Unit.model_construct(**{name: getattr(unit, name) for name in Unit.model_fields} | {"switch": switch}),
    )
    assert {"C", "O", "E"} <= set(texts(single_line(three).svg))
    assert "three-position switch" in single_line(three).svg


@pytest.mark.parametrize("connection", ["Dyn1", "Dyn11", "Dd0", "Dzn0", "Yyn0", "YNyn6"])
def test_every_vector_group_has_its_windings(connection):
    """Delta, star and zigzag are in the table of symbols, and the group stands beside."""
    transformer = sample_report().project.unit.transformer.model_copy(update={"connection": connection})
    assert any(connection in text for text in texts(single_line(sample_report(transformer=transformer)).svg))


def test_hostile_names_are_text_in_the_picture():
    """A name with tags, quotes, entities or hidden characters stays a name."""
    name = '</text><script>alert("1")</script>&amp;\u202e'
    feeders = {name: sample_report().project.unit.board.feeders["compressors"]}
    svg = single_line(sample_report(board=dict(sample_report().project.unit.board) | {"feeders": feeders})).svg
    assert "<script" not in svg
    joined = "".join("".join(texts(svg)).split())
    assert '</text><script>alert("1")</script>&amp;[U+202E]' in joined


def test_the_alternate_text_says_what_the_picture_says():
    """Devices and points with their currents."""
    words = single_line(sample_report()).alternate
    assert "Q2 LV main breaker" in words
    assert "LV bus: fault max 33.4\u00a0kA, fault min 20.7\u00a0kA" in words


def test_ratings_stand_as_entered_and_nothing_is_supplied():
    """Entered numbers are printed as entered; an empty slot prints nothing."""
    unit = sample_report().project.unit
    assert ratings_of(unit, "supply") == [
        "24.94\u00a0kV",
        "fault 3.2 .. 9.8\u00a0kA",
        "X/R 6 .. 14",
        "neutral earthing: solid",
    ]
    assert ratings_of(unit, "board.feeders.compressors") == [
        "800\u00a0A, power circuit breaker",
        "interrupts 50\u00a0kA",
    ]
    assert ratings_of(sample_report(supply={}).project.unit, "supply") == []
    assert ratings_of(unit, "site.unknown") == []


def test_a_shape_that_the_sheet_does_not_draw_is_refused(monkeypatch):
    """A slip in the table of symbols is an error, not a hole in the picture."""
    monkeypatch.setitem(symbols(), "broken", (Stroke("spiral", ((0.0, 0.0),), 1.0),))
    with pytest.raises(ValueError, match=r"^shape of a symbol: expected one that this sheet draws, got 'spiral'$"):
        Sheet().symbol("broken", 0, 0)


def test_the_load_break_mark_is_bar_and_circle_and_the_breaker_s_a_cross():
    """The marks of IEC 60617: bar isolates, circle switches load, cross breaks fault current."""
    switch = [stroke.shape for stroke in symbols()["load-break switch, iec"]]
    breaker = [stroke.points for stroke in symbols()["circuit-breaker, iec"]]
    assert switch.count("circle") == 1
    assert ((-0.6, 1.4), (0.6, 2.6)) in breaker
    assert ((-0.6, 2.6), (0.6, 1.4)) in breaker


@pytest.mark.parametrize("practice", PRACTICES)
def test_nothing_lies_on_lettering(practice):
    """No line and no other lettering shares room with a label, on the starter units with all they have."""
    files = starter_files(practice)
    project = load_bytes("unit.yaml", files.pop(STARTER), files)
    assert overlaps(single_line(check(project)).svg) == []


def test_nothing_lies_on_lettering_of_the_sample():
    """The same of the sample, which is fed from two sides."""
    assert overlaps(single_line(sample_report()).svg) == []
