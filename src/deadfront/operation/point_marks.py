"""Operation: what each point of a machine is after a step, as a letter. A machine and a situation in, marks out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from deadfront.operation.machine import EARTH, Machine
from deadfront.operation.telling import Situation

LETTERS: tuple[tuple[str, str], ...] = (
    ("L", "live"),
    ("D", "dead, not proved"),
    ("P", "proved dead"),
    ("E", "earthed"),
    ("F", "a source stands on an earth"),
    ("C", "charged"),
)
"""Letters of a mark and their meanings; two of them may stand together, as in EP, earthed and proved dead."""


@dataclass(frozen=True, slots=True)
class PointMark:
    """A point after a step: its letters, whether a hand can reach it, whether the step has changed it."""

    letters: str
    within_reach: bool
    changed: bool


def marks(machine: Machine, points: tuple[str, ...], before: Situation, after: Situation) -> tuple[PointMark, ...]:
    """Return the mark of each of the points after a step; for the outset both situations are the same."""
    return tuple(
        PointMark(
            _letters(machine, after, point),
            _within_reach(machine, after, point),
            _letters(machine, before, point) != _letters(machine, after, point)
            or _within_reach(machine, before, point) != _within_reach(machine, after, point),
        )
        for point in points
    )


def _letters(machine: Machine, told: Situation, point: str) -> str:
    charged = "C" if any(store.at == point and store.id in told.charged for store in machine.stores) else ""
    proved = "P" if point in told.proved else ""
    if point in told.faulted:
        return "F" + charged
    if point in told.live:
        return "L" + charged
    if point in told.earthed:
        return "E" + proved + charged
    return (proved or "D") + charged


def _within_reach(machine: Machine, told: Situation, point: str) -> bool:
    return any(point in opening.reaches and opening.device in told.open for opening in machine.openings)


def in_line(machine: Machine) -> tuple[str, ...]:
    """Return the points in the order of the single line: from the first source the longest way first, then branches."""
    fed = [point for device in machine.devices if device.source is not None for point in device.source.at]
    found: dict[str, None] = {}
    for root in (*fed, *machine.points):
        if root not in found:
            found |= dict.fromkeys(_from(machine, root, set(found)))
    return tuple(found)


def _from(machine: Machine, root: str, seen: set[str]) -> Iterator[str]:
    """The tree that hangs on a point, nearest first, read along its longest way."""
    seen.add(root)
    below: dict[str, list[str]] = {root: []}
    queue = [root]
    for point in queue:
        for far in _joined(machine, point):
            if far not in seen:
                seen.add(far)
                below[point].append(far)
                below[far] = []
                queue.append(far)
    depth: dict[str, int] = {}
    for point in reversed(queue):
        depth[point] = 1 + max((depth[far] for far in below[point]), default=0)

    waiting = [root]
    while waiting:
        point = waiting.pop()
        yield point
        # The longest way comes off the pile first; among equals, the one that the machine names first.
        waiting += sorted(below[point], key=lambda far: (depth[far], -below[point].index(far)))


def _joined(machine: Machine, point: str) -> Iterator[str]:
    edges = [link.between for link in machine.links]
    edges += [edge for device in machine.devices for _, pairs in device.edges for edge in pairs if EARTH not in edge]
    for one, other in edges:
        if point in (one, other):
            yield other if one == point else one
