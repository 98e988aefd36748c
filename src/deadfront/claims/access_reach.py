"""Claims: what hands reach in an unbroken unit. A unit's machine in all its states comes in; AC-01 to AC-05 go out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from deadfront.claims.access_findings import METHOD, Finding, Question, Subject, counted, decided, lacks
from deadfront.claims.model import MissingEntry, Rule, Step
from deadfront.claims.wording import number_of
from deadfront.operation.atoms import AllOf, BladeIn, DeviceIn
from deadfront.operation.building import build
from deadfront.operation.earth_ratings import making_current
from deadfront.operation.examining import devices_that_raise
from deadfront.operation.machine import EARTH, Kind, Machine
from deadfront.operation.plant import View
from deadfront.operation.search import explore
from deadfront.operation.wording import HAZARDS

AC_01 = Question(
    "AC-01",
    "In every reachable state, no door that can be opened has a live part behind it.",
    Rule("No door opens on a live or charged part, and nothing becomes live behind an open one", "IEEE C37.20.3", "M"),
    iec=Rule(
        "No door opens on a live or charged part, and nothing becomes live behind an open one",
        "IEC 62271-200, IEC 62271-202: interlocks",
        "M",
    ),
)
AC_02 = Question(
    "AC-02",
    "The fuse door opens only with the switch open or earthed, and no fuse can be drawn on load or under pressure.",
    Rule("A fuse compartment opens only with the switch open; vent before drawing", "IEEE C37.20.3, C37.74", "M"),
    iec=Rule(
        "A compartment opens only with its parts dead; vent before drawing",
        "IEC 62271-200, IEC 62271-202: interlocks",
        "M",
    ),
)
AC_03 = Question(
    "AC-03",
    "No earth can be applied to a live circuit by a device not made for it, "
    "and nothing can be energised onto an earth.",
    Rule("Test before earthing; earths off before re-energising", "OSHA 1910.269(m)(3), (n)(5) to (n)(9)", "M"),
    iec=Rule("Prove dead before earthing; earths off before re-energising", "EN 50110-1, 6.2", "M"),
)
AC_04 = Question(
    "AC-04",
    "No load is broken or made by a device that cannot do it.",
    Rule("A device that does not break load never makes or drops it", "common practice", "C"),
)
AC_05 = Question(
    "AC-05",
    "No back-feed reaches a place of work, and sources out of step are never joined.",
    Rule("Disconnect from all sources", "OSHA 1910.333(b)(2), as the parallel state text", "V"),
    iec=Rule("Disconnect completely, and secure against re-connection", "EN 50110-1, 6.2", "V2"),
)


def nothing_live_behind_a_door(subject: Subject) -> Finding:
    """AC-01."""
    return _reached(subject, ("EXP_OPEN", "EXP_CLOSE", "EXP_CHARGE"))


def fuses_are_drawn_dead(subject: Subject) -> Finding:
    """AC-02: besides the moves, a state in which the fuse door stands open although the contacts are closed."""
    if not any(device.kind == "fuse" or device.id == "fuse door" for device in subject.machine.devices):
        return Finding("not applicable", "The unit has neither a fuse door nor a fuse that is drawn.")
    behind = _fuse_door_with_switch_closed(subject.bare)
    return _reached(subject, ("LOAD", "FUSE_PRESS"), ["the fuse door opens with the switch closed"] if behind else [])


def earths_and_voltage_never_meet(subject: Subject) -> Finding:
    """AC-03: an earth that is made for it may meet a live circuit; that it can do so is told beside the verdict."""
    sequence = subject.hands.sequences.get("EARTH_LIVE")
    raising = devices_that_raise(subject.bare, "EARTH_LIVE") if sequence else {}
    unfit, missing, steps = [], [], []
    for name, moves in raising.items():
        rated, entry = making_current(subject.project.unit, name)
        peaks = [row.peak for row in subject.at(_earthed_point(subject.machine, name))]
        able = rated is not None and bool(peaks) and bool(rated >= np.max(peaks))
        if rated is not None and not peaks:
            missing.append(MissingEntry("supply", f"fault current where {name} earths", "fault_current: 9.8 kA"))
        elif not able:
            unfit.append(name)
        made = "is not made for it" if rated is None else f"makes {rated / 1000:.1f} kA peak"
        against = f", against {np.max(peaks) / 1000:.1f} kA" if peaks else ""
        steps.append(_sequence(subject, "EARTH_LIVE", moves, f"{name} {made}{against} ({entry})"))
    onto = "LIVE_EARTH" in subject.hands.sequences
    bad = [f"{name} can be put on a live circuit and is not made for it" for name in unfit]
    bad += [_told(subject, "LIVE_EARTH")] if onto else []
    if onto:
        steps.append(_sequence(subject, "LIVE_EARTH", subject.hands.sequences["LIVE_EARTH"], "hands"))
    verdict = decided(bad, missing)
    fit = f" {', '.join(n for n in raising if n not in unfit)} can meet a live circuit, and is made for it."
    reason = {
        "refuted": f"{'; '.join(bad)}.",
        "open": f"{lacks(missing)}.",
        "shown": f"None of {subject.hands.states} states is reached by such a move." + (fit if raising else ""),
    }[verdict]
    details = (
        counted(HAZARDS["EARTH_LIVE"], bool(unfit), f"by {', '.join(unfit)}" if unfit else "never"),
        counted(HAZARDS["LIVE_EARTH"], onto, _way(subject, "LIVE_EARTH")),
    )
    return Finding(
        verdict,
        reason,
        float(len(bad)),
        (_states(subject), *steps),
        details,
        tuple(missing),
        subject.assumptions,
        _number_of_hazards(subject, bad),
    )


def load_is_broken_by_what_can(subject: Subject) -> Finding:
    """AC-04."""
    return _reached(subject, ("LOAD",))


def no_back_feed(subject: Subject) -> Finding:
    """AC-05."""
    return _reached(subject, ("BACKFEED", "PARALLEL"))


def _reached(subject: Subject, kinds: tuple[Kind, ...], besides: list[str] | None = None) -> Finding:
    """Whether hands reach any of some kinds of hazard, each with its shortest sequence."""
    found = [kind for kind in kinds if kind in subject.hands.sequences]
    bad = [_told(subject, kind) for kind in found] + (besides or [])
    reason = "; ".join(bad) if bad else f"None of {subject.hands.states} states is reached by such a move"
    return Finding(
        "refuted" if bad else "shown",
        f"{reason}.",
        float(len(bad)),
        (_states(subject), *(_sequence(subject, k, subject.hands.sequences[k], "hands") for k in found)),
        tuple(counted(HAZARDS[k], k in found, _way(subject, k)) for k in kinds),
        (),
        subject.assumptions,
        _number_of_hazards(subject, bad),
    )


def _number_of_hazards(subject: Subject, bad: Sequence[str]) -> str:
    """How many hazards were found among how many states."""
    return f"{number_of(len(bad), 'hazard', 'hazards')} in {subject.hands.states} states"


def _way(subject: Subject, kind: Kind) -> str:
    """The shortest sequence to a hazard, or that there is none."""
    moves = subject.hands.sequences.get(kind)
    return "never" if moves is None else f"in {number_of(len(moves), 'move', 'moves')}: {subject.words(moves)}"


def _told(subject: Subject, kind: Kind) -> str:
    """A hazard that hands reach, and whether people who obey do not."""
    obedience = "" if kind in subject.rules.sequences else " (only obedience prevents it)"
    return f"{HAZARDS[kind]} in {number_of(subject.hands.length(kind), 'move', 'moves')}{obedience}"


def _states(subject: Subject) -> Step:
    found = subject.hands
    moves = f"{found.transitions} moves, the farthest state {found.depth} moves away"
    return Step("n", "states looked at", "all sequences of hands", moves, str(found.states), METHOD, "D")


def _sequence(subject: Subject, kind: Kind, moves: tuple[str, ...], how: str) -> Step:
    words = subject.words(moves)
    length = number_of(len(moves), "move", "moves")
    return Step("s", HAZARDS[kind], "shortest sequence", words, length, f"{METHOD}; {how}", "D")


def _fuse_door_with_switch_closed(machine: Machine) -> bool:
    """Whether a state is reached in which the fuse door stands open although the switch's contacts are closed."""
    if not {"fuse door", "switch"} <= {device.id for device in machine.devices}:
        return False
    plant = build(machine, "hands")
    view = View(plant, explore(plant).codes)
    both = AllOf((DeviceIn("fuse door", ("open",)), BladeIn("switch", ("closed",))))
    return bool(np.any(view.truth(both)))


def _earthed_point(machine: Machine, device: str) -> str:
    """The point that a device earths; of a switch with several edges to earth, the first."""
    return next(_earthed_points(machine, device), "")


def _earthed_points(machine: Machine, device: str) -> Iterator[str]:
    for _, edges in machine.device(device).edges:
        for edge in edges:
            if EARTH in edge:
                yield next(end for end in edge if end != EARTH)
