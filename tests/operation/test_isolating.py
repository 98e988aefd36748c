"""Operation: what isolates a place is found from what conducts, and ends where a lock is beyond doubt."""

from __future__ import annotations

import pytest

from deadfront.operation.isolating import Isolating, Isolation
from deadfront.operation.machine import EARTH, Device, Edge, Link, Source

# supply - far - cable - way - bus - switch(earths) - fuse - hv = lv - main - board - tie - neighbour
#                                                                       board - generator breaker - generator


def device(name: str, kind: str, ends: Edge | None = None, *, at: str = "", earths: str = "", fixed: bool = False):
    """A device that conducts while closed, or a source."""
    edges = ((("closed", (ends,)),) if ends else ()) + ((("earthed", ((earths, EARTH),)),) if earths else ())
    if kind == "source":
        positions, source = (("on",) if fixed else ("off", "on")), Source((at,), name, ("on",))
        return Device(name, kind, positions, positions[0], (), source, (), True, None, None, name)
    positions = ("in", "out") if kind == "fuse" else ("closed", "open", "earthed") if earths else ("closed", "open")
    if kind == "fuse" and ends:
        edges = (("in", (ends,)),)
    return Device(name, kind, positions, positions[0], edges, None, (), True, None, None, name)


DEVICES = (
    device("supply", "source", at="s", fixed=True),
    device("far", "switch", ("s", "cable")),
    device("way", "switch", ("cable", "bus"), earths="cable"),
    device("switch", "switch", ("bus", "line"), earths="line"),
    device("fuse", "fuse", ("line", "hv")),
    device("main", "breaker", ("lv", "board")),
    device("tie", "breaker", ("board", "next")),
    device("neighbour", "source", at="next", fixed=True),
    device("breaker", "breaker", ("board", "g")),
    device("generator", "source", at="g"),
    device("feeder", "breaker", ("board", "motor")),
)
LINKS = (Link(("hv", "lv"), magnetic=True),)


def found(points, padlocks=None, seen=(), beyond=True) -> Isolation:
    """What isolates the points in the station above."""
    return Isolating(DEVICES, LINKS, padlocks or {}, seen).of(points, beyond=beyond)


def test_a_fuse_is_isolated_on_both_sides_and_the_loop_stays_whole():
    """Locks on the earthing switch and on a main that is seen apart: nothing beyond either is touched."""
    padlocks = {"p1": "switch", "p2": "main", "p3": "far", "p4": "breaker"}
    assert found({"line", "hv"}, padlocks, ["main"]) == Isolation(("switch", "main"), ("p1", "p2"), ())


def test_a_main_that_nobody_sees_apart_is_backed_by_locks_on_what_feeds_it():
    """The handle of a breaker proves nothing: the generator's and the neighbour's breakers are locked as well."""
    padlocks = {"p1": "switch", "p2": "main", "p4": "breaker", "p5": "tie"}
    isolation = found({"line", "hv"}, padlocks)
    assert isolation.opened == ("switch", "main", "tie", "breaker")
    assert isolation.padlocks == ("p1", "p2", "p4", "p5")


def test_what_takes_no_padlock_is_named_unless_all_that_feeds_it_could_be_locked():
    """Without any padlock both sides are named; one further out on the way is enough."""
    assert found({"hv"}).unlocked == ("switch", "main")
    assert found({"hv"}, {"p": "far"}).unlocked == ("main",)
    assert found({"hv"}, {"p": "far"}).opened == ("far", "switch", "main")


def test_a_breaker_with_nothing_behind_it_isolates_nothing():
    """The feeder of a motor feeds nothing back: it is neither opened nor locked for work on the board."""
    assert found({"board"}).opened == ("main", "tie", "breaker")


def test_a_device_between_two_parts_of_the_place_is_opened_and_locked_with_them():
    """Board and transformer terminals behind one door: the main between them is opened too."""
    isolation = found({"board", "lv"}, {"p": "main", "q": "switch", "r": "tie", "s": "breaker"}, ["tie", "breaker"])
    assert isolation == Isolation(("switch", "main", "tie", "breaker"), ("p", "q", "r", "s"), ())


def test_a_source_at_the_place_itself_is_off_and_one_that_cannot_be_is_left_to_the_test():
    """At the generator's own terminals it is stopped; a utility's point has no switch of this station."""
    isolation = found({"g"}, {"p": "breaker", "q": "generator"}, beyond=False)
    assert isolation == Isolation(("breaker", "generator"), ("p", "q"), ())
    assert found({"next"}, beyond=False).opened == ("tie",)


def test_without_beyond_only_what_is_next_to_the_place_counts():
    """A cable of a loop: its way and its far end, no more."""
    assert found({"cable"}, {"p": "far"}, beyond=False) == Isolation(("far", "way"), ("p",), ("way",))


@pytest.mark.parametrize("beyond", [True, False])
def test_every_source_is_cut_off_by_what_is_opened(beyond: bool):
    """For every point: with the named devices open, no path of conducting edges joins it to a source elsewhere."""
    edges = {d.id: [e for _, pairs in d.edges for e in pairs if EARTH not in e] for d in DEVICES}
    points = {end for pairs in edges.values() for edge in pairs for end in edge}
    for point in points - {"s", "next", "g"}:
        opened = found({point}, beyond=beyond).opened
        reached, closed = {point}, [e for name, pairs in edges.items() if name not in opened for e in pairs]
        closed.append(("hv", "lv"))
        for _ in points:
            reached |= {end for edge in closed if reached & set(edge) for end in edge}
        assert not reached & {"s", "next", "g"}, point
