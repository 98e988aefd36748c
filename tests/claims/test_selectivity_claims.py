"""CO-01, CO-02 and CO-03 against hand calculations, on the unit of the worked example W13; traps 1, 3, 4 and 15.

Line current of the bolted LV fault: 26 732 A x 480 / 13 800 = 929.8 A. Link, straight in log-log: melts in 1 s at
400 A, 0.02 s at 2000 A, clears in 2 s and 0.05 s. Limiter: clears 2 s at 600 A, 0.01 s at 3000 A.
"""

from pathlib import Path

import numpy as np
import pytest
from claim_files import DEFINITIONS, details, judged
from test_every_claim import HIGH_RELAY, QUICK_MAIN

from deadfront.claims.judging import examine
from deadfront.claims.model import SelectiveRange
from deadfront.claims.pairs import stated
from deadfront.claims.report import subject_of
from deadfront.physics.selectivity import Selectivity
from deadfront.project.reading import load

LINE = 26732.19 * 480 / 13800
LINK_SLOPE = np.log(50) / np.log(5)
CLEAR_SLOPE = np.log(40) / np.log(5)
LIMITER_SLOPE = np.log(200) / np.log(5)

PHASE = "from the smallest LV fault to the bolted fault behind the fuses"
RELAY = f"MV fuses below supply protection, phase relay, {PHASE}"
MAIN_LINK = "LV main breaker before draw-out expulsion link, {} faults of the feeders"
PUMPS = "pumps below LV main breaker, {} faults"

# --- CO-01 ---


@pytest.mark.parametrize(("kind", "margin"), [("numerical", 0.12), ("static", 0.12), ("induction", 0.22)])
def test_co_01_the_relay_leaves_the_margin_of_its_kind(kind, margin):
    """CO-01: from 2 kA on the relay counts 0.3 s; there the limiter clears in 2 (600 / 2000)^3.29 s = 38 ms."""
    claim = judged("CO-01", HIGH_RELAY | {"supply.protection.relay": kind})
    (found,) = (detail for detail in claim.details if detail.subject == RELAY)
    worst = (2 * (600 / 2000) ** LIMITER_SLOPE + margin) / 0.3
    assert worst - 0.05 <= found.value <= worst  # the worst that was found, within the gap of a check
    assert claim.bound <= 1 - worst
    assert found.selective.smallest == pytest.approx(0.38 * 26732.19 / np.sqrt(3) * 480 / 13800, rel=0.04)
    assert found.selective.tightest_at == pytest.approx(2000, rel=1e-2)


def test_co_01_what_the_utility_wants_wins_and_a_silent_file_is_taken_at_its_worst():
    """CO-01: an entry of the margin stands for the table's; without the kind of relay the larger margin is assumed."""
    wanted = judged("CO-01", HIGH_RELAY | {"supply.protection.margin": "300 ms"})
    assert wanted.verdict == "refuted"
    silent = judged("CO-01", HIGH_RELAY | {"supply.protection.relay": None})
    assert "supply.protection.relay" in [a.key for a in silent.assumptions]
    assert silent.value == judged("CO-01", HIGH_RELAY | {"supply.protection.relay": "induction"}).value


def test_co_01_says_over_which_currents_the_pair_is_selective():
    """CO-01: a relay from 500 A on in 0.3 s: selective up to 500 A, and where the link clears in 0.18 s."""
    found = details("CO-01", HIGH_RELAY | {"supply.protection.phase.pickup": "500 A"})[RELAY]
    assert found.margin < 0.0
    assert found.selective.up_to == pytest.approx(500, rel=1e-3)
    assert found.selective.from_on == pytest.approx(400 * (2 / 0.18) ** (1 / CLEAR_SLOPE), rel=1e-3)
    assert found.selective.words.startswith("of 2")


def test_co_01_cold_liquid_makes_the_fuses_late():
    """CO-01: tin at -25 degC carries sqrt(257 / 207) = 1.114 of its current for the same time: selective that later."""
    cold = HIGH_RELAY | {"supply.protection.phase.pickup": "500 A"}
    named = {"fuses.bayonet.element": "tin", "fuses.limiter.element": "silver"}
    found = details("CO-01", cold | named | {"transformer.liquid_temperature": "-25 .. 85 degC"})[RELAY]
    expected = np.sqrt(257 / 207) * 400 * (2 / 0.18) ** (1 / CLEAR_SLOPE)
    assert found.selective.from_on == pytest.approx(expected, rel=1e-3)
    assert "fuses.coldest_liquid" in [a.key for a in judged("CO-01", cold).assumptions]


def test_co_01_a_step_has_to_be_outrun():
    """CO-01: an instantaneous step of 30 ms from 4 kA on: the limiter is done in 10 ms; one of 5 ms comes first."""
    step = {"supply.protection.phase.instantaneous": "4 kA", "supply.protection.phase.instantaneous_time": "30 ms"}
    name = f"MV fuses below supply protection, phase relay, instantaneous, {PHASE}"
    assert details("CO-01", HIGH_RELAY | step)[name].value == pytest.approx(1 / 3, rel=1e-2)
    quick = step | {"supply.protection.phase.instantaneous_time": "5 ms"}
    assert judged("CO-01", HIGH_RELAY | quick).verdict == "refuted"


def test_co_01_an_earth_relay_sees_lv_earth_faults_only_through_earthed_stars():
    """CO-01: behind a delta an LV earth fault leaves no residual; through YNyn it does."""
    name = "MV fuses below supply protection, earth relay, LV earth fault, arcing to bolted"
    assert name not in details("CO-01", HIGH_RELAY)
    assert name in details("CO-01", HIGH_RELAY | {"transformer.connection": "YNyn0"})


def test_co_01_a_fuse_upstream_keeps_a_quarter_of_its_melting_time():
    """CO-01: link/link 75 % of the melting time [C]: total clearing at 1 kA 0.37 s over 0.75 x 90 s, and so on up."""
    found = judged("CO-01", {"supply.protection": {"fuse": "curves/main.csv"}})
    assert found.verdict == "shown"
    largest = 150e6 / (np.sqrt(3) * 13800)
    melts = 1.5 * (largest / 5000) ** (np.log(0.4 / 1.5) / np.log(2))
    (subject,) = (detail for detail in found.details if "fuse, from" in detail.subject)
    assert subject.value == pytest.approx(0.01 / 0.75 / melts, rel=2e-2)


FAST = {
    "supply.protection.reclosing": {
        "fast": {"curve": "definite time", "pickup": "150 A", "definite_time": "20 ms"},
        "fast_shots": 1,
    }
}


def test_co_01_a_fast_shot_that_nobody_calls_fuse_saving_trips_first():
    """CO-01: 20 ms from 150 A on opens for every fault that the fuses could have cleared: refuted, and it is named."""
    found = judged("CO-01", HIGH_RELAY | FAST)
    assert found.verdict == "refuted"
    assert "fast shots" in found.reason


def test_co_01_shots_that_save_fuses_must_not_melt_them():
    """CO-01: trap 15: each fast shot of 20 + 40 + 80 ms adds its heat; at 929.8 A the link melts in 0.129 s."""
    hot = HIGH_RELAY | FAST | QUICK_MAIN | {"supply.protection.reclosing.fuse_saving": "yes"}
    name = "Draw-out expulsion link, heated by the fast shots of supply"
    once = details("CO-01", hot)[name].value
    assert once == pytest.approx(0.14 / (LINE / 400) ** -LINK_SLOPE, rel=1e-2)
    twice = details("CO-01", hot | {"supply.protection.reclosing.fast_shots": 2})[name].value
    assert twice == pytest.approx(2 * once, rel=1e-6)


def test_co_01_an_unearthed_network_has_no_earth_fault_that_melts_a_fuse():
    """CO-01: isolated neutral: the earth relay is not asked; its capacitive current is none of the fuses' business."""
    bare = {"supply.x0_over_x1": None, "supply.r0_over_x0": None, "supply.capacitive_earth_current": "20 A"}
    found = details("CO-01", HIGH_RELAY | bare | {"supply.earthing": "isolated"})
    assert not any("earth relay" in name for name in found)


# --- CO-02 ---


def test_co_02_main_against_the_hot_link_at_the_bolted_fault():
    """CO-02: trap 3: latest main, 20 ms + 10 % + 50 ms, against the earliest link, (929.8 / 400)^-2.43 = 0.129 s."""
    found = details("CO-02", QUICK_MAIN)[MAIN_LINK.format("three-phase")]
    assert found.value == pytest.approx(0.072 / (LINE / 400) ** -LINK_SLOPE, rel=1e-4)


def test_co_02_the_line_line_fault_is_shifted_by_16_percent():
    """CO-02: the MV line carries 2/sqrt(3) of what the same LV current draws in a balanced fault.

    Without the shift: 400 A x 13.8/0.48 x 0.27^(-1/2.43) in the LV phase, where the link melts in 270 ms.
    """
    slow = QUICK_MAIN | {"board.main.trip.short_time.delay": "200 ms"}
    found = details("CO-02", slow)
    three, two = (found[MAIN_LINK.format(kind)].selective.up_to for kind in ("three-phase", "line-line"))
    assert three == pytest.approx(400 * 13800 / 480 * 0.27 ** (-1 / LINK_SLOPE), rel=1e-3)
    assert three / two == pytest.approx(2 / np.sqrt(3), rel=1e-3)


@pytest.mark.parametrize("connection", ["YNyn0", "Yyn0", "Dzn0", "Dd0"])
def test_co_02_other_connections_shift_nothing_for_a_line_line_fault(connection):
    """CO-02: published table: line over line is 1 but for Dyn, so both kinds part at the same LV current."""
    slow = QUICK_MAIN | {"board.main.trip.short_time.delay": "200 ms", "transformer.connection": connection}
    if connection.startswith("Dd"):
        slow |= {"transformer.neutral": "isolated"}
    found = details("CO-02", slow)
    three, two = (found[MAIN_LINK.format(kind)].selective for kind in ("three-phase", "line-line"))
    assert three.up_to < two.largest * 2
    assert two.up_to == pytest.approx(min(three.up_to, two.largest), rel=1e-3)


def test_co_02_hot_liquid_and_load_make_the_link_earlier():
    """CO-02: tin at 85 degC melts at 0.843 of its current (published table), load leaves 75 % of the time."""
    hot = {
        "fuses.bayonet.element": "tin",
        "fuses.bayonet.preload": "75 %",
        "transformer.liquid_temperature": "20 .. 85 degC",
    }
    found = details("CO-02", QUICK_MAIN | hot)[MAIN_LINK.format("three-phase")]
    expected = 0.072 / (0.75 * (LINE / 0.843 / 400) ** -LINK_SLOPE)
    assert found.value == pytest.approx(expected, rel=2e-3)


# --- CO-03 ---


def test_co_03_late_feeder_against_early_main():
    """CO-03: trap 3: 25 ms against 200 ms less 10 %; an earth fault below the short-time band 135 ms against 270 ms."""
    found = details("CO-03")
    assert found[PUMPS.format("phase")].value == pytest.approx(0.025 / 0.18, rel=1e-6)
    assert found[PUMPS.format("earth")].value == pytest.approx(0.025 / 0.18, rel=1e-6)
    waits = {"board.feeders.pumps.trip.instantaneous": "40 kA", "board.main.trip.short_time": None}
    assert details("CO-03", waits)[PUMPS.format("earth")].value == pytest.approx(0.135 / 0.27, rel=1e-6)


def test_co_03_bands_that_overlap_leave_a_gap_in_the_range():
    """CO-03: the feeder is sure from 7.7 kA, the main may act from 5.4 kA: between the two the main comes first."""
    found = details(
        "CO-03", {"board.feeders.pumps.trip.instantaneous": "7 kA", "board.feeders.pumps.cable.length": "200 m"}
    )
    selective = found[PUMPS.format("phase")].selective
    assert (selective.up_to, selective.from_on) == (pytest.approx(5400, rel=1e-3), pytest.approx(7700, rel=1e-3))
    assert selective.tightest < 0.0
    assert "too early" in selective.words


def zone(**entries):
    """Zone interlocking of the main: 20 ms without restraint."""
    return {"board.main.trip.zone_interlocking": {"unrestrained_delay": "20 ms"} | entries}


def test_co_03_a_restraint_signal_makes_the_main_wait():
    """CO-03: with the signal the main waits its delay, without it 20 ms less 10 %, and the feeder takes 25 ms."""
    assert judged("CO-03", zone(restrained_by=["pumps"])).verdict == "shown"
    alone = details("CO-03", zone())[PUMPS.format("phase")]
    assert alone.value == pytest.approx(0.025 / 0.018, rel=1e-6)


def test_co_03_a_feeder_that_does_not_pick_up_sends_no_signal():
    """CO-03: an instantaneous element above the fault: nothing restrains the main."""
    found = details("CO-03", zone(restrained_by=["pumps"]) | {"board.feeders.pumps.trip.instantaneous": "60 kA"})
    assert found[PUMPS.format("phase")].margin < 0.0


def fuse(rating, curve=None, fuse_class="gG"):
    """A low-voltage fuse."""
    found = {"kind": "fuse", "rating": rating, "fuse_class": fuse_class, "interrupting": "120 kA"}
    return found | ({"curve": curve} if curve else {})


@pytest.mark.parametrize(("rating", "verdict"), [("500 A", "shown"), ("630 A", "refuted")])
def test_co_03_gg_fuses_by_the_published_ratio(rating, verdict):
    """CO-03: trap 4: 800 A over 500 A is 1.6 to 1 and selective by the limits of IEC 60269-1, over 630 A it is not."""
    feeder = fuse(rating) | {"cable": details_cable()}
    assert judged("CO-03", {"board.main": fuse("800 A"), "board.feeders": {"pumps": feeder}}).verdict == verdict


def details_cable():
    """The feeder's cable of the complete unit."""
    from study_files import NORTH_AMERICAN

    return NORTH_AMERICAN["board"]["feeders"]["pumps"]["cable"]


def test_co_03_ul_classes_by_their_let_through():
    """CO-03: the class's largest let-through against 75 % of what melts the main fuse: 0.4 s x (10 kA)^2."""
    feeder = fuse("400 A", "curves/link.csv", "J") | {"cable": details_cable()}
    changes = {"board.main": fuse("1600 A", "curves/main.csv", "L"), "board.feeders": {"pumps": feeder}}
    found = details("CO-03", changes)["pumps below LV main breaker, let-through"]
    assert found.limit == pytest.approx(0.75 * 0.4 * 1e8)
    assert found.margin > 0.0
    weak = changes | {"board.main": fuse("1600 A", "curves/limiter.csv", "L")}
    assert details("CO-03", weak)["pumps below LV main breaker, let-through"].margin < 0.0


def test_co_03_a_class_that_limits_let_through_only_wants_a_curve():
    """CO-03: class J says nothing of times: the curve is missing, and named."""
    found = judged("CO-03", {"board.feeders": {"pumps": fuse("400 A", None, "J") | {"cable": details_cable()}}})
    assert [entry.path for entry in found.missing] == ["board.feeders.pumps.curve"]


MOULDED = {
    "board.feeders.pumps.trip": None,
    "board.feeders.pumps.rating": "400 A",
    "board.feeders.pumps.thermal_magnetic": {"standard": "UL 489", "magnetic": "4 kA", "magnetic_tolerance": "20 %"},
}


def test_co_03_a_moulded_case_breaker_by_the_limits_of_its_standard():
    """CO-03: above 4.8 kA 25 ms against 180 ms; one at 5 kA is sure from 6 kA only, the main acts at 5.4."""
    assert details("CO-03", MOULDED)[PUMPS.format("phase")].value == pytest.approx(0.025 / 0.18, rel=1e-6)
    later = MOULDED | {
        "board.feeders.pumps.thermal_magnetic.magnetic": "5 kA",
        "board.feeders.pumps.cable.length": "200 m",
    }
    assert judged("CO-03", later).verdict == "refuted"


def test_co_03_a_main_that_may_act_at_any_time_is_open():
    """CO-03: a standard's limits, or a curve without melting times, do not say how early a main may act."""
    main = {"kind": "moulded-case breaker", "rating": "1600 A", "interrupting": "65 kA"}
    magnetic = main | {"thermal_magnetic": {"standard": "IEC 60947-2", "reference_time": "600 s", "magnetic": "16 kA"}}
    found = judged("CO-03", {"board.main": magnetic})
    assert found.verdict == "open"
    assert found.reason == (
        "The standard of the thermal-magnetic trip of board.main says how late it trips, not how early: give a curve."
    )


def test_co_03_the_arc_trip_is_unselective_by_design_and_says_so():
    """CO-03: the light opens the main for a feeder's arc: an assumption in words, with somebody to own it."""
    found = judged("CO-03")
    (words,) = (a.text for a in found.assumptions if a.key == "board.arc_detection.unselective")
    assert "unselective by design" in words
    none = judged("CO-03", {"board.arc_detection": None})
    assert "board.arc_detection.unselective" not in [a.key for a in none.assumptions]


# --- ranges ---

REPAIRED = Path(__file__).parents[2] / "examples" / "kestrel-point" / "repaired.yaml"


@pytest.mark.parametrize("identifier", ["CO-01", "CO-02", "CO-03", "SC-06"])
def test_no_point_of_the_repaired_unit_lies_below_the_proved_bound(identifier):
    """3000 random points of all ranges and sizes of fault: none below the bound; every detail states its range."""
    claim, judged_by = examine(DEFINITIONS[identifier], subject_of(load(REPAIRED)))
    field, random = judged_by.field, np.random.default_rng(1842)
    shares = random.random((3000, len(field.box.paths)))
    points = field.box.lower + shares * (field.box.upper - field.box.lower)
    least = min(
        float(np.asarray(term.margin()).min())
        for maker in field.makers
        for term in field.at(points, maker)
        if term.cases
    )
    assert claim.verdict == "shown"
    assert 0.0 <= claim.bound <= least
    if identifier.startswith("CO-"):
        assert all(detail.selective.up_to == detail.selective.largest for detail in claim.details)


# --- words ---


def test_a_selective_range_in_words():
    """Everywhere, in two parts, nowhere; a device that never acts, and one that never clears."""
    everywhere = stated(Selectivity(2e4, 1e3, True, 0.13, 5200.0), 1e3, 2e4)
    assert everywhere == SelectiveRange(
        1e3, 2e4, 2e4, 1e3, 0.13, 5200.0, "selective from 1 kA to 20 kA, tightest at 5.2 kA: 130 ms to spare"
    )
    parts = stated(Selectivity(5e3, 8e3, False, -0.2, 6e3), 1e3, 2e4)
    assert parts.words == (
        "of 1 kA to 20 kA, selective up to 5 kA and from 8 kA on; worst at 6 kA: the device behind is 200 ms too early"
    )
    quiet = stated(Selectivity(2e4, 1e3, True, np.inf, 1e3), 1e3, 2e4)
    assert quiet.words.endswith("tightest at 1 kA: the device behind never acts")
    endless = stated(Selectivity(np.nan, np.nan, False, -np.inf, 1e3), 1e3, 2e4)
    assert endless.words == ("of 1 kA to 20 kA, selective nowhere; worst at 1 kA: the nearer device does not clear")
    assert (endless.up_to, endless.from_on, endless.tightest) == (None, None, None)


def test_a_ratio_of_times_and_heating_are_named():
    """A bare number and seconds at rated current say what they are, in the claim, its subjects and its reason."""
    pair, heating = judged("CO-03"), judged("SC-06")
    assert (pair.quantity, heating.quantity) == ("time ratio", "heating, per-unit I2t")
    assert all(detail.quantity == "heating, per-unit I2t" for detail in heating.details)
    assert f": {pair.quantity} " in pair.reason
