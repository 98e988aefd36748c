"""Dossier: sheets for the crew. A sheet of a task and the arcs of a report come in; lines in print go out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from deadfront.dossier.numbers import both_systems, raised, typographic
from deadfront.operation.sheets import IF_NOT, Sheet, SheetStep

if TYPE_CHECKING:
    from deadfront.claims.report import Report

HOLD_POINTS: dict[str, str] = {
    "H1": "every source named, from drawing and nameplate",
    "H2": "every source open, locked and tagged by its own holder",
    "H3": "proved dead on all phases, tester on a live source before and after",
    "H4": "earthed and short-circuited, earth end first",
    "H5": "stored energy and pressure released",
    "H6": "own lock stays until its holder is out",
    "H7": "live parts beside the work shrouded",
    "H8": "two sources never in parallel",
    "H9": "heads and personnel keys counted",
    "H10": "earths counted off against their list",
    "H11": "tools and people out, doors shut",
    "H12": "phasing or insulation proved where conductors were changed",
}
"""What each hold point demands; NFPA 70E 120.5, OSHA 1910.269(m) and (n), EN 50110-1, restated [V2]."""


def sheet_texts(made: Sheet, tags: Mapping[str, str]) -> dict[str, Any]:
    """Every text of a sheet, step by step, there and back; `tags` of the station's devices, by the name of a step."""
    return {
        "initial": list(made.initial),
        "final": list(made.final),
        "caution": made.caution,
        "distances": made.distances,
        "never": list(made.never),
        "unmet": [_unmet(words) for words in made.unmet],
        "if_not": IF_NOT,
        "holds": [{"id": name, "words": words} for name, words in HOLD_POINTS.items() if name in _named(made)],
        "steps": [_step(step, tags) for step in made.steps],
        "returns": made.back is not None,
        "back": [_step(step, tags) for step in made.back or ()],
    }


def _named(made: Sheet) -> set[str]:
    passed = {hold for step in (*made.steps, *(made.back or ())) for hold in step.hold_points}
    return passed | {words.partition(":")[0] for words in made.unmet}


def _unmet(words: str) -> str:
    """A hold point that the unit has no means for; the names of entries of the file say nothing to a crew."""
    hold, _, means = words.partition(": ")
    return f"{hold}, {HOLD_POINTS.get(hold, '')}: the unit lacks {means.partition(' (')[0]}"


def _step(step: SheetStep, tags: Mapping[str, str]) -> dict[str, Any]:
    if step.to_break_off is None:
        away = "no way back without danger: stay, call the person in charge"
    else:
        away = "; ".join(step.to_break_off) or "stay, all is shut"
    action = step.action.partition(": tester")[0]
    return {
        "number": str(step.number),
        "device": step.device,
        "tag": tags.get(step.device, ""),
        "action": action[:1].upper() + action[1:],
        "turn": f"from {step.origin} to {step.target}" if step.origin else "no handle moves",
        "standing": step.standing,
        "why": step.why,
        "verified": step.verified_by,
        "holds": list(step.hold_points),
        "keys_before": ", ".join(step.keys_before) or "none",
        "keys_after": ", ".join(step.keys_after) or "none",
        "expected": step.expected,
        "away": away,
        "abort": step.to_break_off is None or bool(step.to_break_off),
        "beware": list(step.beware),
        "noticed": list(step.noticed),
        "never": list(step.never),
        "near": ", ".join(step.near),
        "own_lock": step.own_lock,
    }


def places(report: Report) -> list[dict[str, str]]:
    """Arc energy, boundary and clothing of every place of work, as far as they are known; energies rounded up."""
    operation = report.project.unit.operation
    entries = (operation.places if operation else None) or {}
    rows = []
    for place in report.arcs:
        entry, governing, widest = entries.get(place.place), place.governing, place.largest_boundary
        distance = entry.working_distance.text if entry and entry.working_distance else ""
        clothing = entry.clothing.text if entry and entry.clothing else ""
        known = governing is not None and distance != ""
        rows.append(
            {
                "name": place.place,
                "energy": typographic(both_systems(governing.energy, "J/m2", "up")) if governing and known else "",
                "distance": raised(distance),
                "boundary": typographic(both_systems(widest.boundary, "m", "up")) if widest else "",
                "clothing": raised(clothing),
            }
        )
    return rows
