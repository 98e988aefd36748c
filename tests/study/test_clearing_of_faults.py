"""Clearing times by hand: each kind of device, series and parallel, supervision, limits of fuses, both ways."""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, at, case, walk

from deadfront.station.station import LV_BUS, PRIMARY, SECONDARY, SUPPLY_A, SWITCH_BUS, feeder_end
from deadfront.study import arc_protection, devices, faults, network, through, utility
from deadfront.study.clearing import Clearing, Infeed, Situation, clear
from deadfront.study.devices import Operation
from deadfront.study.inputs import MissingEntryError
from deadfront.study.spans import joule_integral, spans
from deadfront.study.through import Carried

OTHER_FEED = {
    "other_feed": {
        "fault_power": "150 MVA",
        "x_over_r": 10,
        "x0_over_x1": 1.5,
        "r0_over_x0": 0.15,
        "parallel": "permitted",
        "cable": NORTH_AMERICAN["mv_cable"],
        "protection": NORTH_AMERICAN["supply"]["protection"]
        | {"phase": {"curve": "definite time", "pickup": "300 A", "definite_time": "1 s"}},
    }
}


def carried(*amperes, residual=0.0):
    """Currents of a device, one operating case each."""
    return Carried(np.array(amperes), np.full(len(amperes), residual), 1.0)


def times(operations):
    """Time of the first operation per case."""
    return np.min([np.broadcast_to(o.time, (len(np.atleast_1d(o.current)),)) for o in operations], axis=0)


# --- one device ---


def test_an_electronic_trip_clears_at_the_late_edge_of_its_band():
    """Above 6 kA + 10 %: 200 ms + 10 % + 50 ms. Below: 11 s (6 x 2000 / I)^2, + 50 ms. Below 1.2 x 2000: never."""
    operations = devices.low_voltage(walk(), "board.main", "main", carried(2399.0, 6000.0, 6601.0))
    long_time = 10.0 * 1.1 * (6 * 2000.0 / 6000.0) ** 2 + 0.05
    assert times(operations) == pytest.approx([np.inf, long_time, 0.27])


def test_an_earth_element_sees_the_residual_only():
    """1000 A + 10 % of residual current: 300 ms + 10 % + 50 ms; the phases carry too little to trip."""
    for residual, expected in ((1099.0, np.inf), (1101.0, 0.38)):
        operations = devices.low_voltage(walk(), "board.main", "main", carried(2000.0, residual=residual))
        assert times(operations) == pytest.approx([expected])


def test_the_maintenance_setting_counts_only_while_it_is_on():
    """4 kA + 10 %: at 5 kA the breaker opens in 50 ms with the setting on, by its long-time element with it off."""
    on = devices.low_voltage(walk(), "board.main", "main", carried(5000.0), maintenance=True)
    off = devices.low_voltage(walk(), "board.main", "main", carried(5000.0))
    assert times(on) == pytest.approx([0.05])
    assert times(off) == pytest.approx([11.0 * (12.0 / 5.0) ** 2 + 0.05])


def test_a_thermal_magnetic_curve_is_read_in_log_log():
    """Half way between 1000 A and 10 kA in the logarithm stands the geometric mean of 100 s and 0.5 s."""
    one = walk(changes={"board.main.trip": None, "board.main.curve": "curves/main.csv"})
    operations = devices.low_voltage(one, "board.main", "main", carried(999.0, np.sqrt(1e7), 2e4))
    assert times(operations) == pytest.approx([np.inf, np.sqrt(50.0), 0.5])


def test_each_fuse_counts_only_for_currents_it_can_interrupt():
    """The link to 2 kA, the limiter from 600 A to 50 kA; below its first point no fuse operates."""
    link, limiter = devices.fuses(walk(), np.array([199.0, 400.0, 599.0, 1000.0, 2001.0, 50001.0]))
    assert np.isfinite(link.time).tolist() == [False, True, True, True, False, False]
    assert np.isfinite(limiter.time).tolist() == [False, False, False, True, True, False]
    assert link.time[1] == pytest.approx(2.0)


def test_a_backup_fuse_without_its_lowest_current_is_not_trusted():
    """Without `minimum_interrupting` the claim is open: no current is taken as one the fuse can clear."""
    with pytest.raises(MissingEntryError, match=r"^fuses\.limiter\.minimum_interrupting$"):
        devices.fuses(walk(changes={"fuses.limiter.minimum_interrupting": None}), np.array([1000.0]))


def test_a_relay_is_late_by_its_class_and_its_breaker_opens_after_it():
    """Definite time 300 ms: class 5 adds 40 ms (more than 5 %), the breaker 80 ms; instantaneous 30 ms + 80 ms."""
    plain = utility.latest(walk(), "supply", carried(299.0, 301.0, 3000.0))
    assert times(plain) == pytest.approx([np.inf, 0.42, 0.42])
    stepped = walk(
        changes={
            "supply.protection.phase.instantaneous": "2 kA",
            "supply.protection.phase.instantaneous_time": "30 ms",
        }
    )
    assert times(utility.latest(stepped, "supply", carried(1999.0, 2001.0))) == pytest.approx([0.42, 0.11])


def test_an_inverse_relay_is_late_by_a_share_of_its_time():
    """IEC very inverse, dial 0.3, four times the pickup: 0.3 x 13.5 / 3 = 1.35 s, late by 5 %."""
    phase = {"curve": "iec very inverse", "pickup": "300 A", "time_dial": 0.3}
    one = walk(changes={"supply.protection.phase": phase})
    assert times(utility.latest(one, "supply", carried(1200.0))) == pytest.approx([1.35 * 1.05 + 0.08])


def test_a_breaker_without_any_element_is_a_missing_entry():
    """A trip with tolerances but no element would never open: the file has to say how it is set."""
    one = walk(changes={"board.main.trip": {"pickup_tolerance": "10 %"}})
    with pytest.raises(MissingEntryError, match=r"^board\.main\.trip\.long_time$"):
        devices.low_voltage(one, "board.main", "main", carried(5000.0))


def test_light_trips_only_above_its_supervision():
    """2 ms + 50 ms above 1 kA; at and below it the light alone trips nothing, and without supervision any current."""
    one, bare = walk(), walk(changes={"board.arc_detection.current_supervision": None})
    supervised = arc_protection.light_trip(one, "board.main", "main", np.array([999.0, 1000.0, 1001.0]))
    assert supervised.time == pytest.approx([np.inf, np.inf, 0.052])
    assert arc_protection.light_trip(bare, "board.main", "main", np.array([10.0])).time == pytest.approx([0.052])


def test_a_current_outside_the_model_has_no_clearing_time():
    """NaN stays NaN through trip, fuse, relay and light: it never becomes a time."""
    one, nothing = walk(), np.array([np.nan])
    found = [
        *devices.low_voltage(one, "board.main", "main", Carried(nothing, nothing, 1.0)),
        *utility.latest(one, "supply", Carried(nothing, nothing, 1.0)),
        arc_protection.light_trip(one, "board.main", "main", nothing),
    ]
    assert all(not np.any(np.isfinite(o.time)) for o in found)


# --- which devices ---


def test_a_bus_fault_is_cleared_by_the_first_device_in_series():
    """Main 250 ms, fuses and utility later: nothing is added up, the main ends it."""
    one = walk()
    index = case(one, "maximum", "tie open", "motors off")
    clearing = clear(one, LV_BUS, "three-phase", one.method, faults.current(one, LV_BUS, "three-phase", one.method))
    assert at(one, clearing.time, index) == pytest.approx(0.27)


def test_before_the_main_only_the_medium_voltage_side_clears():
    """Arc trap 9: fault at the terminals: 26 732 A x 480/13800 = 930 A, cleared by the limiter's curve at 930 A."""
    one = walk()
    index = case(one, "maximum", "tie open", "motors off")
    total = faults.current(one, SECONDARY, "three-phase", one.method)
    clearing = clear(one, SECONDARY, "three-phase", one.method, total)
    primary = 26732.0 * 480 / 13800
    link = np.exp(np.interp(np.log(primary), np.log([400, 2000]), np.log([2, 0.05])))
    limiter = np.exp(np.interp(np.log(primary), np.log([600, 3000]), np.log([2, 0.01])))
    relay = 0.42
    assert at(one, clearing.time, index) == pytest.approx(min(link, limiter, relay), rel=1e-4)


def test_infeeds_in_parallel_must_all_go():
    """Tie and main closed: main 270 ms, tie 215 ms; the fault ends with the slower."""
    one = walk()
    index = case(one, "maximum", "tie and main closed", "motors off")
    clearing = clear(one, LV_BUS, "three-phase", one.method, faults.current(one, LV_BUS, "three-phase", one.method))
    by_name = {i.name: at(one, i.time, index) for i in clearing.infeeds}
    assert by_name == {"supply": pytest.approx(0.27), "tie": pytest.approx(0.215)}
    assert at(one, clearing.time, index) == pytest.approx(0.27)


def test_behind_a_feeder_one_device_ends_all_infeeds():
    """Instantaneous element of the feeder, 25 ms, whatever feeds the bus."""
    one = walk()
    point = feeder_end("pumps")
    clearing = clear(one, point, "three-phase", one.method, faults.current(one, point, "three-phase", one.method))
    assert np.allclose(clearing.time, 0.025)


def test_a_motor_does_not_have_to_be_cleared():
    """Motors fade by themselves: with motors on a fault lasts as long as without them."""
    one = walk()
    clearing = clear(one, LV_BUS, "three-phase", one.method, faults.current(one, LV_BUS, "three-phase", one.method))
    on, off = (case(one, "maximum", "tie open", f"motors {word}") for word in ("on", "off"))
    assert {i.name for i in clearing.infeeds} == {"supply", "tie"}
    assert at(one, clearing.time, on) == at(one, clearing.time, off)


def test_relays_of_both_ways_each_see_their_share_and_both_must_open():
    """Two equal supplies in parallel halve the current; the slower relay, 1 s + 50 ms + 80 ms, ends an MV fault."""
    one = walk(changes=OTHER_FEED)
    both = case(one, "maximum", "both ways", "tie open", "motors off")
    clearing = clear(
        one, SWITCH_BUS, "three-phase", one.method, faults.current(one, SWITCH_BUS, "three-phase", one.method)
    )
    assert at(one, clearing.infeed("supply A").current, both) == pytest.approx(6275.5, rel=1e-4)
    assert at(one, clearing.time, both) == pytest.approx(1.13)
    for way, expected in (("A", 0.42), ("B", 1.13)):
        assert at(
            one, clearing.time, case(one, "maximum", f"fed by way {way}", "tie open", "motors off")
        ) == pytest.approx(expected)


def test_a_fault_at_one_supply_is_fed_back_through_the_loop():
    """At supply point A with both ways closed: supply B comes through the cables, and its own relay has to open."""
    one = walk(changes=OTHER_FEED)
    both = case(one, "maximum", "both ways", "tie open", "motors off")
    total = faults.current(one, SUPPLY_A, "three-phase", one.method)
    clearing = clear(one, SUPPLY_A, "three-phase", one.method, total)
    back = clearing.infeed("supply B")
    assert at(one, back.current, both) == pytest.approx(6275.5, rel=1e-3)
    assert at(one, back.time, both) == pytest.approx(1.13)


def test_a_loop_in_parallel_is_slower_for_a_low_voltage_fault():
    """Each way sees half of the reflected current: where one way alone trips, two may never."""
    changes = OTHER_FEED | {
        "supply.protection.phase.pickup": "600 A",
        "other_feed.protection.phase.pickup": "600 A",
        "fuses": {"limiter": NORTH_AMERICAN["fuses"]["limiter"] | {"minimum_interrupting": "2 kA"}},
        "other_feed.protection.earth": None,
    }
    one = walk(changes=changes)
    total = faults.current(one, SECONDARY, "three-phase", one.method)
    supply = clear(one, SECONDARY, "three-phase", one.method, total).infeed("supply")
    alone = case(one, "maximum", "fed by way A", "tie open", "motors off")
    assert at(one, supply.time, alone) == pytest.approx(0.42)
    assert at(one, supply.time, case(one, "maximum", "both ways", "tie open", "motors off")) == np.inf


def test_an_arc_in_the_open_box_of_the_main_does_not_count_on_it():
    """Arc trap 9: arc at the bus, main not separated from it: only the fuses and the utility clear."""
    one = walk()
    index = case(one, "maximum", "tie open", "motors off")
    total = 0.7 * faults.current(one, LV_BUS, "three-phase", one.method)
    counted = clear(one, LV_BUS, "three-phase", one.method, total)
    alone = clear(one, LV_BUS, "three-phase", one.method, total, Situation(main_counts=False))
    assert at(one, counted.time, index) == pytest.approx(0.27)
    assert {o.device for o in alone.infeed("supply").operations} == {
        "Draw-out expulsion link",
        "Current-limiting fuse",
        "Upstream breaker",
    }


# --- what each device sees (traps 7, 13, 15) ---


def test_a_low_voltage_motor_does_not_load_the_main_in_a_bus_fault():
    """Trap 15: bus fault: the main sees the transformer's current only, the bus all of it."""
    one = walk()
    on = case(one, "maximum", "tie open", "motors on")
    total = faults.current(one, LV_BUS, "three-phase", one.method)
    main = through.infeeds(one, LV_BUS, "three-phase", one.method, total)["main"]
    assert at(one, total, on) == pytest.approx(32018, abs=0.5)
    assert at(one, main.phase, on) == pytest.approx(26732, abs=0.5)


def test_the_main_carries_more_of_an_earth_fault_than_its_share_of_the_positive_sequence():
    """Earth fault at the bus with motors: |2 s1 + s0| / 3 of it by phasors; s0 = 1, the star of the unit."""
    one = walk()
    on = case(one, "maximum", "tie open", "motors on")
    parts = {b.device: b.impedance for b in network.branches(one, LV_BUS, one.method) if b.device != "tie"}
    admittances = {key: 1.0 / (at(one, z.resistance, on) + 1j * at(one, z.reactance, on)) for key, z in parts.items()}
    share = admittances["main"] / sum(admittances.values())
    total = faults.current(one, LV_BUS, "line-earth", one.method)
    main = at(one, through.infeeds(one, LV_BUS, "line-earth", one.method, total)["main"].phase, on)
    exact = abs(2.0 * share + 1.0) / 3.0 * at(one, total, on)
    assert exact <= main * (1.0 + 1e-12)
    assert main == pytest.approx(exact, rel=1e-3)


def test_low_voltage_motors_feed_back_into_a_medium_voltage_fault():
    """Trap 15: at the transformer's primary the board's motors add to the supply, through the transformer."""
    one = walk()
    on, off = (case(one, "maximum", "tie open", f"motors {word}") for word in ("on", "off"))
    total = faults.current(one, PRIMARY, "three-phase", one.method)
    back = through.infeeds(one, PRIMARY, "three-phase", one.method, total)["transformer"]
    assert at(one, total, on) > at(one, total, off)
    assert 0.0 < at(one, back.phase, on) < 5291 * 480 / 13800


def test_the_line_that_carries_most_sees_the_turns_ratio_of_each_kind_of_fault():
    """Trap 7: per ampere of the fault on Dyn: 1 three-phase, 2/sqrt(3) line-line, 1/sqrt(3) line-earth."""
    one, ratio = walk(), 13800 / 480
    for kind, factor in (("three-phase", 1.0), ("line-line", 2 / np.sqrt(3)), ("line-earth", 1 / np.sqrt(3))):
        seen = through.primary_current(one, SECONDARY, kind, one.method, 10e3)
        assert seen == pytest.approx(factor * 10e3 / ratio)


def test_a_line_line_earth_fault_draws_the_three_phase_current_in_one_line():
    """The line between the two faulted phases carries E/Z1 whatever Z0 is: by phasors of the fault currents."""
    one = walk()
    index = case(one, "maximum", "tie open", "motors off")
    line = faults.current(one, SECONDARY, "line-line-earth", one.method)
    seen = through.primary_current(one, SECONDARY, "line-line-earth", one.method, line)
    assert at(one, seen, index) == pytest.approx(26732 * 480 / 13800, rel=1e-4)


def test_no_residual_reaches_the_utility_through_a_delta():
    """An earth fault behind a Dyn unit: the utility's earth element sees nothing and never operates."""
    one = walk()
    total = faults.current(one, SECONDARY, "line-earth", one.method)
    supply = clear(one, SECONDARY, "line-earth", one.method, total).infeed("supply")
    earth = [o for o in supply.operations if o.element == "earth relay"]
    assert earth
    assert np.all(earth[0].time == np.inf)


def test_residual_of_a_line_line_earth_fault_is_the_earth_current():
    """The earth element sees 3 I0, which differs from the line current that the phase elements see."""
    one = walk()
    total = faults.current(one, SWITCH_BUS, "line-line-earth", one.method)
    seen = through.infeeds(one, SWITCH_BUS, "line-line-earth", one.method, total)["cable A"].residual
    assert np.allclose(seen, faults.earth_current(one, SWITCH_BUS, "line-line-earth", one.method), rtol=1e-9)


def test_a_smaller_current_can_be_the_worse_one():
    """Trap 13: inverse time: a tenth of the current waits more than a hundred times longer, and so heats more."""
    one = walk(changes={"board.main.trip.short_time": None})
    small, large = times(devices.low_voltage(one, "board.main", "main", carried(3000.0, 30000.0)))
    assert small * 3000.0**2 == pytest.approx(large * 30000.0**2, rel=0.1)
    assert small * 3000.0 > 5 * large * 30000.0


# --- spans ---


def clearing_of(*parts, common=()):
    """A clearing of infeeds given as (current, connected, time)."""
    infeeds = []
    for number, (current, connected, time) in enumerate(parts):
        operation = Operation("device", "element", np.array([current]), np.array([time]), ())
        infeeds.append(Infeed(f"infeed {number}", np.array([current]), np.array([connected]), (operation,)))
    return Clearing(common, tuple(infeeds))


def test_heat_is_summed_over_the_spans_of_the_infeeds():
    """1000 A for 1 s, then the 600 A that are left for 2 s more: 1 + 0.72 MA2s."""
    clearing = clearing_of((400.0, 1.0, 1.0), (600.0, 1.0, 3.0))
    assert joule_integral(clearing, np.array([1000.0])) == pytest.approx([1.0e6 + 0.36e6 * 2.0])


def test_an_infeed_that_is_not_connected_takes_no_part():
    """Only the connected infeed's time counts, with the whole current."""
    clearing = clearing_of((400.0, 0.0, 9.0), (600.0, 1.0, 3.0))
    assert clearing.time == pytest.approx([3.0])
    assert joule_integral(clearing, np.array([600.0])) == pytest.approx([0.36e6 * 3.0])


def test_behind_a_common_device_the_whole_current_flows_to_the_end():
    """When an infeed of a feeder fault goes, what is left grows behind the cable: the total stands for it."""
    operation = Operation("feeder", "curve", np.array([1000.0]), np.array([np.inf]), ())
    clearing = clearing_of((400.0, 1.0, 1.0), (600.0, 1.0, 3.0), common=(operation,))
    found = spans(clearing, np.array([1000.0]))
    assert found.currents[0] == pytest.approx([1000.0])
    assert found.times[0] == pytest.approx([3.0])


def test_spans_end_at_the_limit():
    """A person who has moved away after 2 s is not in the third second of the arc."""
    clearing = clearing_of((400.0, 1.0, 1.0), (600.0, 1.0, 3.0))
    found = spans(clearing, np.array([1000.0]), 2.0)
    assert np.sum(found.times) == pytest.approx(2.0)
