"""Claims: pairs of fuses that fail somewhere in the file's ranges. A project and a catalogue in, first verdicts out.

Plain numbers at the worst of a sample of points: what fails there fails in the file; what does not is not yet proved.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from deadfront.claims.candidates import limiter_of, link_of, published_for
from deadfront.claims.choice import DECIDED, Candidate, PairVerdict, candidate, finite
from deadfront.claims.judging import Subject
from deadfront.claims.pair_duty import pair_duty
from deadfront.physics.crossing import STATES, WORDS
from deadfront.physics.fuse_candidates import CHECKS, Examined, examine
from deadfront.project.catalogue import Catalogue, CatalogueFuse

CLAIM_OF_CHECK = dict(
    zip(
        CHECKS,
        (
            *("OC-04", "OC-04", "OC-04", "OC-05", "OC-03", "OC-03", "OC-03", "OC-06", "OC-06"),
            *("OC-01", "OC-01", "OC-01", "OC-01", "OC-02", "OC-02", "SC-03"),
        ),
        strict=True,
    )
)
"""The claim that makes each check of `fuse_candidates.examine`."""

EXAMINED = tuple(identifier for identifier in DECIDED if identifier in CLAIM_OF_CHECK.values())

AT_ONCE = 2000
"""Pairs that are examined in one call: some hundred megabytes, however large the catalogue."""

BAND = 0.01
"""1, of a limit: a check that fails by less is left to the claim itself, which reads crossings and shares from tables
with chords up to a hundredth of the limit away, on the safe side."""

NEEDED = {
    "bayonet": ("element", "interrupting", "voltage"),
    "limiter": ("element", "interrupting", "minimum_interrupting", "melting_energy", "voltage"),
}
"""Entries of a catalogue without which a check stays open; `rating` counts where `permitted_load` is not given."""


def screened(subject: Subject, catalogue: Catalogue, stock: frozenset[str]) -> list[Candidate]:
    """Every pair at the worst of a sample of points, link by link; see `pair_duty` for what that is worth.

    subject   of `trial`
    """
    duty = pair_duty(subject)
    frequency = subject.walk().inputs.lowest("frequency")
    links = [link_of(fuse, duty, frequency) for fuse in catalogue.links]
    limiters = [limiter_of(fuse, duty, frequency) for fuse in catalogue.limiters]
    found: list[Candidate] = []
    for start in range(0, len(links) * len(limiters), AT_ONCE):
        numbers = np.arange(start, min(start + AT_ONCE, len(links) * len(limiters)))
        examined = examine(links, limiters, duty, np.divmod(numbers, len(limiters)))
        found += [
            candidate(fuses, verdicts, stock, proved=False)
            for fuses, verdicts in _verdicts(examined, catalogue, frequency)
        ]
    return found


def _verdicts(
    examined: Examined, catalogue: Catalogue, frequency: float
) -> Iterator[tuple[tuple[CatalogueFuse, CatalogueFuse], tuple[PairVerdict, ...]]]:
    """Both fuses of each pair, and what its checks say of each claim."""
    tightest = [_tightest(examined, claim) for claim in EXAMINED]
    for pair, (i, j) in enumerate(zip(examined.link.tolist(), examined.limiter.tolist(), strict=True)):
        fuses = catalogue.links[i], catalogue.limiters[j]
        verdicts = [
            _screened(claim, CHECKS[checks[pair]], margins[pair])
            for claim, (checks, margins) in zip(EXAMINED, tightest, strict=True)
        ]
        if any(verdict.verdict == "open" for verdict in verdicts):
            lacks = _lacking(fuses, frequency)
            verdicts = [_explained(verdict, examined, pair, lacks) for verdict in verdicts]
        yield fuses, tuple(verdicts)


def _tightest(examined: Examined, claim: str) -> tuple[list[int], list[float]]:
    """Of each pair the check of a claim with the least margin, or one that is not known, and that margin."""
    columns = np.array([number for number, check in enumerate(CHECKS) if CLAIM_OF_CHECK[check] == claim])
    margins = examined.margin[:, columns]
    which = np.argmin(margins, axis=-1)  # stops at the first NaN, which is worse than any number
    return columns[which].tolist(), np.take_along_axis(margins, which[:, None], -1)[:, 0].tolist()


def _screened(claim: str, check: str, margin: float) -> PairVerdict:
    """A claim as far as its checks say: refuted at a point, open, or not yet refuted, which is `shown` once proved."""
    if math.isnan(margin):
        return PairVerdict(claim, "open", None, None, check)
    return PairVerdict(claim, "refuted" if margin < -BAND else "shown", finite(margin), None, check)


def _lacking(fuses: tuple[CatalogueFuse, CatalogueFuse], frequency: float) -> list[str]:
    """What the rows of a pair lack, or say of another frequency, each with its place."""
    found = [
        f"{fuse.place} gives no {entry}"
        for fuse, entries in zip(fuses, NEEDED.values(), strict=True)
        for entry in entries
        if entry not in fuse.entries and not (entry == "element" and "melting_temperature" in fuse.entries)
    ]
    other = [fuse for fuse in fuses if not published_for(fuse, frequency)]
    return found + [
        f"{fuse.place} has a curve for {fuse.entries['reference_frequency']}, the network {frequency:g} Hz"
        for fuse in other
    ]


def _explained(verdict: PairVerdict, examined: Examined, pair: int, lacking: list[str]) -> PairVerdict:
    """An open verdict with why it is open: the row that lacks something, or how the curves lie."""
    if verdict.verdict != "open":
        return verdict
    states = [STATES[int(state)] for state in examined.crossings.state[pair]]
    unclear = [WORDS[state] for state in states if state in ("crosses several times", "crosses beyond both curves")]
    if lacking:
        why = ", ".join(lacking)
    elif unclear and verdict.claim not in ("OC-01", "OC-02"):
        why = unclear[0]
    else:
        why = "the permitted load melts it, or its curve begins at a shorter time than it is asked for"
    return replace(verdict, reason=f"{verdict.reason}: {why}")
