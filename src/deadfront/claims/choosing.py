"""Claims: which pair of fuses would be right. A project and a catalogue come in; ranked pairs with verdicts go out.

Every pair is examined at once at the worst of many points of the file's ranges: what fails there fails in the file.
The best of what is left are then written into the project, in memory, and judged by the claims themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from deadfront.claims.choice import DECIDED, Candidate, Choice, PairVerdict, candidate, finite, percentage
from deadfront.claims.comparing import CLAIMS, ClaimDefinition
from deadfront.claims.judging import Subject, judge, missing_entry
from deadfront.claims.model import Claim
from deadfront.claims.pair_duty import OF_A_FUSE, missing_entries
from deadfront.claims.proving import QUICK
from deadfront.claims.reported import sound_subject_of
from deadfront.claims.screening import screened
from deadfront.intervals import Effort
from deadfront.operation.refusing import refuse_broken
from deadfront.project.catalogue import Catalogue, CatalogueFuse
from deadfront.project.fuse_writing import Pair, loaded, provisional, with_pair
from deadfront.project.project import Project
from deadfront.station.station import build

SAME = 6
"""Decimals to which margins are compared: proofs end apart by less."""

TRIES = 5
"""Proofs that are tried for each that is wished for, before the rest is left unproved."""


@dataclass(frozen=True, slots=True)
class Wish:
    """How to choose.

    proofs          pairs to be proved and shown; None for all that the examination leaves
    stock           names of fuses in stock
    fewest_ratings  whether fewest new ratings go before the largest worst margin
    """

    proofs: int | None = 3
    stock: frozenset[str] = frozenset()
    fewest_ratings: bool = False
    effort: Effort = QUICK


Tell = Callable[[str], None]


def choose(project: Project, catalogue: Catalogue, wish: Wish, tell: Tell = lambda _text: None) -> Choice:
    """Examine every pair of the catalogue in the project, and prove the best.

    raises ValueError: the catalogue has no link or no limiter, or the file says that the link only isolates
           ProjectErrors: the `operation` section of the file contradicts itself or the unit
    """
    refuse_broken(project, build(project.unit))
    subject = trial(project, catalogue)
    demonstration = project.demonstration or catalogue.demonstration
    missing = missing_entries(subject)
    if missing:
        entries = tuple(missing_entry(path, project.unit.practice) for path in missing)
        return Choice(catalogue, demonstration, (), (), (), entries)
    tell(f"examining {len(catalogue.links) * len(catalogue.limiters)} pairs")
    search = _Search(project, catalogue, wish, tell)
    found = screened(subject, catalogue, wish.stock)
    left = sorted((one for one in found if not one.failed), key=search.order)
    rejected = [one for one in found if one.failed]
    proved, refused, rest = search.prove(left)
    rejected = sorted([*rejected, *refused], key=_nearness)
    candidates = [*sorted(proved, key=search.final_order), *rest]
    reasoned = _with_reasons(candidates, wish)
    return Choice(catalogue, demonstration, reasoned, tuple(rejected), tuple(search.unaffected.values()), ())


def _nearness(one: Candidate) -> tuple[bool, int, float, str]:
    """How near a rejected pair came: those that only the proof refused first, then few failed claims, then the lack."""
    margins = [verdict.margin for verdict in one.failed if verdict.margin is not None]
    return not one.proved, len(one.failed), -min(margins, default=-math.inf), one.name


@dataclass(slots=True)
class _Search:
    """Proofs of the best pairs, one after the other, until no other pair can be better."""

    project: Project
    catalogue: Catalogue
    wish: Wish
    tell: Tell
    unaffected: dict[str, PairVerdict] = field(default_factory=dict)

    def order(self, one: Candidate) -> tuple[float, float, str]:
        """Rank of a pair: by worst margin, or by new ratings and then by it."""
        margin = -math.inf if one.worst_margin is None else one.worst_margin
        new = len(one.new_ratings)
        return (new, -margin, one.name) if self.wish.fewest_ratings else (-margin, new, one.name)

    def final_order(self, one: Candidate) -> tuple[float, tuple[float, ...], str]:
        """The same among pairs that are proved; of equal worst margins the next larger ones decide."""
        margins = sorted(verdict.margin for verdict in one.verdicts if verdict.margin is not None)
        new = len(one.new_ratings) if self.wish.fewest_ratings else 0
        return new, tuple(-round(margin, SAME) for margin in margins), one.name

    def prove(self, left: Sequence[Candidate]) -> tuple[list[Candidate], list[Candidate], list[Candidate]]:
        """Pairs proved, pairs that a claim refused, and the rest, each with why it was left.

        What was examined is at most as strict as the claims: a pair's rank can only fall by its proof. So once as many
        as were wished for are proved and rank before the next pair, the order of those is final.
        """
        proved: list[Candidate] = []
        refused: list[Candidate] = []
        wanted = len(left) if self.wish.proofs is None else self.wish.proofs
        for number, one in enumerate(left):
            best = sorted(proved, key=self.order)[:wanted]
            final = len(best) == wanted and (not best or self.order(best[-1]) <= self.order(one))
            if final or number >= max(TRIES * wanted, wanted):
                return (
                    proved,
                    refused,
                    [replace(rest, reasons=(_why_unproved(wanted, final),)) for rest in left[number:]],
                )
            self.tell(f"proving {one.name}")
            judged = self._proved(one)
            (refused if judged.failed else proved).append(judged)
        return proved, refused, []

    def _proved(self, one: Candidate) -> Candidate:
        """The pair judged by every claim that it decides, as if it stood in the file."""
        pair: Pair = {"bayonet": one.link, "limiter": one.limiter}
        there = loaded(self.project, with_pair(self.project, pair, overwrite=False))
        subject = sound_subject_of(there)
        verdicts = []
        for definition in decided():
            claim = judge(definition, subject, self.wish.effort)
            if _whatever_the_pair(claim):
                self.unaffected[claim.id] = _verdict(claim)
            else:
                verdicts.append(_verdict(claim))
        return candidate((one.link, one.limiter), tuple(verdicts), self.wish.stock, proved=True)


def decided() -> Iterator[ClaimDefinition]:
    """Definitions of the claims that a pair decides, in the order of `DECIDED`."""
    by_id = {definition.id: definition for definition in CLAIMS}
    return (by_id[identifier] for identifier in DECIDED if identifier in by_id)


def _whatever_the_pair(claim: Claim) -> bool:
    """Whether the claim is open or not applicable for want of entries that no catalogue holds."""
    if claim.verdict == "not applicable":
        return True
    return (
        claim.verdict == "open"
        and bool(claim.missing)
        and not any(entry.path.startswith(OF_A_FUSE) for entry in claim.missing)
    )


def _verdict(claim: Claim) -> PairVerdict:
    """A judged claim in short."""
    return PairVerdict(claim.id, claim.verdict, finite(claim.margin), finite(claim.bound), claim.reason)


def _with_reasons(candidates: Sequence[Candidate], wish: Wish) -> tuple[Candidate, ...]:
    """The candidates with why each stands where it stands."""
    counts = {len(one.new_ratings) for one in candidates}
    fewest = min(counts) if len(counts) > 1 else -1
    found = []
    for number, one in enumerate(candidates):
        first = number == 0 and one.proved and not wish.fewest_ratings
        reasons = (_margin_reason(one, first=first), _stock_reason(one, fewest), *one.reasons)
        found.append(replace(one, reasons=reasons))
    return tuple(found)


def _why_unproved(wanted: int, final: bool) -> str:
    if wanted == 0:
        return "not proved: no proof was asked for"
    behind = "it cannot rank before those that are proved" if final else "the proofs stopped before it"
    return f"not proved: {behind}"


def _margin_reason(one: Candidate, *, first: bool) -> str:
    margins = [verdict for verdict in one.verdicts if verdict.margin is not None]
    if not margins or one.worst_margin is None:
        return "no margin is known"
    tightest = min(margins, key=lambda verdict: verdict.margin or 0.0)
    what = "largest worst margin of all" if first else "worst margin" if one.proved else "worst margin at best"
    return f"{what}, {percentage(one.worst_margin)} in {tightest.claim}"


def _stock_reason(one: Candidate, fewest: int) -> str:
    new = len(one.new_ratings)
    words = ("no new rating", "one new rating", "two new ratings")[new]
    names = f": {' and '.join(one.new_ratings)}" if new else ""
    return f"{words} to stock{', the fewest' if new == fewest else ''}{names}"


def in_stock(project: Project, catalogue: Catalogue) -> frozenset[str]:
    """Fuses of the catalogue that a file has: the same curve, point by point, and no entry that contradicts."""
    slots = (("bayonet", catalogue.links), ("limiter", catalogue.limiters))
    return frozenset(fuse.name for slot, fuses in slots for fuse in fuses if _is_fitted(project, slot, fuse))


def _is_fitted(project: Project, slot: str, fuse: CatalogueFuse) -> bool:
    """Whether the fuse of a file is this one, as far as both say."""
    curve = project.curves.get(project.text(f"fuses.{slot}.curve") or "")
    if curve is None or replace(curve, source="") != replace(fuse.curve, source=""):
        return False
    for entry, text in fuse.entries.items():
        path = f"fuses.{slot}.{entry}"
        one, other = fuse.quantities.get(entry), project.quantities.get(path)
        if one is not None and other is not None and (one.low, one.high) != (other.low, other.high):
            return False
        word = project.text(path)
        if one is None and entry != "curve" and word is not None and word != text:
            return False
    return True


def trial(project: Project, catalogue: Catalogue) -> Subject:
    """The project with the first pair of the catalogue, so that both fuses are there; what a pair has to do is read
    from it.

    raises ValueError: the catalogue has no link or no limiter, or the file says that the link only isolates
    """
    if not catalogue.links or not catalogue.limiters:
        raise ValueError(f"{catalogue.name}: expected at least one link and one limiter")
    if project.text("fuses.isolation_link") == "yes":
        raise ValueError("fuses.isolation_link: expected `no`, got `yes`: a link that only isolates makes no pair")
    return sound_subject_of(provisional(project, {"bayonet": catalogue.links[0], "limiter": catalogue.limiters[0]}))
