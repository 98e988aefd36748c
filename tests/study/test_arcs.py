"""Arcs through the whole walk: the worked substation of the reference data (4.5), states, spans and refusals."""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, at, case, edited, walk

from deadfront.physics import ieee1584
from deadfront.study import arcs, network
from deadfront.study.inputs import MissingEntryError

CALORIES = 41840.0

INFINITE_BUS = edited(
    NORTH_AMERICAN,
    {
        # 20 GVA stands for the infinite bus: 0.0075 % of 1500 kVA, at the X/R of the transformer, which gives 5.7425 %
        "supply.fault_power": "20000 MVA",
        "supply.x_over_r": 7,
        "transformer.impedance": "5.7425 %",
        "mv_cable.length": "0 m",
        "motors": None,
        "board.tie": None,
        "board.arc_detection": {"covers": ["light"], "trips": ["main"], "reaction": "2 ms"},
        "fuses": {"limiter": {"curve": "curves/limiter.csv", "interrupting": "50 kA", "minimum_interrupting": "2 kA"}},
        "supply.protection": {
            "phase": {"curve": "definite time", "pickup": "2 kA", "definite_time": "300 ms"},
            "breaker_opening": "80 ms",
        },
        "operation.places": {
            name: NORTH_AMERICAN["operation"]["places"]["bus section"]
            | {"at": at, "working_distance": f"{distance} mm", "electrodes": ["VCB", "VCBB", "HCB"]}
            | ({"exposure_limit": "2 s"} if at != "bus" else {})
            for name, at, distance in (
                ("light", "bus", 609.6),
                ("fuses at 610", "line side of main", 609.6),
                ("fuses at 457", "line side of main", 457.2),
            )
        },
    },
)

PUBLISHED = [
    ("VCB", 22.257e3, 1.91, 0.817, 116.6, 73.6, 8.015),
    ("VCBB", 24.680e3, 2.56, 0.928, 166.0, 98.6, 6.975),
    ("HCB", 21.572e3, 3.46, 1.026, 238.4, 132.9, 6.197),
]


@pytest.mark.parametrize(("electrodes", "arcing", "light", "near", "fuses_457", "fuses_610", "far"), PUBLISHED)
def test_the_worked_substation_comes_out(electrodes, arcing, light, near, fuses_457, fuses_610, far):
    """Section 4.5: 1500 kVA, 480 V, infinite bus: 52 ms of light trip against fuses alone with 2 s of exposure."""
    one = walk(INFINITE_BUS)
    index = case(one, "maximum")

    def arc(place, state):
        return arcs.arc(one, place, state, electrodes, "normal")

    seen = arc("light", "detection in service")
    assert at(one, seen.bolted_current, index) == pytest.approx(31377.7, rel=1e-5)
    assert at(one, seen.arcing_current, index) == pytest.approx(arcing, abs=0.6)
    assert at(one, seen.time, index) == pytest.approx(0.052)
    assert at(one, seen.energy, index) / CALORIES == pytest.approx(light, abs=0.005)
    assert at(one, seen.boundary, index) == pytest.approx(near, abs=6e-4)
    for place, calories in (("fuses at 457", fuses_457), ("fuses at 610", fuses_610)):
        waited = arc(place, "no detection")
        assert at(one, waited.uncapped_time, index) == np.inf
        assert at(one, waited.time, index) == 2.0
        assert at(one, waited.energy, index) / CALORIES == pytest.approx(calories, abs=0.06)
        assert at(one, waited.boundary, index) == pytest.approx(far, abs=6e-4)


def test_the_fuse_sees_the_arc_by_the_turns_ratio():
    """Section 4.5: 774.2 A at 13.8 kV for the VCB arc of 22 257 A."""
    one = walk(INFINITE_BUS)
    arc = arcs.arc(one, "fuses at 610", "no detection", "VCB", "normal")
    fuse = next(o for o in arc.clearing.infeed("supply").operations if o.device == "Current-limiting fuse")
    assert at(one, fuse.current, case(one, "maximum")) == pytest.approx(774.2, abs=0.05)


def test_without_an_exposure_limit_an_arc_that_nothing_clears_is_endless():
    """No cap of 2 s is supplied: energy and boundary are infinite, which no clothing answers."""
    one = walk(INFINITE_BUS, {"operation.places.fuses at 610.exposure_limit": None})
    arc = arcs.arc(one, "fuses at 610", "no detection", "VCB", "normal")
    assert np.all(arc.energy == np.inf)
    assert np.all(arc.boundary == np.inf)


def test_the_reduced_current_has_a_clearing_time_of_its_own():
    """Trap 5: each current reads its own time; here the smaller one waits longer and burns more."""
    slow = {"board.main.trip.short_time": None, "board.arc_detection": None, "supply.protection.phase.pickup": "5 kA"}
    one = walk(changes=slow)
    index = case(one, "minimum", "tie open")
    normal, reduced = (arcs.arc(one, "bus section", "no detection", "HCB", kind) for kind in ("normal", "reduced"))
    assert at(one, reduced.arcing_current, index) < at(one, normal.arcing_current, index)
    assert at(one, reduced.time, index) > at(one, normal.time, index)
    assert at(one, reduced.energy, index) > at(one, normal.energy, index)


def test_light_that_trips_the_main_does_not_help_before_it():
    """Trap: on the line side of the main the detection shortens nothing unless it trips something upstream."""
    covered = {"board.arc_detection.covers": ["line side"], "board.tie": None}
    one, other = walk(changes=covered), walk(changes=covered | {"board.arc_detection.trips": ["main", "upstream"]})
    main, upstream = (
        arcs.arc(each, "line side", state, "HCB", "normal")
        for each, state in ((one, "detection in service"), (other, "detection in service"))
    )
    blind = arcs.arc(one, "line side", "detection out of service", "HCB", "normal")
    index = case(one, "maximum", "motors off")
    assert at(one, main.time, index) == at(one, blind.time, index)
    assert at(other, upstream.time, index) == pytest.approx(0.082)


def test_with_the_detection_out_of_service_the_breaker_waits_its_own_delay():
    """52 ms with light, 250 ms by the short-time element without; energy grows in the same proportion."""
    one = walk()
    index = case(one, "maximum", "tie open", "motors off")
    light, blind = (arcs.arc(one, "bus section", s, "HCB", "normal") for s in arcs.states(one, "bus section")[:2])
    assert at(one, light.time, index) == pytest.approx(0.052)
    assert at(one, blind.time, index) == pytest.approx(0.27)
    assert at(one, blind.energy, index) / at(one, light.energy, index) == pytest.approx(270 / 52)


def test_the_smallest_supply_burns_most_before_the_main():
    """Arc trap 7: fuses wait longer for a smaller current: 40 MVA burns more than 150 MVA."""
    alone = {"motors": None, "board.tie": None, "board.arc_detection": None, "supply.protection.phase.pickup": "5 kA"}
    weak, strong = (walk(changes=alone | {"supply.fault_power": f"{power} MVA"}) for power in (40, 150))
    small, large = (arcs.arc(one, "line side", "no detection", "HCB", "normal") for one in (weak, strong))
    assert at(weak, small.arcing_current, 0) < at(strong, large.arcing_current, 0)
    assert at(weak, small.energy, 0) > at(strong, large.energy, 0)


def test_states_of_a_place():
    """Covered by light, and behind a main with a maintenance setting: three states; before the main: one."""
    one = walk()
    assert arcs.states(one, "bus section") == (
        "detection in service",
        "detection out of service",
        "maintenance setting on",
    )
    assert arcs.states(one, "line side") == ("no detection",)


def test_two_infeeds_burn_in_two_spans():
    """Tie and main closed without light: all until the tie has gone at 215 ms, the supply's share alone to 270 ms."""
    one = walk(changes={"board.arc_detection": None, "motors": None})
    both = case(one, "maximum", "tie and main closed")
    arc = arcs.arc(one, "bus section", "no detection", "HCB", "normal")
    setting = arcs.setting(one, "bus section", "HCB")
    bolted = at(one, arc.bolted_current, both)
    share = at(one, arc.clearing.infeed("supply").current, both) / at(one, arc.arcing_current, both)
    expected = ieee1584.segment_hazard(setting, (bolted, bolted * share), (0.215, 0.055)).energy
    assert at(one, arc.energy, both) == pytest.approx(float(expected), rel=1e-9)


def test_above_15_kv_no_energy_is_given():
    """The model ends at 15 kV; a place at the 25 kV switch is refused with the reason, not carried further."""
    place = NORTH_AMERICAN["operation"]["places"]["line side"] | {"at": "switch"}
    changes = {
        "supply.voltage": "24.94 kV",
        "transformer.primary_voltage": "24.94 kV",
        "operation.places.fuse door": place,
    }
    one = walk(changes=changes)
    assert arcs.refusal(one, "bus section") is None
    assert arcs.refusal(one, "fuse door") == (
        "fuse door: 24.94 kV is above 15 kV, where IEEE 1584-2018 ends; its coefficients are not carried further. "
        "No energy is given, and the place is not to be opened live."
    )


def test_a_range_of_voltage_that_ends_above_15_kv_is_refused():
    """What holds at the centre of a range does not hold over it: 14 to 16 kV is refused."""
    changes = {"supply.voltage": "14 .. 15.8 kV", "operation.places.line side.at": "switch"}
    refused = arcs.refusal(walk(changes=changes), "line side")
    assert refused is not None
    assert "15.8 kV is above 15 kV" in refused


def test_a_place_at_the_bus_has_to_say_whether_the_main_is_separated():
    """Missing is open, never a yes."""
    one = walk(changes={"operation.places.bus section.main_separated": None})
    with pytest.raises(MissingEntryError, match=r"^operation\.places\.bus section\.main_separated$"):
        arcs.arc(one, "bus section", "no detection", "HCB", "normal")


def test_before_the_main_a_silent_file_does_not_count_on_the_main():
    """A tie in parallel feeds an arc before the main; unless said otherwise the tie's breaker has to end it."""
    one = walk(changes={"operation.places.line side.main_separated": None})
    arc = arcs.arc(one, "line side", "no detection", "HCB", "normal")
    assert {o.device for o in arc.clearing.infeed("tie").operations} == {"Tie to the neighbouring board breaker"}
    assert "operation.places.line side.main_separated" in one.inputs.assumed


def test_a_place_that_nothing_feeds_has_no_live_case():
    """Generator alone with the main open: the line side of the main stays live from the utility, the bus from it."""
    one = walk()
    assert len(arcs.live_cases(one, "bus section")) == len(one.cases)
    dead = network.live(one, "supply point A", to_earth=True)
    assert len(dead) == len(one.cases)


def test_an_arc_outside_the_model_is_nan():
    """A gap of 200 mm at 480 V is outside IEEE 1584: no number, and so never shown."""
    one = walk(changes={"operation.places.bus section.gap": "200 mm"})
    arc = arcs.arc(one, "bus section", "detection in service", "HCB", "normal")
    assert np.all(np.isnan(arc.energy))
    assert np.all(np.isnan(arc.boundary))
