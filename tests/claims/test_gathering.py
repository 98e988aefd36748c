"""Tests of work spread over processes: the order of results, what is begun first, errors, and a single process."""

import os

import pytest

from deadfront.claims import gathering, report
from deadfront.claims.gathering import spread


@pytest.mark.parametrize("workers", [1, 3])
@pytest.mark.parametrize("first", [(), (4, 5), (5, 0)])
def test_results_come_in_order_whatever_is_begun_first(monkeypatch, workers, first):
    """Each job once, its result at its own place, also where processes cannot be had."""
    monkeypatch.setattr(gathering, "_workers", lambda: workers)
    assert list(spread(lambda number: number * number, 6, first)) == [0, 1, 4, 9, 16, 25]


def test_work_is_done_in_other_processes(monkeypatch):
    """Two jobs that wait for nothing are not done by the process that asks."""
    monkeypatch.setattr(gathering, "_workers", lambda: 2)
    assert os.getpid() not in set(spread(lambda _number: os.getpid(), 4))


@pytest.mark.parametrize("workers", [1, 3])
def test_an_error_of_a_job_is_raised_at_its_place(monkeypatch, workers):
    """What came before it is there, and nothing after it is waited for."""
    monkeypatch.setattr(gathering, "_workers", lambda: workers)

    def job(number):
        if number == 2:
            raise ValueError("job: two is refused")
        return number

    results = spread(job, 5)
    assert [next(results), next(results)] == [0, 1]
    with pytest.raises(ValueError, match=r"^job: two is refused$"):
        next(results)


@pytest.mark.parametrize("workers", [1, 2])
def test_a_claim_is_told_before_it_is_waited_for(monkeypatch, workers):
    """Trap: whoever watches a long check saw the name of what was done, not of what it was at."""
    monkeypatch.setattr(gathering, "_workers", lambda: workers)
    events = []

    def judge(definition, _subject, _effort):
        if workers == 1:
            events.append(("judged", definition.id))
        return definition.id

    monkeypatch.setattr(gathering, "judge", judge)
    others = [("access", lambda: "hands")]
    claims, rest = gathering.judged(None, None, others, lambda done, what: events.append((done, what)))
    names = [definition.id for definition in report.CLAIMS]
    assert (claims, rest) == (names, ["hands"])
    told = [event for event in events if event[0] != "judged"]
    assert told == list(enumerate([*names, "access"]))
    if workers == 1:
        assert events[:4] == [(0, names[0]), ("judged", names[0]), (1, names[1]), ("judged", names[1])]
