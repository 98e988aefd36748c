"""Claims: what plates, signs and the fuse drawer promise. A unit and its machine come in; OC-10 and DO-01 go out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from deadfront.claims.access_findings import Finding, Question, claimed, counted, decided
from deadfront.claims.documents import HAZARD as PROMISE
from deadfront.claims.model import Claim, MissingEntry, Rule, Step
from deadfront.claims.wording import number_of
from deadfront.operation.schemes import FUSE_DOOR
from deadfront.project.model import Door, Unit
from deadfront.project.project import Project

OC_10 = Question(
    "OC-10",
    "A blown limiter is never simply replaced: the dossier says what it means and which tests come first.",
    Rule("A blown limiter means a failed transformer until tests say otherwise", "common practice, no source", "C"),
    "A fuse that is replaced although the transformer has failed",
)
DO_01 = Question(
    "DO-01",
    "Nameplate and marking data are complete.",
    Rule("Plates and signs say what stands there", "NFPA 70 110.34(C), 450.11; OSHA 1910.303, .305(c)", "M"),
    PROMISE,
    Rule("Plates and signs say what stands there", "IEC 60076-1, clause 8; IEC 62271-202", "M"),
)

FIRST_TESTS = ("insulation resistance", "turns ratio", "winding resistance", "dissolved gas")
"""Tests that find a failed winding or an arc in the liquid [C]."""

PLATE = (
    ("supply.voltage", "system voltage", "24.94 kV"),
    ("frequency", "frequency", "60 Hz"),
    ("switch.voltage", "rated voltage of the switch", "27 kV"),
    ("switch.continuous", "rated current of the switch", "200 A"),
    ("switch.short_time.current", "short-time current of the switch", "12.5 kA"),
    ("switch.short_time.duration", "short-time duration of the switch", "1 s"),
    ("transformer.rating", "rating of the transformer", "1500 kVA"),
    ("transformer.primary_voltage", "primary voltage", "24.94 kV"),
    ("transformer.secondary_voltage", "secondary voltage", "480 V"),
    ("transformer.connection", "connection and vector group", "Dyn1"),
    ("transformer.impedance", "impedance", "5.75 %"),
    ("transformer.liquid", "kind of liquid", "natural ester"),
    ("transformer.volume", "amount of liquid", "1450 L"),
    ("board.voltage", "voltage of the board", "480 V"),
    ("board.main.rating", "rated current of the board", "1600 A"),
    ("board.main.interrupting", "interrupting rating of the main", "50 kA"),
    ("issued", "date that stands beside the fault current", "2026-11-25"),
)
"""What the plates of the unit must show and the file can say: path, what it is, an example (NFPA 70 450.11 and
110.24, IEC 60076-1 clause 8, IEC 62271-202: lists from memory). Serial number, masses and year are the maker's."""

MEDIUM_VOLTAGE = 1000.0
"""Above it the fixed words of a door sign are asked for, V (NFPA 70 110.34(C), since 2017)."""


def a_blown_limiter_is_tested_first(project: Project) -> Claim:
    """OC-10: the file names the tests that come first and who decides on them."""
    unit = project.unit
    if unit.fuses is None or unit.fuses.limiter is None:
        reason = "The file has no current-limiting fuse."
        return claimed(OC_10, Finding("not applicable", reason))
    after = unit.operation.after_limiter if unit.operation else None
    tests, who = (after.tests, after.decided_by) if after is not None else (None, None)
    missing = []
    if tests is None:
        example = f"[{', '.join(FIRST_TESTS)}]"
        missing.append(MissingEntry("operation.after_limiter.tests", "tests before a limiter is replaced", example))
    if who is None:
        what = "who decides on their results"
        missing.append(MissingEntry("operation.after_limiter.decided_by", what, "transformer specialist"))
    left_out = [test for test in FIRST_TESTS if tests is not None and test not in tests]
    verdict = decided(left_out, missing)
    reason = {
        "refuted": f"Not among the tests that come first: {', '.join(left_out)}.",
        "open": f"What comes before a limiter is replaced is not said: {', '.join(m.path for m in missing)}.",
        "shown": f"A limiter that has operated stays out until {who} has seen the results.",
    }[verdict]
    steps = [
        Step(
            "!",
            "a limiter that has operated",
            "what it means",
            "a fault between it and the windings, or in them; the link before it clears what lies behind the windings",
            "the transformer counts as failed",
            OC_10.rule.source,
            "C",
        )
    ]
    steps += [
        Step("T", test, "comes first", who or "", "before a new limiter", "project file", "C") for test in tests or ()
    ]
    details = tuple(
        counted(test, test in left_out, "left out" if test in left_out else "before a new limiter")
        for test in FIRST_TESTS
    )
    told, value = f"{len(left_out)} of {len(FIRST_TESTS)} tests left out", float(len(left_out))
    return claimed(OC_10, Finding(verdict, reason, value, tuple(steps), details, tuple(missing), (), told))


def plates_and_signs_are_complete(project: Project) -> Claim:
    """DO-01: what the plates show is in the file, and each door with a live part behind it has its signs."""
    unit = project.unit
    absent = [MissingEntry(path, what, example) for path, what, example in PLATE if _at(unit, path) is None]
    steps = [
        Step("P", what, "on the plate", path, str(_at(unit, path)), "project file", "V")
        for path, what, _ in PLATE
        if _at(unit, path) is not None
    ]
    details, bad = [], []
    absent += _doors_not_said(unit)
    for name, door in _doors(unit).items():
        wanted = tuple(_signs(unit, door))
        if wanted and door.signs is None:
            absent.append(MissingEntry(f"operation.doors.{name}.signs", "signs on the door", f"[{', '.join(wanted)}]"))
            continue
        lacks = [sign for sign in wanted if sign not in (door.signs or ())]
        bad += [f"{sign} on {name}" for sign in lacks]
        words = ", ".join(door.signs or ()) or "none"
        steps.append(Step("S", f"signs on {name}", "wanted", ", ".join(wanted), words, DO_01.rule.source, "V2"))
        details.append(counted(name, bool(lacks), f"has {words}"))
    verdict = decided(bad, absent)
    reason = {
        "refuted": f"A sign is not there: {', '.join(bad)}.",
        "open": f"Not in the file: {', '.join(entry.path for entry in absent)}.",
        "shown": f"All {len(PLATE)} entries of the plates are given, and every door has its signs.",
    }[verdict]
    told = f"{number_of(len(bad), 'sign', 'signs')} missing on {number_of(len(_doors(unit)), 'door', 'doors')}"
    finding = Finding(verdict, reason, float(len(bad)), tuple(steps), tuple(details), tuple(absent), (), told)
    return claimed(DO_01.of(project), finding)


def _doors(unit: Unit) -> Mapping[str, Door]:
    return (unit.operation.doors if unit.operation else None) or {}


def _doors_not_said(unit: Unit) -> list[MissingEntry]:
    """Doors of which the file says nothing: all of them, or the fuse door that a scheme brings with it."""
    schemes = set((unit.operation.schemes if unit.operation else None) or ())
    if schemes - {"source keys"} and FUSE_DOOR not in _doors(unit):
        example = "{reaches: [fuse line side], signs: [high voltage]}"
        return [MissingEntry(f"operation.doors.{FUSE_DOOR}.signs", "signs on the door", example)]
    if not _doors(unit):
        example = "{fuse door: {reaches: [fuse line side], signs: [high voltage]}}"
        return [MissingEntry("operation.doors", "the doors of the unit with their signs", example)]
    return []


def _signs(unit: Unit, door: Door) -> Iterator[str]:
    """Signs that what lies behind a door asks for."""
    medium = {"switch bus", "fuse line side", "transformer primary terminals", "cable A", "cable B"}
    if not door.reaches:
        return
    voltage = unit.supply.voltage if unit.supply else None
    if medium & set(door.reaches) and voltage is not None and voltage.high > MEDIUM_VOLTAGE:
        yield "high voltage"
    tie = unit.board.tie if unit.board else None
    if unit.standby_generator is not None or unit.other_feed is not None or tie is not None:
        yield "back-feed"


def _at(unit: Unit, path: str) -> object | None:
    """What stands in the file at a path; None where it, or a slot around it, is not there."""
    here: object | None = unit
    for part in path.split("."):
        here = getattr(here, part, None) if here is not None else None
    return getattr(here, "text", here)
