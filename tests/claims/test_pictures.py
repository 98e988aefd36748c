"""Claims: what stands on the sheets of the demonstrations is what the study and the reference say."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from deadfront.claims.pictures import WHATS, sheet_of, sheets_of
from deadfront.claims.report import subject_of
from deadfront.claims.sampling import walks
from deadfront.dossier.log_paper import labels_meet
from deadfront.library import load
from deadfront.physics.trips import gg_gates
from deadfront.project.reading import load_bytes
from deadfront.study.inputs import MissingEntryError
from deadfront.study.tables import fault_rows

EXAMPLES = Path(__file__).parents[2] / "examples"
RATIO = 24.94e3 / 600.0


@cache
def subject(unit: str):
    """A demonstration, read once."""
    return subject_of(load(EXAMPLES / unit))


@cache
def sheet(unit: str, what: str):
    """One of its sheets, made once."""
    return sheet_of(subject(unit), what)


def device(unit: str, what: str, starts_with: str):
    """The device on a sheet whose name starts so."""
    return next(one for one in sheet(unit, what).characteristics if one.name.startswith(starts_with))


def at(edge, current: float) -> float:
    """Time of an edge at a current, straight in log-log."""
    known = np.isfinite(edge.time)
    return float(np.exp(np.interp(np.log(current), np.log(edge.current[known]), np.log(edge.time[known]))))


REPAIRED = "kestrel-point/repaired.yaml"
KESTREL, TARN, GULL = "kestrel-point/unit.yaml", "tarn-edge/unit.yaml", "gull-rock/unit.yaml"


@pytest.mark.parametrize("unit", [KESTREL, TARN, GULL, pytest.param(REPAIRED, marks=pytest.mark.long)])
def test_no_label_stands_on_another(unit):
    """On every sheet of every demonstration all labels have found a free place."""
    for one in sheets_of(subject(unit)):
        assert not labels_meet(one), one.title


def test_low_voltage_devices_stand_at_the_voltage_of_the_sheet():
    """Trap 13: the main's short-time pickup of 6 kA at 600 V stands at 144.3 A of 24.94 kV, 10 % either way."""
    early, late = device(KESTREL, "time-current", "LV main").edges[:2]
    for edge, share in ((early, 0.9), (late, 1.1)):
        step = np.flatnonzero((edge.time[:-1] > 2.0) & (edge.time[1:] < 1.0))
        assert edge.current[step] == pytest.approx(share * 6000.0 / RATIO, rel=1e-6)
    assert at(early, 400.0) == pytest.approx(0.180)  # 10 % early
    assert at(late, 400.0) == pytest.approx(0.270)


def test_the_line_line_fault_shifts_the_main_by_its_factor():
    """Reference 2.4: behind Dyn the line that carries most sees 2/sqrt(3) of a line-line fault."""
    main = device(KESTREL, "time-current", "LV main")
    assert main.edges[2].meaning == "latest, line-line fault: 1.15 times"
    assert main.edges[2].current == pytest.approx(main.edges[1].current * 2.0 / np.sqrt(3.0))


def test_both_scales_read_the_same_place():
    """The upper scale reads 600 V kiloamperes: 41.57 A there for one below."""
    other = sheet(KESTREL, "time-current").other
    assert other.ratio * 1e3 == pytest.approx(41.5667, abs=1e-4)
    assert other.title == "Current at 600 V, kA (three-phase, 41.57 times)"


def test_the_fuse_is_drawn_through_its_own_points_and_ends_where_it_interrupts():
    """The link's clearing edge has its file's points, and stops at 1 kA; the limiter's starts anew at 480 A."""
    link, limiter = (device(KESTREL, "time-current", name) for name in ("Draw-out", "Current-limiting"))
    curve = subject(KESTREL).project.curves["curves/link-d40.csv"]
    inside = [(i, t) for i, t in zip(curve.current, curve.total_clearing, strict=True) if i < 1000.0]
    drawn = list(zip(link.edges[1].current, link.edges[1].time, strict=True))
    assert [pytest.approx(point) for point in inside] == drawn[:-1]
    assert drawn[-1][0] == pytest.approx(1000.0)
    assert limiter.edges[1].current[0] == pytest.approx(480.0)
    below = next(edge for edge in limiter.edges if edge.meaning == "below its smallest interrupting current")
    assert below.current[-1] == pytest.approx(480.0)
    assert below.weight == "fine"


def test_the_relay_runs_from_its_trip_to_the_opening_of_its_breaker():
    """IEC very inverse, 400 A, dial 0.3 at 2000 A: 1.0125 s; early 5 %, late 5 %, breaker 83 ms."""
    early, late = device(KESTREL, "time-current", "Upstream phase").edges
    exact = 0.3 * 13.5 / (2000.0 / 400.0 - 1.0)
    assert at(early, 2000.0) == pytest.approx(exact * 0.95, rel=2e-3)
    assert at(late, 2000.0) == pytest.approx(exact * 1.05 + 0.083, rel=2e-3)
    assert at(late, 5000.0) == pytest.approx(0.030 + 0.083)


def test_the_damage_curve_is_that_of_the_reference_and_shifts_for_an_earth_fault():
    """C57.109: 1250 s at the multiple's square; behind Dyn an earth fault shows 0.577 of it in the line."""
    three_phase, to_earth = device(KESTREL, "time-current", "Transformer").edges
    rated = 1500e3 / (np.sqrt(3.0) * 24.94e3)
    assert at(three_phase, 10.0 * rated) == pytest.approx(12.5, rel=1e-3)
    assert at(to_earth, 10.0 * rated / np.sqrt(3.0)) == pytest.approx(12.5, rel=1e-3)
    assert three_phase.current[-1] == pytest.approx(rated / 0.0575)


def test_frequent_faults_lower_the_limit_from_the_knee_on():
    """Category II with frequent faults: at the largest through-fault 2 s instead of 1250 / 17.4 squared."""
    often = edited(KESTREL, (b"faults_expected: infrequent", b"faults_expected: frequent"))
    frequent = sheet_of(often, "time-current")
    limit = next(one for one in frequent.characteristics if one.role == "transformer").edges[0]
    assert limit.time[-1] == pytest.approx(2.0)
    knee = 0.7 * limit.current[-1]
    assert at(limit, knee * 0.999) > 1.5 * at(limit, knee * 1.001)


def test_the_iec_transformer_stands_its_bolted_fault_for_two_seconds():
    """IEC 60076-5: 2 s at 1/0.06 of rated current, constant I²t below."""
    limit = device(TARN, "time-current", "Transformer").edges[0]
    rated = 1000e3 / (np.sqrt(3.0) * 20e3)
    assert at(limit, rated / 0.06) == pytest.approx(2.0)
    assert at(limit, 0.5 * rated / 0.06) == pytest.approx(8.0)


def test_inrush_and_cold_load_stand_at_multiples_of_the_rated_current():
    """Reference 2.4: 12 times for 0.1 s, 25 times for 0.01 s, and the cold-load points."""
    rated = 1500e3 / (np.sqrt(3.0) * 24.94e3)
    found = {p.name: (p.current / rated, p.time) for p in sheet(KESTREL, "time-current").points if p.shape != "ring"}
    assert found["first cycles 12 \u00d7 0.1 s"] == (pytest.approx(12.0), 0.1)
    assert found["first peak 25 \u00d7 0.01 s"] == (pytest.approx(25.0), 0.01)
    names = {point.name for point in sheet(TARN, "time-current").points}  # its file gives none: those of the table
    assert {"inrush 12 \u00d7 0.1 s", "cold load 6 \u00d7 1 s", "cold load 2 \u00d7 100 s"} <= names


def test_the_hot_edge_is_moved_by_liquid_and_load():
    """Reference 2.1, tin at 95 degC: sqrt((232 - 95)/(232 - 25)) of the current, 75 % of the time after load."""
    link = device(KESTREL, "time-current", "Draw-out")
    hot = next(edge for edge in link.edges if edge.meaning == "melting in liquid at 95 \u00b0C after load")
    share = np.sqrt((232.0 - 95.0) / (232.0 - 25.0))
    assert hot.current[:8] == pytest.approx(share * link.edges[0].current[:8])
    assert hot.time[:8] == pytest.approx(0.75 * link.edges[0].time[:8])


def test_the_crossing_is_where_the_two_edges_meet_as_published():
    """Ring: clearing of the link and melting of the limiter show the same time; hot and cold stand around it."""
    ring = next(point for point in sheet(KESTREL, "time-current").points if point.shape == "ring")
    link, limiter = (device(KESTREL, "time-current", name) for name in ("Draw-out", "Current-limiting"))
    assert at(link.edges[1], ring.current) == pytest.approx(ring.time, rel=1e-9)
    assert at(limiter.edges[0], ring.current) == pytest.approx(ring.time, rel=1e-9)
    around = next(s for s in sheet(KESTREL, "time-current").spans if s.name == "Link and limiter cross, cold to hot")
    assert around.low < ring.current < around.high


def test_a_pair_that_never_crosses_is_said_in_words():
    """With the limiter's file in place of the link's the sheet is drawn, and says why there is no crossing."""
    one = sheet_of(edited(KESTREL, (b"curves/link-d40.csv", b"curves/limiter-80.csv")), "time-current")
    assert not [point for point in one.points if point.shape == "ring"]
    assert any(note.startswith("Link and limiter: the limiter may melt before the link") for note in one.notes)


def edited(unit: str, *changes: tuple[bytes, bytes]):
    """A demonstration with parts of its file replaced, read anew."""
    text = (EXAMPLES / unit).read_bytes()
    for before, after in changes:
        assert before in text
        text = text.replace(before, after, 1)
    return subject_of(load_bytes("unit.yaml", text, dict(subject(unit).project.files)))


def test_a_recloser_s_fast_shots_stand_beside_its_delayed_ones():
    """Definite 50 ms from 600 A, each way off by 40 ms: a band from 10 ms to 90 ms and the opening."""
    fast = b"{fast: {curve: definite time, pickup: 600 A, definite_time: 50 ms}, fast_shots: 2}"
    one = sheet_of(
        edited(
            KESTREL, (b"    breaker_opening: 83 ms\n", b"    breaker_opening: 83 ms\n    reclosing: " + fast + b"\n")
        ),
        "time-current",
    )
    shots = next(each for each in one.characteristics if each.name == "Upstream fast shots, 2")
    early, late = shots.edges
    assert at(late, 2000.0) == pytest.approx(0.050 + 0.040 + 0.083)
    assert at(early, 2000.0) == pytest.approx(0.010)  # 40 ms early at most: class 5 % or 40 ms
    assert early.current[np.isfinite(early.time)][0] == pytest.approx(600.0, rel=1e-6)


def test_a_fuse_known_by_its_class_stands_between_its_gates():
    """gG 315 A at 400 V: after the gate of 5 s at the latest, before that of 0.1 s at the earliest."""
    change = (b"      curve: curves/feeder-fuse-315.csv\n", b"")  # its class stays
    one = sheet_of(edited(TARN, change), "time-current", ("site offices",))
    fuse = next(each for each in one.characteristics if each.name.startswith("Feeder site offices"))
    assert fuse.about == ("class gG, between the gates of its standard",)
    early, late = fuse.edges
    highest_5s = next(i for i, t in zip(late.current * 50.0, late.time, strict=True) if t <= 5.0)
    assert highest_5s == pytest.approx(gg_gates(315.0).highest_5s, rel=1e-6)
    lowest = early.current[np.flatnonzero(early.time <= 0.1)[0]] * 50.0
    assert lowest == pytest.approx(gg_gates(315.0).lowest_10s, rel=1e-6)


def test_a_thermal_magnetic_trip_has_one_edge_and_says_so():
    """Its standard says how late it trips, not how early: no band is drawn."""
    trip = b"""      trip:
        long_time: {pickup: 600 A, delay: 8 s}
        instantaneous: 6 kA
        pickup_tolerance: 20 %
        time_tolerance: 15 %
"""
    change = (trip, b"      thermal_magnetic: {standard: IEC 60947-2, reference_time: 120 s, magnetic: 6 kA}\n")
    one = sheet_of(edited(TARN, change), "time-current")
    device_ = next(each for each in one.characteristics if each.name.startswith("Feeder jaw crusher"))
    assert len(device_.edges) == 1
    assert not device_.banded
    assert device_.about[-1] == "latest; how early it may act is not known"
    assert at(device_.edges[0], 1260.0 / 50.0 * 1.0001) == pytest.approx(120.0, rel=1e-2)


def test_limiters_side_by_side_share_the_current():
    """Two in parallel: each edge stands at twice the current of one."""
    two = sheet_of(edited(KESTREL, (b"fuses:\n", b"fuses:\n  limiters_in_parallel: 2\n")), "time-current")
    limiter = next(each for each in two.characteristics if each.role == "limiter")
    own = device(KESTREL, "time-current", "Current-limiting").edges[0]
    assert limiter.edges[0].current[0] == pytest.approx(2.0 * own.current[0])
    assert "2 in parallel" in limiter.name


def test_a_link_that_only_isolates_is_not_drawn():
    """It interrupts nothing: a note instead of a band."""
    changes = ((b"isolation_link: no", b"isolation_link: yes"), (b"    interrupting: 1 kA\n", b""))
    one = sheet_of(edited(KESTREL, *changes), "time-current")
    assert not [each for each in one.characteristics if each.role == "link"]
    assert "Not drawn: Draw-out expulsion link; it only isolates and interrupts nothing." in one.notes


def test_marked_currents_are_those_of_the_fault_tables():
    """Three-phase fault on the LV bus in the MV line: the ends lie inside the table's largest, both from one study."""
    one = next(s for s in sheet(KESTREL, "time-current").spans if s.name == "LV bus, three-phase")
    rows = fault_rows(*walks(subject(KESTREL), lambda at_, points: fault_rows(at_, points[:1])))
    whole = next(r for r in rows if r.governs and (r.point, r.kind, r.extreme) == ("LV bus", "three-phase", "maximum"))
    # The table's largest has motors in it, which do not pass the transformer.
    assert max(whole.primary_lines) <= one.high * (1.0 + 1e-9) <= whole.current / RATIO
    medium = next(s for s in sheet(KESTREL, "time-current").spans if s.name == "MV at the fuses, three-phase")
    ends = {
        r.extreme: r.current
        for r in rows
        if r.governs and (r.point, r.kind) == ("Transformer primary terminals", "three-phase")
    }
    assert (medium.low, medium.high) == (pytest.approx(ends["minimum"]), pytest.approx(ends["maximum"]))


def test_the_fuses_stand_where_an_earth_fault_puts_them():
    """Behind Dyn a line-earth fault of sqrt(3) n I shows I in the line: the limiter's 80 A curve moves by 72."""
    limiter = device(KESTREL, "earth-fault-lv", "Current-limiting").edges[0]
    own = device(KESTREL, "time-current", "Current-limiting").edges[0]
    assert limiter.current[0] / own.current[0] == pytest.approx(np.sqrt(3.0) * RATIO)
    assert "Dyn1 has no way for the zero sequence" in " ".join(sheet(KESTREL, "earth-fault-lv").notes)


def test_the_screen_stands_its_adiabatic_heat():
    """25 mm2 of copper from 85 to 200 degC, ICEA: 1 s at the current whose square is k² S²."""
    screen = device(KESTREL, "earth-fault-mv", "Screen")
    factor = 0.0297 * np.log10((200.0 + 234.0) / (85.0 + 234.0))
    area = 25e-6 / (np.pi / 4.0 * 0.0254e-3**2)
    assert at(screen.edges[0], np.sqrt(factor) * area / np.sqrt(2.0)) == pytest.approx(2.0, rel=1e-6)
    assert screen.edges[0].time[0] == pytest.approx(5.0)


def test_the_cut_off_current_is_that_of_the_reference():
    """Reference 2.3 at 60 Hz: 11.69 (I W)^(1/3), slope one third, the unlimited peak below where it limits."""
    without, limiter = sheet(KESTREL, "let-through").characteristics
    energy = subject(KESTREL).project.quantities["fuses.limiter.melting_energy"]
    low, high = limiter.edges
    for edge, joule in ((low, energy.low), (high, energy.high)):
        assert at(edge, 20e3) == pytest.approx(11.69 * (20e3 * joule) ** (1.0 / 3.0), rel=0.01)  # 0.7 % from R/X
        assert at(edge, 40e3) / at(edge, 5e3) == pytest.approx(2.0, rel=1e-3)
    first = high.current[0]
    assert high.time[0] == pytest.approx(at(without.edges[0], first))
    crest = without.edges[1]
    assert crest.time == pytest.approx(np.sqrt(2.0) * crest.current)
    (threshold,) = sheet(KESTREL, "let-through").points
    assert threshold.current == pytest.approx(15.5 * np.sqrt(energy.high), rel=2e-3)


@pytest.mark.parametrize(
    ("line", "what", "words"),
    [
        (b"  x_over_r: 6 .. 14\n", "earth-fault-lv", "Not marked: LV bus, line-earth; the file does not give supply."),
        (b"  load_loss: 14.2 kW\n", "time-current", "the file does not give transformer.load_loss"),
        (b"  faults_expected: infrequent\n", "time-current", "Not drawn: transformer; the file does not give"),
        (b"  liquid_temperature: -25 .. 95 degC", "time-current", "Not drawn: hot draw-out expulsion link; the file"),
    ],
)
def test_an_entry_that_is_missing_is_named_and_stops_nothing_else(line, what, words):
    """Each leaves a note, and the rest is drawn."""
    one = sheet_of(edited(KESTREL, (line, b"#" if line.endswith(b"degC") else b"")), what)
    assert any(words in note for note in one.notes), one.notes
    assert one.characteristics


def test_without_word_of_the_neutral_the_sheet_asks_for_it():
    """Whether an earth fault draws current on the LV side at all is not guessed."""
    lacking = edited(KESTREL, (b"  neutral: earthed\n", b""))
    with pytest.raises(MissingEntryError, match=r"^transformer\.neutral$"):
        sheet_of(lacking, "earth-fault-lv")


def test_without_an_earthed_neutral_nothing_is_drawn_and_the_sheet_says_why():
    """An isolated neutral: no current into earth flows on the LV side."""
    one = sheet_of(edited(KESTREL, (b"  neutral: earthed\n", b"  neutral: isolated\n")), "earth-fault-lv")
    assert one.characteristics == ()
    assert "the transformer's neutral is not earthed" in one.notes[0]


def test_what_has_to_withstand_the_peak_is_marked_or_named():
    """The switch at 32.5 kA; what the file does not give is said."""
    one = sheet(KESTREL, "let-through")
    assert (one.allowances[0].name, one.allowances[0].time) == ("MV switch withstands 32.5 kA", 32.5e3)
    assert "Not marked: MV connectors; the file does not give terminations.peak_withstand." in one.notes


def test_two_feeds_with_the_same_protection_are_one_line():
    """Tarn Edge stands in a loop with equal settings at both ends."""
    names = [one.name for one in sheet(TARN, "time-current").characteristics if one.role == "upstream"]
    assert names == ["Upstream phase relay, both feeds"]


def test_every_sheet_of_a_unit_that_has_all_is_in_the_dossier():
    """All sheets; of a unit without fuses and board only the one that can be drawn."""
    assert len(sheets_of(subject(KESTREL))) == len(WHATS)
    assert [one.title for one in sheets_of(subject(GULL))] == [
        "Gull Rock pumping station. Phase currents: what clears, and when"
    ]
