"""Claims: the only place that judges. A definition and a project come in; a verdict with its worst case goes out."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from deadfront.claims.boxes import Box
from deadfront.claims.comparing import ClaimDefinition, NotApplicable, OutsideModel, Questions, Term
from deadfront.claims.field import Field, TermsAt, Values, Worst
from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Verdict, WorstCase
from deadfront.claims.numbers import plain_against
from deadfront.claims.proving import QUICK, Proof, prove
from deadfront.claims.wording import DIMENSION_UNITS, in_words, path_in_words
from deadfront.intervals import Effort
from deadfront.physics.types import Array
from deadfront.project.describing import describe
from deadfront.project.project import Project
from deadfront.project.starters import Practice
from deadfront.station.station import Station
from deadfront.study.cases import Cases
from deadfront.study.inputs import Assumed, Inputs, MissingEntryError
from deadfront.study.walk import Walk

NAMED = 0.2
"""Share of the most influential range from which on a second one is named as worth narrowing."""


@dataclass(frozen=True, slots=True)
class Subject:
    """What a claim is judged on."""

    project: Project
    station: Station
    cases: Cases

    def walk(
        self,
        values: Mapping[str, Array] | None = None,
        *,
        placeholders: bool = False,
        cases: Sequence[int] | None = None,
    ) -> Walk:
        """A fresh walk at the given inputs, at the centre of each range where none is given; in some of the cases."""
        chosen = self.cases if cases is None else self.cases.only(cases)
        return Walk(self.station, chosen, Inputs(self.project, values, placeholders=placeholders))


def judge(definition: ClaimDefinition, subject: Subject, effort: Effort = QUICK) -> Claim:
    """The claim on this project: shown, refuted, open or not applicable, with everything that goes with it."""
    return examine(definition, subject, effort)[0]


def examine(
    definition: ClaimDefinition, subject: Subject, effort: Effort = QUICK
) -> tuple[Claim, Judged] | tuple[Claim, None]:
    """The claim on this project, with what it was judged by; None beside it where there was no number to judge."""
    walk = subject.walk()
    if definition.not_in_iec is not None and walk.method == "iec":
        return _bare(definition, subject, "not applicable", definition.not_in_iec, walk), None
    absent = [slot for slot in definition.needs if walk.inputs.entry(slot) is None]
    if absent:
        return _open(definition, subject, walk, absent), None
    try:
        # A walk of its own: what the words read is no coordinate of the claim.
        if definition.leaves_model is not None and (text := definition.leaves_model(subject.walk())):
            return _bare(definition, subject, "open", text, walk), None
        outcome = definition.terms(walk)
        if isinstance(outcome, NotApplicable):
            return _bare(definition, subject, "not applicable", outcome.reason, walk), None
        if isinstance(outcome, OutsideModel):
            return _bare(definition, subject, "open", outcome.reason, walk), None
        field = _field(definition, subject, walk, outcome)
    except MissingEntryError:
        return _open_for_missing(definition, subject), None
    if field is None:
        return _bare(definition, subject, "not applicable", outcome.otherwise, walk), None
    judged = Judged(field, prove(field, effort))
    return _claim(definition, walk, judged), judged


def _field(definition: ClaimDefinition, subject: Subject, walk: Walk, outcome: Questions) -> Field | None:
    """The makers of a claim over its box, each with the ranges it reads; None when no maker gives a term."""
    paths, terms = [], 0
    for maker in outcome.makers:
        with walk.inputs.reading() as inside:
            terms += sum(1 for term in maker() if term.cases)
        paths.append(frozenset(inside))
    if terms == 0:
        return None
    box = Box.of(walk.inputs)
    outside_makers = walk.inputs.readings[0] - frozenset().union(*paths)
    own = [tuple(path for path in box.paths if path in inside or path in outside_makers) for inside in paths]
    return Field(box, tuple(own), terms_at(definition, subject))


def terms_at(definition: ClaimDefinition, subject: Subject) -> TermsAt:
    """Evaluation of one maker; the walk of the last inputs is kept, since the makers of a claim share its results."""
    last: list[tuple[object, object, Walk]] = []

    def at(values: Values, maker: int, cases: Sequence[int] | None) -> Sequence[Term]:
        if not last or last[0][0] is not values or last[0][1] is not cases:
            last[:] = [(values, cases, subject.walk(values, cases=cases))]
        outcome = definition.terms(last[0][2])
        if not isinstance(outcome, Questions):
            raise TypeError(f"{definition.id}: whether a claim applies must not depend on the numbers of a range")
        return outcome.makers[maker]()

    return at


@dataclass(frozen=True, slots=True)
class Judged:
    """A claim's field and what was proved of it."""

    field: Field
    proof: Proof

    @property
    def verdict(self) -> Verdict:
        """Shown only where the bound says so; refuted only by a point."""
        if self.proof.outside:
            return "open"
        if self.proof.worst.margin < 0.0:
            return "refuted"
        return "shown" if self.proof.bound >= 0.0 else "open"


def _claim(definition: ClaimDefinition, centre: Walk, judged: Judged) -> Claim:
    worst, field = judged.proof.worst, judged.field
    undecided = math.isnan(worst.margin)
    there = _term_there(judged, judged.proof.worst)
    return Claim(
        id=definition.id,
        hazard=definition.hazard,
        sentence=definition.sentence,
        verdict=judged.verdict,
        reason=_reason(judged, centre.inputs.asked),
        value=None if undecided else worst.value,
        limit=worst.limit,
        unit=worst.term.unit,
        margin=None if undecided else worst.margin,
        bound=judged.proof.bound,
        coverage=_coverage(judged),
        worst_case=_worst_case(judged, relevant(field, worst)),
        rule=definition.rule(centre.project.unit.practice),
        evidence=there.evidence(worst.case),
        assumptions=assumptions(centre.inputs.assumed, centre.project),
        missing=(),
        details=tuple(_detail(judged, w) for w in judged.proof.each),
        quantity=worst.term.quantity,
    )


def _term_there(judged: Judged, worst: Worst) -> Term:
    """A term, made by a walk through its worst point alone."""
    field = judged.field
    found = field.at(np.array([worst.inputs]).reshape(1, -1), worst.maker)
    return next(term for term in found if term.subject == worst.term.subject)


def _coverage(judged: Judged) -> str:
    """How the box was covered: a point needs no proof; a bound by intervals is one."""
    if not judged.field.box.paths:
        return "exact"
    if judged.verdict == "open":
        return "undecided"
    return "proved"


def relevant(field: Field, worst: Worst) -> tuple[str, ...]:
    """Ranges that move the governing margin at all when they alone run to either end; the others are not printed."""
    box = field.box
    if not box.paths:
        return ()
    moved = np.repeat(np.array([worst.inputs]), 2 * len(box.paths) + 1, axis=0)
    for i in range(len(box.paths)):
        moved[2 * i + 1, i], moved[2 * i + 2, i] = box.lower[i], box.upper[i]
    term = next(t for t in field.at(moved, worst.maker) if t.subject == worst.term.subject)
    margin = np.asarray(term.margin(), dtype=np.float64)[:, term.cases.index(worst.case)]
    if len(margin) == 1:
        return ()
    differs = ~((margin == margin[0]) | (np.isnan(margin) & np.isnan(margin[0])))
    return tuple(path for i, path in enumerate(box.paths) if differs[2 * i + 1] or differs[2 * i + 2])


def _worst_case(judged: Judged, ranges: tuple[str, ...]) -> WorstCase:
    worst, box = judged.proof.worst, judged.field.box
    values = dict(zip(box.paths, worst.inputs, strict=True))
    texts = {path: in_words(value, DIMENSION_UNITS.get(box.dimension(path), "1")) for path, value in values.items()}
    numbers = ", ".join(f"{path_in_words(path)} {texts[path]}" for path in ranges)
    words = "; ".join(text for text in (numbers, worst.term.words(worst.case), worst.term.subject) if text)
    return WorstCase(words, values, texts)


def _reason(judged: Judged, asked: Collection[str]) -> str:
    """Why the verdict is what it is, in a sentence or two; `asked`: coordinates that belong to the question."""
    proof, worst = judged.proof, judged.proof.worst
    value, limit = plain_against(worst.value, worst.limit, worst.term.unit, worst.margin, worst.term.quantity)
    if proof.outside:
        return f"{worst.term.subject}: outside the range of the model in the case {worst.term.words(worst.case)}."
    needed = "must be at least" if worst.term.at_least else "must not exceed"
    plain = f"{worst.term.subject}: {value}, {needed} {limit}."
    if judged.verdict != "open":
        return plain
    bound = f"the margin is at least {proof.bound:.3g}" if proof.bound > -math.inf else "nothing bounds the margin"
    found = f"{bound}, the worst found is {worst.margin:.3g}"
    return f"Undecided within the budget: {found}. {_what_would_help(judged, asked)} {plain}"


def _what_would_help(judged: Judged, asked: Collection[str]) -> str:
    """Which ranges hold the bound where it is; the size of a fault is no entry that anybody could narrow."""
    influence = {path: part for path, part in judged.proof.influence.items() if path not in asked and part > 0.0}
    most = max(influence.values(), default=0.0)
    ranked = sorted((path for path in influence if influence[path] >= NAMED * most), key=lambda p: -influence[p])
    if not ranked:
        return "A larger --budget may decide it."
    return f"Narrow {' or '.join(path_in_words(path) for path in ranked[:2])}, or give a larger --budget."


def _detail(judged: Judged, worst: Worst) -> Detail:
    term = worst.term
    selective = None
    if term.selective is not None and not math.isnan(worst.margin):  # outside the model there is no range to state
        stated = _term_there(judged, worst).selective
        selective = stated(worst.case) if stated is not None else None
    return Detail(
        term.subject,
        worst.value,
        worst.limit,
        term.unit,
        worst.margin,
        term.words(worst.case),
        selective,
        term.quantity,
    )


def assumptions(assumed: Mapping[str, Assumed], project: Project) -> tuple[Assumption, ...]:
    """Assumptions with the owner and the way of confirming that the file names for them, sorted by key."""
    named = project.unit.assumptions or {}
    found = []
    for key in sorted(assumed):
        one, confirmation = assumed[key], named.get(key)
        owner = confirmation.owner if confirmation else None
        confirm = (confirmation.confirm if confirmation else None) or one.confirm
        found.append(Assumption(key, one.text, one.source, one.tag, confirm, owner))
    return tuple(found)


def _open_for_missing(definition: ClaimDefinition, subject: Subject) -> Claim:
    """An open claim naming every entry it lacks, found by walking on with placeholders whose results are dropped."""
    walk = subject.walk(placeholders=True)
    stopped: MissingEntryError | None = None
    with np.errstate(all="ignore"):  # placeholders make no sense as physics; only the list of missing entries is kept
        try:
            outcome = definition.terms(walk)
            for maker in outcome.makers if isinstance(outcome, Questions) else ():
                maker()
        except MissingEntryError as error:
            stopped = error
    return _open(definition, subject, walk, [*walk.inputs.missing, *([stopped.path] if stopped else [])])


def _open(definition: ClaimDefinition, subject: Subject, walk: Walk, paths: Sequence[str]) -> Claim:
    """An open claim with the entries the file lacks, each with what it is and an example."""
    missing = tuple(missing_entry(path, subject.project.unit.practice) for path in dict.fromkeys(paths))
    names = ", ".join(entry.path for entry in missing)
    claim = _bare(definition, subject, "open", f"The file does not give {names}.", walk)
    return replace(claim, missing=missing)


def _bare(definition: ClaimDefinition, subject: Subject, verdict: Verdict, reason: str, walk: Walk) -> Claim:
    """A claim without numbers."""
    return Claim(
        id=definition.id,
        hazard=definition.hazard,
        sentence=definition.sentence,
        verdict=verdict,
        reason=reason,
        value=None,
        limit=None,
        unit="",
        margin=None,
        bound=None,
        coverage="none",
        worst_case=None,
        rule=definition.rule(subject.project.unit.practice),
        evidence=(),
        assumptions=assumptions(walk.inputs.assumed, subject.project) if verdict != "open" else (),
        missing=(),
        details=(),
    )


def missing_entry(path: str, practice: Practice) -> MissingEntry:
    """What a missing entry is and an example of it, from the model of the file."""
    field = describe(path, practice)
    return MissingEntry(path, field.what, field.example)
