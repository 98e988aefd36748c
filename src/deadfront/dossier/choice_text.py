"""Dossier: a choice of fuses as plain text. What `choose` found comes in; lines of at most 80 columns go out."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence

from deadfront.claims.choice import Candidate, Choice, PairVerdict, percentage
from deadfront.dossier.terminal import CAUTION, WIDTH

RANKED, NEAREST = 10, 5
"""Pairs that are printed where not all are asked for: ranked ones, and rejected ones."""

UNPROVED = (
    "The points tried are those of the pair's own claims (OC). The proof asks all claims that the pair decides, also "
    "those about every fault and about other devices, and may refute each of these."
)
_ROW = "{:>4}  {:<21.21} {:<21.21} {:>9}  {}"


def choice_text(title: str, choice: Choice, *, everything: bool = False) -> str:
    """The ranked pairs with their reasons, the rejected ones with what failed, nearest first."""
    lines = [*_wrapped(f"{title}: choice of fuses", 0)]
    if choice.demonstration:
        lines.append("demonstration data - not for construction")
    if choice.missing:
        return "\n".join([*lines, "", *_missing(choice), "", *_wrapped(CAUTION, 0)]) + "\n"
    links, limiters = len(choice.catalogue.links), len(choice.catalogue.limiters)
    counted = f"{links} links and {limiters} limiters make {links * limiters} pairs"
    lines += [*_wrapped(f"From {choice.catalogue.name}: {counted}.", 0), "", *_ranked(choice, everything)]
    for verdict in choice.unaffected:
        lines += ["", *_wrapped(f"{verdict.claim} is {verdict.verdict} whatever the pair. {verdict.reason}", 0)]
    lines += ["", *_rejected(choice.rejected, everything), "", *_wrapped(CAUTION, 0)]
    return "\n".join(lines) + "\n"


def _missing(choice: Choice) -> Iterator[str]:
    yield "No pair can be tried: the file lacks"
    for entry in choice.missing:
        yield f"  {entry.path}"
        yield from _wrapped(f"{entry.what} For example `{entry.example}`.", 4)


def _ranked(choice: Choice, everything: bool) -> Iterator[str]:
    proved = [one for one in choice.candidates if one.proved]
    left = [one for one in choice.candidates if not one.proved]
    if not choice.candidates:
        yield "No pair is left: a claim is refuted or open for each."
        return
    if proved:
        yield "SHOWN BY EVERY CLAIM THAT A PAIR DECIDES, BEST FIRST"
        yield from _table(proved)
    if left:
        yield from ([""] if proved else [])
        yield "NOT PROVED, SO NOT RANKED; NO POINT TRIED REFUTES THEM"
        yield from _wrapped(UNPROVED, 2)
        yield from _table(left if everything else left[:RANKED])
    if not everything and len(left) > RANKED:
        yield f"and {len(left) - RANKED} more; --all proves and prints them"


def _table(pairs: Sequence[Candidate]) -> Iterator[str]:
    """Pairs, each with its reasons below it; only one that is proved has a rank."""
    yield _ROW.format("rank", "link", "limiter", "margin", "claim").rstrip()
    for number, one in enumerate(pairs, start=1):
        margin = "" if one.worst_margin is None else percentage(one.worst_margin)
        yield _ROW.format(
            number if one.proved else "-", one.link.name, one.limiter.name, margin, _tightest(one.verdicts)
        ).rstrip()
        yield from _wrapped("; ".join(one.reasons), 6)


def _tightest(verdicts: Sequence[PairVerdict]) -> str:
    known = [verdict for verdict in verdicts if verdict.margin is not None]
    return min(known, key=lambda verdict: verdict.margin or 0.0).claim if known else ""


def _rejected(rejected: Sequence[Candidate], everything: bool) -> Iterator[str]:
    if not rejected:
        yield "No pair was rejected."
        return
    counts = Counter(verdict.claim for one in rejected for verdict in one.failed)
    yield f"REJECTED: {len(rejected)} PAIRS, NEAREST FIRST"
    words = ", ".join(f"{claim} {count}" for claim, count in sorted(counts.items(), key=lambda each: (-each[1], each)))
    yield from _wrapped(f"Pairs that fail each claim: {words}.", 2)
    for one in rejected if everything else rejected[:NEAREST]:
        yield _ROW.format("", one.link.name, one.limiter.name, "", "as proved" if one.proved else "").rstrip()
        for verdict in one.failed:
            margin = "open" if verdict.margin is None else percentage(verdict.margin)
            yield from textwrap.wrap(
                f"{verdict.claim} {margin:>10}  {verdict.reason}",
                WIDTH,
                initial_indent=" " * 6,
                subsequent_indent=" " * 24,
            )
    if not everything and len(rejected) > NEAREST:
        yield f"and {len(rejected) - NEAREST} more; --all prints them"


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent)
