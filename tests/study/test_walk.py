"""The walk as a pure function: same inputs, same outputs; boxes are a loop over points; nothing is defaulted unseen."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_files import NORTH_AMERICAN, at, case, edited, subject, walk

from deadfront.intervals import Interval
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, SECONDARY, SWITCH_BUS
from deadfront.study import arcs, faults, network, ratings
from deadfront.study.clearing import clear
from deadfront.study.inputs import Inputs, MissingEntryError
from deadfront.study.tables import arc_places, fault_rows
from deadfront.study.walk import Walk

RANGES = edited(
    NORTH_AMERICAN,
    {
        "supply.fault_power": "90 .. 200 MVA",
        "supply.x_over_r": "5 .. 15",
        "transformer.impedance": "5.75 % +/- 7.5 %",
        "mv_cable.length": "50 .. 500 m",
        "operation.places.bus section.working_distance": "500 .. 700 mm",
    },
)
PATHS = (
    "supply.fault_power",
    "supply.x_over_r",
    "transformer.impedance",
    "mv_cable.length",
    "operation.places.bus section.working_distance",
)
WHOLE = subject(RANGES)
BOUNDS = [WHOLE.project.quantities[path] for path in PATHS]


def results(one):
    """A cross-section of all the study computes, each written out over boxes and cases."""
    arc = arcs.arc(one, "bus section", "detection out of service", "HCB", "reduced")
    total = faults.current(one, LV_BUS, "line-earth", "north-american")
    found = [
        faults.peak(one, SWITCH_BUS, "line-line-earth", "iec"),
        faults.reactance_ratio(one, LV_BUS, "north-american", "line-earth"),
        faults.breaking(one, LV_BUS),
        clear(one, LV_BUS, "line-earth", "north-american", total).time,
        arc.energy,
        arc.boundary,
        total,
    ]
    return [array + np.zeros((1, len(one.cases))) for array in found]


def at_points(points):
    """A walk through rows of points, shares of each range."""
    values = {p: q.low + points[:, [i]] * (q.high - q.low) for i, (p, q) in enumerate(zip(PATHS, BOUNDS, strict=True))}
    return Walk(WHOLE.station, WHOLE.cases, Inputs(WHOLE.project, values))


shares = st.lists(st.floats(0.0, 1.0), min_size=len(PATHS), max_size=len(PATHS))


@settings(max_examples=15, deadline=None)
@given(st.lists(shares, min_size=1, max_size=4))
def test_boxes_are_a_loop_over_points(rows):
    """All boxes at once give exactly what each gives alone, and again the same on a second walk."""
    points = np.array(rows)
    together, again = results(at_points(points)), results(at_points(points))
    for number in range(len(points)):
        alone = results(at_points(points[[number]]))
        for whole, repeated, one in zip(together, again, alone, strict=True):
            row = min(number, len(whole) - 1)
            assert np.array_equal(whole[row], repeated[row], equal_nan=True)
            assert np.allclose(whole[row], one[0], rtol=1e-12, equal_nan=True)


@settings(max_examples=10, deadline=None)
@given(shares, shares, st.lists(shares, min_size=1, max_size=5))
def test_a_walk_over_ranges_encloses_the_walk_through_every_point(first, second, inside):
    """Intervals through the whole study: no point of the box lies outside, and NaN is never mistaken for a bound."""
    corners = np.sort(np.array([first, second]), axis=0)
    low, high = corners
    values = {}
    for i, (path, quantity) in enumerate(zip(PATHS, BOUNDS, strict=True)):
        span = quantity.high - quantity.low
        values[path] = Interval(np.array([[quantity.low + low[i] * span]]), np.array([[quantity.low + high[i] * span]]))
    enclosed = results(Walk(WHOLE.station, WHOLE.cases, Inputs(WHOLE.project, values)))
    points = low + np.array(inside) * (high - low)
    for box, floats in zip(enclosed, results(at_points(points)), strict=True):
        lower, upper = box.ends if isinstance(box, Interval) else (box, box)
        tolerance = 1e-9 * np.abs(floats)
        decided = ~np.isnan(lower)
        assert np.all((floats >= lower - tolerance) | ~decided)
        assert np.all((floats <= upper + tolerance) | ~decided)


def test_a_result_is_computed_once_and_kept():
    """The same call on the same walk gives the same object; another walk its own."""
    one, other = walk(), walk()
    first = faults.current(one, LV_BUS, "three-phase", "iec")
    assert faults.current(one, LV_BUS, "three-phase", "iec") is first
    assert faults.current(other, LV_BUS, "three-phase", "iec") is not first


def test_only_what_is_read_is_noted():
    """A fault at the switch rests on supply and cable, not on the place of work."""
    one = Walk(WHOLE.station, WHOLE.cases, Inputs(WHOLE.project))
    faults.current(one, SWITCH_BUS, "three-phase", "north-american")
    assert "supply.x_over_r" in one.inputs.used
    assert not any(path.startswith("operation.") for path in one.inputs.used)


MISSING = [
    ("supply.voltage", SWITCH_BUS, "three-phase"),
    ("supply.x_over_r", SWITCH_BUS, "three-phase"),
    ("supply.earthing", SWITCH_BUS, "line-earth"),
    ("supply.r0_over_x0", SWITCH_BUS, "line-earth"),
    ("mv_cable.resistance", SWITCH_BUS, "three-phase"),
    ("mv_cable.zero_reactance", SWITCH_BUS, "line-earth"),
    ("transformer.impedance", LV_BUS, "three-phase"),
    ("transformer.primary_voltage", LV_BUS, "three-phase"),
    ("transformer.neutral", LV_BUS, "line-earth"),
    ("transformer.connection", LV_BUS, "line-earth"),
    ("board.voltage", LV_BUS, "three-phase"),
    ("board.tie.x_over_r", LV_BUS, "three-phase"),
    ("board.tie.earth_fault_current", LV_BUS, "line-earth"),
    ("motors.groups.first.size", LV_BUS, "three-phase"),
    ("board.feeders.pumps.cable.length", "feeder end pumps", "three-phase"),
]


@pytest.mark.parametrize(("path", "point", "kind"), MISSING, ids=lambda v: str(v))
def test_a_missing_entry_is_named_and_never_replaced(path, point, kind):
    """No fault current comes from a file that lacks what it rests on."""
    with pytest.raises(MissingEntryError, match=f"^{path}$".replace(".", r"\.")):
        faults.current(walk(changes={path: None}), point, kind, "north-american")


def test_a_feeder_without_a_cable_is_open_and_no_bus():
    """No zero impedance stands for a cable that the file does not give."""
    one = walk(changes={"board.feeders.pumps.cable": None})
    with pytest.raises(MissingEntryError, match=r"^board\.feeders\.pumps\.cable\.resistance$"):
        faults.current(one, "feeder end pumps", "three-phase", "iec")


def test_an_impedance_earthed_neutral_needs_its_impedance():
    """No zero ohm stands for a neutral resistor that the file does not give."""
    one = walk(changes={"supply.earthing": "impedance"})
    with pytest.raises(MissingEntryError, match=r"^supply\.neutral_resistance$"):
        faults.current(one, SWITCH_BUS, "line-earth", "iec")


def test_a_unit_without_a_cable_stands_at_the_supply_point_and_says_so():
    """The only reading of a missing slot: listed as an assumption to be confirmed."""
    one = walk(changes={"mv_cable": None})
    at_supply, at_switch = (faults.current(one, p, "three-phase", "iec") for p in ("supply point A", SWITCH_BUS))
    assert np.allclose(at_supply, at_switch)
    assert "mv_cable" in one.inputs.assumed


def test_an_isolated_network_draws_its_capacitive_current_and_no_more():
    """Isolated: the stated current. Resonant: 5 to 10 % of it, an assumption that is a range. No separate Z0."""
    for earthing, share in (("isolated", 1.0), ("resonant", 0.075)):
        changes = {
            "supply.earthing": earthing,
            "supply.x0_over_x1": None,
            "supply.r0_over_x0": None,
            "supply.capacitive_earth_current": "40 A",
        }
        one = walk(changes=changes)
        assert np.allclose(faults.current(one, SWITCH_BUS, "line-earth", "iec"), 40.0 * share)


def test_a_delta_passes_no_earth_fault_to_an_unearthed_network():
    """Fault on the delta side: only the supply's neutral can return the current."""
    one = walk()
    assert {b.device for b in network.zero_branches(one, SWITCH_BUS, "iec")} == {"cable A"}


YNYN = {"transformer.connection": "YNyn0"}


def test_a_wye_wye_unit_passes_the_zero_sequence_of_its_supply():
    """Minimum earth fault behind a YNyn unit: Z0 of supply and cable stand behind that of the winding."""
    one, delta = walk(changes=YNYN), walk()
    passed = network.zero_thevenin(one, SECONDARY, "north-american").impedance
    own = network.zero_thevenin(delta, SECONDARY, "north-american").impedance
    z1 = network.thevenin(one, "supply point A", "north-american").impedance
    index = case(one, "minimum", "tie open")
    expected = at(delta, own.reactance, index) + 1.5 * at(one, z1.reactance, index) * (480 / 13800) ** 2
    assert at(one, passed.reactance, index) == pytest.approx(expected, rel=1e-4)


def test_a_wye_wye_unit_on_an_unearthed_supply_is_outside_the_model():
    """Only tank and core would return the current, which no entry tells: NaN, never a small current."""
    changes = YNYN | {
        "supply.earthing": "isolated",
        "supply.x0_over_x1": None,
        "supply.r0_over_x0": None,
        "supply.capacitive_earth_current": "40 A",
    }
    one = walk(changes=changes)
    index = case(one, "maximum", "tie open", "motors off")
    assert np.isnan(at(one, faults.current(one, SECONDARY, "line-earth", "iec"), index))


def test_connector_ratings_between_their_two_points():
    """10 kA to 0.5 s, equal heating from there but never below 3.5 kA, equal heating from 3 s on."""
    allowed = ratings.short_time_current(walk(), np.array([0.1, 0.5, 2.0, 3.0, 12.0, np.inf]))
    assert allowed == pytest.approx([1e4, 1e4, 5e3, 1e4 * np.sqrt(0.5 / 3), 1750.0, ratings.LEAST_RATING])


def test_rows_for_people_name_device_parts_and_case():
    """Largest three-phase fault of the bus: 32 018 A with motors, cleared by the main in 200 ms and 50 ms opening."""
    one = walk(NORTH_AMERICAN, {"board.tie": None})
    rows = fault_rows(lambda _points: one, np.zeros((1, 0)))
    row = next(r for r in rows if (r.point, r.kind, r.extreme, r.governs) == ("LV bus", "three-phase", "maximum", True))
    assert row.current == pytest.approx(32018, abs=0.5)
    assert row.clearing_device == "LV main breaker, short-time element"
    assert dict(row.time_parts) == pytest.approx({"trip": 0.22, "opening": 0.05})
    assert row.case == one.cases.words[0]


def test_a_refused_place_keeps_its_reason_in_the_rows():
    """A place without electrodes has no rows, and says what the file lacks."""
    changes = {"operation.places.bus section.electrodes": None}
    places = arc_places(lambda _points: walk(changes=changes), np.zeros((1, 0)))
    refused = next(p for p in places if p.place == "bus section")
    assert refused.rows == ()
    assert refused.refused == "The file does not give operation.places.bus section.electrodes."


def test_the_fuse_side_of_the_switch_is_the_switch_bus():
    """Switch and fuses have no impedance of their own: the same fault on both sides."""
    one = walk()
    assert np.allclose(
        faults.current(one, SWITCH_BUS, "three-phase", "iec"), faults.current(one, FUSE_LINE_SIDE, "three-phase", "iec")
    )
