"""Claims: all definitions meet one subject. A subject comes in; its claims go out, judged on every core there is."""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor

from deadfront.claims.comparing import CLAIMS, ClaimDefinition
from deadfront.claims.judging import Subject, judge
from deadfront.claims.model import Claim
from deadfront.intervals import Effort

MOST_WORKERS = 8
"""Beyond this many processes a check gains nothing: one claim is the longest."""


def judged(subject: Subject, effort: Effort, tell: Callable[[int, str], None]) -> list[Claim]:
    """Every claim, in the order of the list; `tell` is called with how many are done, and which is next.

    Claims are independent and pure, so the result does not depend on how many processes work. Where processes cannot
    be forked (or threads run, which a fork would lose) the claims are judged one after the other.
    """
    found = []
    for done, claim in enumerate(_one_by_one(subject, effort) if _workers() < 2 else _side_by_side(subject, effort)):
        tell(done, claim.id)
        found.append(claim)
    return found


def _workers() -> int:
    if sys.platform != "linux" or "fork" not in multiprocessing.get_all_start_methods() or threading.active_count() > 1:
        return 1
    return min(len(os.sched_getaffinity(0)), MOST_WORKERS)


def _one_by_one(subject: Subject, effort: Effort) -> Iterator[Claim]:
    for definition in CLAIMS:
        yield judge(definition, subject, effort)


def _side_by_side(subject: Subject, effort: Effort) -> Iterator[Claim]:
    context = multiprocessing.get_context("fork")
    with ProcessPoolExecutor(_workers(), context, _take, (subject, effort)) as pool:
        yield from pool.map(_judge, range(len(CLAIMS)))


_task: list[tuple[Subject, Effort]] = []
"""What a worker process works on; set once when it starts, never in the process that asks."""


def _take(subject: Subject, effort: Effort) -> None:
    _task[:] = [(subject, effort)]


def _judge(number: int) -> Claim:
    definition: ClaimDefinition = CLAIMS[number]
    return judge(definition, *_task[0])
