"""AE-01, AE-02, AE-04 and AE-08 against the arc model asked by hand, on the unit of the worked example W13."""

import numpy as np
import pytest
from claim_files import judged

from deadfront.physics import ieee1584
from deadfront.physics.ieee1584 import ArcSetting

SETTING = ArcSetting(480.0, 0.032, 0.610, 0.508, 0.508, 0.508, "HCB")
BOLTED = 26732.19


def test_ae_01_energy_of_the_light_trip():
    """AE-01: 52 ms of an HCB arc of 26 732 A bolted, at 610 mm."""
    found = judged("AE-01")
    expected = float(ieee1584.incident_energy(SETTING, BOLTED, 0.052))
    assert found.value == pytest.approx(expected, rel=1e-5)
    assert found.limit == pytest.approx(25 * 41840.0)
    assert "HCB, normal arcing current" in found.reason


def test_ae_01_a_main_that_is_not_separated_does_not_end_the_arc():
    """AE-01: arc in the open box of the main: the medium-voltage side clears, later, and the energy grows with it."""
    together, apart = judged("AE-01", {"operation.places.bus section.main_separated": "no"}), judged("AE-01")
    assert together.value > 3 * apart.value


def test_ae_02_before_the_main_the_fuses_decide():
    """AE-02: trap 7: the arc's share on the MV side sets the time; energy of each current at its own time."""
    found = judged("AE-02")
    values = {detail.subject: detail.value for detail in found.details}
    currents = ieee1584.arcing_currents(SETTING, BOLTED)
    for kind, arcing in (("normal", currents.final), ("reduced", currents.reduced)):
        seen = float(arcing) * 480 / 13800
        assert 400 < seen < 2000  # the link's range
        expected = float(ieee1584.incident_energy(SETTING, BOLTED, _fuse_time(seen), kind == "reduced"))
        assert values[f"line side, HCB, {kind} arcing current"] == pytest.approx(expected, rel=1e-4)


def _fuse_time(current):
    """First of link, limiter and utility at an MV current, from the curves of the test files."""

    def read(currents, times):
        return float(np.exp(np.interp(np.log(current), np.log(currents), np.log(times))))

    limiter = read([300, 600, 3000], [100, 2, 0.01]) if current >= 600 else np.inf
    return min(read([200, 400, 2000], [200, 2, 0.05]), limiter, 0.42)


def test_ae_04_the_boundary_of_the_longest_arc():
    """AE-04: every place counts; the boundary is that of the model, against the area kept clear."""
    found = judged("AE-04", {"operation.places.bus section": None, "board.arc_detection": None})
    times = {"normal": 0.0, "reduced": 0.0}
    currents = ieee1584.arcing_currents(SETTING, BOLTED)
    for kind, arcing in (("normal", currents.final), ("reduced", currents.reduced)):
        times[kind] = _fuse_time(float(arcing) * 480 / 13800)
    expected = max(
        float(ieee1584.arc_flash_boundary(SETTING, BOLTED, time, kind == "reduced")) for kind, time in times.items()
    )
    assert found.value == pytest.approx(expected, rel=1e-4)
    assert found.limit == 12.0


def test_ae_08_without_light_the_short_time_element_counts():
    """AE-08: 270 ms instead of 52 ms of the same arc, against what is worn while the detection is out of service."""
    found = judged("AE-08", {"board.main.trip.maintenance_instantaneous": None})
    assert found.value == pytest.approx(float(ieee1584.incident_energy(SETTING, BOLTED, 0.27)), rel=1e-5)
    assert found.limit == pytest.approx(60 * 41840.0)


def test_ae_08_where_no_work_is_done_the_energy_only_has_to_be_known():
    """AE-08: `no work` answers any energy the model can give; outside the model it stays open."""
    quiet = {"operation.places.bus section.without_detection": "no work"}
    assert judged("AE-08", quiet).verdict == "shown"
    outside = quiet | {"operation.places.bus section.gap": "200 mm"}
    assert judged("AE-08", outside).verdict == "open"


def test_ae_01_every_state_and_current_has_its_own_line():
    """AE-01: two electrode configurations, normal and reduced current: four subjects, one governs."""
    assert len(judged("AE-01").details) == 4
