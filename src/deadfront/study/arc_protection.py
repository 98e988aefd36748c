"""Study: arc detection by light; what it sees and trips comes in, operations of breakers go out."""

from __future__ import annotations

from deadfront.physics import clearing as physical
from deadfront.physics.types import Array
from deadfront.study import elements
from deadfront.study.devices import Operation
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.walk import Walk


def detection_trips(walk: Walk) -> tuple[str, ...]:
    """Devices the arc detection trips, by the words of the file."""
    found = walk.inputs.entry("board.arc_detection.trips")
    if not isinstance(found, (list, tuple)) or not found:
        raise MissingEntryError("board.arc_detection.trips")
    return tuple(found)


def light_trip(walk: Walk, path: str, name: str, current: Array) -> Operation:
    """Trip of a low-voltage breaker by light: sensing, output, opening; only above the current supervision."""
    return _light_trip(walk, name, current, current, walk.inputs.number(f"{path}.opening"))


def light_trip_upstream(walk: Walk, secondary: Array) -> Operation:
    """Trip of the utility's breaker by light; supervision measures on the low-voltage side."""
    opening = walk.inputs.number("supply.protection.breaker_opening")
    return _light_trip(walk, "Upstream breaker", secondary / elements.turns_ratio(walk), secondary, opening)


def _light_trip(walk: Walk, name: str, current: Array, seen: Array, opening: Array) -> Operation:
    reaction, output = walk.inputs.number("board.arc_detection.reaction"), _output(walk)
    unsupervised = physical.arc_detection_time(reaction, output, opening)
    # At no current the detection has nothing to end; a current outside the model stays outside it.
    time = physical.supervised(unsupervised, seen, supervision(walk) if is_supervised(walk) else 0.0)
    parts = (("sensing", reaction), ("output", output), ("opening", opening))
    return Operation(name, "arc detection", current, time, parts)


def _output(walk: Walk) -> Array:
    """Time of the trip output; where the file gives none, `reaction` holds it, as its form states."""
    if walk.inputs.given("board.arc_detection.output"):
        return walk.inputs.number("board.arc_detection.output")
    return 0.0


def is_supervised(walk: Walk) -> bool:
    """Whether the detection trips only while a current flows as well."""
    return walk.inputs.given("board.arc_detection.current_supervision")


def supervision(walk: Walk) -> Array:
    """Current that must be present as well, A."""
    text = "The current supervision of the arc detection is taken to measure in each infeed whose breaker it trips."
    confirm = "Wiring of the current transformers of the arc detection, generator and tie included."
    key = "board.arc_detection.supervised_infeeds"
    walk.inputs.note(Assumed(key, text, "simplification, no source", "C", confirm))
    return walk.inputs.number("board.arc_detection.current_supervision")
