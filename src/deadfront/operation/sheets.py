"""Operation: a procedure as the crew has it in hand. A machine and a procedure in, the lines of a sheet out."""

from __future__ import annotations

from dataclasses import dataclass

from deadfront.operation.building import SOUND, build
from deadfront.operation.machine import Device, Machine
from deadfront.operation.procedures import Procedure, Step
from deadfront.operation.tasks import lacking
from deadfront.operation.telling import Situation, outset, situation
from deadfront.operation.wording import HAZARDS, move_words

CAUTION = (
    "This sheet supports and does not replace the judgement of the person in charge. Confirm the initial state before "
    "step 1. De-energised work is the rule; treat all as live until it is proved dead."
)

IF_NOT = (
    "Stop. Do not repeat the operation. Go back to the last step that verified. Call the person in charge. "
    "Treat all as live."
)


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One line of a sheet; names to be signed are left to the crew."""

    number: int
    device: str
    action: str
    origin: str
    target: str
    standing: str
    """From where: which doors are open and which are shut while it is done."""
    why: str
    """What the step makes dead, earthed or live."""
    verified_by: str
    """How it is verified, before the next step is begun."""
    hold_points: tuple[str, ...]
    keys_before: tuple[str, ...]
    keys_after: tuple[str, ...]
    """Keys in hand."""
    expected: str
    """What is live, earthed and proved dead after it."""
    if_not: str
    to_break_off: tuple[str, ...] | None
    """Steps to a safe state from here; None where there is no safe way."""
    beware: tuple[str, ...]
    """Where the way becomes dangerous, or nobody notices, if the step is left out or its device does not follow."""
    noticed: tuple[str, ...]
    """Which later step cannot be done any more in these cases, so that it is noticed there."""
    never: tuple[str, ...]
    """Moves that hardware allows from here on, not before, and that raise a hazard."""
    near: tuple[str, ...]
    """Points at the device that are live before or after the step, or whose deadness it has yet to prove."""
    own_lock: bool
    """Whether the step puts on or takes off a lock with a tag."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One task: its header and its lines, there and back."""

    task: str
    initial: tuple[str, ...]
    """The state to be confirmed before step 1."""
    final: tuple[str, ...]
    """What stands otherwise after the last step, and what is live, earthed and proved dead then."""
    never: tuple[str, ...]
    """Moves that hardware allows before step 1, and that raise a hazard."""
    unmet: tuple[str, ...]
    """Hold points that the unit has no means for: somebody has to see to them."""
    distances: str
    """Boundaries and approach distances that hold while it is done."""
    steps: tuple[SheetStep, ...]
    back: tuple[SheetStep, ...] | None
    caution: str


def sheet(machine: Machine, done: Procedure, distances: str) -> Sheet:
    """Return the sheet of a procedure of the machine; `distances` is what its header says about them."""
    plant = build(machine, "rules", SOUND)
    start = situation(plant, outset(plant))
    initial = _standing_all(machine, start)
    steps = _steps(machine, done, done.steps, start, with_exits=True)
    there = done.steps[-1].after if done.steps else start
    back = None if done.back is None else _steps(machine, done, done.back, there, with_exits=False)
    unmet = tuple(f"{hold}: {means}" for task, hold, means in lacking(machine) if task == done.goal)
    final = tuple(words for words in _standing_all(machine, there) if words not in initial)
    return Sheet(
        task=done.goal,
        initial=initial,
        final=(*final, _expected(there)),
        never=_never(machine, done, 0),
        unmet=unmet,
        distances=distances,
        steps=steps,
        back=back,
        caution=CAUTION,
    )


def _standing_all(machine: Machine, told: Situation) -> tuple[str, ...]:
    """Every device and every key with where it is."""
    devices = tuple(f"{d.name}: {told.positions[d.id]}" for d in machine.devices if d.moves)
    return devices + tuple(f"key {name}: {place}" for name, place in told.keys.items())


def _steps(
    machine: Machine, done: Procedure, steps: tuple[Step, ...], before: Situation, *, with_exits: bool
) -> tuple[SheetStep, ...]:
    lines = []
    for number, step in enumerate(steps, start=1):
        subject, origin, target = _parts(step.text)
        device = next((d for d in machine.devices if d.id == subject), None)
        lines.append(
            SheetStep(
                number=number,
                device=subject if device is None else device.name,
                action=move_words(machine, step.text),
                origin=origin,
                target=target,
                standing=_standing(machine, before),
                why=_why(before, step.after),
                verified_by=_verified(device, step.text, target),
                hold_points=step.passes,
                keys_before=before.in_hand,
                keys_after=step.after.in_hand,
                expected=_expected(step.after),
                if_not=IF_NOT,
                to_break_off=_exit(machine, done, number) if with_exits else None,
                beware=_beware(done, number) if with_exits else (),
                noticed=_noticed(done, number) if with_exits else (),
                never=_never(machine, done, number) if with_exits else (),
                near=_near(machine, step.text, before, step.after),
                own_lock=device is not None and device.kind == "bolt",
            )
        )
        before = step.after
    return tuple(lines)


def _parts(text: str) -> tuple[str, str, str]:
    if text.startswith(("test ", "wait ")):
        return text[5:], "", ""
    subject, positions = text.rsplit(": ", 1)
    origin, target = positions.split("->")
    return subject, origin, target


def _standing(machine: Machine, before: Situation) -> str:
    doors = [device for device in machine.devices if device.kind == "door"]
    if not doors:
        return "no door"
    return "; ".join(f"{door.name} {before.positions[door.id]}" for door in doors)


def _why(before: Situation, after: Situation) -> str:
    changes = [
        ("makes dead", [p for p in before.live if p not in after.live and p not in after.earthed]),
        ("earths", [p for p in after.earthed if p not in before.earthed]),
        ("takes the earth off", [p for p in before.earthed if p not in after.earthed]),
        ("makes live", [p for p in after.live if p not in before.live]),
        ("proves dead", [p for p in after.proved if p not in before.proved]),
        ("discharges", [s for s in before.charged if s not in after.charged]),
        ("gives access through", [d for d in after.open if d not in before.open]),
        ("shuts", [d for d in before.open if d not in after.open]),
    ]
    return (
        "; ".join(f"{words} {', '.join(names)}" for words, names in changes if names) or "lets the next steps be done"
    )


_SEEN = {
    "switch": "contacts seen through the window on all three phases, where it has one; position shown: {}",
    "breaker": "position shown: {}; the tester proves it, the indicator alone does not",
    "fuse": "fuse holder {}, seen",
    "earth": "clamps seen on all three phases: {}",
    "door": "door {}, seen",
    "bolt": "padlock or bolt {}, tried by hand; own tag on it",
    "vent": "vent {}, no more gas heard",
    "source": "source {}, instrument read",
    "connector": "connector {}, all three phases",
    "person": "person {}, counted",
}


def _verified(device: Device | None, text: str, target: str) -> str:
    if text.startswith("test "):
        return "tester on a live source, then all three phases, then on the live source again"
    if text.startswith("wait "):
        return "waiting time over, then short-circuited and measured"
    if device is None:
        return "key in hand" if target == "hand" else "key turned, device free or locked as it should be"
    return _SEEN.get(device.kind, "position shown: {}").format(target)


def _expected(after: Situation) -> str:
    words = [
        ("live", after.live),
        ("earthed", after.earthed),
        ("proved dead", after.proved),
        ("charged", after.charged),
    ]
    return "; ".join(f"{name}: {', '.join(points)}" for name, points in words if points) or "all dead, nothing earthed"


def _exit(machine: Machine, done: Procedure, number: int) -> tuple[str, ...] | None:
    found = done.aborts[number]
    return None if found is None else tuple(move_words(machine, text) for text in found)


def _beware(done: Procedure, number: int) -> tuple[str, ...]:
    found = []
    for deviation in done.deviations:
        if deviation.step != number or deviation.mode != "rules" or number == len(done.steps):
            continue
        if deviation.outcome == "hazard":
            kinds = ", ".join(HAZARDS[kind] for kind in deviation.kinds)
            found.append(f"if it {_how(deviation.how)}, step {deviation.at} is dangerous: {kinds}")
        elif deviation.outcome == "unnoticed":
            found.append(f"if it {_how(deviation.how)}, no later step notices: verify it here")
    return tuple(found)


def _noticed(done: Procedure, number: int) -> tuple[str, ...]:
    found = [d for d in done.deviations if d.step == number and d.mode == "rules" and d.outcome == "refused"]
    return tuple(f"if it {_how(deviation.how)}, step {deviation.at} cannot be done" for deviation in found)


def _never(machine: Machine, done: Procedure, number: int) -> tuple[str, ...]:
    """Mistakes that are possible after a step and were not after the one before."""
    before = {mistake.move for mistake in done.mistakes if mistake.after == number - 1}
    return tuple(
        f"{move_words(machine, mistake.move)} ({', '.join(HAZARDS[kind] for kind in mistake.kinds)})"
        for mistake in done.mistakes
        if mistake.after == number and mistake.move not in before
    )


def _near(machine: Machine, text: str, before: Situation, after: Situation) -> tuple[str, ...]:
    """Points that the moved device joins, lets a hand reach or tests, and that are live, or that it tests."""
    if text.startswith("test "):
        return tuple(test.at for test in machine.tests if test.id == text.removeprefix("test "))
    name = text.partition(":")[0]
    touched = {p for o in machine.openings if o.device == name for p in o.reaches}
    touched |= {p for d in machine.devices if d.id == name for _, pairs in d.edges for edge in pairs for p in edge}
    return tuple(point for point in machine.points if point in touched and point in before.live + after.live)


def _how(how: str) -> str:
    return "is left out" if how == "left out" else "does not follow its handle"


def sheet_text(made: Sheet) -> str:
    """Return a sheet as plain text, with a box to tick and two names to sign for every step."""
    lines = [made.task, made.caution, made.distances, "weather and light: ____________", "", "confirm before step 1:"]
    lines += [f"  [ ] {state}" for state in made.initial]
    lines += [f"  no means in the unit for {words}; seen to by ____________" for words in made.unmet]
    lines += [f"  never: {words}" for words in made.never]
    lines += ["", *_lines(made.steps), "", "end state:", *(f"  {words}" for words in made.final)]
    lines += ["", "back to service:" if made.back is not None else "no safe way leads back to service"]
    lines += _lines(made.back or ())
    return "\n".join(lines) + "\n"


def _lines(steps: tuple[SheetStep, ...]) -> list[str]:
    lines = []
    for step in steps:
        holds = f"   hold point {', '.join(step.hold_points)} passed" if step.hold_points else ""
        lines.append(f"[ ] {step.number:2d}  {step.action}{holds}")
        lines.append(f"        from {step.origin} to {step.target}" if step.origin else "        no handle moves")
        lines.append(f"        standing: {step.standing}")
        lines.append(f"        why: {step.why}")
        lines.append(f"        verified: {step.verified_by}")
        before, after = ", ".join(step.keys_before) or "none", ", ".join(step.keys_after) or "none"
        lines.append(f"        keys in hand: {before}; after: {after}")
        lines.append(f"        after it: {step.expected}")
        lines.append(f"        if it does not verify: {step.if_not}")
        if step.to_break_off is not None:
            lines.append(f"        to break off: {'; '.join(step.to_break_off) or 'stay, all is shut'}")
        lines += [f"        beware: {words}" for words in (*step.beware, *step.noticed)]
        lines += [f"        never here: {words}" for words in step.never]
        if step.near:
            lines.append(f"        live, or not yet proved dead, at it: {', '.join(step.near)}")
        lines.append("        done by ____________  verified by ____________  lock and tag ______")
    return lines
