"""SC-01 to SC-03 and OC-06: a current rating counts only up to a rated voltage, held against the reference's tables."""

import numpy as np
import pytest
from claim_files import details, judged

HIGHEST = 13.8e3 * 1.0585
"""V: C84.1, range B, of a 13.8 kV system is 14.52 kV, that of 24.94 kV 26.40 kV; the larger ratio stands for all."""


def test_the_highest_voltage_of_the_practice_is_never_below_the_published_one():
    """Range B of C84.1: 13.20, 13.97, 14.52, 26.40 and 36.51 kV; IEC 60038: no 10, 20 or 30 kV system above 1.1."""
    for nominal, published in ((12.47, 13.20), (13.2, 13.97), (13.8, 14.52), (24.94, 26.40), (34.5, 36.51)):
        found = details("SC-02", {"supply.voltage": f"{nominal} kV", "transformer.primary_voltage": f"{nominal} kV"})
        highest = found["MV switch, rated voltage"].value
        assert published * 1e3 <= highest * (1 + 5e-4) <= published * 1e3 * 1.007


def test_a_switch_below_the_voltage_of_the_network_has_no_rating_there():
    """12 kV on 13.8 kV: SC-01 and SC-02 are refuted, however much current it is rated for."""
    for identifier in ("SC-01", "SC-02"):
        found = judged(identifier, {"switch.voltage": "12 kV"})
        assert found.verdict == "refuted"
        low = details(identifier, {"switch.voltage": "12 kV"})["MV switch, rated voltage"]
        assert (low.value, low.limit) == (pytest.approx(HIGHEST), 12e3)
        assert judged(identifier).verdict == "shown"


def test_without_a_rated_voltage_the_claim_is_open_and_names_it():
    """The entry exists in the file's form, so it is asked for."""
    for identifier, entry in (
        ("SC-01", "switch.voltage"),
        ("SC-01", "terminations.voltage_class"),
        ("SC-02", "switch.voltage"),
        ("SC-03", "fuses.limiter.voltage"),
    ):
        found = judged(identifier, {entry: None, "fuses.bayonet": None})
        assert found.verdict == "open"
        assert [one.path for one in found.missing] == [entry]


def test_a_class_of_connectors_is_not_its_largest_voltage():
    """IEEE 386: class 15 kV is 14.4 kV between lines and 8.3 kV to earth, class 25 kV 26.3 and 15.2 kV."""
    between, to_earth = "MV connectors, rated voltage", "MV connectors, rated voltage to earth"
    low = details("SC-01", {"terminations.voltage_class": "15 kV"})
    assert (low[between].limit, low[to_earth].limit) == (14.4e3, 8.3e3)
    assert low[between].margin < 0.0
    class_25 = details("SC-01")
    assert (class_25[between].limit, class_25[to_earth].limit) == (26.3e3, 15.2e3)
    assert class_25[to_earth].value == pytest.approx(HIGHEST / np.sqrt(3))
    assert details("SC-01", {"terminations.voltage_class": "8.3 kV"})[between].limit == 8.3e3
    assert judged("SC-01", {"terminations.voltage_class": "8.3 kV"}).verdict == "refuted"


def test_behind_an_isolated_neutral_connectors_need_the_voltage_between_lines_to_earth():
    """Trap 2: an earth fault lifts the sound lines: 14.6 kV against 15.2 kV passes, 26.2 kV does not; 15.13 kV did."""
    isolated = {
        "supply.earthing": "isolated",
        "supply.x0_over_x1": None,
        "supply.r0_over_x0": None,
        "supply.capacitive_earth_current": "20 A",
    }
    to_earth = "MV connectors, rated voltage to earth"
    assert details("SC-01", isolated)[to_earth].value == pytest.approx(HIGHEST)
    higher = {"supply.voltage": "24.94 kV", "transformer.primary_voltage": "24.94 kV", "switch.voltage": "27 kV"}
    higher["supply.highest_voltage"] = "26.2 kV"
    assert details("SC-01", isolated | higher)[to_earth].margin < 0.0 < details("SC-01", higher)[to_earth].margin


def test_a_fuse_interrupts_only_up_to_its_voltage():
    """SC-03: a limiter of 8.3 kV alone on 13.8 kV is refuted, and one of 15.5 kV shown; so is a link alone."""
    alone = {"fuses.bayonet": None, "fuses.limiter.voltage": "8.3 kV"}
    found = details("SC-03", alone)["Limiter, recovery voltage against its voltage class"]
    assert (found.value, found.limit) == (pytest.approx(HIGHEST), 8.3e3)
    assert judged("SC-03", alone).verdict == "refuted"
    assert judged("SC-03", alone | {"fuses.limiter.voltage": "15.5 kV"}).verdict == "shown"
    link = {"fuses.limiter": None, "fuses.bayonet.interrupting": "20 kA", "fuses.bayonet.voltage": "8.3 kV"}
    assert details("SC-03", link)["Draw-out link, recovery voltage against its voltage class"].limit == 8.3e3
    assert judged("SC-03", link).verdict == "refuted"
    assert judged("SC-03", link | {"fuses.bayonet.voltage": "15.5 kV"}).verdict == "shown"
