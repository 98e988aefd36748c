"""The station as a graph: what is always there, what the file adds, and that it is a tree."""

import json

import networkx
import pytest

from deadfront.project.reading import load_bytes
from deadfront.station.station import LV_BUS, SUPPLY_B, SWITCH_BUS, build, feeder_end


def station(**slots):
    """The station of a file with these slots."""
    data = {"deadfront": 1, "title": "Test", "practice": "iec"} | slots
    return build(load_bytes("unit.yaml", json.dumps(data).encode(), {}).unit)


EVERYTHING = {
    "other_feed": {"parallel": "never"},
    "board": {"feeders": {"pumps": {}, "fans": {}}, "tie": {"parallel": "never"}},
    "standby_generator": {"rating": "500 kVA"},
    "motors": {"groups": {"hoists": {"power": "90 kW"}}},
}


def test_an_empty_file_still_has_the_chain_of_a_packaged_substation():
    """What a slot lacks leaves claims open; no missing slot makes a point that nothing feeds."""
    found = station()
    keys = [device.key for device in found.devices]
    assert keys == ["supply A", "cable A", "switch", "fuses", "transformer", "main"]
    assert not found.has(SUPPLY_B)


def test_every_slot_of_the_file_adds_its_devices():
    """Second feed, feeders, tie, generator and motors stand where the crew would look for them."""
    found = station(**EVERYTHING)
    assert found.device("cable B").to_point == SWITCH_BUS
    assert found.device("feeder fans").to_point == feeder_end("fans")
    assert {found.device(key).from_point for key in ("tie", "generator", "motors hoists")} == {LV_BUS}
    assert found.feeders() == ("pumps", "fans")


@pytest.mark.parametrize("slots", [{}, EVERYTHING], ids=["empty", "everything"])
def test_the_station_is_a_tree_between_its_points(slots):
    """Points and the devices between two points form one tree, so that every fault has one way to each source."""
    found, graph = station(**slots), networkx.Graph()
    graph.add_nodes_from(point.key for point in found.points)
    graph.add_edges_from((d.from_point, d.to_point) for d in found.devices if d.to_point is not None)
    assert networkx.is_tree(graph)


def test_tags_are_unique():
    """No two devices of a drawing bear the same tag."""
    tags = [device.tag for device in station(**EVERYTHING).devices]
    assert len(tags) == len(set(tags))


def test_devices_at_a_point_come_with_their_other_side():
    """A source has no other side; a cable has the point at its far end."""
    found = station(**EVERYTHING)
    beside = {device.key: far for device, far in found.at(LV_BUS)}
    assert beside["tie"] is None
    assert beside["feeder pumps"] == feeder_end("pumps")


def test_a_point_or_device_that_is_not_there_is_refused():
    """An unknown key is an error of the caller, named by the key."""
    with pytest.raises(KeyError, match=r"^'nowhere'$"):
        station().point("nowhere")
    with pytest.raises(KeyError, match=r"^'tie'$"):
        station().device("tie")
