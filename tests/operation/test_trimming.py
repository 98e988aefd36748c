"""Operation: without what only people use, a machine is smaller and as dangerous to hands."""

from __future__ import annotations

import pytest
from test_station_machine import unit

from deadfront.operation.examining import devices_that_raise, examine
from deadfront.operation.failures import break_all, single_failures
from deadfront.operation.trimming import without_own_locks_and_tests

PLANTS = [
    "schemes: [one key]\npadlocks: {p: switch, q: main}\ntests: {a: {at: fuse line side}}",
    "schemes: [key exchange]\npadlocks: {p: switch}\ntests: {a: {at: LV bus}}\nearths: {e: {at: LV bus}}",
    "doors: {fuse door: {reaches: [fuse line side]}}\ntests: {a: {at: fuse line side}}\npadlocks: {p: generator}",
    "schemes: [one key]\npadlocks: {p: switch}\n"
    "interlocks: {i: {device: fuse door, to: open, needs: p, stands: ['on'], kept_by: mechanical}}",
]


@pytest.mark.parametrize("section", PLANTS)
def test_hands_reach_the_same_hazards_as_near_sound_or_broken(section: str):
    """Kinds and lengths of the whole machine and of the trimmed one, for every single failure of the whole one."""
    whole = unit(section).machine
    small = without_own_locks_and_tests(whole)
    assert examine(small, "hands").states < examine(whole, "hands").states or "stands: ['on']" in section
    before, after = break_all(whole, "hands"), break_all(small, "hands")
    for name in single_failures(whole):
        reach = after.reaches.get(frozenset([name]), after.reaches[frozenset()])
        assert reach.dangers == before.reaches[frozenset([name])].dangers, name


def test_a_padlock_that_hardware_asks_for_stays():
    """A door that opens only with the padlock on needs it; it is no idle one."""
    names = {device.id for device in without_own_locks_and_tests(unit(PLANTS[3]).machine).devices}
    assert "p" in names
    assert "p" not in {device.id for device in without_own_locks_and_tests(unit(PLANTS[0]).machine).devices}


def test_every_device_that_can_earth_a_live_part_is_named_with_its_sequence():
    """Two earths on the bus: each is put on a live circuit in one move, and nothing else is listed."""
    machine = unit("schemes: [one key]\nearths: {e: {at: LV bus}, f: {at: LV bus}}").machine
    assert devices_that_raise(machine, "EARTH_LIVE") == {"e": ("e: off->on",), "f": ("f: off->on",)}
    assert devices_that_raise(machine, "PARALLEL") == {}
