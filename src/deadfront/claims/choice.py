"""Claims: what came of a choice of fuses. Verdicts of claims on pairs come in; candidates with their margins go out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from deadfront.claims.model import MissingEntry, Verdict
from deadfront.project.catalogue import Catalogue, CatalogueFuse

DECIDED = (
    "SC-03",
    "SC-06",
    "OC-01",
    "OC-02",
    "OC-03",
    "OC-04",
    "OC-05",
    "OC-06",
    "OC-07",
    "OC-08",
    "OC-09",
    "CO-01",
    "CO-02",
)
"""Claims that the choice of a pair decides, alone or with other things."""


@dataclass(frozen=True, slots=True)
class PairVerdict:
    """A claim on a pair.

    margin  share of the limit, at the worst point found; None where there is none
    bound   the margin that no point of the ranges goes below; None where it is not proved
    reason  the claim's own words, or the check that is tightest
    """

    claim: str
    verdict: Verdict
    margin: float | None
    bound: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """A pair with the verdicts of its claims.

    proved        whether the claims themselves were judged, over all points of the file's ranges
    worst_margin  least margin of all claims; None where one is not known
    new_ratings   fuses of the pair that are not in stock
    reasons       why it stands where it stands, in words
    """

    link: CatalogueFuse
    limiter: CatalogueFuse
    verdicts: tuple[PairVerdict, ...]
    proved: bool
    worst_margin: float | None
    new_ratings: tuple[str, ...]
    reasons: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Both fuses as the catalogue calls them."""
        return f"{self.link.name} + {self.limiter.name}"

    @property
    def failed(self) -> tuple[PairVerdict, ...]:
        """Claims that keep the pair from being chosen, worst first."""
        stopping = [verdict for verdict in self.verdicts if verdict.verdict in ("refuted", "open")]
        return tuple(sorted(stopping, key=lambda v: math.inf if v.margin is None else v.margin))


@dataclass(frozen=True, slots=True)
class Choice:
    """What came of a catalogue in a project.

    candidates  pairs whose claims are all shown, best first, then those not proved because enough better ones were
    rejected    pairs of which a claim is refuted or open, nearest first
    unaffected  claims that are open or not applicable whatever the pair, for want of entries that are no fuse's
    missing     entries without which nothing can be examined; there are no pairs then
    """

    catalogue: Catalogue
    demonstration: bool
    candidates: tuple[Candidate, ...]
    rejected: tuple[Candidate, ...]
    unaffected: tuple[PairVerdict, ...]
    missing: tuple[MissingEntry, ...]


def candidate(
    fuses: tuple[CatalogueFuse, CatalogueFuse],
    verdicts: tuple[PairVerdict, ...],
    stock: frozenset[str],
    *,
    proved: bool,
) -> Candidate:
    """A pair with its verdicts; `stock` are names of fuses at hand."""
    margins = [verdict.margin for verdict in verdicts if verdict.margin is not None]
    known = not any(verdict.verdict == "open" for verdict in verdicts)
    new = tuple(fuse.name for fuse in fuses if fuse.name not in stock)
    worst = min(margins) if known and margins else None
    return Candidate(*fuses, verdicts, proved, worst, new)


def finite(margin: float | None) -> float | None:
    """A margin where it is a number, else None."""
    return margin if margin is not None and math.isfinite(margin) else None


def percentage(margin: float) -> str:
    """A margin as a share of its limit, rounded down, so that it never flatters."""
    return f"{math.floor(margin * 1000.0) / 10.0:.1f} %"
