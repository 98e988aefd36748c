"""Study: what every sheet of one station is made from. Walks come in; devices, makers and notes go out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from deadfront.station.station import LV_BUS, Device
from deadfront.study import elements, picture_currents
from deadfront.study.drawing import Characteristic, Scale, Span, cut
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import MissingEntryError
from deadfront.study.picture_currents import Points
from deadfront.study.picture_devices import View, scalar, text_of
from deadfront.study.tables import WalkAt
from deadfront.study.walk import Walk

BEYOND = 1.15
"""Lines go on a little beyond the largest current, so that they are seen to pass it."""

UNKNOWN_REACH = 100.0
"""Amperes per ampere of the smallest pickup up to which a line is drawn where no fault current is known."""

Maker = Callable[[], Characteristic]


@dataclass(frozen=True, slots=True)
class Frame:
    """What a sheet is made from: the station at the centre of its ranges, walks over a sample of them, the feeders."""

    walk: Walk
    walk_at: WalkAt
    points: Points
    feeders: tuple[str, ...]

    def span(self, name: str, currents: picture_currents.Currents) -> Span:
        """Smallest and largest of a current over the sample."""
        return picture_currents.span(self.walk_at, self.points, name, currents)

    def spans(self, wanted: dict[str, picture_currents.Currents]) -> tuple[tuple[Span, ...], tuple[str, ...]]:
        """The ranges that can be had, and in words why the others cannot."""
        return picture_currents.spans(self.walk_at, self.points, wanted)


def chosen_feeders(walk: Walk, wanted: tuple[str, ...]) -> tuple[str, ...]:
    """The feeders to be drawn: those wanted, or else the one of the largest rating, which is the nearest to the main.

    raises    ValueError: the file has no feeder of a wanted name
    """
    names = walk.station.feeders()
    for name in wanted:
        if name not in names:
            raise ValueError(f"feeder: expected one of {', '.join(names) or 'none in this file'}, got {name!r}")
    if wanted or not names:
        return wanted

    def rating(name: str) -> float:
        path = f"board.feeders.{name}.rating"
        return scalar(walk.inputs.number(path)) if walk.inputs.given(path) else 0.0

    return (max(names, key=rating),)


def supplies(walk: Walk) -> Iterator[Device]:
    """Supplies of the station, each with its protection."""
    return (device for device in walk.station.devices if device.kind == "supply")


def fuse_names(walk: Walk) -> tuple[FuseName, ...]:
    """The fuses of the file; where it names none, the limiter, so that its absence is said."""
    given = tuple(name for name in FUSE_NAMES if walk.inputs.entry(f"fuses.{name}") is not None)
    return given or ("limiter",)


def breakers(frame: Frame) -> Iterator[Device]:
    """Main and chosen feeders."""
    yield frame.walk.station.device("main")
    for name in frame.feeders:
        yield frame.walk.station.device(f"feeder {name}")


def largest(spans: tuple[Span, ...], starts_with: str, walk: Walk) -> float:
    """Up to where the lines of one side are drawn."""
    known = [span.high for span in spans if span.name.startswith(starts_with)]
    if known:
        return max(known) * BEYOND
    pickups = [quantity.low for path, quantity in walk.project.quantities.items() if path.endswith("pickup")]
    return min(pickups, default=100.0) * UNKNOWN_REACH


def bus_current(frame: Frame) -> float:
    """Largest three-phase fault on the low-voltage bus, all infeeds together, A at low voltage."""
    return frame.span("bus", picture_currents.at_point(LV_BUS, "three-phase")).high


def turns_ratio(walk: Walk) -> float:
    """Rated ratio of the transformer at the centre of its ranges."""
    return scalar(elements.turns_ratio(walk))


def made(makers: dict[str, Maker]) -> tuple[tuple[Characteristic, ...], tuple[str, ...]]:
    """What can be drawn, and in words why the rest cannot."""
    found, notes = [], []
    for name, make in makers.items():
        try:
            one = make()
            if not any(np.isfinite(edge.time).any() for edge in one.edges):
                raise ValueError("it does not act at any current of this sheet")
            found.append(one)
        except MissingEntryError as error:
            notes.append(f"Not drawn: {name}; the file does not give {error.path}.")
        except ValueError as error:
            notes.append(f"Not drawn: {name}; {error}.")
    return merged(found), tuple(notes)


def merged(found: list[Characteristic]) -> tuple[Characteristic, ...]:
    """Two supplies with the same protection, or two equal screens, are one line."""
    kept: list[Characteristic] = []
    for one in found:
        twin = next((at for at, other in enumerate(kept) if _same(one, other)), None)
        if twin is None:
            kept.append(one)
        else:
            first = kept[twin].name
            both = f"{first}, both feeds" if one.role.startswith("upstream") else f"{first} and {_low(one.name)}"
            kept[twin] = replace(kept[twin], name=both)
    return tuple(kept)


def _low(name: str) -> str:
    return name[:1].lower() + name[1:]


def _same(one: Characteristic, other: Characteristic) -> bool:
    """Whether two lines lie over each other."""
    if one.role not in ("upstream", "upstream earth", "conductor"):
        return False
    if (one.role, one.about) != (other.role, other.about) or len(one.edges) != len(other.edges):
        return False
    return all(np.array_equal(a.time, b.time, equal_nan=True) for a, b in zip(one.edges, other.edges, strict=True))


def up_to(found: tuple[Characteristic, ...], most: float) -> tuple[Characteristic, ...]:
    """The same, limits too, no further than the largest current; what lies beyond it altogether is kept as it is."""
    return tuple(_cut_limit(one, most) if all(edge.weight == "limit" for edge in one.edges) else one for one in found)


def _cut_limit(one: Characteristic, most: float) -> Characteristic:
    cuts = tuple(cut(edge, 0.0, most) for edge in one.edges)
    return replace(
        one, edges=tuple(after if len(after.current) else edge for edge, after in zip(one.edges, cuts, strict=True))
    )


CENTRES = (
    "Lines stand at the centre of each range of the file; rows show the smallest and the largest current found over "
    "its ranges and operating cases."
)


def thinned(one: Characteristic) -> Characteristic:
    """A device that is not the matter of the sheet, in thin lines; its settings stand on the phase sheet."""
    return replace(one, about=(), edges=tuple(replace(edge, weight="thin") for edge in one.edges))


def left_out(frame: Frame) -> tuple[str, ...]:
    """Feeders that are not on this sheet."""
    others = [name for name in frame.walk.station.feeders() if name not in frame.feeders]
    return (f"Other feeders, not drawn: {', '.join(others)}.",) if others else ()


def voltage(walk: Walk, path: str) -> str:
    """A voltage as the file writes it. Raises MissingEntryError where it does not give it."""
    words = text_of(walk, path)
    if not words:
        raise MissingEntryError(path)
    return words


def other_scale(walk: Walk) -> Scale | None:
    """Low-voltage amperes beside those of the medium-voltage line; none where the ratio is not known."""
    try:
        ratio = turns_ratio(walk)
    except MissingEntryError:
        return None
    secondary = text_of(walk, "transformer.secondary_voltage")
    return Scale(f"Current at {secondary}, kA (three-phase, {ratio:.4g} times)", ratio * 1e-3)


def low_view(frame: Frame) -> View:
    """Low-voltage devices in amperes of the MV line, up to what a fault on the bus draws from all infeeds."""
    ratio = turns_ratio(frame.walk)
    return View(1.0 / ratio, bus_current(frame) / ratio * BEYOND, f"own current / {ratio:.4g}, three-phase")
