"""Claims: what is left when one barrier has failed. A unit's machine comes in, broken part by part; AC-06 goes out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from deadfront.claims.access_findings import METHOD, PROVED, Finding, Question, Subject, counted
from deadfront.claims.model import Rule, Step, Verdict
from deadfront.claims.wording import number_of
from deadfront.operation.answering_entries import Answering, Remaining, answering_entries
from deadfront.operation.machine import Kind
from deadfront.operation.singles import break_singles, every_single, shortest
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
    hands = _by_hands(subject)
    kept_out = frozenset(PROVED) - subject.rules.sequences.keys()
    asked = [name for name, kinds in hands.items() if name and kinds & kept_out]
    obeyed = break_singles(subject.machine, "rules", [frozenset([name]) for name in asked])
    return tuple(
        Outcome(name, _listed(kinds - hands[""]), _listed(obeyed.get(frozenset([name]), frozenset()) & kept_out))
        for name, kinds in hands.items()
        if name
    )


def _by_hands(subject: Subject) -> dict[str, frozenset[Kind]]:
    """What hands reach with each failure, and under an empty name without any; what failed may be of no use to them."""
    used = frozenset(every_single(subject.bare))
    names = [name for name in every_single(subject.machine) if "@" not in name or name in used]
    sets = {name: frozenset([name]) & used for name in ("", *names)}
    reached = break_singles(subject.bare, "hands", list(dict.fromkeys(sets.values())))
    kinds = {name: reached[members] for name, members in sets.items()}
    return {name: found for name, found in kinds.items() if "@" not in name or _worse_later(name, kinds)}


def _worse_later(name: str, kinds: Mapping[str, frozenset[Kind]]) -> bool:
    """Whether a blade that welds on the way is worse than one that has welded from the outset, or than none."""
    return bool(kinds[name] - kinds.get(name.partition("@")[0], frozenset()) - kinds[""])


def _listed(kinds: frozenset[Kind]) -> tuple[Kind, ...]:
    return tuple(kind for kind in PROVED if kind in kinds)


@dataclass(frozen=True, slots=True)
class Told:
    """What is left of a failure: the nearest hazard, the way to it, and the entry that would answer it."""

    failure: str
    kind: Kind
    moves: tuple[str, ...]
    answer: Answering | None

    @property
    def length(self) -> int:
        """Hand actions; that a blade welds is none."""
        return sum(not move.startswith("weld ") for move in self.moves)

    def in_words(self) -> str:
        """What would answer it, in one line."""
        if self.answer is not None:
            return f"would be answered by {self.answer.entry.written()}"
        where = "; say in operation.portable_sources where none can be connected" if "source:" in self.failure else ""
        return f"none of the entries tried answers it{where}"


def what_remains(subject: Subject, found: Sequence[Outcome]) -> dict[str, Told]:
    """Return what is left of each failure that people who obey can still be hurt by, by its name."""
    remaining = []
    for one in found:
        if one.remains:
            kinds = frozenset(one.rules) - ONTO_EARTH
            search, kind = shortest(subject.machine, "rules", one.name, kinds)
            remaining.append(Remaining(one.name, kind, search))
    answers = answering_entries(subject.station, subject.machine, remaining, ONTO_EARTH)
    return {one.failure: Told(one.failure, one.kind, one.moves(), answers.get(one.failure)) for one in remaining}


def failures_are_answered(subject: Subject) -> Finding:
    """AC-06: every single failure is tried; shown if people who obey are hurt by none of them."""
    found = outcomes(subject)
    flips = [one for one in found if one.hands or one.rules]
    left = what_remains(subject, found)
    names = "; ".join(failure_words(one.name) for one in found)
    steps = [Step("n", "single failures tried", "each barrier in turn", names, str(len(found)), METHOD, "D")]
    for one in flips:
        adds = ", ".join(HAZARDS[kind] for kind in one.hands) or "nothing new"
        obeyed = f"; if people obey: {', '.join(HAZARDS[kind] for kind in one.rules)}" if one.rules else ""
        steps.append(Step("f", failure_words(one.name), "adds for hands", adds + obeyed, one.answer, METHOD, "D"))
        if one.name in left:
            steps += _told_steps(subject, left[one.name])
    answered = len(flips) - len(left)
    reason = f"{len(found)} failures: {len(found) - len(flips)} add nothing, {answered} are answered, "
    reason += f"{len(left)} remain"
    reason += f": {'; '.join(failure_words(name) for name in left)}." if left else "."
    details = tuple(counted(failure_words(one.name), one.remains, _words(one, left.get(one.name))) for one in found)
    told = f"{len(left)} of {number_of(len(found), 'failure', 'failures')} unanswered"
    verdict: Verdict = "refuted" if left else "shown"
    return Finding(verdict, reason, float(len(left)), tuple(steps), details, (), subject.assumptions, told)


def _words(one: Outcome, told: Told | None) -> str:
    """How a failure ends, in one line."""
    if told is None:
        return one.answer
    return f"not answered: {HAZARDS[told.kind]} in {number_of(told.length, 'move', 'moves')}; {told.in_words()}"


def _told_steps(subject: Subject, told: Told) -> Iterator[Step]:
    """The shortest way to what is left, and the entry that would answer it."""
    length = number_of(told.length, "move", "moves")
    words = subject.words(told.moves)
    yield Step("s", HAZARDS[told.kind], "shortest sequence, if people obey", words, length, f"{METHOD}; rules", "D")
    if told.answer is None:
        how = "a test, contacts seen, own padlock, earth, one more lock"
        yield Step("r", failure_words(told.failure), how, "", told.in_words(), METHOD, "D")
        return
    adds = ", ".join(HAZARDS[kind] for kind in told.answer.adds)
    result = "answers it" + (f"; by hands it adds: {adds}" if adds else "")
    yield Step("r", told.answer.entry.words, told.answer.entry.written(), "", result, METHOD, "D")
