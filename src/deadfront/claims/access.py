"""Claims: no sequence of hands reaches a live part. A unit and its faults come in; AC-01 to AC-09 and EN-03 go out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Rule, Step, Verdict
from deadfront.operation.approach import limited_boundary, minimum_approach, restricted_boundary
from deadfront.operation.atoms import AllOf, BladeIn, DeviceIn
from deadfront.operation.building import build as build_plant
from deadfront.operation.errors import BrokenMachine, MachineTooLarge
from deadfront.operation.examining import Examination, examine
from deadfront.operation.failures import Broken, break_all, single_failures
from deadfront.operation.machine import Kind, Machine
from deadfront.operation.plant import View
from deadfront.operation.procedures import procedure
from deadfront.operation.search import explore
from deadfront.operation.station_machine import NothingToExamine, StationMachine, station_machine
from deadfront.operation.tasks import lacking
from deadfront.operation.wording import HAZARDS, failure_words, move_words
from deadfront.operation.working_earths import sizes, withstand_current
from deadfront.project.project import Project
from deadfront.station.station import Station
from deadfront.study.tables import FaultRow

HAZARD = "A sequence of hands reaches a live part"
OVER_ALL = "exact"


@dataclass(frozen=True, slots=True)
class _Reached:
    """A claim that some kinds of hazard are out of reach of hands."""

    id: str
    sentence: str
    kinds: tuple[Kind, ...]
    rule: Rule


REACHED = (
    _Reached(
        "AC-01",
        "In every reachable state, no door that can be opened has a live part behind it.",
        ("EXP_OPEN", "EXP_CLOSE", "EXP_CHARGE"),
        Rule(
            "No door opens on a live or charged part, and nothing becomes live behind an open one", "IEEE C37.20.3", "M"
        ),
    ),
    _Reached(
        "AC-02",
        "The fuse door opens only with the switch open or earthed, and no fuse can be drawn on load or under pressure.",
        ("LOAD", "FUSE_PRESS"),
        Rule("A fuse compartment opens only with the switch open; vent before drawing", "IEEE C37.20.3, C37.74", "M"),
    ),
    _Reached(
        "AC-03",
        "No earth can be applied to a live circuit, and nothing can be energised onto an earth.",
        ("EARTH_LIVE", "LIVE_EARTH"),
        Rule("Test before earthing; earths off before re-energising", "OSHA 1910.269(n)(5) to (n)(9)", "V2"),
    ),
    _Reached(
        "AC-04",
        "No load is broken or made by a device that cannot do it.",
        ("LOAD",),
        Rule("A device that does not break load never makes or drops it", "common practice", "C"),
    ),
    _Reached(
        "AC-05",
        "No back-feed reaches a place of work, and sources out of step are never joined.",
        ("BACKFEED", "PARALLEL"),
        Rule("Disconnect from all sources", "OSHA 1910.333(b)(2), as the parallel state text", "V"),
    ),
)

PROVED = tuple(dict.fromkeys(kind for claim in REACHED for kind in claim.kinds))


def access_claims(project: Project, station: Station, faults: Sequence[FaultRow]) -> tuple[Claim, ...]:
    """AC-01 to AC-09 and EN-03 on a unit; where the file lacks its doors, every one of them says so."""
    try:
        built = station_machine(station)
        subject = _Subject(project, built, faults, examine(built.machine, "hands"), examine(built.machine, "rules"))
    except NothingToExamine as nothing:
        missing = MissingEntry(nothing.path, "the doors of the unit, or a scheme that holds them", nothing.example)
        return tuple(_open(name, sentence, rule, str(nothing), (missing,)).claim() for name, sentence, rule in _names())
    except (BrokenMachine, MachineTooLarge) as error:
        return tuple(_open(name, sentence, rule, str(error), ()).claim() for name, sentence, rule in _names())
    reached = [_reached(subject, one) for one in REACHED]
    return tuple(finding.claim() for finding in [*reached, *(judged(subject) for judged in OTHERS.values())])


@dataclass(frozen=True, slots=True)
class _Subject:
    """What the claims of this hazard are judged on."""

    project: Project
    built: StationMachine
    faults: Sequence[FaultRow]
    hands: Examination
    rules: Examination

    @property
    def machine(self) -> Machine:
        """The unit as a machine."""
        return self.built.machine

    def assumptions(self) -> tuple[Assumption, ...]:
        """What the tool supplied for the machine, with the owner the file names."""
        named = self.project.unit.assumptions or {}
        found = []
        for key, text in sorted(self.built.supplied.items()):
            own = named.get(key)
            confirm = (own.confirm if own else None) or "try it at the unit, in both directions"
            found.append(
                Assumption(key, text, "named scheme or default of the tool", "C", confirm, own.owner if own else None)
            )
        return tuple(found)


@dataclass(frozen=True, slots=True)
class _Finding:
    """What a claim of this hazard found; `value` counts what is wrong, where no detail has a quantity of its own."""

    name: str
    sentence: str
    rule: Rule
    verdict: Verdict
    reason: str
    value: float | None
    steps: Sequence[Step]
    assumptions: tuple[Assumption, ...]
    details: tuple[Detail, ...]
    missing: tuple[MissingEntry, ...] = ()

    def claim(self) -> Claim:
        """The finding in the form of every claim; the detail with the least margin governs."""
        governs = min(self.details, key=lambda detail: detail.margin, default=None)
        if governs is None or governs.unit == "1":
            value, limit, unit = self.value, None if self.value is None else 0.0, "1"
            margin = None if self.value is None else -self.value
        else:
            value, limit, unit, margin = governs.value, governs.limit, governs.unit, governs.margin
        decided = self.verdict in ("shown", "refuted")
        return Claim(
            id=self.name,
            hazard=HAZARD if self.name != "EN-03" else "A gauge that can only be read past a live part",
            sentence=self.sentence,
            verdict=self.verdict,
            reason=self.reason,
            value=value,
            limit=limit,
            unit=unit,
            margin=margin if decided else None,
            bound=margin if decided else None,
            coverage=OVER_ALL,
            worst_case=None,
            rule=self.rule,
            evidence=tuple(self.steps),
            assumptions=self.assumptions,
            missing=self.missing,
            details=self.details,
        )


def _states(subject: _Subject) -> Step:
    found = subject.hands
    return Step(
        "n",
        "states looked at",
        "all sequences of hands",
        f"{found.transitions} moves",
        str(found.states),
        "method",
        "D",
    )


def _sequence(subject: _Subject, kind: Kind, found: Examination) -> Step:
    words = "; ".join(move_words(subject.machine, text) for text in found.sequences[kind])
    length = f"{found.length(kind)} moves"
    return Step("s", HAZARDS[kind], "shortest sequence", words, length, f"method, {found.mode}", "D")


def _reached(subject: _Subject, one: _Reached) -> _Finding:
    found = {kind: subject.hands.length(kind) for kind in one.kinds if kind in subject.hands.sequences}
    behind = _fuse_door_with_switch_closed(subject.machine) if one.id == "AC-02" else None
    wrong = len(found) + (behind is not None)
    if not wrong:
        reason = f"None of {subject.hands.states} states is reached by such a move."
    else:
        kept = [kind for kind in found if kind not in subject.rules.sequences]
        words = [f"{HAZARDS[kind]} in {length} moves" for kind, length in found.items()]
        words += [f"the fuse door opens with the switch {behind}"] if behind is not None else []
        rules = "; only obedience prevents it" if found and len(kept) == len(found) and behind is None else ""
        reason = f"{'; '.join(words)}{rules}."
    steps = [_states(subject), *(_sequence(subject, kind, subject.hands) for kind in found)]
    details = tuple(
        Detail(HAZARDS[k], float(k in found), 0.0, "1", -float(k in found), _words(subject, k)) for k in one.kinds
    )
    return _Finding(
        one.id,
        one.sentence,
        one.rule,
        "refuted" if wrong else "shown",
        reason,
        float(wrong),
        steps,
        subject.assumptions(),
        details,
    )


def _words(subject: _Subject, kind: Kind) -> str:
    sequence = subject.hands.sequences.get(kind, ())
    return "; ".join(move_words(subject.machine, text) for text in sequence)


def _fuse_door_with_switch_closed(machine: Machine) -> str | None:
    """What the switch shows in a state in which the fuse door stands open although its contacts are closed."""
    names = {device.id for device in machine.devices}
    if not {"fuse door", "switch"} <= names:
        return None
    plant = build_plant(machine, "hands")
    view = View(plant, explore(plant).codes)
    both = AllOf((DeviceIn("fuse door", ("open",)), BladeIn("switch", ("closed",))))
    return "closed" if view.truth(both).any() else None


# --- what fails, what is done, what is seen ---

AC_06 = Rule("Each barrier fails in turn", "method", "D")
AC_07 = Rule(
    "Steps in the order the rules give", "NFPA 70E 120.5; OSHA 1910.147, 1910.269(m), (n); EN 50110-1, 6.2", "V2"
)
AC_08 = Rule("See or prove the isolation; earths carry the fault and can be used again", "ASTM F855", "V")
AC_09 = Rule("Boundaries fit into the space of the crew", "NFPA 70E, older edition of the table", "V")
EN_03 = Rule("Gauges are read without opening a live compartment", "IEEE C57.12.34 practice", "M")


def _failures(subject: _Subject) -> _Finding:
    """AC-06: every single failure; those that the rules answer are named, those that they do not refute."""
    hands = break_all(subject.machine, "hands")
    rules = break_all(subject.machine, "rules")
    names = single_failures(subject.machine)
    flips = [name for name in names if _adds(hands, name)]
    bad = [name for name in flips if _adds(rules, name)]
    steps = [
        Step("n", "single failures tried", "each barrier in turn", ", ".join(names), str(len(names)), "method", "D")
    ]
    for name in flips:
        kinds = ", ".join(HAZARDS[kind] for kind in _adds(hands, name))
        answer = "not answered by the rules" if name in bad else "answered by the rules"
        steps.append(Step("f", failure_words(name), "adds in hands", kinds, answer, "method", "D"))
    counts = f"{len(names) - len(flips)} add nothing, the rules answer {len(flips) - len(bad)}, {len(bad)} remain"
    reason = f"{len(names)} failures: {counts}"
    reason += f": {'; '.join(failure_words(name) for name in bad)}." if bad else "."
    details = tuple(
        Detail(failure_words(n), float(n in bad), 0.0, "1", -float(n in bad), ", ".join(_adds(hands, n))) for n in names
    )
    sentence = "Each single failure leaves AC-01 to AC-05 true, or is named here and answered by what people do."
    return _Finding(
        "AC-06",
        sentence,
        AC_06,
        "refuted" if bad else "shown",
        reason,
        float(len(bad)),
        steps,
        subject.assumptions(),
        details,
    )


def _adds(broken: Broken, name: str) -> list[Kind]:
    return [kind for kind in broken.new([name]) if kind in PROVED]


def _procedures(subject: _Subject) -> _Finding:
    """AC-07: a safe way to every task through its hold points; open where a hold point has no means."""
    sentence = "Each task has a procedure whose every step is safe, in the order that rules demand."
    machine = subject.machine
    if not machine.goals:
        return _Finding(
            "AC-07", sentence, AC_07, "not applicable", "The unit has no task of the list.", None, [], (), ()
        )
    ways = {goal.id: procedure(machine, goal) for goal in machine.goals}
    none = [name for name, way in ways.items() if way is None or way.back is None]
    missing = tuple(
        MissingEntry("operation", f"{task}: {hold} needs {what}", "tests: {fuse test: {at: fuse line side}}")
        for task, hold, what in lacking(machine)
    )
    steps = [
        Step(
            "p",
            f"procedure: {name}",
            "shortest safe way through its hold points",
            "; ".join(move_words(machine, s.text) for s in way.steps),
            f"{len(way.steps)} steps",
            "method, rules",
            "D",
        )
        for name, way in ways.items()
        if way is not None
    ]
    verdict: Verdict = "refuted" if none else "open" if missing else "shown"
    reason = {
        "refuted": f"No safe way there and back: {', '.join(none)}.",
        "open": f"{len(missing)} hold points have no means at this unit.",
        "shown": f"All {len(ways)} tasks have a safe way there and back.",
    }[verdict]
    return _Finding(
        "AC-07", sentence, AC_07, verdict, reason, float(len(none)), steps, subject.assumptions(), (), missing
    )


def _isolation(subject: _Subject) -> _Finding:
    """AC-08: every point behind a door is seen isolated or proved dead; every earth of a size carries the fault."""
    sentence = "Isolation is visible or verified at each point of work, and each earth is sized for the fault."
    operation = subject.project.unit.operation
    machine = subject.machine
    tested = {test.at for test in machine.tests}
    unseen = sorted({point for o in machine.openings for point in o.reaches} - tested)
    missing = [
        MissingEntry("operation.tests", f"a place where {p} is proved dead", f"fuse test: {{at: {p}}}") for p in unseen
    ]
    steps, details, bad = [], [], []
    for name, earth in ((operation.earths if operation else None) or {}).items():
        if earth.size is None or earth.at is None:
            missing.append(MissingEntry(f"operation.earths.{name}.size", "size of its copper cable", "4/0"))
            continue
        if earth.size not in sizes():
            missing.append(MissingEntry(f"operation.earths.{name}.size", f"one of {', '.join(sizes())}", "4/0"))
            continue
        carried = _carried(subject, earth.at, earth.size)
        if carried is None:
            missing.append(
                MissingEntry("supply", f"fault current and clearing time at {earth.at}", "fault_current: 9.8 kA")
            )
            continue
        current, duration, withstand = carried
        numbers = f"{current / 1000:.1f} kA for {duration * 1000:.0f} ms"
        steps.append(
            Step(
                "I",
                f"{name}, {earth.size}",
                "withstand at the slowest clearing",
                numbers,
                f"{withstand / 1000:.0f} kA",
                "ASTM F855",
                "V",
            )
        )
        details.append(Detail(name, current, withstand, "A", (withstand - current) / withstand, numbers))
        # NaN: slower than the table reaches; then nothing is shown.
        if not withstand >= current:
            bad.append(name)
    verdict: Verdict = "refuted" if bad else "open" if missing else "shown"
    reason = {
        "refuted": f"Too small for the fault, or slower than the table reaches: {', '.join(bad)}.",
        "open": f"{len(missing)} entries are missing.",
        "shown": "Every point behind a door can be proved dead, and every earth carries its fault.",
    }[verdict]
    return _Finding(
        "AC-08",
        sentence,
        AC_08,
        verdict,
        reason,
        float(len(bad)),
        steps,
        subject.assumptions(),
        tuple(details),
        tuple(missing),
    )


def _carried(subject: _Subject, point: str, size: str) -> tuple[float, float, float] | None:
    """Largest fault current at a point, slowest clearing of any fault there, and what an earth of a size carries."""
    rows = [row for row in subject.faults if row.point.lower() in (point.lower(), f"mv {point}".lower())]
    if not rows:
        return None
    current, duration = max(row.current for row in rows), max(row.clearing_time for row in rows)
    return current, duration, withstand_current(size, duration, max(row.x_over_r for row in rows))


def _space(subject: _Subject) -> _Finding:
    """AC-09: the limited boundary fits into the space in front of each door with a live part behind it in service."""
    sentence = "Limited and restricted approach distances fit inside the space the crew has."
    unit = subject.project.unit
    doors = (unit.operation.doors if unit.operation else None) or {}
    if unit.practice != "north-american":
        reason = "The boundaries of this claim are North American; those of EN 50110-1 are not among the tables."
        return _Finding("AC-09", sentence, AC_09, "open", reason, None, [], (), ())
    missing, steps, details = [], [], []
    for opening in subject.machine.openings:
        door = doors.get(opening.device)
        voltages = [_voltage(subject, point) for point in opening.reaches]
        if door is None or door.space is None:
            missing.append(MissingEntry(f"operation.doors.{opening.device}.space", "space in front of the door", "3 m"))
            continue
        if any(voltage is None for voltage in voltages):
            missing.append(MissingEntry("supply.voltage", "voltages of the unit", "24.94 kV"))
            continue
        voltage = max(v for v in voltages if v is not None)
        limit, near = door.space.low, limited_boundary(voltage)
        altitude = unit.site.altitude.high if unit.site and unit.site.altitude else None
        duty = "" if altitude is None else f"; employer's approach distance {minimum_approach(voltage, altitude):.2f} m"
        numbers = f"limited {near:.2f} m, restricted {restricted_boundary(voltage):.2f} m{duty}"
        steps.append(
            Step(
                "d",
                opening.device,
                "boundary of the band of the voltage",
                numbers,
                f"{limit:.2f} m of space",
                AC_09.source,
                "V",
            )
        )
        details.append(Detail(opening.device, near, limit, "m", (limit - near) / limit, f"{voltage / 1000:.2f} kV"))
    bad = [detail.subject for detail in details if not detail.margin >= 0]
    verdict: Verdict = "refuted" if bad else "open" if missing else "shown" if details else "not applicable"
    reason = {
        "refuted": f"The limited boundary is wider than the space: {', '.join(bad)}.",
        "open": f"{len(missing)} entries are missing.",
        "shown": "The limited boundary fits in front of every door.",
        "not applicable": "No door has a live part behind it.",
    }[verdict]
    value = max((detail.value for detail in details), default=None)
    return _Finding(
        "AC-09", sentence, AC_09, verdict, reason, value, steps, subject.assumptions(), tuple(details), tuple(missing)
    )


def _voltage(subject: _Subject, point: str) -> float | None:
    unit = subject.project.unit
    low = {"LV bus", "transformer secondary terminals", "neighbouring board", "generator terminals"}
    if point in low:
        return unit.board.voltage.high if unit.board and unit.board.voltage else None
    return unit.supply.voltage.high if unit.supply and unit.supply.voltage else None


def _gauges(subject: _Subject) -> _Finding:
    """EN-03: level, pressure and temperature are read from outside, or behind a door with nothing live behind it."""
    sentence = "Liquid level, pressure and temperature can be read without opening a live compartment."
    unit = subject.project.unit
    named = (unit.operation.gauges if unit.operation else None) or {}
    live = {opening.device for opening in subject.machine.openings if opening.reaches}
    known = {device.id for device in subject.machine.devices if device.kind == "door"} | {"outside"}
    wanted = ("liquid level", "pressure", "temperature")
    missing = tuple(
        MissingEntry(f"operation.gauges.{name}", f"where the {name} is read", f"{name}: outside")
        for name in wanted
        if named.get(name) not in known
    )
    bad = [name for name in wanted if named.get(name) in live]
    steps = [
        Step("g", name, "where it is read", where, "live compartment" if where in live else "safe", "project file", "V")
        for name, where in named.items()
    ]
    verdict: Verdict = "refuted" if bad else "open" if missing else "shown"
    reason = {
        "refuted": f"Behind a door with a live part: {', '.join(bad)}.",
        "open": f"{len(missing)} gauges are not placed.",
        "shown": "All three are read from outside or behind a door with nothing live behind it.",
    }[verdict]
    return _Finding("EN-03", sentence, EN_03, verdict, reason, float(len(bad)), steps, (), (), missing)


OTHERS: Mapping[str, Callable[[_Subject], _Finding]] = {
    "AC-06": _failures,
    "AC-07": _procedures,
    "AC-08": _isolation,
    "AC-09": _space,
    "EN-03": _gauges,
}


def _names() -> list[tuple[str, str, Rule]]:
    """Every claim with its sentence and rule, for a unit that cannot be examined."""
    rules = {"AC-06": AC_06, "AC-07": AC_07, "AC-08": AC_08, "AC-09": AC_09, "EN-03": EN_03}
    others = {name: (claim.__doc__ or "").partition(": ")[2].partition("\n")[0] for name, claim in OTHERS.items()}
    return [(one.id, one.sentence, one.rule) for one in REACHED] + [(n, others[n], rules[n]) for n in OTHERS]


def _open(name: str, sentence: str, rule: Rule, reason: str, missing: tuple[MissingEntry, ...]) -> _Finding:
    return _Finding(name, sentence, rule, "open", reason, None, [], (), (), missing)
