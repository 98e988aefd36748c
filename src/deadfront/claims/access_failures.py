"""Claims: what is left when one barrier has failed. A unit's machine comes in, broken part by part; AC-06 goes out."""

from __future__ import annotations

from dataclasses import dataclass

from deadfront.claims.access_findings import METHOD, PROVED, Finding, Question, Subject, counted, number_of
from deadfront.claims.model import Rule, Step
from deadfront.operation.breaking import broken_by_hands
from deadfront.operation.failures import break_all, break_midway, single_failures
from deadfront.operation.machine import Kind
from deadfront.operation.spreading import Reach
from deadfront.operation.wording import HAZARDS, failure_words

AC_06 = Question(
    "AC-06",
    "Each single failure leaves AC-01 to AC-05 true, or is named here and answered by what people do.",
    Rule("Each barrier fails in turn", "method", "D"),
)

ONTO_EARTH = frozenset[Kind](["LIVE_EARTH"])
"""What an earth is for: a source that comes back meets the earth, and protection clears it, in place of a hand."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One failure: the kinds of hazard it adds for hands, and those it still adds if people obey."""

    name: str
    hands: tuple[Kind, ...]
    rules: tuple[Kind, ...]

    @property
    def remains(self) -> bool:
        """Whether somebody who obeys can still be hurt by it."""
        return bool(set(self.rules) - ONTO_EARTH)

    @property
    def answer(self) -> str:
        """Who or what answers it."""
        if not self.hands and not self.rules:
            return "adds nothing"
        if self.remains:
            return "not answered"
        return "met by an earth, and cleared" if self.rules else "answered by the rules"


def outcomes(subject: Subject) -> tuple[Outcome, ...]:
    """Every single failure from the outset, and every blade that welds later where that is worse.

    Rules only take moves away: where hands that know no rules reach nothing that rules kept out before, rules are not
    looked at again.
    """
    broken = broken_by_hands(subject.machine)
    reached = {name: broken.reaches[frozenset([name])] for name in single_failures(subject.machine)}
    for name, reach in break_midway(subject.bare, "hands").items():
        alone = reached.get(name.partition("@")[0])
        if _kinds(reach) - _kinds(alone):
            reached[name] = reach
    kept_out = frozenset(PROVED) - subject.rules.sequences.keys()
    asked = [name for name, reach in reached.items() if _kinds(reach) & kept_out]
    obeyed = _obeyed(subject, asked)
    return tuple(
        Outcome(name, _listed(_kinds(reach) - broken.sound), _listed(_kinds(obeyed.get(name)) & kept_out))
        for name, reach in reached.items()
    )


def _obeyed(subject: Subject, names: list[str]) -> dict[str, Reach]:
    """What some failures reach if people obey."""
    outset = [name for name in names if "@" not in name]
    midway = [name for name in names if "@" in name]
    sets = [frozenset([name]) for name in outset]
    rules = break_all(subject.machine, "rules", only=sets, tests_at_once=True) if outset else None
    found = {name: rules.reaches[frozenset([name])] for name in outset} if rules is not None else {}
    return found | (break_midway(subject.machine, "rules", only=midway) if midway else {})


def _kinds(reach: Reach | None) -> frozenset[Kind]:
    """The kinds a failure reaches; none where what failed is of no use to hands."""
    return frozenset(reach.dangers) if reach is not None else frozenset()


def _listed(kinds: frozenset[Kind]) -> tuple[Kind, ...]:
    return tuple(kind for kind in PROVED if kind in kinds)


def failures_are_answered(subject: Subject) -> Finding:
    """AC-06: every single failure is tried; shown if people who obey are hurt by none of them."""
    found = outcomes(subject)
    flips = [one for one in found if one.hands or one.rules]
    bad = [one for one in flips if one.remains]
    names = ", ".join(one.name for one in found)
    steps = [Step("n", "single failures tried", "each barrier in turn", names, str(len(found)), METHOD, "D")]
    for one in flips:
        adds = ", ".join(HAZARDS[kind] for kind in one.hands) or "nothing new"
        left = f"; if people obey: {', '.join(HAZARDS[kind] for kind in one.rules)}" if one.rules else ""
        steps.append(Step("f", failure_words(one.name), "adds for hands", adds + left, one.answer, METHOD, "D"))
    answered = len(flips) - len(bad)
    reason = f"{len(found)} failures: {len(found) - len(flips)} add nothing, {answered} are answered, {len(bad)} remain"
    reason += f": {'; '.join(failure_words(one.name) for one in bad)}." if bad else "."
    told = f"{len(bad)} of {number_of(len(found), 'failure', 'failures')} unanswered"
    details = tuple(counted(failure_words(one.name), one.remains, one.answer) for one in found)
    return Finding(
        "refuted" if bad else "shown", reason, float(len(bad)), tuple(steps), details, (), subject.assumptions, told
    )
