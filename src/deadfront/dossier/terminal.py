"""Dossier: the claims as plain text. A report comes in; lines of at most 80 columns, without colour, go out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from deadfront.claims.model import Claim, Detail
from deadfront.claims.numbers import GROUP, margin_in_words, plain_against
from deadfront.claims.wording import coverage_in_words

if TYPE_CHECKING:
    from deadfront.claims.report import Report

WIDTH = 79
_BESIDE = 28
"""Column where the numbers begin, beside the verdict."""
_MARKS = {"shown": "+", "refuted": "X", "open": "?", "not applicable": "-"}
_ORDER = {"refuted": 0, "open": 1, "shown": 2, "not applicable": 3}


def summary_text(report: Report) -> str:
    """All claims, grouped by hazard, worst first, and a summary line."""
    lines = list(_heading(report))
    for hazard, claims in by_hazard(report.claims):
        lines += ["", *textwrap.wrap(hazard.upper(), WIDTH)]
        for claim in claims:
            lines.extend(_short(claim))
    lines += ["", counts(report.claims)]
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


CAUTION = (
    "This supports and does not replace the judgement of a licensed professional. Local codes and the authority "
    "having jurisdiction govern. De-energised work is the rule."
)


def claim_text(report: Report, identifier: str) -> str:
    """One claim with its whole arithmetic."""
    claim = next(c for c in report.claims if c.id == identifier)
    lines = [*_heading(report), "", claim.hazard.upper(), *_short(claim)]
    lines += _section("Rule", [f"{claim.rule.demand}. {claim.rule.source} [{claim.rule.tag}]"])
    lines += _section("Coverage", [coverage_in_words(claim.coverage, claim.bound)])
    if claim.worst_case is not None:
        lines += _section("Worst case", [claim.worst_case.words])
    lines += _section("Arithmetic at the worst case", [])
    for step in claim.evidence:
        lines += _wrapped(f"{step.symbol} = {step.result}", 4)
        lines += _wrapped(step.meaning, 8)
        lines += _wrapped(f"{step.formula}" + (f" : {step.numbers}" if step.numbers else ""), 8)
        lines += _wrapped(f"{step.source} [{step.tag}]", 8)
    lines += _section("Each subject", [_detail(d) for d in sorted(claim.details, key=lambda d: d.margin)])
    lines += _section(
        "Assumptions",
        [
            f"{a.key}: {a.text} [{a.tag}] Confirm: {a.confirm} Owner: {a.owner or 'nobody yet'}"
            for a in claim.assumptions
        ],
    )
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines) + "\n"


def by_hazard(claims: Iterable[Claim]) -> list[tuple[str, list[Claim]]]:
    """Hazards in the order of their worst claim, and within each the claims, worst first."""
    groups: dict[str, list[Claim]] = {}
    for claim in claims:
        groups.setdefault(claim.hazard, []).append(claim)
    for group in groups.values():
        group.sort(key=_severity)
    return sorted(groups.items(), key=lambda item: (_severity(item[1][0])[0], item[0]))


def _severity(claim: Claim) -> tuple[int, float, str]:
    return _ORDER[claim.verdict], claim.margin if claim.margin is not None else 0.0, claim.id


def counts(claims: Iterable[Claim]) -> str:
    """How many claims have which verdict, in one line."""
    found = list(claims)
    numbers = {verdict: sum(claim.verdict == verdict for claim in found) for verdict in _ORDER}
    return f"{len(found)} claims: " + ", ".join(f"{number} {verdict}" for verdict, number in numbers.items())


def _heading(report: Report) -> Iterator[str]:
    practice = {"iec": "IEC practice", "north-american": "North American practice"}[report.project.unit.practice]
    yield from textwrap.wrap(report.project.unit.title, WIDTH)
    yield f"{practice}, {report.project.name}, sha256 {report.project.sha256[:16]}"
    if report.project.demonstration:
        yield "demonstration data - not for construction"


def _short(claim: Claim) -> Iterator[str]:
    """A claim in a few lines: verdict and numbers, sentence, and what governs or is missing."""
    yield ""
    head = f"  {_MARKS[claim.verdict]} {claim.id}  {claim.verdict}"
    beside = _numbers(claim)
    if _BESIDE + len(beside) <= WIDTH or ", " not in beside:
        yield f"{head:<{_BESIDE}}{beside}".rstrip()
    else:
        numbers, _, margin = beside.rpartition(", ")
        yield f"{head:<{_BESIDE}}{numbers},"
        yield " " * _BESIDE + margin
    yield from _wrapped(claim.sentence, 4)
    if claim.verdict != "shown" and claim.reason:
        yield from _wrapped(claim.reason, 4)
    for missing in claim.missing:
        yield from _wrapped(f"give {missing.path} ({missing.what.rstrip('.')}), for example `{missing.example}`", 6)
    if claim.worst_case is not None:
        yield from _wrapped(f"worst case: {claim.worst_case.words}", 4)


def _numbers(claim: Claim) -> str:
    """The value against its limit, or what was counted."""
    if claim.counted:
        return claim.counted
    if claim.value is None or claim.limit is None or claim.margin is None:
        return ""
    value, limit = plain_against(claim.value, claim.limit, claim.unit, claim.margin, claim.quantity)
    relation = "of at most" if _at_most(claim) else "of at least"
    return f"{value} {relation} {limit}, {_margin(claim.margin)}"


def _at_most(claim: Claim) -> bool:
    """Whether the value must stay below its limit; told from the sign of the margin."""
    assert claim.value is not None
    assert claim.limit is not None
    assert claim.margin is not None
    return (claim.margin >= 0) == (claim.value <= claim.limit)


def _detail(detail: Detail) -> str:
    if detail.counts:
        return f"{detail.subject}: {detail.worst_case}"
    value, limit = plain_against(detail.value, detail.limit, detail.unit, detail.margin, detail.quantity)
    stated = f"; {detail.selective.words}" if detail.selective else ""
    return f"{detail.subject}: {value} against {limit}, {_margin(detail.margin)}{stated}"


def _margin(margin: float) -> str:
    words = margin_in_words(margin).replace(GROUP, "")
    return {"none": "no margin"}.get(words, words if " times " in words else f"margin {words}")


def _section(title: str, items: list[str]) -> list[str]:
    lines = ["", f"  {title}"]
    for item in items:
        lines += _wrapped(item, 4)
    return lines if items or title.startswith("Arithmetic") else []


def _wrapped(text: str, indent: int) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * indent, break_on_hyphens=False
    )
