"""Claims: all definitions meet one subject. A subject comes in; its claims go out, judged on every core there is."""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import TypeVar, cast

from deadfront.claims.comparing import CLAIMS
from deadfront.claims.judging import Subject, judge
from deadfront.claims.model import Claim
from deadfront.intervals import Effort

T = TypeVar("T")

MOST_WORKERS = 8
"""Beyond this many processes a check gains nothing: one claim is the longest."""


Other = tuple[str, Callable[[], object]]
"""Work that is done beside the claims: what it is called, and what does it."""


def judged(
    subject: Subject, effort: Effort, others: Sequence[Other], tell: Callable[[int, str], None]
) -> tuple[list[Claim], list[object]]:
    """Every claim, in the order of the list, and the results of other work; `tell`: how many are done, which is next.

    All are independent and pure, so the result does not depend on how many processes work. Where processes cannot be
    forked (or threads run, which a fork would lose) one is done after the other. The others are begun first.
    """
    found: list[object] = []
    names = [*(definition.id for definition in CLAIMS), *(name for name, _ in others)]

    def one(number: int) -> object:
        return judge(CLAIMS[number], subject, effort) if number < len(CLAIMS) else others[number - len(CLAIMS)][1]()

    results = spread(one, len(names), range(len(CLAIMS), len(names)))
    for done, name in enumerate(names):
        tell(done, name)  # before it is waited for: whoever watches wants to know what takes long
        found.append(next(results))
    return cast("list[Claim]", found[: len(CLAIMS)]), found[len(CLAIMS) :]


def spread(job: Callable[[int], T], count: int, first: Sequence[int] = ()) -> Iterator[T]:
    """Results of a job for 0 to count - 1, in that order, worked on by every core there is; some begun `first`.

    The job need not be pickled, its results must be; it must not depend on what it did before.
    """
    if _workers() < 2 or count < 2:
        yield from map(job, range(count))
        return
    context = multiprocessing.get_context("fork")
    with ProcessPoolExecutor(_workers(), context, _take, (job,)) as pool:
        begun = {number: pool.submit(_work, number) for number in dict.fromkeys([*first, *range(count)])}
        try:
            for number in range(count):
                yield cast("T", begun[number].result())
        finally:
            for future in begun.values():
                future.cancel()


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
