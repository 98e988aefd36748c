"""CO-04 and CO-06 against hand calculations, on the unit of the worked example W13."""

import numpy as np
import pytest
from claim_files import NORTH_AMERICAN, details, judged

from deadfront.physics import ieee1584
from deadfront.physics.ieee1584 import ArcSetting

GENERATOR = {
    "rating": "500 kVA",
    "voltage": "480 V",
    "subtransient_reactance": "12 %",
    "zero_reactance": "4 %",
    "x_over_r": 20,
    "power_factor": "80 %",
    "neutral": "isolated",
    "parallel": "never",
    "device": NORTH_AMERICAN["board"]["tie"]["device"] | {"trip": {"long_time": {"pickup": "600 A", "delay": "4 s"}}},
}


def test_co_04_the_small_arcing_earth_fault_is_seen_by_the_earth_element():
    """CO-04: 38 % of 26 732 A is 10 158 A: with a short-time pickup of 12 kA the earth element clears, 330 + 50 ms."""
    found = details("CO-04", {"board.main.trip.short_time.pickup": "12 kA"})
    assert found["LV bus, arcing to earth fault"].value == pytest.approx(0.38)
    assert found["LV bus, line-line fault"].value == pytest.approx(0.27)


def test_co_04_without_an_earth_element_the_phase_element_is_late():
    """CO-04: long-time element at 10 158 A: 11 s (12 000 / 10 158)^2 + 50 ms: refuted against 1 s."""
    changes = {"board.main.trip.short_time.pickup": "12 kA", "board.main.trip.earth": None}
    slow = {
        "supply.protection.phase.pickup": "5 kA",
        "fuses.bayonet": None,
        "fuses.limiter.minimum_interrupting": "5 kA",
    }
    found = judged("CO-04", changes | slow)
    assert found.verdict == "refuted"
    assert found.value == pytest.approx(11 * (12000 / (0.38 * 26732.19)) ** 2 + 0.05, rel=1e-4)


def test_co_04_the_iec_practice_knows_its_own_time():
    """CO-04: 5 s for a distribution circuit where the file is silent, listed as an assumption."""
    found = judged("CO-04", {"practice": "iec", "board.required_clearing": None})
    assert "board.required_clearing" in [a.key for a in found.assumptions]
    assert max(detail.limit for detail in found.details) == 5.0


def test_co_04_a_source_without_earthed_neutral_has_no_earth_fault_to_clear():
    """CO-04: generator alone with an isolated neutral: no earth-fault current flows, and none has to be cleared."""
    found = details("CO-04", {"standby_generator": GENERATOR})
    assert np.isfinite(found["LV bus, line-earth fault"].value)
    assert found["LV bus, line-line fault"].value > 1.0  # the generator's breaker has a long-time element only


def test_co_04_infeeds_in_parallel_are_looked_at_too():
    """CO-04: with both ways closed each relay sees half of the small fault: the main's long-time element is left."""
    changes = {
        "other_feed": {
            "fault_power": "150 MVA",
            "x_over_r": 10,
            "parallel": "permitted",
            "cable": NORTH_AMERICAN["mv_cable"],
            "protection": NORTH_AMERICAN["supply"]["protection"],
        },
        "supply.protection.phase.pickup": "600 A",
        "other_feed.protection.phase.pickup": "600 A",
        "fuses": {"limiter": NORTH_AMERICAN["fuses"]["limiter"] | {"minimum_interrupting": "5 kA"}},
        "board.main.trip.short_time": None,
    }
    found = details("CO-04", changes)["LV bus, line-line fault"]
    assert found.value == pytest.approx(11 * (12000 / (np.sqrt(3) / 2 * 28869)) ** 2 + 0.05, rel=1e-3)
    assert "both ways closed" in found.worst_case


def test_co_06_supervision_against_the_reduced_arcing_current():
    """CO-06: the reduced current of the smaller configuration, HCB, through the main against 1 kA."""
    setting = ArcSetting(480.0, 0.032, 0.610, 0.508, 0.508, 0.508, "HCB")
    expected = float(ieee1584.arcing_currents(setting, 26732.19).reduced)
    found = details("CO-06")["bus section, HCB, LV main breaker, current supervision of the arc detection"]
    assert found.value == pytest.approx(expected, rel=1e-5)
    assert found.limit == 1000.0


def test_co_06_before_the_main_the_fuse_has_to_see_it_through_the_transformer():
    """CO-06: the same arc is 480/13 800 of itself at the link, whose curve begins at 200 A."""
    setting = ArcSetting(480.0, 0.032, 0.610, 0.508, 0.508, 0.508, "HCB")
    expected = float(ieee1584.arcing_currents(setting, 26732.19).reduced) * 480 / 13800
    found = details("CO-06")["line side, HCB, Draw-out expulsion link, first point of its total clearing curve"]
    assert found.value == pytest.approx(expected, rel=1e-5)
    assert found.limit == 200.0


def test_co_06_light_alone_needs_no_current():
    """CO-06: without supervision a covered place asks no current of the main; the line side still asks the fuse."""
    found = details("CO-06", {"board.arc_detection.current_supervision": None})
    assert not any("supervision" in name for name in found)
    assert any(name.startswith("line side") for name in found)


def test_co_06_each_infeed_has_its_own_element():
    """CO-06: an infeed the light does not trip is asked for its own breaker's pickup, 2 kA + 10 %."""
    found = details("CO-06", {"board.arc_detection.trips": ["main"]}, base=NORTH_AMERICAN)
    own = found["bus section, HCB, Tie to the neighbouring board breaker, short-time element"]
    assert own.limit == pytest.approx(2200.0)


def test_co_06_a_breaker_without_a_fast_element_is_open():
    """CO-06: long-time element only: the file has to give a fast one."""
    changes = {"board.arc_detection": None, "board.main.trip.short_time": None}
    found = judged("CO-06", changes)
    assert found.verdict == "open"
    assert [entry.path for entry in found.missing] == ["board.main.trip.instantaneous"]
