"""Operation: a procedure as the crew has it in hand. A machine and a procedure in, the lines of a sheet out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from deadfront.operation.atoms import BladeIn, simple_parts
from deadfront.operation.building import SOUND, build
from deadfront.operation.handling import Stand, stand
from deadfront.operation.machine import EARTH, Device, Machine
from deadfront.operation.point_marks import PointMark, in_line, marks
from deadfront.operation.procedures import Deviation, Procedure, Step
from deadfront.operation.reasons import changes, purposes
from deadfront.operation.tasks import lacking, prompts
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

STAY = "stay, all is shut"
"""How to break off where nothing stands open."""

NO_EXIT = "no way back without danger: stay, call the person in charge"

SHUT = "all doors shut"


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One line of a sheet; names to be signed are left to the crew."""

    number: int
    device: str
    action: str
    place: str
    """Where the tester is put to; empty where something is moved."""
    origin: str
    target: str
    doors: str
    """Which doors stand open while it is done."""
    stand: tuple[str, ...]
    """From where, with which hot stick, in which position of the body, as far as that is given."""
    blank: str
    """What a hand has to fill in of that; empty where all is given."""
    changes: tuple[str, ...]
    """What the step makes dead, earthed, live, proved: the marks show it."""
    purposes: tuple[str, ...]
    """What it holds, frees, parts or joins beside that, the weightiest first."""
    looks: tuple[str, ...]
    """Devices whose contacts are seen apart before it is done."""
    verified_by: str
    """How it is verified, before the next step is begun."""
    hold_points: tuple[str, ...]
    keys_before: tuple[str, ...]
    keys_after: tuple[str, ...]
    """Keys in hand."""
    marks: tuple[PointMark, ...]
    """What each point of the sheet is after it."""
    expected: str
    """The same in words: what is live, earthed and proved dead."""
    to_break_off: str
    """How to come to a state with all shut from here."""
    beware: tuple[str, ...]
    """Where the way becomes dangerous, or nobody notices, if the step is skipped or its device does not follow."""
    noticed: tuple[str, ...]
    """Which later step cannot be done any more in these cases, so that it is noticed there."""
    never: tuple[str, ...]
    """Moves that hardware allows from here on, not before, and that raise a hazard."""
    near: tuple[str, ...]
    """Points at the device that are live before or after the step, or whose deadness it has yet to prove."""
    own_lock: bool
    """Whether the step puts on a lock with a tag, whose numbers are to be written down."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One task: its header and its lines, there and back."""

    task: str
    initial: tuple[str, ...]
    """The state to be confirmed before step 1."""
    points: tuple[str, ...]
    """The points of the marks, in the order of the single line."""
    outset: tuple[PointMark, ...]
    """Their marks before step 1."""
    keys: tuple[str, ...]
    """The keys that the machine has, and those of them in hand before step 1."""
    in_hand: tuple[str, ...]
    final: tuple[str, ...]
    """What stands otherwise after the last step, and what is live, earthed and proved dead then."""
    never: tuple[str, ...]
    """Moves that hardware allows before step 1, and that raise a hazard."""
    unmet: tuple[str, ...]
    """Hold points that the unit has no means for: somebody has to see to them."""
    prompts: tuple[tuple[str, str], ...]
    """Hold points that people see to and no device of the unit can: which, and what."""
    distances: str
    """Boundaries and approach distances that hold while it is done."""
    touched: tuple[str, ...]
    """Points at the devices and behind the doors that the task moves."""
    steps: tuple[SheetStep, ...]
    back: tuple[SheetStep, ...] | None

    @property
    def blanks(self) -> tuple[str, ...]:
        """What is to be filled in by hand because the file does not say it, device by device."""
        steps = (*self.steps, *(self.back or ()))
        return tuple(dict.fromkeys(step.blank for step in steps if step.blank))


def sheet(machine: Machine, done: Procedure, distances: str, given: Mapping[str, Stand] | None = None) -> Sheet:
    """Return the sheet of a procedure of the machine.

    distances  what its header says about boundaries
    given      where and how each device is moved, by name; what is not given stays blank
    """
    plant = build(machine, "rules", SOUND)
    start = situation(plant, outset(plant))
    initial = _standing_all(machine, start)
    writer = _Writer(machine, done, given or {}, in_line(machine))
    there = done.steps[-1].after if done.steps else start
    unmet = tuple(f"{hold}: {means}" for task, hold, means in lacking(machine) if task == done.goal)
    final = tuple(words for words in _standing_all(machine, there) if words not in initial)
    moves = [step.text for step in (*done.steps, *(done.back or ()))]
    return Sheet(
        task=done.goal,
        initial=initial,
        points=writer.points,
        outset=marks(machine, writer.points, start, start),
        keys=tuple(start.keys),
        in_hand=start.in_hand,
        final=(*final, _expected(there)),
        never=_never(machine, done, 0),
        unmet=unmet,
        prompts=prompts(machine, done.goal),
        distances=distances,
        touched=tuple(p for p in writer.points if any(p in _touched(machine, text) for text in moves)),
        steps=writer.steps(done.steps, start, outward=True),
        back=None if done.back is None else writer.steps(done.back, there, outward=False),
    )


def _standing_all(machine: Machine, told: Situation) -> tuple[str, ...]:
    """Every device and every key with where it is."""
    devices = tuple(f"{d.name}: {told.positions[d.id]}" for d in machine.devices if d.moves)
    return devices + tuple(f"key {name}: {place}" for name, place in told.keys.items())


@dataclass(frozen=True, slots=True)
class _Writer:
    """Writes the lines of a procedure."""

    machine: Machine
    done: Procedure
    given: Mapping[str, Stand]
    points: tuple[str, ...]

    def steps(self, steps: tuple[Step, ...], before: Situation, *, outward: bool) -> tuple[SheetStep, ...]:
        lines = []
        for number, step in enumerate(steps, start=1):
            rest = [later.text for later in steps[number:]]
            lines.append(self.line(number, step, before, rest, outward=outward))
            before = step.after
        return tuple(lines)

    def line(self, number: int, step: Step, before: Situation, rest: list[str], *, outward: bool) -> SheetStep:
        machine, done = self.machine, self.done
        subject, origin, target = _parts(step.text)
        device = next((d for d in machine.devices if d.id == subject), None)
        kind = "test" if step.text.startswith("test ") else device.kind if device else "key"
        name, given = stand(machine, step.text, self.given)
        return SheetStep(
            number=number,
            device=subject if device is None else device.name,
            action=action_words(machine, step.text),
            place=subject if kind == "test" else "",
            origin=origin,
            target=target,
            doors=_doors(machine, before),
            stand=given.words,
            blank=_blank(name, given.missing(kind)),
            changes=changes(before, step.after),
            purposes=self.purposes(number, step, before, rest, outward=outward),
            looks=_looks(machine, device, target),
            verified_by=_verified(machine, device, step.text, target),
            hold_points=step.passes,
            keys_before=before.in_hand,
            keys_after=step.after.in_hand,
            marks=marks(machine, self.points, before, step.after),
            expected=_expected(step.after),
            to_break_off=_exit(machine, done, number) if outward else "",
            beware=_beware(done, number) if outward else (),
            noticed=_noticed(done, number) if outward else (),
            never=_never(machine, done, number) if outward else (),
            near=_near(machine, step.text, before, step.after),
            own_lock=device is not None and device.kind == "bolt" and target == "on",
        )

    def purposes(
        self, number: int, step: Step, before: Situation, rest: list[str], *, outward: bool
    ) -> tuple[str, ...]:
        """What the machine says of it; failing that, which step needs it, or that it is an end in itself."""
        found = purposes(self.machine, step.text, before, step.after, rest)
        if found or changes(before, step.after):
            return found
        needed = [d.at for d in self.done.deviations if (d.step, d.how, d.outcome) == (number, "left out", "refused")]
        if outward and needed:
            return (f"step {needed[0]} cannot be done without it",)
        return ("is what the task asks for",) if outward else ("is as in normal service again",)


def action_words(machine: Machine, text: str) -> str:
    """Return a move in words; a test in short, because its place and its way stand beside it."""
    tested = next((test.at for test in machine.tests if text == f"test {test.id}"), "")
    return f"prove dead: {tested}" if tested else move_words(machine, text)


def _parts(text: str) -> tuple[str, str, str]:
    if text.startswith(("test ", "wait ")):
        return text[5:], "", ""
    subject, positions = text.rsplit(": ", 1)
    origin, target = positions.split("->")
    return subject, origin, target


def _blank(name: str, missing: tuple[str, ...]) -> str:
    """One line to write on for a device: all of it in one where not even the side is known."""
    return "" if not missing else name if missing[0] == "stand" else f"{name}, {' and '.join(missing)}"


def _doors(machine: Machine, before: Situation) -> str:
    doors = [device for device in machine.devices if device.kind == "door"]
    opened = [door.name for door in doors if before.positions[door.id] != "closed"]
    return f"open: {', '.join(opened)}" if opened else SHUT if doors else "no door"


_SEEN = {
    "fuse": "fuse holder {}, seen",
    "earth": "clamps seen on all three phases: {}",
    "door": "door {}, seen",
    "vent": "{}, no more gas heard",
    "source": "source {}, instrument read",
    "connector": "connector {}, all three phases",
    "person": "person {}, counted",
}


def _verified(machine: Machine, device: Device | None, text: str, target: str) -> str:
    if text.startswith("test "):
        return "live-dead-live, all phases"
    if text.startswith("wait "):
        return "waiting time over, then short-circuited and measured"
    if device is None:
        return "key in hand" if target == "hand" else "key turned home, tried"
    if device.kind == "bolt":
        return _BOLTS.get(target, "bolt {}, tried by hand").format(target)
    if device.kind in ("switch", "breaker") and target != "closed":
        if _contacts_seen(machine, device):
            return f"seen apart, all phases; shown {target}"
        return f"shown: {target}; only the tester proves it"
    return _SEEN.get(device.kind, "shown: {}").format(target)


_BOLTS = {"on": "tried by hand; own tag on", "off": "off; tag with its holder"}


def _looks(machine: Machine, device: Device | None, target: str) -> tuple[str, ...]:
    """Devices whose contacts people see apart before a device goes to a position."""
    moves = [move for move in device.moves if move.target == target] if device is not None else []
    atoms = [guard.condition for move in moves for guard in move.guards if guard.by == "rule"]
    return tuple(dict.fromkeys(machine.device(atom.device).name for atom in atoms if isinstance(atom, BladeIn)))


def _contacts_seen(machine: Machine, device: Device) -> bool:
    """Whether the rules of the unit ask for a look at the contacts, so that there is a window or they are drawn out."""
    conditions = [guard.condition for one in machine.devices for move in one.moves for guard in move.guards]
    atoms = (atom for condition in conditions for atom in simple_parts(condition))
    return any(isinstance(atom, BladeIn) and atom.device == device.id for atom in atoms)


def _expected(after: Situation) -> str:
    words = [
        ("live", after.live),
        ("earthed", after.earthed),
        ("proved dead", after.proved),
        ("charged", after.charged),
    ]
    return "; ".join(f"{name}: {', '.join(points)}" for name, points in words if points) or "all dead, nothing earthed"


def _exit(machine: Machine, done: Procedure, number: int) -> str:
    found = done.aborts[number]
    if found is None:
        return NO_EXIT
    return "; ".join(move_words(machine, text) for text in found) or STAY


def _deviations(done: Procedure, number: int) -> list[Deviation]:
    return [d for d in done.deviations if d.step == number and d.mode == "rules"]


def _how(deviation: Deviation) -> str:
    return "skipped" if deviation.how == "left out" else "failed"


def _beware(done: Procedure, number: int) -> tuple[str, ...]:
    found: dict[str, list[str]] = {}
    for deviation in _deviations(done, number) if number < len(done.steps) else []:
        if deviation.outcome == "hazard":
            kinds = ", ".join(HAZARDS[kind] for kind in deviation.kinds)
            found.setdefault(f"step {deviation.at} is dangerous: {kinds}", []).append(_how(deviation))
        elif deviation.outcome == "unnoticed":
            found.setdefault("nothing later stops you, verify it here", []).append(_how(deviation))
    return tuple(f"{' or '.join(hows)}: {words}" for words, hows in found.items())


def _noticed(done: Procedure, number: int) -> tuple[str, ...]:
    found: dict[int | None, list[str]] = {}
    for deviation in _deviations(done, number):
        if deviation.outcome == "refused":
            found.setdefault(deviation.at, []).append(_how(deviation))
    return tuple(f"{' or '.join(hows)}: stops you at {at}" for at, hows in found.items())


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
    touched = _touched(machine, text)
    return tuple(point for point in machine.points if point in touched and point in before.live + after.live)


def _touched(machine: Machine, text: str) -> set[str]:
    """Points that the moved device joins, lets a hand reach or tests."""
    if text.startswith("test "):
        return {test.at for test in machine.tests if test.id == text.removeprefix("test ")}
    name = text.partition(":")[0]
    touched = {p for o in machine.openings if o.device == name for p in o.reaches}
    edges = [edge for d in machine.devices if d.id == name for _, pairs in d.edges for edge in pairs]
    return (touched | {point for edge in edges for point in edge}) - {EARTH}
