"""Study: the sheets of the earth faults of one station, on either side. A frame comes in, a sheet goes out."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Literal

import numpy as np

from deadfront.physics import reflection
from deadfront.station.station import LV_BUS, PRIMARY, SWITCH_BUS, Device, feeder_end
from deadfront.study import picture_currents, zero_sequence
from deadfront.study.drawing import Allowance, Characteristic, Scale, Sheet, Span
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.picture_devices import View, breaker, fuse, scalar, through_fault_limit, upstream
from deadfront.study.picture_frame import (
    CENTRES,
    Frame,
    Maker,
    breakers,
    fuse_names,
    largest,
    left_out,
    made,
    supplies,
    thinned,
    turns_ratio,
    up_to,
    voltage,
)
from deadfront.study.walk import Walk

_LOW, _MEDIUM = "LV bus, line-earth", "MV at the fuses, line-earth"


def low_voltage_earth_sheet(frame: Frame, conductors: dict[str, Maker]) -> Sheet:
    """Earth elements of the board, and what its phase elements, the fuses and the supply see of the same fault.

    In amperes of the fault's line at low voltage, which all flow into earth.
    conductors  limits of earth conductors, by what they are
    raises      MissingEntryError: the file does not give the board's voltage, or whether the neutral is earthed
    """
    walk = frame.walk
    board = voltage(walk, "board.voltage")
    title, scale = "Earth faults on the LV side: what clears, and when", f"Current into earth at {board}, A"
    if walk.inputs.word("transformer.neutral") != "earthed":
        reason = "Not drawn: an earth fault on the LV side draws no current; the transformer's neutral is not earthed."
        return Sheet(title, Scale(scale), None, (), notes=(reason,))
    ranges, unmarked = frame.spans(_low_ranges(frame))
    most = largest(ranges, "LV bus", walk)
    found, undrawn = made(_low_makers(frame, most) | conductors)
    return Sheet(
        title=title,
        scale=Scale(f"{scale} (symmetrical, rms)"),
        other=None,
        characteristics=up_to(found, most),
        spans=tuple(replace(each, ruled=each.name == _LOW) for each in ranges),
        allowances=_allowances(walk, ranges),
        notes=(CENTRES, *left_out(frame), *undrawn, *unmarked, *_seen_from_above(walk)),
    )


def _low_makers(frame: Frame, most: float) -> dict[str, Maker]:
    """How each device is drawn, from the board to the supply."""
    walk = frame.walk
    found: dict[str, Maker] = {}
    for device in breakers(frame):
        found[f"{device.name}, earth element"] = partial(_board_device, walk, device, "earth", most)
        found[f"{device.name}, phase elements"] = partial(_board_device, walk, device, "phase", most)
    for name in fuse_names(walk):
        found[FUSE_NAMES[name]] = partial(_reflected_fuse, walk, name, most)
    found["transformer"] = partial(_reflected_limit, walk)
    for device in supplies(walk):
        found[f"phase protection of {device.name}"] = partial(_reflected_upstream, walk, device, most)
        if _passes(walk):
            view = View(turns_ratio(walk), most, f"own current x {turns_ratio(walk):.4g}, zero sequence")
            found[f"earth protection of {device.name}"] = partial(upstream, walk, device, "earth", view)
    return found


def _board_device(walk: Walk, device: Device, element: Literal["phase", "earth"], most: float) -> Characteristic:
    """A low-voltage device with the part of it that is meant in its name."""
    found = breaker(walk, device, element, View(1.0, most, "own current"))
    if element == "earth":
        return replace(found, name=f"{found.name}, earth element")
    return thinned(replace(found, name=f"{found.name}, phase elements"))


def _reflected_fuse(walk: Walk, name: FuseName, most: float) -> Characteristic:
    found = fuse(walk, name, _reflected(walk, most))
    return replace(found, about=(found.referred,))


def _reflected_limit(walk: Walk) -> Characteristic:
    return through_fault_limit(walk, ("line-earth",), _reflected(walk, np.inf))


def _reflected_upstream(walk: Walk, device: Device, most: float) -> Characteristic:
    found = thinned(upstream(walk, device, "phase", _reflected(walk, most)))
    return replace(found, about=(found.referred,))


def _reflected(walk: Walk, most: float) -> View:
    """Medium-voltage devices in amperes of a low-voltage line-earth fault: by the line that carries most."""
    connection, ratio = walk.inputs.word("transformer.connection"), turns_ratio(walk)
    share = scalar(reflection.largest_primary_line_current("line-earth", connection, 1.0, ratio))
    return View(1.0 / share, most, f"{1.0 / share:.3g} times its own current, through {connection}")


def _passes(walk: Walk) -> bool:
    """Whether the zero sequence of the low-voltage side reaches the supply."""
    return walk.inputs.word("transformer.connection").startswith("YN")


def _seen_from_above(walk: Walk) -> tuple[str, ...]:
    """What the upstream protection sees of an earth fault on the LV side."""
    connection = walk.inputs.word("transformer.connection")
    share = scalar(reflection.largest_primary_line_current("line-earth", connection, 1.0, 1.0))
    words = (
        f"The MV line that carries most sees {share:.3g} times the current into earth over the ratio ({connection})."
    )
    if _passes(walk):
        return (words, f"{connection} passes the zero sequence: the upstream earth element sees the fault as well.")
    return (words, f"{connection} has no way for the zero sequence: the upstream earth element sees nothing of it.")


def _low_ranges(frame: Frame) -> dict[str, picture_currents.Currents]:
    """Earth faults that the sheet marks; what the transformer brings to them."""
    found = {_LOW: picture_currents.through_main(LV_BUS, "line-earth")}
    found["LV bus, arcing to earth"] = picture_currents.through_main(LV_BUS, "line-earth", arcing=True)
    for name in frame.feeders:
        point = feeder_end(name)
        found[f"End of feeder {name}, line-earth"] = picture_currents.through_main(point, "line-earth")
    return found


def _allowances(walk: Walk, ranges: tuple[Span, ...]) -> tuple[Allowance, ...]:
    """Times within which the file wants a fault to be gone, over the currents they apply to."""
    found = []
    by_place = [("LV bus", "board.required_clearing")]
    by_place += [(f"End of feeder {n}", f"board.feeders.{n}.required_clearing") for n in walk.station.feeders()]
    for place, path in by_place:
        ends = [end for each in ranges if each.name.startswith(f"{place},") for end in (each.low, each.high)]
        if ends and walk.inputs.given(path):
            time = scalar(walk.inputs.number(path))
            found.append(Allowance(f"{place}: required within {time:g} s", time, min(ends), max(ends)))
    return tuple(found)


def medium_voltage_earth_sheet(frame: Frame, conductors: dict[str, Maker]) -> Sheet:
    """Earth and phase elements of the supply, fuses and cable screen for an earth fault on the MV side.

    conductors  limits of cable screens, by what they are
    raises      MissingEntryError: the file does not give the supply's voltage
    """
    walk = frame.walk
    supply = voltage(walk, "supply.voltage")
    ranges, unmarked = frame.spans(
        {
            _MEDIUM: picture_currents.at_point(PRIMARY, "line-earth"),
            "MV switch bus, line-earth": picture_currents.at_point(SWITCH_BUS, "line-earth"),
        }
    )
    ranges = _once(ranges)
    view = View(1.0, largest(ranges, "MV", walk), "own current")
    makers: dict[str, Maker] = {}
    for device in supplies(walk):
        makers[f"earth protection of {device.name}"] = partial(upstream, walk, device, "earth", view)
        makers[f"phase protection of {device.name}"] = partial(_thin_upstream, walk, device, view)
    for name in fuse_names(walk):
        makers[FUSE_NAMES[name]] = partial(fuse, walk, name, view)
    found, undrawn = made(makers | conductors)
    return Sheet(
        title="Earth faults on the MV side: what clears, and when",
        scale=Scale(f"Current into earth at {supply}, A (symmetrical, rms)"),
        other=None,
        characteristics=up_to(found, view.largest),
        spans=tuple(replace(each, ruled=each.name == _MEDIUM) for each in ranges),
        notes=(CENTRES, *undrawn, *unmarked, *_earthing(walk)),
    )


def _thin_upstream(walk: Walk, device: Device, view: View) -> Characteristic:
    return thinned(upstream(walk, device, "phase", view))


def _once(ranges: tuple[Span, ...]) -> tuple[Span, ...]:
    """Ranges of the same ends once: at the fuses and on the bus before them flows the same."""
    return tuple(
        each for at, each in enumerate(ranges) if (each.low, each.high) not in [(r.low, r.high) for r in ranges[:at]]
    )


def _earthing(walk: Walk) -> tuple[str, ...]:
    """What the earthing of the network means for this sheet."""
    if not zero_sequence.medium_voltage_unearthed(walk):
        return ()
    words = walk.inputs.word("supply.earthing")
    return (f"The network is {words}: the current is that of the whole network's capacitance, or what is left of it.",)
