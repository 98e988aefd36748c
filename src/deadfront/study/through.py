"""Study: what each device carries while a fault or an arc burns at a point; a total current comes in, shares go out."""

from __future__ import annotations

from dataclasses import dataclass

from deadfront.physics import reflection
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS, SWITCH_BUS
from deadfront.study import elements, network
from deadfront.study.faults import Kind
from deadfront.study.walk import Method, Walk

@dataclass(frozen=True, slots=True)
class Carried:
    """Current in a device, A: in the phase that carries most, and the residual that an earth-fault element sees."""

    phase: Array
    residual: Array
    connected: Array


def infeeds(walk: Walk, point: str, kind: Kind, method: Method, total: Array) -> dict[str, Carried]:
    """Current of each infeed at a fault of `total` A at a point, by the key of the device at the point.

    At the end of a feeder the infeeds are those of the bus, for they all flow through the feeder. A branch's share of
    the fault is its share of the positive- and of the zero-sequence current; for a fault to earth (2 s1 + s0)/3 of the
    current at the fault, its residual s0 of it. Angles between branches are neglected, which makes each share larger.
    """
    node = LV_BUS if point.startswith("feeder end") else point
    whole = network.thevenin(walk, node, method)
    if whole is None:
        return {}
    earth_fault = kind in ("line-earth", "line-line-earth")
    zero = network.zero_thevenin(walk, node, method) if earth_fault else None
    zero_found = network.zero_branches(walk, node, method) if earth_fault and zero is not None else ()
    zero_shares = {branch.device: network.share(branch, zero) for branch in zero_found}
    found: dict[str, Carried] = {}
    for branch in network.branches(walk, node, method):
        positive = network.share(branch, whole)
        residual_share: Array = zero_shares.get(branch.device, 0.0)
        phase = total * (2.0 * positive + residual_share) / 3.0 if kind == "line-earth" else total * positive
        found[branch.device] = Carried(phase, total * residual_share, branch.connected)
    return found


def primary_current(walk: Walk, kind: Kind, secondary: Array) -> Array:
    """Largest MV line current, A, while the transformer's secondary carries a fault current.

    The line that carries most blows its fuse first; on Dyn that alone ends a line-line and a line-earth fault of the
    secondary, since no ampere-turn balance is left for the other lines [D].
    """
    connection = walk.inputs.word("transformer.connection")
    pattern = "line-line" if kind == "line-line-earth" else kind  # its larger line current, reflected as line-line, bounds it
    return reflection.largest_primary_line_current(pattern, connection, secondary, elements.turns_ratio(walk))


def upstream_shares(walk: Walk, method: Method) -> dict[str, tuple[Array, Array]]:
    """Share of the MV current that each supply brings, and when it is connected, by the supply's device key."""
    found = {}
    bus = [b for b in network.branches(walk, SWITCH_BUS, method) if b.device in ("cable A", "cable B")]
    if not bus:
        return found
    whole = network.combined(tuple(bus))
    for branch in bus:
        found[branch.device.replace("cable", "supply")] = (network.share(branch, whole), branch.connected)
    return found
