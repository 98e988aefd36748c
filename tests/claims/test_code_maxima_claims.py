"""OC-09 and CO-05 against the published examples P3 to P6 and the published thresholds of 230.95."""

import pytest
from claim_files import details, judged

PRIMARY, MAIN = "MV fuses, smaller rating of the pair", "LV main breaker"

P3 = {
    "transformer.rating": "250 kVA",
    "supply.voltage": "13.2 kV",
    "transformer.primary_voltage": "13.2 kV",
    "transformer.impedance": "3.25 %",
    "fuses.bayonet.rating": "35 A",
}
"""P3, examination text [V]: 250 kVA, 13.2 kV, 3.25 %: 10.93 A, 300 % is 32.79 A, next size 35 A."""

P5 = {
    "code": "CSA C22.1",
    "transformer.rating": "200 kVA",
    "supply.voltage": "4160 V",
    "transformer.primary_voltage": "4160 V",
    "board.main": None,
    "board.tie": None,
    "fuses.bayonet.rating": "45 A",
}
"""P5, guide [V]: CSA C22.1 26-250, 200 kVA, 4160 V: 27.75 A, fuse 41.6 A, next size 45 A."""

P6 = {
    "practice": "iec",
    "code": None,
    "transformer.rating": "800 kVA",
    "supply.voltage": "10 kV",
    "transformer.primary_voltage": "10 kV",
    "fuses.bayonet": None,
    "fuses.limiter.rating": "80 A",
}
"""P6, handbook [V]: 800 kVA, 10 kV: 46.2 A, 1.65 times is 76.23 A, next R10 rating 80 A."""


def test_oc_09_published_example_of_nfpa_70():
    """OC-09: P3: 35 A is permitted, the next size 40 A is not."""
    assert details("OC-09", P3)[PRIMARY].limit == 35.0
    assert judged("OC-09", P3 | {"fuses.bayonet.rating": "40 A"}).verdict == "refuted"


def test_oc_09_a_maximum_above_6_percent_is_that_of_its_own_row():
    """OC-09: secondary at 7.25 %: 125 % in any location; primary fuse 300 % in both rows; above 10 % no row holds."""
    assert details("OC-09", P3 | {"transformer.impedance": "7.25 %"})[PRIMARY].limit == 35.0
    assert judged("OC-09", P3 | {"transformer.impedance": "10.5 %"}).verdict == "open"


def test_oc_09_published_example_of_csa():
    """OC-09: P5: without a secondary device 26-250 holds: 45 A, a size up because it is a fuse."""
    found = details("OC-09", P5)
    assert list(found) == [PRIMARY]
    assert found[PRIMARY].limit == 45.0


def test_oc_09_csa_breaker_goes_down_and_fuse_up():
    """OC-09: CSA Table 50, 250 % of 1804.2 A = 4510.5 A: a breaker of 4000 A, a fuse of 5000 A."""
    code = {"code": "CSA C22.1"}
    assert details("OC-09", code)[MAIN].limit == 4000.0
    assert details("OC-09", code | {"board.main.kind": "fuse"})[MAIN].limit == 5000.0


def test_oc_09_supervision_widens_the_secondary_without_note_1():
    """OC-09: NFPA 70 supervised: secondary 250 % of 1804.2 A, the size below; any location 125 %, the size above."""
    assert details("OC-09")[MAIN].limit == 2500.0
    assert details("OC-09", {"transformer.supervised": "yes"})[MAIN].limit == 4000.0


def test_oc_09_supervised_without_a_main_is_primary_only():
    """OC-09: NFPA 70 supervised, primary only: 250 % of 62.76 A = 156.9 A, next size 175 A; else a main is missing."""
    bare = {"board.main": None}
    found = details("OC-09", bare | {"transformer.supervised": "yes"})
    assert {name: one.limit for name, one in found.items()} == {PRIMARY: 175.0}
    assert [entry.path for entry in judged("OC-09", bare).missing] == ["board.main.rating"]


def test_oc_09_published_window_of_the_iec_guide():
    """OC-09: P6: 80 A lies between 1.5 and 2 times 46.19 A; 63 A and 100 A do not."""
    found = details("OC-09", P6)
    assert [one.limit for one in found.values()] == [pytest.approx(92.38, rel=1e-3), pytest.approx(69.28, rel=1e-3)]
    assert judged("OC-09", P6).verdict == "shown"
    for rating in ("63 A", "100 A"):
        assert judged("OC-09", P6 | {"fuses.limiter.rating": rating}).verdict == "refuted"


def test_oc_09_the_code_is_never_guessed():
    """OC-09: a North American file without a code is open, and says which entry to give."""
    assert [entry.path for entry in judged("OC-09", {"code": None}).missing] == ["code"]


def test_co_05_setting_and_time_at_3000_a():
    """CO-05: 1000 A of 1200 A; 300 ms + 10 % and 50 ms opening of 1 s."""
    found = details("CO-05")
    assert (found[f"{MAIN}, earth-fault pickup"].value, found[f"{MAIN}, earth-fault pickup"].limit) == (1000.0, 1200.0)
    assert found[f"{MAIN}, earth fault of 3000 A"].value == pytest.approx(0.38)


def test_co_05_an_i2t_ramp_counts_at_3000_a():
    """CO-05: 300 ms + 10 % from 6 kA down, so 0.33 (6000 / 3000)^2 + 0.05 = 1.37 s at 3000 A: refuted."""
    found = judged("CO-05", {"board.main.trip.earth.ramp_to": "6 kA"})
    assert found.verdict == "refuted"
    assert found.value == pytest.approx(1.37)


SMALL_MAIN = {"board.main.rating": "800 A", "board.main.trip.long_time.pickup": "800 A"}


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        (SMALL_MAIN, "NFPA 70 demands no earth-fault protection at 480 V between lines and"),
        ({"board.voltage": "208 V", "transformer.secondary_voltage": "208 V"}, "NFPA 70 demands no earth-fault"),
        ({"transformer.neutral": "isolated"}, "The LV neutral is not earthed"),
        ({"practice": "iec"}, "The IEC practice has no such rule"),
    ],
)
def test_co_05_says_where_nothing_is_demanded(changes, reason):
    """CO-05: below the threshold, without an earthed neutral, in the other practice: not applicable, and why."""
    found = judged("CO-05", changes)
    assert found.verdict == "not applicable"
    assert found.reason.startswith(reason)
