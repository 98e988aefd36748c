"""Study: which switches stand how and what runs; the station's slots come in, one axis of operating cases goes out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from deadfront.station.station import Station

Mask = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cases:
    """Operating cases on one axis; each array holds 1.0 where the thing is so and 0.0 where not, shape (cases,)."""

    maximum: Mask
    way_a: Mask
    way_b: Mask
    main: Mask
    tie: Mask
    generator: Mask
    motors: Mask
    parallel: tuple[bool, ...]
    words: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.words)

    def only(self, chosen: Sequence[int]) -> Cases:
        """Some of the cases, in their order: what is already decided for the others is not computed again."""
        which = list(chosen)
        return Cases(
            maximum=self.maximum[which],
            way_a=self.way_a[which],
            way_b=self.way_b[which],
            main=self.main[which],
            tie=self.tie[which],
            generator=self.generator[which],
            motors=self.motors[which],
            parallel=tuple(self.parallel[i] for i in which),
            words=tuple(self.words[i] for i in which),
        )

    def mask(self, device: str) -> Mask:
        """Whether a source or connecting device takes part, by the device's key."""
        masks = {
            "supply A": self.way_a,
            "supply B": self.way_b,
            "main": self.main,
            "tie": self.tie,
            "generator": self.generator,
        }
        if device.startswith("motors "):
            return self.motors
        return masks.get(device, np.ones(len(self)))


@dataclass(frozen=True, slots=True)
class _Case:
    maximum: bool
    way: str
    infeed: str
    motors: bool


def operating_cases(station: Station) -> Cases:
    """Every combination the file allows.

    Rule (maximum or minimum of the method) x way that feeds x infeed of the low-voltage bus x motors on or off.
    Motors feed a fault only under the maximum rule; conductors are cold under the maximum rule and hot under the
    minimum rule, as both methods demand. A tie or generator that may never run in parallel stands alone on the bus.
    """
    cases = [
        _Case(maximum, way, infeed, motors)
        for maximum, infeed, way, motors in product((True, False), _infeeds(station), _ways(station), (True, False))
        if not (motors and (not maximum or not _has_motors(station)))
        if not (infeed.endswith("alone") and way != "A")
    ]
    return Cases(
        maximum=_mask(c.maximum for c in cases),
        way_a=_mask(c.way in ("A", "A and B") for c in cases),
        way_b=_mask(c.way in ("B", "A and B") for c in cases),
        main=_mask(not c.infeed.endswith("alone") for c in cases),
        tie=_mask(c.infeed.startswith("tie") for c in cases),
        generator=_mask("generator" in c.infeed for c in cases),
        motors=_mask(c.motors for c in cases),
        parallel=tuple(c.way == "A and B" or c.infeed.endswith("in parallel") for c in cases),
        words=tuple(_words(c, station) for c in cases),
    )


def _mask(values: Iterable[bool]) -> Mask:
    return np.array([1.0 if value else 0.0 for value in values], dtype=np.float64)


def _ways(station: Station) -> tuple[str, ...]:
    other = station.unit.other_feed
    if other is None:
        return ("A",)
    return ("A", "B", "A and B") if other.parallel == "permitted" else ("A", "B")


def _infeeds(station: Station) -> tuple[str, ...]:
    """Ways in which the low-voltage bus is fed; all that may be closed together also at once."""
    unit, found, together = station.unit, ["supply"], []
    if station.has("tie"):
        found.append("tie alone")
        if unit.board and unit.board.tie and unit.board.tie.parallel == "permitted":
            together.append("tie")
    if station.has("generator"):
        found.append("generator alone")
        if unit.standby_generator and unit.standby_generator.parallel == "permitted":
            together.append("generator")
    found += [f"{one} in parallel" for one in together]
    if len(together) > 1:
        found.append("tie and generator in parallel")
    return tuple(found)


def _has_motors(station: Station) -> bool:
    return any(device.kind == "motors" for device in station.devices)


def _words(case: _Case, station: Station) -> str:
    """One case in the words of the crew: only what this station can have."""
    words = ["maximum rule, conductors cold" if case.maximum else "minimum rule, conductors hot"]
    if station.has("supply B"):
        words.append({"A": "fed by way A", "B": "fed by way B"}.get(case.way, "both ways closed"))
    if station.has("tie"):
        closed = "tie closed, main open" if case.infeed == "tie alone" else "tie and main closed"
        words.append(closed if case.infeed.startswith("tie") else "tie open")
    if station.has("generator"):
        running = "generator alone, main open" if case.infeed == "generator alone" else "generator in parallel"
        words.append(running if "generator" in case.infeed else "generator off")
    if _has_motors(station):
        words.append("motors on" if case.motors else "motors off")
    return ", ".join(words)
