"""Operation: a sheet for the crew as plain text. A sheet comes in, its lines go out."""

from __future__ import annotations

from deadfront.operation.handling import NOT_GIVEN
from deadfront.operation.point_marks import LETTERS, PointMark
from deadfront.operation.sheets import CAUTION, IF_NOT, SHUT, STAY, Sheet, SheetStep
from deadfront.operation.tasks import BEFORE_BACK

_BLANK = "____________"


def sheet_text(made: Sheet) -> str:
    """Return a sheet as plain text, with a box to tick and two names to sign for every step."""
    lines = [made.task, CAUTION, made.distances]
    lines += [f"permit no. {_BLANK}  drawing and revision {_BLANK}  weather and light {_BLANK}", ""]
    lines += ["confirm before step 1:", *(f"  [ ] {state}" for state in made.initial)]
    lines += [f"  no means in the unit for {words}; seen to by {_BLANK}" for words in made.unmet]
    lines += [f"  [ ] {hold} {words}" for hold, words in made.prompts if hold not in BEFORE_BACK]
    lines += [f"  never: {words}" for words in made.never]
    if made.blanks:
        lines += ["", f"to be filled in before step 1 ({NOT_GIVEN}):", *(f"  {name}: {_BLANK}" for name in made.blanks)]
    lines += ["", "at every step", f"  if it does not verify: {IF_NOT}"]
    lines += [
        f"  doors: {SHUT}, unless the step says otherwise",
        f"  to break off: {STAY}, unless the step says otherwise",
    ]
    lines += ["  skipped: the step is left out; failed: the device does not follow its handle"]
    lines += [f"  points: {'; '.join(f'{n} {point}' for n, point in enumerate(made.points, start=1))}"]
    lines += [
        f"  marks: {'; '.join(f'{letter} {words}' for letter, words in LETTERS)}; in brackets: a hand can reach it"
    ]
    lines += ["", f"before step 1    {_row(made.outset)}", *_lines(made.steps), "", "end state:"]
    lines += [f"  {words}" for words in made.final]
    lines += ["", "back to service:" if made.back is not None else "no safe way leads back to service"]
    lines += [f"  [ ] {hold} {words}" for hold, words in made.prompts if hold in BEFORE_BACK and made.back is not None]
    lines += _lines(made.back or ())
    return "\n".join(lines) + "\n"


def _row(marks: tuple[PointMark, ...]) -> str:
    shown = (f"[{mark.letters}]" if mark.within_reach else mark.letters for mark in marks)
    return " ".join(f"{n} {words}" for n, words in enumerate(shown, start=1))


def _lines(steps: tuple[SheetStep, ...]) -> list[str]:
    lines = []
    for step in steps:
        holds = f"   hold point {', '.join(step.hold_points)} passed" if step.hold_points else ""
        lines.append(f"[ ] {step.number:2d}  {step.action}{holds}")
        details = [
            f"{step.origin} to {step.target}" if step.origin else f"at {step.place}" if step.place else "",
            "; ".join(step.stand),
            f"doors: {step.doors}" if step.doors != SHUT else "",
            f"why: {'; '.join((*step.changes, *step.purposes))}",
            f"before it, see apart on all three phases: {', '.join(step.looks)}" if step.looks else "",
            f"verify: {step.verified_by}",
            f"keys in hand: {', '.join(step.keys_before) or 'none'}; after: {', '.join(step.keys_after) or 'none'}",
            f"after it: {_row(step.marks)}",
            f"to break off: {step.to_break_off}" if step.to_break_off not in ("", STAY) else "",
            *(f"beware, {words}" for words in step.beware),
            *step.noticed,
            *(f"never here: {words}" for words in step.never),
            f"treat as live: {', '.join(step.near)}" if step.near else "",
            f"done by {_BLANK}  verified by {_BLANK}  {'lock and tag' if step.own_lock else 'time'} ______",
        ]
        lines += [f"        {words}" for words in details if words]
    return lines
