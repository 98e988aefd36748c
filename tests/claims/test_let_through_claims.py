"""OC-07, OC-08 and OC-11 against the published cut-off formula, hand calculations and the transfer rule."""

import numpy as np
import pytest
from claim_files import NORTH_AMERICAN
from pair_files import limiter_row, pair, parts

STIFF = {"supply.fault_power": f"{np.sqrt(3) * 12.47 * 20} MVA", "supply.x_over_r": 200}
"""20 kA at 12.47 kV with hardly any resistance: the customary form of the cut-off current."""

PEAK, HEAT = "Tank, peak let through, three-phase", "Tank, I2t let through, three-phase"


def test_cut_off_current_of_the_limiter_of_125_a():
    """20 kA, 60 Hz, largest melting energy 57 110 A2s: 12 225 A; trap 14: at 50 Hz less by the cube root of 60/50."""
    at_60 = parts("OC-08", "A", STIFF)[PEAK].value
    assert at_60 == pytest.approx(12225, rel=1e-3)
    slow = {
        "frequency": "50 Hz",
        "fuses.bayonet.reference_frequency": "50 Hz",
        "fuses.limiter.reference_frequency": "50 Hz",
    }
    assert at_60 / parts("OC-08", "A", STIFF | slow)[PEAK].value == pytest.approx((60 / 50) ** (1 / 3), rel=1e-4)


def test_effective_current_is_the_peak_over_2_3():
    """Trap 11: 2.3, not the square root of I2t over t."""
    found = parts("OC-08", "A", STIFF)
    assert found["MV switch, effective current let through, three-phase"].value == pytest.approx(12225 / 2.3, rel=1e-3)


def test_below_the_threshold_the_peak_is_the_unlimited_one():
    """Threshold at crest 3702 A: a prospective fault of 1.4 kA passes with its whole peak, never with less."""
    weak = {"supply.fault_power": "30 MVA", "supply.x_over_r": 10}
    found = parts("OC-08", "A", weak)[PEAK].value
    prospective = 30e6 / np.sqrt(3) / 12470
    assert np.sqrt(2) * prospective * 1.7 < found < np.sqrt(2) * prospective * 1.8


def test_a_low_arc_voltage_raises_the_cut_off_current():
    """Not above the crest of the line voltage, or not known: 10 % more, and the latter is listed."""
    plain = parts("OC-08", "A", STIFF)[PEAK].value
    assert parts("OC-08", "A", STIFF | {"fuses.limiter.arc_voltage": "15 kV"})[PEAK].value == pytest.approx(1.1 * plain)
    unknown = STIFF | {"fuses.limiter.arc_voltage": None}
    assert parts("OC-08", "A", unknown)[PEAK].value == pytest.approx(1.1 * plain)
    assert "fuses.limiter.arc_voltage" in [a.key for a in pair("OC-08", "A", unknown).assumptions]


def test_two_limiters_in_parallel_let_through_more():
    """Energy by four, peak by the cube root of four."""
    one, two = (parts("OC-08", "A", STIFF | {"fuses.limiters_in_parallel": n}) for n in (1, 2))
    assert two[PEAK].value / one[PEAK].value == pytest.approx(4.0 ** (1 / 3), rel=1e-3)
    assert two[HEAT].value == pytest.approx(4.0 * 136870)


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"transformer.tank.peak_current": "5 kA"}, "Tank, peak let through"),
        ({"transformer.tank.let_through": "50000 A2s"}, "Tank, I2t let through"),
        ({"switch.peak_withstand": "5 kA"}, "MV switch, peak let through"),
        ({"switch.short_time.current": "2 kA"}, "MV switch, effective current"),
        ({"terminations.peak_withstand": "5 kA"}, "MV connectors, peak let through"),
        ({"terminations.short_time.current": "300 A", "terminations.short_time_long": None}, "MV connectors, I2t"),
    ],
)
def test_each_part_that_withstands_too_little_refutes(changes, what):
    """Tank, switch and connectors, peak and I2t."""
    found = pair("OC-08", "A", changes)
    assert found.verdict == "refuted"
    assert found.reason.startswith(what)


def test_arc_energy_in_the_tank_is_bounded_by_let_through_and_time():
    """500 V x sqrt(136 870 A2s x t of the limiter's clearing curve), at its last point 0.02 s."""
    found = parts("OC-07", "A", STIFF)["Tank, arc energy of an internal three-phase fault"]
    assert found.value == pytest.approx(500.0 * np.sqrt(136870 * 0.02))
    assert pair("OC-07", "A", STIFF | {"transformer.tank.arc_energy": "20 kJ"}).verdict == "refuted"


def test_an_arc_voltage_the_file_does_not_give_is_a_range():
    """0.2 to 1 kV, the usual span: the largest counts, and it is listed."""
    changes = STIFF | {"transformer.internal_arc_voltage": None}
    found = parts("OC-07", "A", changes)["Tank, arc energy of an internal three-phase fault"]
    assert found.value == pytest.approx(1000.0 * np.sqrt(136870 * 0.02))
    whole = pair("OC-07", "A", changes)
    assert "transformer.internal_arc_voltage" in [a.key for a in whole.assumptions]


@pytest.mark.parametrize(
    ("identifier", "path"),
    [
        ("OC-07", "transformer.tank.arc_energy"),
        ("OC-07", "fuses.limiter.total_energy"),
        ("OC-08", "transformer.tank.peak_current"),
        ("OC-08", "transformer.tank.let_through"),
        ("OC-08", "fuses.limiter.melting_energy"),
        ("OC-08", "switch.peak_withstand"),
        ("OC-11", "switch.fused"),
    ],
)
def test_a_missing_entry_leaves_the_claim_open_and_is_named(identifier, path):
    """Open, and it says what to put where."""
    found = pair(identifier, "A", {path: None})
    assert found.verdict == "open", found.reason
    assert path in [entry.path for entry in found.missing]


@pytest.mark.parametrize("identifier", ["OC-07", "OC-08"])
def test_without_a_limiter_nothing_is_limited(identifier):
    """Not applicable, and a curve of another frequency leaves it open."""
    found = pair(identifier, "A", {"fuses.limiter": None})
    assert (found.verdict, found.reason) == ("not applicable", "The file has no current-limiting fuse.")
    assert pair(identifier, "A", {"fuses.limiter.reference_frequency": "50 Hz"}).verdict == "open"


# --- the fused switch ---

FUSED = {
    "switch.fused": "yes",
    "switch.striker": "yes",
    "switch.fuse_opening": "50 ms",
    "switch.transfer_current": "1.3 kA",
    "transformer.impedance": "3 %",
    "fuses.bayonet": None,
}
"""Case B with its limiter of 100 A in a fused switch, before a transformer of 3 %."""


@pytest.mark.parametrize(("opening", "transfer"), [("28 ms", 1236.7), ("50 ms", 1050.1), ("100 ms", 863.6)])
def test_transfer_current_is_read_at_nine_tenths_of_the_opening_time(opening, transfer):
    """Trap 16: of the minimum pre-arcing curve; regression values of the invented limiter of 100 A."""
    found = parts("OC-11", "B", FUSED | {"switch.fuse_opening": opening})
    assert found["Fused switch, transfer current"].value == pytest.approx(transfer, rel=1e-3)


def test_the_bolted_fault_has_to_lie_above_the_transfer_current():
    """At 3 % it does; at 5.75 % the switch would have to break what the fuses should clear alone."""
    assert pair("OC-11", "B", FUSED).verdict == "shown"
    found = pair("OC-11", "B", FUSED | {"transformer.impedance": "5.75 %"})
    assert found.verdict == "refuted"
    assert found.reason.startswith("Bolted LV fault against the transfer current")
    assert pair("OC-11", "B", FUSED | {"switch.transfer_current": "1 kA"}).verdict == "refuted"


def test_take_over_current_is_read_on_the_longest_operating_curve():
    """Trap 16: total clearing at opening and relay time; 0.2 s clears at the current that melts in 0.1 s."""
    changes = FUSED | {"switch.release_opening": "0.18 s", "switch.take_over_current": "900 A"}
    found = parts("OC-11", "B", changes | {"switch.release_relay": None})
    melts_in_100_ms = float(limiter_row("15.5", 100)["I_minmelt_A_0.1s"])
    assert found["Fused switch, take-over current"].value == pytest.approx(melts_in_100_ms)
    keys = {a.key: a.tag for a in pair("OC-11", "B", changes).assumptions}
    assert keys["switch.release_relay"] == "M"
    assert pair("OC-11", "B", changes | {"switch.take_over_current": "600 A"}).verdict == "refuted"


def test_a_fuse_without_a_striker_must_break_all_that_melts_it():
    """A backup fuse melts from 191 A on and breaks from 550 A: without the switch that is refuted."""
    found = pair("OC-11", "B", FUSED | {"switch.striker": "no"})
    assert found.verdict == "refuted"
    assert found.limit == pytest.approx(550.0)


def test_a_switch_that_is_not_fused_hands_nothing_over():
    """Not applicable, with the reason."""
    found = pair("OC-11", "B")
    assert (found.verdict, found.reason) == (
        "not applicable",
        "Switch and fuses are no combination: nothing is handed from one to the other.",
    )


@pytest.mark.parametrize("path", ["switch.striker", "switch.fuse_opening", "switch.transfer_current"])
def test_an_entry_that_a_fused_switch_lacks_is_named(path):
    """Open, and it says what to put where."""
    found = pair("OC-11", "B", FUSED | {path: None})
    assert found.verdict == "open"
    assert path in [entry.path for entry in found.missing]


def test_the_smallest_internal_fault_that_the_limiter_clears_burns_longest():
    """Case A at the crossing, 1511.1 A: twice its melting time of 0.03206 s, so 500 V x 1511.1 A x 0.0641 s."""
    found = parts("OC-07", "A")["Tank, arc energy of the smallest internal fault that the limiter clears"]
    assert found.value == pytest.approx(500.0 * 1511.1 * 2 * 0.03206, rel=1e-3)
    assert pair("OC-07", "A", {"transformer.tank.arc_energy": "45 kJ"}).verdict == "refuted"


def test_without_a_pair_only_bolted_faults_are_asked_of_the_tank():
    """A limiter in a fused switch has no crossing; a pair whose crossing is not known leaves the claim open."""
    assert not [name for name in parts("OC-07", "B", FUSED) if "smallest" in name]
    link = b"current_a,min_melt_s,total_clear_s\n150,300,400\n500,0.7,1\n1000,0.05,0.1\n"
    limiter = b"current_a,min_melt_s,total_clear_s\n300,900,1000\n600,20,30\n1200,0.3,0.4\n"
    changes = {"fuses.limiter.curve": "other.csv", "fuses.bayonet.curve": "link2.csv"}
    found = pair("OC-07", "A", changes, {"other.csv": limiter, "link2.csv": link})
    assert found.verdict == "open"
    assert "cross only beyond the last points of both" in found.reason


def test_a_curve_that_begins_above_the_minimum_and_within_the_hour_does_not_say_enough():
    """From 600 A at 10 s on, with a minimum of 550 A: a smaller current may melt it later. Open, in words."""
    short = b"current_a,min_melt_s,total_clear_s\n600,10,20\n1000,0.5,1\n3000,0.01,0.02\n"
    whole = b"current_a,min_melt_s,total_clear_s\n600,3600,3700\n1000,0.5,1\n3000,0.01,0.02\n"
    changes = {"fuses.limiter.curve": "other.csv", "fuses.bayonet": None}
    for identifier, more in (("OC-05", {}), ("OC-11", FUSED | {"switch.striker": "no"})):
        found = pair(identifier, "B", more | changes, {"other.csv": short})
        assert found.verdict == "open"
        assert found.reason == (
            "The curve of the current-limiting fuse begins at 10 s: what melts it in the long run is not known."
        )
        assert pair(identifier, "B", more | changes, {"other.csv": whole}).verdict == "shown"


def test_what_motors_feed_back_adds_to_the_peak_in_the_tank_and_to_nothing_else():
    """The limiter carries the supply's part only; the board's comes through the transformer, with its whole peak."""
    quiet, busy = (parts("OC-08", "A", {"motors": motors}) for motors in (None, NORTH_AMERICAN["motors"]))
    switch = "MV switch, peak let through, three-phase"
    assert quiet[PEAK].value == pytest.approx(quiet[switch].value)
    fed_back = busy[PEAK].value - busy[switch].value
    rated = 1000e3 / np.sqrt(3) / 12470  # 1000 kW of motors at power factor and efficiency of one
    assert 2.0 * 4.0 * rated < fed_back < 2.0 * 7.0 * rated


def test_a_board_that_feeds_on_is_said_not_to_be_counted():
    """With a tie in parallel an internal fault goes on after the limiter has cleared: listed, not hidden."""
    found = pair("OC-07", "A", {"board.tie": NORTH_AMERICAN["board"]["tie"]})
    assert "transformer.internal_fault" in [a.key for a in found.assumptions]
    assert "transformer.internal_fault" not in [a.key for a in pair("OC-07", "A").assumptions]
