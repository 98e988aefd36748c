"""Dossier: how the points of a machine lie on a strip. A machine comes in; a level and a lane for each point go out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from deadfront.operation.machine import EARTH, Device, Machine

Spot = tuple[int, int]
"""Level, from left to right, and lane, from the top down."""
LAST_LEVEL = 7
"""The farthest level to the right: so many fit side by side on a page in lettering that can be read."""


@dataclass(frozen=True, slots=True)
class Span:
    """What joins two neighbouring spots: a device, or a link that always conducts (`device` is None)."""

    between: tuple[str, str]
    start: Spot
    end: Spot
    device: str | None
    magnetic: bool
    loose: bool
    """The far end is drawn elsewhere on the strip: the line stops here with its name."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Where everything lies. `sources` holds, source by source, its point, its spot and the side it stands on."""

    points: dict[str, Spot]
    spans: tuple[Span, ...]
    sources: tuple[tuple[str, str, Spot, int], ...]
    earths: dict[str, tuple[str, ...]]
    """Point by point the devices that can earth it."""
    levels: tuple[int, int]
    lanes: int


@dataclass(slots=True)
class _Joint:
    """One neighbour of a point in the tree."""

    point: str
    device: str | None
    magnetic: bool
    edge: tuple[str, str]
    loose: bool = False
    below: list[_Joint] = field(default_factory=list)

    @property
    def depth(self) -> int:
        return 1 + max((joint.depth for joint in self.below), default=0)

    def points(self) -> Iterator[str]:
        yield self.point
        for joint in self.below:
            yield from joint.points()


@lru_cache(maxsize=8)
def strip(machine: Machine) -> Strip:
    """Lay a machine out: the way from the first source to the far end is the uppermost lane, branches lie below.

    Every point stands once. A way that is longer than a page is wide goes down at the edge and back on a lane below.
    Where conductors close a ring, one of its devices is drawn with a loose end that names the point it leads to.
    """
    return _Layout(machine).strip()


class _Layout:
    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.feeding = [device for device in machine.devices if device.source is not None]
        self.fed = {point for device in self.feeding if device.source for point in device.source.at}
        self.points: dict[str, Spot] = {}
        self.spans: list[Span] = []
        self.taken: set[Spot] = set()
        self.drops: dict[Spot, Spot] = {}
        """Cells that a line downwards takes, each with the spot that the line comes from."""
        self.waiting: list[int] = []
        """Levels of points whose branches are still to be placed: what lies under them keeps out of their way."""
        self.side: dict[str, int] = {}

    def strip(self) -> Strip:
        first = [point for device in self.feeding if device.source for point in device.source.at]
        for root in (*first, *self.machine.points):
            if root not in self.points:
                lane = 1 + max((lane for _, lane in (*self.taken, *self.drops)), default=-1)
                self.side[root] = -1
                self.points[root] = (0, lane)
                self.trunk(_Joint(root, None, False, (root, root), below=self.tree(root)), (0, lane), lane, 1)
        levels = [level for level, _ in self.taken]
        lanes = 1 + max(lane for _, lane in (*self.taken, *self.drops))
        sources = tuple(
            (device.id, point, self.points[point], self.side.get(point, 0))
            for device in self.feeding
            if device.source
            for point in device.source.at
        )
        return Strip(self.points, tuple(self.spans), sources, earthing(self.machine), (min(levels), max(levels)), lanes)

    def tree(self, root: str) -> list[_Joint]:
        """Everything that hangs on a point, nearest first, so that rings open at their far end."""
        seen, used = {root, *self.points}, set()
        tops: dict[str, list[_Joint]] = {root: []}
        queue = [root]
        for point in queue:
            for joint, key in self.joints(point):
                if key in used:
                    continue
                used.add(key)
                joint.loose = joint.point in seen
                tops[point].append(joint)
                if not joint.loose:
                    seen.add(joint.point)
                    tops[joint.point] = joint.below
                    queue.append(joint.point)
        return tops[root]

    def joints(self, point: str) -> Iterator[tuple[_Joint, tuple[str | None, frozenset[str]]]]:
        for link in self.machine.links:
            if point in link.between:
                far = link.between[1] if link.between[0] == point else link.between[0]
                yield _Joint(far, None, link.magnetic, link.between), (None, frozenset(link.between))
        for device in self.machine.devices:
            for edge in contacts(device):
                if point in edge:
                    far = edge[1] if edge[0] == point else edge[0]
                    yield _Joint(far, device.id, False, edge), (device.id, frozenset(edge))

    def trunk(self, top: _Joint, start: Spot, lane: int, way: int) -> None:
        """Place the longest way down from a point on one lane, then what branches off it, from its end backwards.

        What is left of it at the edge of the strip is one of the branches.
        """
        self.taken.add(start)
        joint, spot, placed = top, start, [(top, start)]
        while joint.below and _room(spot[0], way):
            joint = max(joint.below, key=lambda one: one.depth)
            spot = self.join(placed[-1][0].point, joint, spot, (spot[0] + way, lane))
            placed.append((joint, spot))
        self.side[joint.point] = self.side.get(joint.point, way) if not joint.loose else 0
        branching = [
            (one, at, [branch for branch in one.below if branch is not after])
            for (one, at), (after, _) in pairwise(placed)
        ]
        branching.append((*placed[-1], placed[-1][0].below))
        self.waiting += [at[0] for _, at, branches in branching for _ in branches]
        for one, at, branches in reversed(branching):
            for branch in branches:
                self.waiting.remove(at[0])
                self.branch(one.point, branch, at, way)

    def branch(self, parent: str, joint: _Joint, at: Spot, way: int) -> None:
        """Place a branch on the nearest lane below that is free; one that leads to a source comes in from its side."""
        inward = self.fed & set(joint.points()) and _room(at[0], -way) >= joint.depth
        lane, lowest = at[1], max(row for _, row in (*self.taken, *self.drops))
        directions = _directions(at[0], way, joint.depth, inward=bool(inward))
        while True:
            lane += 1
            for direction in directions:
                drop = {(at[0], row) for row in range(at[1] + 1, lane + 1)}
                reach = min(joint.depth, _room(at[0], direction))
                cells = {(at[0] + direction * n, lane) for n in range(1, reach + 1)}
                foreign = {cell for cell in drop if self.drops.get(cell, at) != at}
                covered = direction != way and any(level in self.waiting for level, _ in cells)
                blocked = covered or foreign or (drop | cells) & self.taken or cells & set(self.drops)
                # On a lane of its own the last way ends the search, whatever its line downwards crosses.
                if not blocked or (lane > lowest and direction == directions[-1]):
                    self.drops |= dict.fromkeys(drop, at)
                    self.taken |= cells
                    spot = self.join(parent, joint, at, (at[0] + direction, lane))
                    self.trunk(joint, spot, lane, direction)
                    return

    def join(self, parent: str, joint: _Joint, start: Spot, end: Spot) -> Spot:
        self.taken.add(end)
        if not joint.loose:
            self.points[joint.point] = end
        between = (parent, joint.point)
        self.spans.append(Span(between, start, end, joint.device, joint.magnetic, joint.loose))
        return end


def _room(level: int, way: int) -> int:
    """How many levels there are from here to the edge of the strip."""
    return LAST_LEVEL - level if way > 0 else level


def _directions(level: int, way: int, depth: int, *, inward: bool) -> list[int]:
    """The ways a branch may take: inwards if that is wanted, then outwards; back where the edge is too near."""
    if _room(level, way) >= depth:
        return [-way, way] if inward else [way]
    return [-way] if inward or _room(level, -way) > _room(level, way) else [way]


def contacts(device: Device) -> tuple[tuple[str, str], ...]:
    """The pairs of points a device can join, each once, in the order of its positions; earth is none of them."""
    found: dict[frozenset[str], tuple[str, str]] = {}
    for _, edges in device.edges:
        for edge in edges:
            if EARTH not in edge:
                found.setdefault(frozenset(edge), edge)
    return tuple(found.values())


def earthing(machine: Machine) -> dict[str, tuple[str, ...]]:
    """Point by point the devices that can earth it."""
    found: dict[str, dict[str, None]] = {}
    for device in machine.devices:
        for _, edges in device.edges:
            for a, b in edges:
                if EARTH in (a, b):
                    found.setdefault(b if a == EARTH else a, {})[device.id] = None
    return {point: tuple(devices) for point, devices in found.items()}
