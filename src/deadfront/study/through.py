"""Study: what each device carries while a fault or an arc burns at a point; a total current comes in, shares go out."""

from __future__ import annotations

from dataclasses import dataclass

from deadfront.physics import reflection
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SWITCH_BUS
from deadfront.study import elements, faults, network
from deadfront.study.faults import TO_EARTH, Kind
from deadfront.study.walk import Method, Walk, remembered


@dataclass(frozen=True, slots=True)
class Carried:
    """Current in a device, A: in the phase that carries most, and the residual that an earth-fault element sees."""

    phase: Array
    residual: Array
    connected: Array


def infeeds(walk: Walk, point: str, kind: Kind, method: Method, total: Array) -> dict[str, Carried]:
    """Current of each infeed at a fault of `total` A at a point, by the key of the device at the point.

    At the end of a feeder the infeeds are those of the bus, for they all flow through the feeder. A branch's share of
    a fault between lines is that of the positive sequence, s1; of a fault to earth (2 s1 + s0)/3, its residual s0 of
    the current into earth. s1 is exact; in the sum the angle between s1 and s0 is neglected, which makes it larger [D].
    """
    node = LV_BUS if point.startswith("feeder end") else point
    zero = network.zero_thevenin(walk, node, method) if kind in TO_EARTH and not faults.unearthed(walk, node) else None
    positive_shares = network.positive_shares(walk, node, method)
    zero_shares = {} if zero is None else network.zero_shares(walk, node, method)
    to_earth = residual(walk, point, kind, method, total)
    found: dict[str, Carried] = {}
    for branch in network.branches(walk, node, method):
        positive = positive_shares[branch.device]
        returned: Array = zero_shares.get(branch.device, 0.0)
        phase = total * positive if zero is None else total * (2.0 * positive + returned) / 3.0
        found[branch.device] = Carried(phase, to_earth * returned, branch.connected)
    return found


def residual(walk: Walk, point: str, kind: Kind, method: Method, total: Array) -> Array:
    """Current into earth of a fault that draws `total` A in the line that carries most, A."""
    if kind == "line-line-earth":
        earth = faults.earth_current(walk, point, kind, method)
        if total is faults.current(walk, point, kind, method):
            return earth  # the bolted fault itself: a quotient would count a range of it twice
        return total * faults.over_line_current(walk, point, kind, method, earth)
    return total if kind == "line-earth" else total * 0.0


def primary_current(walk: Walk, point: str, kind: Kind, method: Method, secondary: Array) -> Array:
    """Largest MV line current, A, while the transformer's secondary carries a fault current.

    The line that carries most blows its fuse first; on Dyn that alone ends a line-line and a line-earth fault of the
    secondary, since no ampere-turn balance is left for the other lines [D]. In a line-line-earth fault the line
    between the faulted phases carries what it carries in the three-phase fault: E/Z1 does not depend on Z0 [D].
    """
    connection, ratio = walk.inputs.word("transformer.connection"), elements.turns_ratio(walk)
    if kind == "line-line-earth":
        balanced = faults.current(walk, point, "three-phase", method)
        reflected = secondary * faults.over_line_current(walk, point, kind, method, balanced)
        return reflection.largest_primary_line_current("three-phase", connection, reflected, ratio)
    return reflection.largest_primary_line_current(kind, connection, secondary, ratio)


@remembered
def upstream_shares(walk: Walk, method: Method) -> dict[str, tuple[Array, Array]]:
    """Share of the MV current that each supply brings, and when it is connected, by the supply's device key."""
    ways = network.shares_without(walk, SWITCH_BUS, method, "switch")
    return {key.replace("cable", "supply"): found for key, found in ways.items()}
