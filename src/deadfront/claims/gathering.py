"""Claims: all definitions meet one subject. A subject comes in; its claims go out, judged on every core there is."""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar, cast

from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import Subject, judge
from deadfront.claims.model import Claim
from deadfront.intervals import Effort

T = TypeVar("T")

MOST_WORKERS = 8
"""Beyond this many processes a check gains nothing: one claim is the longest."""


def judged(subject: Subject, effort: Effort, tell: Callable[[int, str], None]) -> list[Claim]:
    """Every claim, in the order of the list; `tell` is called with how many are done, and which is next.

    Claims are independent and pure, so the result does not depend on how many processes work. Where processes cannot
    be forked (or threads run, which a fork would lose) the claims are judged one after the other.
    """
    found = []

    def one(number: int) -> Claim:
        return judge(CLAIMS[number], subject, effort)

    for done, claim in enumerate(spread(one, len(CLAIMS))):
        tell(done, claim.id)
        found.append(claim)
    return found


def spread(job: Callable[[int], T], count: int) -> Iterator[T]:
    """Results of a job for 0 to count - 1, in that order, worked on by every core there is.

    The job need not be pickled, its results must be; it must not depend on what it did before.
    """
    if _workers() < 2 or count < 2:
        yield from map(job, range(count))
        return
    context = multiprocessing.get_context("fork")
    with ProcessPoolExecutor(_workers(), context, _take, (job,)) as pool:
        yield from cast("Iterator[T]", pool.map(_work, range(count)))


def _workers() -> int:
    if sys.platform != "linux" or "fork" not in multiprocessing.get_all_start_methods() or threading.active_count() > 1:
        return 1
    return min(len(os.sched_getaffinity(0)), MOST_WORKERS)


_task: list[Callable[[int], object]] = []
"""What a worker process works on; set once when it starts, never in the process that asks."""


def _take(job: Callable[[int], object]) -> None:
    _task[:] = [job]


def _work(number: int) -> object:
    return _task[0](number)
