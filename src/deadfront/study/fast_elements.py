"""Study: the element that is meant to protect people against an arc; a clearing comes in, its elements go out."""

from __future__ import annotations

from dataclasses import dataclass

from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import arc_protection, devices
from deadfront.study.clearing import Clearing, Infeed, Situation
from deadfront.study.inputs import MissingEntryError
from deadfront.study.walk import Walk

SUPERVISION = "current supervision of the arc detection"
NEVER_ABOVE = "first point of its total clearing curve"


@dataclass(frozen=True, slots=True)
class FastElement:
    """The element meant to end an arc or one of its infeeds.

    infeed    name of the infeed it ends; None for the device that all current passes
    pickup    A, the current from which it is sure to operate, in the current it measures
    """

    infeed: str | None
    device: str
    element: str
    pickup: Array


def fast_elements(walk: Walk, point: str, clearing: Clearing, situation: Situation) -> tuple[FastElement, ...]:
    """Which elements are meant to end an arc at a point, one per infeed; none for an infeed that light alone trips.

    raises    MissingEntryError: a device without an instantaneous or short-time element and without a curve
    """
    if point.startswith("feeder end") and not situation.detection:
        name = point.removeprefix("feeder end ")
        return (_trip_element(walk, None, f"board.feeders.{name}", f"Feeder {name}"),)
    found = [_of_infeed(walk, point, infeed, situation) for infeed in clearing.infeeds]
    return tuple(one for one in found if one is not None)


def _of_infeed(walk: Walk, point: str, infeed: Infeed, situation: Situation) -> FastElement | None:
    """The fast element of one infeed: the light's supervision where light trips it, else its breaker or fuse."""
    name = infeed.name
    key = ("upstream" if point == SECONDARY else "main") if name == "supply" else name
    if situation.detection and key in arc_protection.detection_trips(walk):
        if not arc_protection.is_supervised(walk):
            return None
        device = "Upstream breaker" if key == "upstream" else _device_name(walk, name)
        return FastElement(name, device, SUPERVISION, arc_protection.supervision(walk))
    if name == "supply":
        counts = point != SECONDARY and situation.main_counts
        return _trip_element(walk, name, "board.main", "LV main breaker") if counts else _fuse_element(walk)
    path = walk.station.device(name).path
    return _trip_element(walk, name, f"{path}.device", _device_name(walk, name))


def _device_name(walk: Walk, infeed: str) -> str:
    return "LV main breaker" if infeed == "supply" else f"{walk.station.device(infeed).name} breaker"


def _fuse_element(walk: Walk) -> FastElement:
    """The link, or the limiter where there is no link: the first current at which it surely clears."""
    if walk.inputs.entry("fuses.bayonet") is not None:
        first = float(devices.curve(walk, walk.inputs.word("fuses.bayonet.curve")).current[0])
        return FastElement("supply", "Draw-out expulsion link", NEVER_ABOVE, first)
    first = float(devices.curve(walk, walk.inputs.word("fuses.limiter.curve")).current[0])
    return FastElement("supply", "Current-limiting fuse", NEVER_ABOVE, first)


def _trip_element(walk: Walk, infeed: str | None, path: str, name: str) -> FastElement:
    """Instantaneous, else short-time element, at the upper edge of its pickup; else the first point of the curve."""
    curve_file = walk.inputs.maybe_word(f"{path}.curve")
    if curve_file is not None:
        return FastElement(infeed, name, NEVER_ABOVE, float(devices.curve(walk, curve_file).current[0]))
    for entry, element in (("instantaneous", "instantaneous element"), ("short_time.pickup", "short-time element")):
        if walk.inputs.given(f"{path}.trip.{entry}"):
            edge = 1.0 + devices.pickup_tolerance(walk, path)
            return FastElement(infeed, name, element, edge * walk.inputs.number(f"{path}.trip.{entry}"))
    raise MissingEntryError(f"{path}.trip.instantaneous")


def current_seen(clearing: Clearing, fast: FastElement) -> Array:
    """Current that a fast element measures in an arc, A; the supervision of the light measures at the arc's voltage."""
    operations = clearing.common if fast.infeed is None else clearing.infeed(fast.infeed).operations
    if fast.infeed is not None and fast.element == SUPERVISION:
        return clearing.infeed(fast.infeed).current
    return next(o.current for o in operations if o.device == fast.device and o.element != devices.EARTH_ELEMENT)
