"""Faults of every size, and the devices of which only the limits of their standard are known."""

import numpy as np
import pytest
from study_files import NORTH_AMERICAN, at, case, edited, walk

from deadfront.station.station import LV_BUS, SECONDARY, feeder_end
from deadfront.study import devices, fault_sizes, faults
from deadfront.study.inputs import MissingEntryError
from deadfront.study.through import Carried

BARE = edited(NORTH_AMERICAN, {"motors": None, "board.tie": None})


def carried(current):
    """A current without residual."""
    return Carried(np.array([[current]]), np.zeros((1, 1)), 1.0)


@pytest.mark.parametrize(("size", "share"), [(0.0, 0.38), (0.5, np.sqrt(0.38)), (1.0, 1.0)])
def test_a_fault_of_every_size_runs_from_the_smallest_arc_to_bolted(size, share):
    """The coordinate is the place between both ends, even in the logarithm."""
    there = walk(BARE, values={fault_sizes.SIZE: np.array([[size]])})
    index = case(there, "maximum")
    whole = at(there, faults.current(there, LV_BUS, "three-phase", there.method), index)
    found = at(there, fault_sizes.arcing_to_bolted(there, LV_BUS, "three-phase"), index)
    assert found == pytest.approx(share * whole, rel=1e-12)
    assert there.inputs.asked == {fault_sizes.SIZE}


def test_an_arcing_earth_fault_is_a_share_of_the_smaller_bolted_fault():
    """Behind Dyn (W13) the earth fault is 28 120 A, the three-phase one 26 732 A: the arc is 0.38 x 26 732 = 10 158 A.

    Behind a zero sequence of 3 times the transformer's the earth fault is the smaller one, and the arc a share of it.
    """
    smallest = {fault_sizes.SIZE: np.array([[0.0]])}
    there = walk(BARE, values=smallest)
    index = case(there, "maximum")
    terminals = at(there, faults.current(there, SECONDARY, "line-earth", there.method), index)
    assert terminals == pytest.approx(28120, rel=1e-4)
    for kind in ("three-phase", "line-earth", "line-line-earth"):
        found = at(there, fault_sizes.arcing_to_bolted(there, SECONDARY, kind), index)
        assert found == pytest.approx(0.38 * 26732.19, rel=1e-5)
    weak = walk(BARE, {"transformer.zero_sequence": {"x0_over_x1": 3, "r0_over_r1": 3}}, values=smallest)
    own, three = (at(weak, faults.current(weak, LV_BUS, kind, weak.method), index) for kind in KINDS_COMPARED)
    assert own < 0.7 * three
    found = at(weak, fault_sizes.arcing_to_bolted(weak, LV_BUS, "line-earth"), index)
    assert found == pytest.approx(0.38 * own, rel=1e-12)


KINDS_COMPARED = ("line-earth", "three-phase")


def test_sizes_run_evenly_in_the_logarithm_between_both_ends():
    """Size 0 is the smallest, 1 the largest, a half their geometric mean; nothing flows where nothing feeds."""
    for size, expected in ((0.0, 400.0), (0.5, 2000.0), (1.0, 10000.0)):
        there = walk(BARE, values={fault_sizes.SIZE: np.array([[size]])})
        low, high = np.array([[400.0, 0.0]]), np.array([[10000.0, 0.0]])
        found = np.asarray(fault_sizes.of_every_size(there, low, high))
        assert found[0, 0] == pytest.approx(expected, rel=1e-12)
        assert np.isnan(found[0, 1])


def test_faults_in_feeders_end_at_the_smallest_far_end_and_at_the_board():
    """0.38 of the three-phase fault at the end of the cable, and the whole of it at the board."""
    there = walk(BARE)
    index = case(there, "minimum")
    low, high = (at(there, end, index) for end in fault_sizes.in_feeders(there, ("pumps",), "three-phase"))
    far = at(there, faults.current(there, feeder_end("pumps"), "three-phase", there.method), index)
    assert low == pytest.approx(0.38 * far, rel=1e-12)
    assert high == pytest.approx(
        at(there, faults.current(there, LV_BUS, "three-phase", there.method), index), rel=1e-12
    )


def test_a_gg_fuse_without_a_curve_clears_by_its_gates():
    """IEC 60269-1 [M]: 400 A has operated by 5 s at 2840 A, by 0.1 s at 8060 A; below the former by its 3 h."""
    feeder = {"board.feeders.pumps": {"kind": "fuse", "fuse_class": "gG", "rating": "400 A"}}
    there = walk(BARE, feeder)
    for current, expected in ((600.0, np.inf), (2839.0, 3 * 3600.0), (2840.0, 5.0), (8060.0, 0.1)):
        (found,) = devices.low_voltage(there, "board.feeders.pumps", "pumps", carried(current))
        assert float(found.time[0, 0]) == expected
    assert "board.feeders.pumps.gates" in there.inputs.assumed


THERMAL = {"board.feeders.pumps.trip": None, "board.feeders.pumps.rating": "400 A"}


def test_a_thermal_magnetic_trip_by_ul_489():
    """UL 489 [M]: 400 A: 12 min at twice the rating, constant I2t above, 25 ms beyond the magnetic band."""
    trip = {"board.feeders.pumps.thermal_magnetic": {"standard": "UL 489", "magnetic": "4 kA"}}
    there = walk(BARE, THERMAL | trip)
    for current, expected in ((800.0, 720.0), (1600.0, 180.0), (4799.0, 20.0), (4801.0, 0.025)):
        (found,) = devices.low_voltage(there, "board.feeders.pumps", "pumps", carried(current))
        assert float(found.time[0, 0]) == pytest.approx(expected, rel=1e-3)
    assert "board.feeders.pumps.thermal_magnetic.magnetic_tolerance" in there.inputs.assumed


def test_iec_60947_2_leaves_the_time_at_twice_the_rating_to_the_file():
    """The standard states none: the entry is missing."""
    trip = {"board.feeders.pumps.thermal_magnetic": {"standard": "IEC 60947-2", "magnetic": "4 kA"}}
    with pytest.raises(MissingEntryError, match=r"^board\.feeders\.pumps\.thermal_magnetic\.reference_time$"):
        devices.low_voltage(walk(BARE, THERMAL | trip), "board.feeders.pumps", "pumps", carried(5e3))
