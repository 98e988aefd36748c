"""Claims: what a claim's author writes. Results of a walk come in; values against limits go out, a term a subject."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from deadfront.claims.model import Rule, SelectiveRange, Step
from deadfront.physics.types import Array
from deadfront.study.walk import Walk

Evidence = Callable[[int], tuple[Step, ...]]


def over_cases(array: Array, count: int) -> Array:
    """A result with its case axis written out, shape (boxes, count); floats, intervals and gradients alike."""
    return array + np.zeros((1, count))


@dataclass(frozen=True, slots=True)
class Term:
    """One subject of a claim: its value must stay at or below its limit (or at or above, `at_least`) in every case.

    value, limit   SI in `unit`; arrays over (boxes, operating cases) or what broadcasts to it; the limit above zero
    count          operating cases on the last axis
    cases          indices on the last axis that count
    words          the case at an index, in words
    evidence       the arithmetic at an index; asked only of a term made from a walk at one operating point
    quantity       what value and limit are, where the unit alone does not say it: `time ratio`
    selective      of a pair of devices: over which currents it is selective, at an index; asked likewise
    """

    subject: str
    value: Array
    limit: Array
    unit: str
    count: int
    cases: tuple[int, ...]
    words: Callable[[int], str]
    evidence: Evidence
    at_least: bool = False
    selective: Callable[[int], SelectiveRange] | None = None
    quantity: str = ""

    def margin(self) -> Array:
        """Distance to the limit as a share of the limit, shape (boxes, len(cases)); NaN where the model ends."""
        ratio = self.chosen(self.value) / self.chosen(self.limit)
        return ratio - 1.0 if self.at_least else 1.0 - ratio

    def chosen(self, array: Array) -> Array:
        """A result at the cases that count, shape (boxes, len(cases))."""
        return over_cases(array, self.count)[..., list(self.cases)]


@dataclass(frozen=True, slots=True)
class NotApplicable:
    """Why the sentence says nothing about this unit."""

    reason: str


@dataclass(frozen=True, slots=True)
class OutsideModel:
    """Why no number can be had: the rule's model does not reach this unit."""

    reason: str


Maker = Callable[[], Sequence[Term]]
"""Makes the terms that share their arithmetic. Nothing is computed before it is called."""


def later(make: Callable[..., Term | Sequence[Term]], *arguments: object) -> Maker:
    """A maker: the call of a function that gives a term, or several, put off until somebody asks.

    A proof over a box comes back to a few terms many times; the others are then not computed again.
    """

    def call() -> Sequence[Term]:
        found = make(*arguments)
        return [found] if isinstance(found, Term) else found

    return call


@dataclass(frozen=True, slots=True)
class Questions:
    """All that a claim asks, and why it is not applicable should no maker give a term."""

    makers: Sequence[Maker]
    otherwise: str = "The file names nothing that this sentence speaks of."


Outcome = Questions | NotApplicable | OutsideModel


@dataclass(frozen=True, slots=True)
class ClaimDefinition:
    """A claim before it meets a project."""

    id: str
    hazard: str
    sentence: str
    needs: tuple[str, ...]
    rule: Callable[[str], Rule]
    terms: Callable[[Walk], Outcome]
    not_in_iec: str | None = None
    leaves_model: Callable[[Walk], str | None] | None = None


CLAIMS: list[ClaimDefinition] = []
"""Every claim, in the order of the master list. Filled as the rooms of hazards are imported, and by nothing else."""


def claim(
    identifier: str,
    *,
    hazard: str,
    sentence: str,
    needs: tuple[str, ...],
    rule: Callable[[str], Rule],
    not_in_iec: str | None = None,
    leaves_model: Callable[[Walk], str | None] | None = None,
) -> Callable[[Callable[[Walk], Outcome]], Callable[[Walk], Outcome]]:
    """Enter a function into the list of claims.

    `needs` names the slots of the file without which the sentence cannot even be asked (a number that is missing
    inside a slot shows itself when it is read); `rule` gives the rule for a practice; `not_in_iec` says why the IEC
    practice does not ask, whatever the file has; `leaves_model` names the entries whose ranges, as the file gives
    them, leave the model. It is asked once: a point or box outside the model has no number, and needs no words.
    """

    def enter(terms: Callable[[Walk], Outcome]) -> Callable[[Walk], Outcome]:
        CLAIMS.append(ClaimDefinition(identifier, hazard, sentence, needs, rule, terms, not_in_iec, leaves_model))
        return terms

    return enter


def same_rule(demand: str, source: str, tag: str) -> Callable[[str], Rule]:
    """A rule that does not depend on the practice."""
    return lambda _practice: Rule(demand, source, tag)


def rule_by_practice(north_american: Rule, iec: Rule) -> Callable[[str], Rule]:
    """One rule per practice."""
    return lambda practice: iec if practice == "iec" else north_american
