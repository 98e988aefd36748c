"""Operation: where the crew stands while it moves a device. Entries of the file in, words by name of a device out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from deadfront.operation.machine import HAND, Machine
from deadfront.project.model import Unit

NOT_GIVEN = "where one stands, length of the hot stick or by hand, position of the body: the file does not say it"
"""Why a sheet has blanks about handling."""

AT_A_DISTANCE = ("switch", "fuse", "connector", "earth", "vent", "test")
"""Kinds of device for which a length of hot stick is asked for; others are moved by hand unless the file gives one."""


@dataclass(frozen=True, slots=True)
class Stand:
    """From which side a device is moved, with which hot stick and how the body is held; empty where nobody says so."""

    side: str = ""
    hot_stick: str = ""
    body: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """What is given, part by part."""
        stick = "by hand" if self.hot_stick == "none" else f"hot stick {self.hot_stick}" if self.hot_stick else ""
        return tuple(part for part in (self.side, stick, self.body) if part)

    def missing(self, kind: str) -> tuple[str, ...]:
        """What a step of a kind of device wants to know and nobody says."""
        stick = kind in AT_A_DISTANCE and not self.hot_stick
        wanted = [("stand", not self.side), ("hot stick", stick), ("body", not self.body)]
        return tuple(label for label, lacks in wanted if lacks)


UNKNOWN = Stand()
"""Where the file says nothing."""


def handling(unit: Unit) -> dict[str, Stand]:
    """Return, by name, what the file says of where and how each device is moved."""
    entries = (unit.operation.handling if unit.operation else None) or {}
    return {
        name: Stand(
            entry.side or "",
            "" if entry.hot_stick is None else entry.hot_stick if entry.hot_stick == "none" else entry.hot_stick.text,
            entry.body or "",
        )
        for name, entry in entries.items()
    }


def stand(machine: Machine, text: str, given: Mapping[str, Stand]) -> tuple[str, Stand]:
    """Return the name under which a move is handled, and what is given for it.

    That is its device or test; for a key the lock or the box that it is taken from or put into.
    """
    # A device of three phases is handled as the file says of the one that they make up.
    names = [name for whole in _names(machine, text) for name in (whole, whole.rpartition("/")[0]) if name]
    return next(((name, given[name]) for name in names if name in given), (names[-1], UNKNOWN))


def _names(machine: Machine, text: str) -> Iterator[str]:
    if text.startswith(("test ", "wait ")):
        yield text[5:]
        return
    subject, places = text.rsplit(": ", 1)
    if any(subject == device.id for device in machine.devices):
        yield subject
        return
    for place in places.split("->"):
        if place != HAND:
            yield place
            yield from (box.id for box in machine.exchanges if place in [slot.id for slot in box.inputs + box.outputs])
