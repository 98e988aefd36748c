"""Claims: terms as this room writes them. A value and its limit come in; a term over operating cases goes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from deadfront.claims.comparing import Evidence, Term
from deadfront.claims.model import Step
from deadfront.physics.types import Array
from deadfront.study.faults import Kind
from deadfront.study.walk import Walk

LARGEST_KINDS: tuple[Kind, ...] = ("three-phase", "line-earth", "line-line-earth")
"""Kinds of fault that can draw the most: line-line-earth exceeds line-earth where Z0 is small or at another angle."""

Cases = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Against:
    """A value against its limit, in `unit` (SI); arrays over (boxes, operating cases)."""

    value: Array
    limit: Array
    unit: str
    at_least: bool = False
    quantity: str = ""


def term(walk: Walk, subject: str, against: Against, cases: Cases, evidence: Evidence, kind: str = "") -> Term:
    """A term over some operating cases; the kind of fault stands before the words of the case."""
    return Term(
        subject,
        against.value,
        against.limit,
        against.unit,
        len(walk.cases),
        cases,
        words=words(walk, kind),
        evidence=evidence,
        at_least=against.at_least,
        quantity=against.quantity,
    )


def standing(subject: str, against: Against, evidence: Callable[[], tuple[Step, ...]]) -> Term:
    """A term that no operating case moves: a rating, a setting."""
    return Term(
        subject,
        against.value,
        against.limit,
        against.unit,
        1,
        (0,),
        words=lambda _case: "in every operating case",
        evidence=lambda _case: evidence(),
        at_least=against.at_least,
        quantity=against.quantity,
    )


def words(walk: Walk, kind: str = "") -> Callable[[int], str]:
    """The words of a case, with the kind of fault before them."""
    prefix = f"{kind} fault, " if kind else ""
    return lambda case: prefix + walk.cases.words[case]


def ordinary(walk: Walk) -> Cases:
    """Operating cases with one infeed at a time."""
    return tuple(i for i, parallel in enumerate(walk.cases.parallel) if not parallel)


def of_maximum_rule(walk: Walk, cases: Cases) -> Cases:
    """Those of some cases that follow the maximum rule: for a duty that only the largest current sets."""
    return tuple(i for i in cases if walk.cases.maximum[i] > 0.0)


def paralleled(walk: Walk) -> Cases:
    """Operating cases with two infeeds closed together, where the file permits that."""
    return tuple(i for i, parallel in enumerate(walk.cases.parallel) if parallel)
