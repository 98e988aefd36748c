"""Dossier: claims as sheets. Claims come in; for each its texts, numbers in print and tables go out, ready to set."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from deadfront.claims.model import Claim, Detail, Step
from deadfront.claims.numbers import against, both_systems, format_number, margin_in_words, raised, typographic
from deadfront.claims.wording import coverage_in_words, path_in_words
from deadfront.dossier.wording import VERDICTS

_NAMED_ENTRIES = 2
"""So many missing entries are named on the cover; the register of open items has them all."""
DASH = "\u2013"
# How formulas of the tool, which are plain text, are written in print.
_WRITTEN: tuple[tuple[str, str], ...] = (
    (r"\bsqrt\(", "√("),
    *(
        (rf"\b{name}\b", letter)
        for name, letter in zip(("pi", "tau", "kappa", "theta", "alpha", "rho"), "πτκθαρ", strict=True)
    ),
    (r"\^2\b", "²"),
    (r"(?<=[\w)]) x (?=[\w(])", " × "),
    (r"(?<=[\w)]) \* (?=[\w(√])", " · "),
    (r"(?<=[\s(^/])-(?=\s?[\w(])", "\u2212"),
)
_ORDER = {verdict: place for place, (verdict, _) in enumerate(VERDICTS)}


def by_hazard(claims: Sequence[Claim], register: Mapping[str, str]) -> list[dict[str, Any]]:
    """The claims in groups of one hazard, hazards in their first order, identifiers rising within each.

    `register` gives the number of each assumption by its key.
    """
    hazards = dict.fromkeys(claim.hazard for claim in claims)
    return [
        {
            "title": hazard[:1].upper() + hazard[1:],
            "claims": [
                sheet(claim, register) for claim in sorted(claims, key=lambda c: c.id) if claim.hazard == hazard
            ],
        }
        for hazard in hazards
    ]


def worst_first(claims: Sequence[Claim], verdict: str) -> list[dict[str, str]]:
    """The claims of one verdict for the cover: identifier, sentence and the reason in one line; worst margin first."""
    chosen = [claim for claim in claims if claim.verdict == verdict]
    chosen.sort(key=lambda c: (math.inf if c.margin is None or math.isnan(c.margin) else c.margin, c.id))
    return [{"id": c.id, "sentence": raised(c.sentence), "verdict": c.verdict, "why": raised(_why(c))} for c in chosen]


def counts(claims: Sequence[Claim]) -> list[dict[str, Any]]:
    """How many claims have each verdict, with what the verdict means."""
    return [
        {"verdict": verdict, "count": sum(claim.verdict == verdict for claim in claims), "meaning": meaning}
        for verdict, meaning in VERDICTS
    ]


def index(claims: Sequence[Claim]) -> list[dict[str, str]]:
    """Every claim in one line: identifier, sentence, verdict, margin."""
    return [
        {
            "id": c.id,
            "sentence": raised(c.sentence),
            "verdict": c.verdict,
            "margin": _margin(c.margin) if c.limit else "",
        }
        for c in sorted(claims, key=lambda c: (_ORDER[c.verdict], c.id))
    ]


def sheet(claim: Claim, register: Mapping[str, str]) -> dict[str, Any]:
    """One claim with everything that shows or refutes it; its assumptions by their number in the register."""
    worst = claim.worst_case
    inputs = dict(sorted(worst.inputs_text.items())) if worst else {}
    return {
        "id": claim.id,
        "sentence": raised(claim.sentence),
        "verdict": claim.verdict,
        "reason": raised(claim.reason),
        "figures": _figures(claim),
        "coverage": coverage_in_words(claim.coverage, claim.bound),
        "worst": raised(_without_inputs(worst.words, inputs)) if worst else "",
        "inputs": [{"path": path, "text": raised(text)} for path, text in inputs.items()],
        "rule": {"demand": raised(claim.rule.demand), "source": claim.rule.source, "tag": claim.rule.tag},
        "steps": [_step(step) for step in claim.evidence],
        "details": [_detail(detail) for detail in sorted(claim.details, key=_severity)],
        "assumptions": [
            {"number": register[a.key], "text": raised(a.text)} for a in sorted(claim.assumptions, key=lambda a: a.key)
        ],
        "missing": [{"path": m.path, "what": m.what, "example": m.example} for m in claim.missing],
    }


def _without_inputs(words: str, inputs: dict[str, str]) -> str:
    """The words of a worst case without the values that are listed beside it."""
    listed = {f"{path_in_words(path)} {text}" for path, text in inputs.items()}
    parts = (", ".join(piece for piece in part.split(", ") if piece not in listed) for part in words.split("; "))
    return "; ".join(part for part in parts if part)


def _severity(detail: Detail) -> float:
    """Worst first; what is outside the model comes before all."""
    return -math.inf if math.isnan(detail.margin) else detail.margin


def _figures(claim: Claim) -> list[dict[str, str]]:
    """Value, limit and margin in print; nothing where nothing was computed."""
    if claim.counted:
        return [{"label": "counted", "text": raised(claim.counted), "second": ""}]
    if claim.value is None:
        return []
    if claim.limit is None:
        return [{"label": "value", "text": typographic(both_systems(claim.value, claim.unit, "up")), "second": ""}]
    value, limit = against(claim.value, claim.limit, claim.unit, claim.margin, claim.quantity)
    return [
        {"label": "value", "text": typographic(value), "second": claim.quantity or _second(claim.value, claim.unit)},
        {"label": "limit", "text": typographic(limit), "second": _second(claim.limit, claim.unit, "down")},
        *([_margin_figure(claim.margin)] if claim.limit else []),
    ]


def _margin_figure(margin: float | None) -> dict[str, str]:
    text = _margin(margin)
    return {"label": "margin", "text": text, "second": "share of the limit" if "%" in text else ""}


def _second(value: float, unit: str, direction: Any = "up") -> str:
    """The same number in the other system, where there is one."""
    whole = both_systems(value, unit, direction)
    return typographic(whole.partition(" (")[2].removesuffix(")"))


def _step(step: Step) -> dict[str, str]:
    texts = {name: formula(getattr(step, name)) for name in ("symbol", "formula", "numbers", "result")}
    return texts | {"meaning": raised(step.meaning), "source": step.source, "tag": step.tag}


def formula(text: str) -> str:
    """A formula of the tool as it is written by hand: roots, Greek letters, squares, times and minus signs."""
    for plain, fine in _WRITTEN:
        text = re.sub(plain, fine, text)
    return raised(text)


def _detail(detail: Detail) -> dict[str, str]:
    if detail.counts:
        return {"subject": detail.subject, "value": "", "limit": "", "margin": "", "worst": raised(detail.worst_case)}
    value, limit = against(detail.value, detail.limit, detail.unit, detail.margin, detail.quantity)
    return {
        "subject": f"{detail.subject}: {detail.quantity}" if detail.quantity else detail.subject,
        "value": typographic(value),
        "limit": typographic(limit),
        "margin": _margin(detail.margin) if detail.limit else "",
        "worst": raised("; ".join([detail.worst_case, *([detail.selective.words] if detail.selective else [])])),
    }


def _margin(margin: float | None) -> str:
    """A margin in per cent; none where the value has no end."""
    if margin is None:
        return ""
    return typographic(margin_in_words(margin))


def _why(claim: Claim) -> str:
    """One line: the reason and what is missing, or else the number against its limit."""
    if claim.missing:
        more = len(claim.missing) - _NAMED_ENTRIES
        entries = ", ".join(entry.path for entry in claim.missing[:_NAMED_ENTRIES])
        rest = f" and {more} more, see the open items" if more > 0 else ""
        return f"{claim.reason} Missing: {entries}{rest}.".strip()
    if claim.reason or claim.value is None or claim.limit is None:
        return claim.reason
    value, limit = against(claim.value, claim.limit, claim.unit, claim.margin, claim.quantity)
    return f"{claim.quantity} {typographic(value)} against {typographic(limit)}.".lstrip()


def number(value: float | None, unit: str, direction: Any = "even") -> str:
    """A number for a table cell; a dash for what is not given or outside the model."""
    return DASH if value is None or math.isnan(value) else typographic(format_number(value, unit, direction))
