"""Study: the utility's protection in front of the unit; its settings and a current come in, operations go out."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from deadfront.physics import curves, relays
from deadfront.physics.clearing import operates_above, relay_and_breaker
from deadfront.physics.types import Array
from deadfront.study.devices import Operation, curve
from deadfront.study.inputs import Assumed, MissingEntryError
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

RELAY_FREEZE = 20.0
"""Multiple of the pickup above which many relays' times fall no further [V, restated]."""

RELAY_ACCURACY, RELAY_LEAST_ERROR = 0.05, 0.04
"""Class 5 of IEC 60255-151: late by up to 5 % or 40 ms, whichever is greater [V, restated]."""

Elements = Callable[[Walk, str, str, Array], Iterable[Operation]]
"""Operations of one relay element: walk, path of the protection, name of the element, current."""


def latest(walk: Walk, path: str, carried: Carried) -> tuple[Operation, ...]:
    """Utility protection of one supply: phase and earth elements with their breaker, or a fuse."""
    return _operations(walk, path, carried, _latest_fuse, _latest_elements)


def earliest(walk: Walk, path: str, carried: Carried) -> tuple[Operation, ...]:
    """The same at the early edge: when a relay may give its trip, its breaker not included, or the fuse melts."""
    return _operations(walk, path, carried, _earliest_fuse, _earliest_elements)


def latest_fast_shots(walk: Walk, own: str, current: Array) -> tuple[Operation, ...]:
    """Operations of one fast shot of a recloser, each element at its latest."""
    return tuple(_latest_elements(walk, own, "reclosing.fast", current))


def earliest_fast_shots(walk: Walk, own: str, current: Array) -> tuple[Operation, ...]:
    """One fast shot of a recloser at its earliest, its breaker not included."""
    return tuple(_earliest_elements(walk, own, "reclosing.fast", current))


def _operations(
    walk: Walk, path: str, carried: Carried, fuse: Callable[[Walk, str, Array], Operation], relay: Elements
) -> tuple[Operation, ...]:
    """What a supply's protection does at one edge; MissingEntryError where the file sets none."""
    own = f"{path}.protection"
    file = walk.inputs.maybe_word(f"{own}.fuse")
    found = [] if file is None else [fuse(walk, file, carried.phase)]
    for element, current in (("phase", carried.phase), ("earth", carried.residual)):
        if walk.inputs.entry(f"{own}.{element}") is not None:
            found.extend(relay(walk, own, element, current))
    if not found:
        raise MissingEntryError(f"{own}.phase")
    return tuple(found)


def _latest_fuse(walk: Walk, file: str, current: Array) -> Operation:
    time = curves.clearing_time(curve(walk, file), current)
    return Operation("Upstream fuse", "total clearing curve", current, time, (("melting and arcing", time),))


def _earliest_fuse(walk: Walk, file: str, current: Array) -> Operation:
    time = curves.melting_time(curve(walk, file), current)
    return Operation("Upstream fuse", "minimum melting curve", current, time, ())


def _latest_elements(walk: Walk, own: str, element: str, current: Array) -> list[Operation]:
    """Inverse-time element at the late edge of its class, and the instantaneous step at its stated time."""
    path, opening = f"{own}.{element}", walk.inputs.number(f"{own}.breaker_opening")
    inverse = relays.relay_operating_time(relay_setting(walk, path), current)
    late = relays.latest_operating_time(inverse, RELAY_ACCURACY, RELAY_LEAST_ERROR)
    text = f"{path}: the relay is taken to be late by up to 5 % or 40 ms, whichever is greater."
    walk.inputs.note(Assumed(f"{path}.accuracy", text, "IEC 60255-151, class 5", "V", "Relay manual."))
    times = [(f"{element} relay", late)]
    step = instantaneous_step(walk, path, current)
    if step is not None:
        times.append((f"{element} relay, instantaneous", step))
    return [
        Operation(
            "Upstream breaker", name, current, relay_and_breaker(time, opening), (("relay", time), ("opening", opening))
        )
        for name, time in times
    ]


def _earliest_elements(walk: Walk, own: str, element: str, current: Array) -> list[Operation]:
    """Inverse-time element at the early edge of its class, or its instantaneous step at its stated time."""
    path = f"{own}.{element}"
    inverse = relays.relay_operating_time(relay_setting(walk, path), current)
    early = relays.earliest_operating_time(inverse, RELAY_ACCURACY, RELAY_LEAST_ERROR)
    step = instantaneous_step(walk, path, current)
    if step is not None:
        early = np.minimum(early, step)
    return [Operation("Upstream relay", element, current, early, ())]


def instantaneous_step(walk: Walk, path: str, current: Array) -> Array | None:
    """Time of a relay's instantaneous step, s; None where it has none."""
    if not walk.inputs.given(f"{path}.instantaneous"):
        return None
    threshold, own_time = (walk.inputs.number(f"{path}.{name}") for name in ("instantaneous", "instantaneous_time"))
    return operates_above(current, threshold, own_time)


def relay_setting(walk: Walk, path: str) -> relays.RelaySetting:
    """Inverse-time part of a relay element."""
    read, name = walk.inputs.number, walk.inputs.word(f"{path}.curve")
    dial = read(f"{path}.definite_time") if name == "definite time" else read(f"{path}.time_dial")
    if name != "definite time":
        text = f"{path}: the time of the relay is taken to fall no further above {RELAY_FREEZE:g} times its pickup."
        walk.inputs.note(Assumed(f"{path}.freeze", text, "practice of many relays", "V", "Relay manual."))
    return relays.RelaySetting(name, read(f"{path}.pickup"), dial, RELAY_FREEZE, None, None)
