"""Project: entries that contradict each other; a tree and its numbers come in, the tree notes each contradiction."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, get_args

from deadfront.project.errors import shortened
from deadfront.project.model import (
    ApproachDistances,
    Fuse,
    FuseClass,
    LowVoltageDevice,
    OtherFeed,
    Place,
    Reclosing,
    Relay,
    Slot,
    Supply,
    Transformer,
    Trip,
    Unit,
    UpstreamProtection,
)
from deadfront.project.naming import named, suggestion
from deadfront.project.quantities import Quantity
from deadfront.project.shape import Path, dotted, walk
from deadfront.project.tree import Tree

Quantities = Mapping[str, Quantity]

EXCLUSIVE: tuple[tuple[type[Slot], str, str], ...] = (
    (Supply, "fault_current", "fault_power"),
    (Supply, "earth_fault_current", "x0_over_x1"),
    (Supply, "earth_fault_current", "neutral_resistance"),
    (Supply, "earth_fault_current", "neutral_reactance"),
    (OtherFeed, "fault_current", "fault_power"),
    (OtherFeed, "earth_fault_current", "x0_over_x1"),
    (Transformer, "load_loss", "x_over_r"),
    (LowVoltageDevice, "trip", "curve"),
    (LowVoltageDevice, "trip", "thermal_magnetic"),
    (LowVoltageDevice, "curve", "thermal_magnetic"),
    (LowVoltageDevice, "trip", "fuse_class"),
    (LowVoltageDevice, "thermal_magnetic", "fuse_class"),
    (UpstreamProtection, "phase", "fuse"),
    (UpstreamProtection, "reclosing", "fuse"),
    (Fuse, "element", "melting_temperature"),
)
"""Pairs of entries that say the same thing twice; each would decide alone, and one would be passed over unseen."""

ASCENDING: tuple[tuple[type[Slot], str, str], ...] = (
    (Supply, "voltage", "highest_voltage"),
    (Fuse, "minimum_interrupting", "interrupting"),
    (Fuse, "melting_energy", "total_energy"),
    (Relay, "pickup", "instantaneous"),
    (ApproachDistances, "inner", "outer"),
    (Trip, "long_time.pickup", "short_time.pickup"),
    (Trip, "long_time.pickup", "instantaneous"),
)
"""Pairs of entries of which the second is never below the first."""

EARTHING_EXCLUDES: dict[str, tuple[str, ...]] = {
    "solid": ("neutral_resistance", "neutral_reactance", "residual_share"),
    "impedance": ("residual_share",),
    "isolated": (
        "neutral_resistance",
        "neutral_reactance",
        "earth_fault_current",
        "x0_over_x1",
        "r0_over_x0",
        "residual_share",
    ),
    "resonant": ("neutral_resistance", "neutral_reactance", "earth_fault_current", "x0_over_x1", "r0_over_x0"),
}
"""Entries of the supply that mean nothing with an earthing: given, they would be passed over unseen."""

FARTHEST_VOLTAGE = 0.15
"""Rated voltages differ from their system's by taps and by habit (600 V on 575 V), never by this much."""

DEFINITE_TIME = "definite time"


def check(tree: Tree, quantities: Quantities) -> None:
    """Note every contradiction of the file."""
    for path, shape, data in list(walk(Unit, tree.data)):
        if shape.slot is None or not isinstance(data, dict):
            continue
        _exclusive(tree, shape.slot, path, data)
        _ascending(tree, shape.slot, path, quantities)
        if issubclass(shape.slot, Relay):
            _relay(tree, path, data)
        elif issubclass(shape.slot, Place):
            _place_of_work(tree, path, data)
        elif issubclass(shape.slot, LowVoltageDevice):
            _fuse_class(tree, path, data, quantities)
            _pickup_within_rating(tree, path, quantities)
        elif issubclass(shape.slot, Supply):
            _earthing(tree, path, data)
        elif issubclass(shape.slot, Transformer):
            _delta_has_no_neutral(tree, path, data)
            _load_loss(tree, path, quantities)
        elif issubclass(shape.slot, Trip):
            _zone(tree, path, data)
        elif issubclass(shape.slot, Reclosing):
            _fast_shots(tree, path, data)
    _arc_detection(tree)
    _restraint(tree)
    _isolation_link(tree)
    _date(tree)
    _voltages(tree, quantities)


def _exclusive(tree: Tree, slot: type[Slot], path: Path, data: dict[str, Any]) -> None:
    for kind, first, second in EXCLUSIVE:
        if issubclass(slot, kind) and data.get(first) is not None and data.get(second) is not None:
            here = max((*path, first), (*path, second), key=lambda entry: _order(tree, entry))
            expected = f"either `{first}` or `{second}`"
            tree.report(here, expected=expected, found="both", remedy="leave one of the two out", at_key=True)


def _order(tree: Tree, path: Path) -> tuple[int, int]:
    key = tree.place(path).key
    return key.line, key.column


def _ascending(tree: Tree, slot: type[Slot], path: Path, quantities: Quantities) -> None:
    for kind, lower, upper in ASCENDING:
        here = (*path, *upper.split("."))
        least, most = quantities.get(dotted((*path, *lower.split(".")))), quantities.get(dotted(here))
        if issubclass(slot, kind) and least is not None and most is not None and most.high < least.low:
            expected = f"no less than `{lower}`, which is {least.text}"
            tree.report(here, expected=expected, found=most.text, remedy="are the two swapped?")


def _relay(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    curve = data.get("curve")
    if not isinstance(curve, str):
        return
    from deadfront.physics.relays import relay_curve_names  # here, so that a file without a relay needs no numpy

    names = relay_curve_names()
    if curve not in names:
        remedy = suggestion(curve, names, "the curves")
        tree.report((*path, "curve"), expected="the name of a time curve", found=named(curve), remedy=remedy)
        return
    idle = "time_dial" if curve == DEFINITE_TIME else "definite_time"
    if data.get(idle) is not None:
        right = "definite_time" if curve == DEFINITE_TIME else "time_dial"
        expected = f"`{right}`, which sets the curve `{curve}`"
        remedy = f"leave `{idle}` out"
        tree.report((*path, idle), expected=expected, found=f"`{idle}`", remedy=remedy, at_key=True)


def _place_of_work(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    feeder = data.get("feeder")
    if feeder is None or isinstance(feeder, dict | list):
        return
    here = (*path, "feeder")
    if data.get("at") not in (None, "feeder end"):
        found = f"`feeder` with `at: {data['at']}`"
        tree.report(here, expected="`at: feeder end`", found=found, remedy="leave `feeder` out", at_key=True)
    else:
        _known_name(tree, here, str(feeder), ("board", "feeders"), "a feeder under `board.feeders`")


def _arc_detection(tree: Tree) -> None:
    path: Path = ("board", "arc_detection", "covers")
    covers = _get(tree.data, path)
    for number, name in enumerate(covers if isinstance(covers, list) else []):
        if isinstance(name, str | int):
            _known_name(tree, (*path, number), str(name), ("operation", "places"), "a place under `operation.places`")


def _isolation_link(tree: Tree) -> None:
    if _get(tree.data, ("fuses", "isolation_link")) == "yes":
        here: Path = ("fuses", "bayonet", "interrupting")
        if _get(tree.data, here) is not None:
            expected = "no interrupting rating with `isolation_link: yes`, which interrupts nothing"
            remedy = "leave `interrupting` out, or say `isolation_link: no`"
            tree.report(here, expected=expected, found="`interrupting`", remedy=remedy, at_key=True)


def _zone(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    if data.get("zone_interlocking") is not None and path != ("board", "main", "trip"):
        expected = "zone interlocking of `board.main.trip` only"
        remedy = "name the feeders under its `restrained_by`"
        here = (*path, "zone_interlocking")
        tree.report(here, expected=expected, found=f"it under `{dotted(path)}`", remedy=remedy, at_key=True)


def _fast_shots(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    """Fast shots have a curve of their own."""
    for entry in ("fast_shots", "fuse_saving"):
        if data.get("fast") is None and data.get(entry) not in (None, "no"):
            remedy = "give `fast`, or leave the entry out"
            here = (*path, entry)
            tree.report(here, expected="`fast`, the curve of those shots", found="none", remedy=remedy, at_key=True)


def _restraint(tree: Tree) -> None:
    path: Path = ("board", "main", "trip", "zone_interlocking", "restrained_by")
    feeders = _get(tree.data, path)
    for number, name in enumerate(feeders if isinstance(feeders, list) else []):
        if isinstance(name, str | int):
            _known_name(tree, (*path, number), str(name), ("board", "feeders"), "a feeder under `board.feeders`")


def _fuse_class(tree: Tree, path: Path, data: dict[str, Any], quantities: Quantities) -> None:
    """A class of fuse belongs to a fuse, and knows only some ratings."""
    kind, name = data.get("kind"), data.get("fuse_class")
    if not isinstance(name, str):
        return
    if kind not in (None, "fuse"):
        expected, found = "either a fuse or no `fuse_class`", f"`kind: {shortened(str(kind))}`"
        tree.report((*path, "fuse_class"), expected=expected, found=found, remedy="leave `fuse_class` out", at_key=True)
        return
    rating = quantities.get(dotted((*path, "rating")))
    if rating is None or name not in get_args(FuseClass):
        return
    from deadfront.physics.trips import gg_gates, let_through_limits  # here, as in `_relay`

    try:
        _ = gg_gates(rating.centre) if name == "gG" else let_through_limits(name, rating.high)
    except ValueError as error:
        expected = f"a rating that class {name} has"
        remedy = str(error).removeprefix("rating: ").split(", got")[0]
        tree.report((*path, "rating"), expected=expected, found=rating.text, remedy=remedy)


def _pickup_within_rating(tree: Tree, path: Path, quantities: Quantities) -> None:
    """A breaker carries its rating without end, and no setting makes it carry more."""
    here = (*path, "trip", "long_time", "pickup")
    pickup, rating = quantities.get(dotted(here)), quantities.get(dotted((*path, "rating")))
    if pickup is not None and rating is not None and pickup.low > rating.high:
        expected = f"no more than the breaker's `rating`, which is {rating.text}"
        remedy = "above its rating a breaker overheats; correct the one that is wrong"
        tree.report(here, expected=expected, found=pickup.text, remedy=remedy)


def _known_name(tree: Tree, here: Path, name: str, where: Path, expected: str) -> None:
    """Whether a name stands among those of another part of the file."""
    table = _get(tree.data, where)
    names = list(table) if isinstance(table, dict) else []
    if name in names:
        return
    tree.report(here, expected=expected, found=named(name), remedy=suggestion(name, names))


def _earthing(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    earthing = data.get("earthing")
    for entry in EARTHING_EXCLUDES.get(earthing, ()) if isinstance(earthing, str) else ():
        if data.get(entry) is not None:
            expected = f"entries that go with `earthing: {earthing}`"
            remedy = "leave the entry out or correct `earthing`"
            tree.report((*path, entry), expected=expected, found=f"`{entry}`", remedy=remedy, at_key=True)


def _delta_has_no_neutral(tree: Tree, path: Path, data: dict[str, Any]) -> None:
    if str(data.get("connection")).startswith("Dd") and data.get("neutral") == "earthed":
        expected = f"`isolated` with `connection: {data['connection']}`, whose secondary has no neutral"
        tree.report((*path, "neutral"), expected=expected, found="`earthed`", remedy="correct the one that is wrong")


def _load_loss(tree: Tree, path: Path, quantities: Quantities) -> None:
    """The load loss is the resistive part of the impedance voltage, and cannot exceed all of it."""
    loss, rating, impedance = (quantities.get(dotted((*path, name))) for name in ("load_loss", "rating", "impedance"))
    if loss is None or rating is None or impedance is None or loss.low <= impedance.high * rating.high:
        return
    most = impedance.high * rating.high / 1e3
    expected = f"at most {most:.4g} kW, the whole `impedance` at `rating`"
    remedy = "give the loss at rated current, without the no-load loss"
    tree.report((*path, "load_loss"), expected=expected, found=loss.text, remedy=remedy)


def _date(tree: Tree) -> None:
    issued = _get(tree.data, ("issued",))
    if isinstance(issued, str) and len(issued) == len("2025-03-31"):
        try:
            date.fromisoformat(issued)
        except ValueError:
            if ("issued",) in tree.places and issued.replace("-", "").isdigit():
                expected = "a day of the calendar as year-month-day"
                tree.report(
                    ("issued",), expected=expected, found=f"`{issued}`", remedy="for example `issued: 2025-03-31`"
                )


def _voltages(tree: Tree, quantities: Quantities) -> None:
    for rated, nominal in (
        ("transformer.primary_voltage", "supply.voltage"),
        ("transformer.secondary_voltage", "board.voltage"),
        ("standby_generator.voltage", "board.voltage"),
    ):
        there, here = quantities.get(nominal), quantities.get(rated)
        if there is None or here is None:
            continue
        if abs(here.centre - there.centre) > FARTHEST_VOLTAGE * there.centre:
            expected = f"within {FARTHEST_VOLTAGE * 100:.0f} % of `{nominal}`, which is {there.text}"
            path = tuple(rated.split("."))
            tree.report(path, expected=expected, found=here.text, remedy="correct the one that is wrong")


def _get(data: Any, path: Path) -> Any:
    for part in path:
        data = data.get(part) if isinstance(data, dict) else None
    return data
