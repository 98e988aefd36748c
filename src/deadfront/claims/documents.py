"""Claims: what was promised can be checked. The other claims come in; DO-02 goes out."""

from __future__ import annotations

from collections.abc import Iterable

from deadfront.claims.model import Assumption, Claim, Detail, MissingEntry, Rule, Step, Verdict

HAZARD = "A promise that nobody can check"
SENTENCE = "Each assumption has an owner and a way to confirm it on site."
RULE = Rule("Every assumption names who confirms it and how", "common practice, no source", "C")


def assumptions_are_owned(claims: Iterable[Claim]) -> Claim:
    """DO-02: counts the assumptions of all other claims that nobody owns."""
    every = all_assumptions(claims)
    unowned = [a for a in every if a.owner is None]
    verdict: Verdict = "not applicable" if not every else "open" if unowned else "shown"
    reason = {
        "not applicable": "No claim rests on an assumption.",
        "open": f"{len(unowned)} of {len(every)} assumptions have no owner.",
        "shown": f"All {len(every)} assumptions have an owner and a way to confirm them.",
    }[verdict]
    names = ", ".join(a.key for a in unowned) or "none"
    step = Step("n", "assumptions without an owner", "count", names, str(len(unowned)), "register of assumptions", "C")
    return Claim(
        id="DO-02",
        hazard=HAZARD,
        sentence=SENTENCE,
        verdict=verdict,
        reason=reason,
        value=float(len(unowned)),
        limit=0.0,
        unit="1",
        margin=0.0 if verdict == "shown" else None,
        bound=0.0 if verdict == "shown" else None,
        coverage="exact",
        worst_case=None,
        rule=RULE,
        evidence=(step,),
        assumptions=every,
        missing=tuple(
            MissingEntry(
                f"assumptions.{a.key}.owner",
                "who confirms this assumption",
                f"{a.key}: {{owner: commissioning engineer}}",
            )
            for a in unowned
        ),
        details=tuple(
            Detail(
                a.key,
                float(a.owner is None),
                0.0,
                "1",
                float(-(a.owner is None)),
                f"{a.text}; owner: {a.owner or 'nobody yet'}",
            )
            for a in every
        ),
        counted=f"{len(unowned)} of {len(every)} assumptions without an owner" if verdict == "shown" else "",
    )


def all_assumptions(claims: Iterable[Claim]) -> tuple[Assumption, ...]:
    """Every assumption that some claim rests on, once, sorted by key."""
    found = {assumption.key: assumption for claim in claims for assumption in claim.assumptions}
    return tuple(found[key] for key in sorted(found))
