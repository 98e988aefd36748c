"""Claims: what people do at the unit, and what they see. A unit's machine comes in; AC-07 to AC-09 and EN-03 go out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from deadfront.claims.access_findings import (
    GAUGES,
    METHOD,
    Finding,
    Question,
    Subject,
    counted,
    decided,
    lacks,
)
from deadfront.claims.model import Assumption, Detail, MissingEntry, Rule, Step
from deadfront.claims.wording import number_of
from deadfront.operation.approach import (
    GUIDANCE,
    Distances,
    minimum_approach,
    own_distances,
    practice_distances,
)
from deadfront.operation.earth_ratings import Missing, backup_clearing, carries, fittings_unknown
from deadfront.operation.machine import EARTH, Opening
from deadfront.operation.procedures import there_and_back
from deadfront.operation.tasks import LOW_VOLTAGE, lacking
from deadfront.operation.wording import HAZARDS
from deadfront.project.model import Unit

AC_07 = Question(
    "AC-07",
    "Each task has a procedure no step of which raises a hazard, in the order that rules demand.",
    Rule("Steps in the order the rules give", "NFPA 70E 120.5; OSHA 1910.147, 1910.269(m), (n)", "V"),
    iec=Rule("Steps in the order the rules give", "EN 50110-1, 6.2", "V2"),
)
AC_08 = Question(
    "AC-08",
    "Isolation is visible or verified at each point of work, and each earth is sized for the fault.",
    Rule(
        "See or prove the isolation; earths carry the fault and can be used again",
        "ASTM F855; OSHA 1910.269(n)(3)",
        "M",
    ),
    iec=Rule("See or prove the isolation; earths carry the fault", "EN 50110-1, 6.2; IEC 61230", "M"),
)
AC_09 = Question(
    "AC-09",
    "The crew can keep its approach distances in the space it has in front of each door.",
    Rule(
        "Where approaching a live part begins lies within the space of the crew",
        "NFPA 70E, older edition; or the site's own rule book",
        "V",
    ),
    iec=Rule(
        "Where approaching a live part begins lies within the space of the crew",
        "EN 50110-1, Table A.1, guidance; or the site's own rule book",
        "V",
    ),
)
EN_03 = Question(
    "EN-03",
    "Liquid level, pressure and temperature can be read without opening a live compartment.",
    Rule("Gauges are read without opening a live compartment", "IEEE C57.12.34 practice", "M"),
    GAUGES,
    Rule("Gauges are read without opening a live compartment", "common practice, no source", "C"),
)

WANTED_GAUGES = ("liquid level", "pressure", "temperature")


_MEANS = {
    "H2": "padlocks: {switch padlock: switch}",
    "H3": "tests: {fuse test: {at: fuse line side}}",
    "H4": "earths: {work earth: {at: fuse line side, size: 4/0}}",
}
"""What gives a unit the means for a hold point, as it may stand in the section."""


def tasks_have_a_way(subject: Subject) -> Finding:
    """AC-07: a safe way to every task through its hold points; open where a hold point has no means."""
    machine = subject.machine
    if not machine.goals:
        return Finding("not applicable", "The unit has no task of the list.")
    ways = {goal.id: there_and_back(machine, goal) for goal in machine.goals}
    none = [name for name, way in ways.items() if way is None or way[1] is None]
    missing = tuple(
        MissingEntry("operation", f"{task}: {hold} needs {what}", _MEANS[hold]) for task, hold, what in lacking(machine)
    )
    found = ((name, *way) for name, way in ways.items() if way is not None)
    steps = tuple(step for name, there, back in found for step in _way_steps(subject, name, there, back))
    locked_in = subject.hands.sequences.get("PERSON")
    verdict = decided([*none, *(["PERSON"] if locked_in else [])], missing)
    bad = [f"no way there and back without a hazard: {', '.join(none)}"] if none else []
    bad += (
        [f"{HAZARDS['PERSON']} in {number_of(len(locked_in), 'move', 'moves')}: {subject.words(locked_in)}"]
        if locked_in
        else []
    )
    told = "; ".join(bad)
    reason = {
        "refuted": f"{told[:1].upper()}{told[1:]}.",
        "open": f"{number_of(len(missing), 'hold point has', 'hold points have')} no means at this unit.",
        "shown": f"{number_of(len(ways), 'task has', 'tasks have')} a way there and back without a hazard.",
    }[verdict]
    words = {True: "no way without a hazard", False: "a way there and back through its hold points"}
    details = tuple(counted(name, name in none, words[name in none]) for name in ways)
    told = f"{len(none)} of {number_of(len(ways), 'task', 'tasks')} without a way"
    told += "; a person can be locked in" if locked_in else ""
    return Finding(verdict, reason, float(len(bad)), steps, details, missing, subject.assumptions, told)


def _way_steps(subject: Subject, name: str, there: tuple[str, ...], back: tuple[str, ...] | None) -> Iterator[Step]:
    how = "shortest way without a hazard through its hold points"
    yield Step("p", name, how, subject.words(there), number_of(len(there), "step", "steps"), f"{METHOD}, rules", "D")
    if back is not None:
        yield Step(
            "p",
            f"{name}, back to service",
            how,
            subject.words(back),
            number_of(len(back), "step", "steps"),
            METHOD,
            "D",
        )


# --- what is seen, proved and earthed ---


def isolation_is_proved(subject: Subject) -> Finding:
    """AC-08: every point behind a door can be proved dead; every earth carries the fault until it is cleared."""
    machine = subject.machine
    tested = {test.at: test.id for test in machine.tests}
    reached = sorted({point for opening in machine.openings for point in opening.reaches})
    missing = [
        MissingEntry("operation.tests", f"a place where {p} is proved dead", f"fuse test: {{at: {p}}}")
        for p in reached
        if p not in tested
    ]
    steps = [
        Step("t", p, "proved dead at", tested[p], "all phases, tester proved before and after", "project file", "V")
        for p in reached
        if p in tested
    ]
    details, bad = [], []
    for name, point in _earths(subject):
        found = _carried(subject, name, point)
        if isinstance(found, MissingEntry):
            missing.append(found)
            continue
        step, detail = found
        steps.append(step)
        details.append(detail)
        if not detail.margin >= 0:
            bad.append(name)
    verdict = decided(bad, missing)
    reason = {
        "refuted": f"Too small for the fault: {', '.join(bad)}.",
        "open": f"{lacks(missing)}.",
        "shown": "Every point behind a door can be proved dead, and every earth carries its fault.",
    }[verdict]
    value = float(len(bad))
    told = f"{number_of(len(reached), 'point', 'points')} behind doors, each proved dead"
    assumed = (*subject.assumptions, *_earths_assumed(subject))
    return Finding(verdict, reason, value, tuple(steps), tuple(details), tuple(missing), assumed, told)


def _earths_assumed(subject: Subject) -> Iterator[Assumption]:
    """What is supposed of earths of which the file is silent: that the first device clears, and whole fittings."""
    unit = subject.project.unit
    found = {}
    for name, _ in _earths(subject):
        backup, path = backup_clearing(unit, name)
        if backup is None:
            text = "a fault at this earth is cleared by the device that acts first; no backup time is given"
            confirm = "clearing time of the backup, from the protection study"
            found[path] = subject.assumed(path, text, "ASTM F855: sized for the backup clearing time", "V", confirm)
        fittings = fittings_unknown(unit, name)
        if fittings:
            text, confirm = "clamps and ferrules are of the grade of the cable", "marks on the clamps and ferrules"
            found[fittings] = subject.assumed(fittings, text, "ASTM F855: the lowest grade governs", "V", confirm)
    yield from found.values()


def _earths(subject: Subject) -> Iterator[tuple[str, str]]:
    """Every device that earths a point, with the point."""
    for device in subject.machine.devices:
        edges = [edge for _, pairs in device.edges for edge in pairs if EARTH in edge]
        for point in dict.fromkeys(end for edge in edges for end in edge if end != EARTH):
            yield device.id, point


def _carried(subject: Subject, name: str, point: str) -> tuple[Step, Detail] | MissingEntry:
    """Largest fault current at a point, slowest clearing or that of the backup, against what the earth carries."""
    rows = subject.at(point)
    if not rows:
        return MissingEntry("supply", f"fault current and clearing time at {point}", "fault_current: 9.8 kA")
    # NaN, where the model of a fault ends, must not be passed over: numpy's maximum keeps it.
    current, duration, ratio = (
        float(np.max(column))
        for column in zip(*((row.current, row.clearing_time, row.x_over_r) for row in rows), strict=True)
    )
    backup, _ = backup_clearing(subject.project.unit, name)
    duration = float(np.maximum(duration, duration if backup is None else backup))
    able = carries(subject.project.unit, name, duration, ratio)
    if isinstance(able, Missing):
        return MissingEntry(able.path, able.what, able.example)
    numbers = f"{current / 1000:.1f} kA for {duration * 1000:.0f} ms" if np.isfinite(duration) else "never cleared"
    # NaN: slower than the table reaches, or a fault outside the model. Then the earth is known to carry nothing.
    carried = 0.0 if np.isnan(able.current) else able.current
    result = f"carries {carried / 1000:.1f} kA"
    how = f"withstand at the slowest clearing{'' if backup is None else ', the backup among them'}"
    step = Step("I", f"{name}, {able.words}", how, numbers, result, able.source, able.tag)
    margin = (carried - current) / carried if carried > 0.0 and not np.isnan(current) else -np.inf
    return step, Detail(name, current, carried, "A", margin, numbers)


# --- space, and what is read ---


def boundaries_fit(subject: Subject) -> Finding:
    """AC-09: approaching begins inside the space in front of each door with a part behind it that is live."""
    missing, steps, details, sources = [], [], [], set()
    ways = (opening for opening in subject.machine.openings if _way_in(subject, opening) is not None)
    for opening in ways:
        found = _fit(subject.project.unit, opening, str(_way_in(subject, opening)))
        if isinstance(found, MissingEntry):
            missing.append(found)
            continue
        distances, own_steps, detail = found
        steps += own_steps
        details.append(detail)
        sources.add(distances.source)
    missing = list(dict.fromkeys(missing))
    bad = [detail.subject for detail in details if not detail.margin >= 0]
    verdict = decided(bad, missing, otherwise="shown" if details else "not applicable")
    reason = {
        "refuted": f"Approaching begins farther out than the space reaches: {', '.join(bad)}.",
        "open": f"{lacks(missing)}.",
        "shown": "The crew can keep its distance in front of every door.",
        "not applicable": "No door has a live part behind it.",
    }[verdict]
    value = max((detail.value for detail in details), default=None)
    assumed = (*subject.assumptions, *([_guidance(subject)] if GUIDANCE in sources else []))
    return Finding(verdict, reason, value, tuple(steps), tuple(details), tuple(missing), assumed)


def _guidance(subject: Subject) -> Assumption:
    """The table of the IEC practice is guidance: somebody has to say that nothing nearer to the site goes before it."""
    text = "approach distances are the guidance of EN 50110-1, Table A.1; the national annex governs"
    confirm = "national annex, and the rule book of the site (`operation.approach` takes its distances)"
    return subject.assumed("operation.approach", text, GUIDANCE, "V", confirm)


def _way_in(subject: Subject, opening: Opening) -> str | None:
    """The door in front of which a crew stands: the opening itself, or that of its room; None behind another door."""
    rooms = (subject.project.unit.operation.rooms if subject.project.unit.operation else None) or {}
    kind = subject.machine.device(opening.device).kind
    if kind == "person":
        return rooms[opening.device.removeprefix("crew in ")].door
    return opening.device if kind == "door" else None


def _fit(unit: Unit, opening: Opening, way_in: str) -> tuple[Distances, list[Step], Detail] | MissingEntry:
    """The distances at the highest voltage behind a door, against the space before it."""
    door = ((unit.operation.doors if unit.operation else None) or {}).get(way_in)
    if door is None or door.space is None:
        return MissingEntry(f"operation.doors.{way_in}.space", "space in front of the door", "3 m")
    low = set(opening.reaches) <= {*LOW_VOLTAGE, "neighbouring board", "generator terminals"}
    board, supply = unit.board, unit.supply
    quantity = (board.voltage if board else None) if low else (supply.voltage if supply else None)
    if quantity is None:
        return MissingEntry("board.voltage" if low else "supply.voltage", "voltage", "480 V" if low else "24.94 kV")
    distances = _distances(unit, quantity.high, low=low)
    if isinstance(distances, MissingEntry):
        return distances
    space = door.space.low
    numbers = f"{distances.words} at {quantity.high / 1000:.4g} kV"
    result = f"{space:.2f} m of space"
    steps = [Step("d", opening.device, "distances at the voltage", numbers, result, distances.source, distances.tag)]
    altitude = unit.site.altitude if unit.site else None
    duty = np.nan if altitude is None else minimum_approach(quantity.high, altitude.high)
    if unit.practice == "north-american" and duty > 0:
        how = "minimum approach distance: the employer's own duty, and no boundary"
        steps.append(Step("MAD", opening.device, how, "", f"{duty:.2f} m", "OSHA 1910.269, 2014", "M"))
    outer = distances.outer
    return distances, steps, Detail(opening.device, outer, space, "m", (space - outer) / space, numbers)


_EXAMPLES = {
    ("north-american", "low_voltage"): "{inner: 300 mm, outer: 1.07 m}",
    ("north-american", "medium_voltage"): "{inner: 790 mm, outer: 1.83 m}",
    ("iec", "low_voltage"): "{inner: 50 mm, outer: 300 mm}",
    ("iec", "medium_voltage"): "{inner: 220 mm, outer: 1.22 m}",
}
"""Distances of a site's rule book as a file may give them, by practice and side."""


def _distances(unit: Unit, voltage: float, *, low: bool) -> Distances | MissingEntry:
    """Where approaching begins: the site's rule book, or the table of the practice."""
    approach = unit.operation.approach if unit.operation else None
    side = "low_voltage" if low else "medium_voltage"
    given = getattr(approach, side) if approach is not None else None
    example = _EXAMPLES[unit.practice, side]
    if approach is not None and given is not None:
        own = own_distances(approach, low=low)
        if own is None:
            return MissingEntry(f"operation.approach.{side}", "both the inner and the outer distance", example)
        if approach.source is None:
            return MissingEntry("operation.approach.source", "rule book, edition and table", "EN 50110-1, annex A")
        return replace(own, source=f"project file: {own.source}")
    found = practice_distances(unit.practice, voltage)
    if found is None:
        what = f"distances of the site's rule book: the table has no row for {voltage / 1000:.4g} kV"
        return MissingEntry(f"operation.approach.{side}", what, example)
    return found


def gauges_are_read_outside(subject: Subject) -> Finding:
    """EN-03: level, pressure and temperature are read from outside, or behind a door with nothing live behind it."""
    operation = subject.project.unit.operation
    named = (operation.gauges if operation else None) or {}
    live = {opening.device for opening in subject.machine.openings if opening.reaches}
    known = {device.id for device in subject.machine.devices if device.kind == "door"} | {"outside"}
    missing = tuple(
        MissingEntry(f"operation.gauges.{name}", f"where the {name} is read", f"{name}: outside")
        for name in WANTED_GAUGES
        if named.get(name) not in known
    )
    bad = [name for name in WANTED_GAUGES if named.get(name) in live]
    steps = tuple(
        Step(
            "g",
            name,
            "where it is read",
            where,
            "live compartment" if where in live else "nothing live there",
            "project file",
            "V",
        )
        for name, where in named.items()
    )
    verdict = decided(bad, missing)
    reason = {
        "refuted": f"Behind a door with a live part: {', '.join(bad)}.",
        "open": f"{number_of(len(missing), 'gauge is', 'gauges are')} not placed.",
        "shown": "All three are read from outside or behind a door with nothing live behind it.",
    }[verdict]
    details = tuple(counted(name, name in bad, named.get(name, "not placed")) for name in WANTED_GAUGES)
    told = f"{len(bad)} of {number_of(len(WANTED_GAUGES), 'gauge', 'gauges')} behind a live part"
    return Finding(verdict, reason, float(len(bad)), steps, details, missing, (), told)
