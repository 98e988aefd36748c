"""Claims: the only place that compares. A claim's definition and a project come in; a verdict with its worst case goes out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from deadfront.claims.boxes import Box, sample
from deadfront.claims.comparing import ClaimDefinition, NotApplicable, OutsideModel, Term
from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Verdict, WorstCase
from deadfront.claims.wording import DIMENSION_UNITS, in_words, path_in_words
from deadfront.project.describing import describe
from deadfront.project.project import Project
from deadfront.station.station import Station
from deadfront.study.cases import Cases
from deadfront.study.inputs import Assumed, Inputs, MissingEntryError
from deadfront.study.walk import Walk


@dataclass(frozen=True, slots=True)
class Subject:
    """What a claim is judged on."""

    project: Project
    station: Station
    cases: Cases

    def walk(self, values: Mapping[str, NDArray[np.float64]] | None = None, *, placeholders: bool = False) -> Walk:
        """A fresh walk at the given inputs; at the centre of each range where none is given."""
        return Walk(self.station, self.cases, Inputs(self.project, values, placeholders=placeholders))


def judge(definition: ClaimDefinition, subject: Subject) -> Claim:
    """The claim on this project: shown, refuted, open or not applicable, with everything that goes with it."""
    walk = subject.walk()
    absent = [slot for slot in definition.needs if walk.inputs.entry(slot) is None]
    if absent:
        return _open(definition, subject, walk, absent)
    try:
        outcome = definition.terms(walk)
    except MissingEntryError:
        return _open_for_missing(definition, subject)
    if isinstance(outcome, NotApplicable):
        return _bare(definition, subject, "not applicable", outcome.reason, walk)
    if isinstance(outcome, OutsideModel):
        return _bare(definition, subject, "open", outcome.reason, walk)
    return _judge_terms(definition, subject, walk, outcome)


def _judge_terms(definition: ClaimDefinition, subject: Subject, centre: Walk, terms: Sequence[Term]) -> Claim:
    """Sample the box, find the worst point, and walk once more through that point for the arithmetic."""
    box = Box.of(centre.inputs)
    points = sample(box)
    worst = [_worst(term) for term in _terms_at(definition, subject, box, points)] if box.paths else [_worst(t) for t in terms]
    index = min(range(len(worst)), key=lambda i: -math.inf if math.isnan(worst[i].margin) else worst[i].margin)
    here = worst[index]
    there = _terms_at(definition, subject, box, points[[here.box]])[index]
    relevant = _relevant(definition, subject, box, points[here.box], (index, here.case))
    return _claim(definition, centre, _Judged(box, points, here, there, worst, relevant))


def _relevant(
    definition: ClaimDefinition, subject: Subject, box: Box, worst: NDArray[np.float64], which: tuple[int, int]
) -> tuple[str, ...]:
    """Ranges that move the governing margin at all when they alone run to either end; the others are not printed."""
    if not box.paths:
        return ()
    index, case = which
    moved = np.repeat(worst[np.newaxis], 2 * len(box.paths) + 1, axis=0)
    for i in range(len(box.paths)):
        moved[2 * i + 1, i], moved[2 * i + 2, i] = box.lower[i], box.upper[i]
    term = _terms_at(definition, subject, box, moved)[index]
    margin = np.asarray(term.margin(), dtype=np.float64)[:, term.cases.index(case)]
    if len(margin) == 1:
        return ()
    differs = ~((margin == margin[0]) | (np.isnan(margin) & np.isnan(margin[0])))
    return tuple(path for i, path in enumerate(box.paths) if differs[2 * i + 1] or differs[2 * i + 2])


def _terms_at(definition: ClaimDefinition, subject: Subject, box: Box, points: NDArray[np.float64]) -> Sequence[Term]:
    """The claim's terms at points of the box, shape of each result (points, cases)."""
    outcome = definition.terms(subject.walk({path: points[:, [i]] for i, path in enumerate(box.paths)}))
    if isinstance(outcome, (NotApplicable, OutsideModel)):
        raise TypeError(f"{definition.id}: whether a claim applies must not depend on the numbers of a range")
    return outcome


@dataclass(frozen=True, slots=True)
class _Worst:
    """Where a term is worst: the point of the sample, the operating case, and the numbers there."""

    term: Term
    box: int
    case: int
    margin: float
    value: float
    limit: float


@dataclass(frozen=True, slots=True)
class _Judged:
    """What the search over a box found."""

    box: Box
    points: NDArray[np.float64]
    here: _Worst
    there: Term
    worst: Sequence[_Worst]
    relevant: tuple[str, ...]


def _worst(term: Term) -> _Worst:
    margin = np.asarray(term.margin(), dtype=np.float64)
    row, column = np.unravel_index(int(np.argmin(margin)), margin.shape)  # argmin stops at the first NaN: worse than any
    value, limit = (np.asarray(term.chosen(a), dtype=np.float64) for a in (term.value, term.limit))
    return _Worst(
        term,
        int(row),
        term.cases[int(column)],
        float(margin[row, column]),
        float(value[min(row, len(value) - 1), column]),
        float(limit[min(row, len(limit) - 1), column]),
    )


def _claim(definition: ClaimDefinition, centre: Walk, judged: _Judged) -> Claim:
    here, box = judged.here, judged.box
    undecided = math.isnan(here.margin)
    verdict: Verdict = "open" if undecided else "shown" if here.margin >= 0 else "refuted"
    return Claim(
        id=definition.id,
        hazard=definition.hazard,
        sentence=definition.sentence,
        verdict=verdict,
        reason=_reason(here, verdict),
        value=None if undecided else here.value,
        limit=here.limit,
        unit=here.term.unit,
        margin=None if undecided else here.margin,
        coverage="exact" if not box.paths else f"sampled, {len(judged.points)} points",
        worst_case=_worst_case(judged),
        rule=definition.rule(centre.project.unit.practice),
        evidence=judged.there.evidence(here.case),
        assumptions=assumptions(centre.inputs.assumed, centre.project),
        missing=(),
        details=tuple(_detail(w) for w in judged.worst),
    )


def _worst_case(judged: _Judged) -> WorstCase:
    here, box = judged.here, judged.box
    values = {path: float(judged.points[here.box, i]) for i, path in enumerate(box.paths)}
    texts = {path: in_words(value, DIMENSION_UNITS.get(box.dimension(path), "1")) for path, value in values.items()}
    numbers = [f"{path_in_words(path)} {texts[path]}" for path in judged.relevant]
    words = "; ".join([", ".join(numbers), here.term.words(here.case), here.term.subject] if numbers else [here.term.words(here.case), here.term.subject])
    return WorstCase(words, values, texts)


def _reason(here: _Worst, verdict: Verdict) -> str:
    """Why the verdict is what it is, in one sentence."""
    value, limit = in_words(here.value, here.term.unit), in_words(here.limit, here.term.unit)
    if verdict == "open":
        return f"{here.term.subject}: outside the range of the model in the case {here.term.words(here.case)}."
    needed = "at least" if here.term.at_least else "at most"
    return f"{here.term.subject}: {value}, {needed} {limit} is needed."


def _detail(worst: _Worst) -> Detail:
    return Detail(
        worst.term.subject, worst.value, worst.limit, worst.term.unit, worst.margin, worst.term.words(worst.case)
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
    """An open claim that names every entry it lacks; found by walking on with placeholders, whose results are dropped."""
    walk = subject.walk(placeholders=True)
    stopped: MissingEntryError | None = None
    with np.errstate(all="ignore"):  # placeholders make no sense as physics; only the list of missing entries is kept
        try:
            definition.terms(walk)
        except MissingEntryError as error:
            stopped = error
    return _open(definition, subject, walk, [*walk.inputs.missing, *([stopped.path] if stopped else [])])


def _open(definition: ClaimDefinition, subject: Subject, walk: Walk, paths: Sequence[str]) -> Claim:
    """An open claim with the entries the file lacks, each with what it is and an example."""
    missing = tuple(missing_entry(path) for path in dict.fromkeys(paths))
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
        coverage="none",
        worst_case=None,
        rule=definition.rule(subject.project.unit.practice),
        evidence=(),
        assumptions=assumptions(walk.inputs.assumed, subject.project) if verdict != "open" else (),
        missing=(),
        details=(),
    )


def missing_entry(path: str) -> MissingEntry:
    """What a missing entry is and an example of it, from the model of the file."""
    field = describe(path)
    return MissingEntry(path, field.what, field.example)
