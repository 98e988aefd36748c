"""Intervals: whether a range was taken in pieces on its way. Tags of the arguments in, the tag of the result out.

A proof may take one intermediate value of a formula in pieces (see `waypoint`). The least of the pieces' results is a
bound only if one value alone was taken so: with two, only equal shares of both would meet. So every result carries
what it rests on, and a result that rests on two such values is marked and not used.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeAlias

from deadfront.intervals.rounding import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Which piece of a waypoint's range each row asks for, shares of the range; no waypoint met so far.

    low, high   shares from 0 to 1     (rows, 1)
    """

    low: Floats
    high: Floats


class Taken:
    """A waypoint's range was taken in pieces; each time is another one."""

    __slots__ = ()


CLASH = Taken()
"""More than one waypoint was taken in pieces: the pieces prove nothing."""

Tag: TypeAlias = Pieces | Taken | None


def tag_of(arguments: Iterable[Any]) -> Tag:
    """The tag of what follows from some arguments, lists and tuples of them included."""
    found: Tag = None
    for one in arguments:
        other = tag_of(one) if isinstance(one, (list, tuple)) else getattr(one, "tag", None)
        if other is None or other is found:
            continue
        if found is None or (isinstance(found, Pieces) and isinstance(other, Taken)):
            found = other
        elif isinstance(other, Taken):
            return CLASH
    return found
