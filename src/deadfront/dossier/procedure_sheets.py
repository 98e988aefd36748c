"""Dossier: sheets for the crew. A sheet of a task and the arcs of a report come in; lines in print go out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any

from deadfront.claims.numbers import both_systems, raised, typographic
from deadfront.operation.handling import NOT_GIVEN
from deadfront.operation.point_marks import LETTERS, PointMark
from deadfront.operation.sheets import CAUTION, IF_NOT, SHUT, STAY, Sheet, SheetStep
from deadfront.operation.tasks import BEFORE_BACK
from deadfront.station.station import FUSE_LINE_SIDE, LV_BUS, SECONDARY, SWITCH_BUS, feeder_end

if TYPE_CHECKING:
    from deadfront.claims.report import Report

HOLD_POINTS: dict[str, str] = {
    "H1": "every source named, from drawing and nameplate",
    "H2": "every source open, locked and tagged by its own holder",
    "H3": "proved dead on all phases, live-dead-live",
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


MOST_COLUMNS = 10
"""So many points have room for their names side by side."""


def sheet_texts(made: Sheet, tags: Mapping[str, str], rows: Sequence[Mapping[str, Any]] = ()) -> dict[str, Any]:
    """Every text of a sheet, step by step, there and back.

    tags  of the station's devices, by the name of a step
    rows  places of work, as `places` makes them; those that the task does not come near are left out
    """
    kept = _columns(made)
    near = [row for row in rows if set(row["points"]) & set(made.touched)]
    lettered = [dict(row) | {"letter": letter} for letter, row in zip(ascii_lowercase, near, strict=False)]
    return {
        "initial": [_short(words) for words in made.initial],
        "points": [made.points[n] for n in kept],
        "throughout": _throughout(made, kept),
        "letters": [{"letter": letter, "words": words} for letter, words in LETTERS if letter in _letters(made)],
        "reach": any(mark.within_reach for marks in _rows(made) for mark in marks),
        "outset": [_mark(made.outset[n]) for n in kept],
        "keys": any(step.keys_before or step.keys_after for step in (*made.steps, *(made.back or ()))),
        "in_hand": " ".join(made.in_hand),
        "final": [_short(words) for words in made.final[:-1]] or list(made.final),
        "caution": CAUTION,
        "distances": _capital(made.distances),
        "places": lettered,
        "never": list(made.never),
        "prompts": [{"hold": hold, "words": words, "back": hold in BEFORE_BACK} for hold, words in made.prompts],
        "unmet": [_unmet(words) for words in made.unmet],
        "if_not": IF_NOT,
        "stay": STAY,
        "shut": SHUT,
        "blanks": list(made.blanks),
        "blank_words": NOT_GIVEN,
        "steps": [_step(step, tags, lettered, kept) for step in made.steps],
        "returns": made.back is not None,
        "back": [_step(step, tags, lettered, kept) for step in made.back or ()],
    }


def _short(words: str) -> str:
    """A device and its position without an article."""
    return words.removeprefix("the ")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _columns(made: Sheet) -> list[int]:
    """The points that get a column: all of them, or where they are too many for a page those that a step changes."""
    every = list(range(len(made.points)))
    changing = [n for n in every if any(marks[n].changed for marks in _rows(made))]
    return changing if len(every) > MOST_COLUMNS and changing else every


def _throughout(made: Sheet, kept: Sequence[int]) -> list[dict[str, str]]:
    """What the points without a column are, from the first step to the last."""
    found: dict[str, list[str]] = {}
    for n, (point, mark) in enumerate(zip(made.points, made.outset, strict=True)):
        if n not in kept:
            found.setdefault(mark.letters, []).append(point)
    return [{"letters": letters, "points": ", ".join(points)} for letters, points in found.items()]


def _rows(made: Sheet) -> list[tuple[PointMark, ...]]:
    return [made.outset, *(step.marks for step in (*made.steps, *(made.back or ())))]


def _letters(made: Sheet) -> set[str]:
    """The letters that stand somewhere on the sheet."""
    return {letter for marks in _rows(made) for mark in marks for letter in mark.letters}


def _mark(mark: PointMark) -> dict[str, Any]:
    return {"letters": mark.letters, "reach": mark.within_reach, "changed": mark.changed}


def _unmet(words: str) -> str:
    """A hold point that the unit has no means for; the names of entries of the file say nothing to a crew."""
    hold, _, means = words.partition(": ")
    return f"{hold}, {HOLD_POINTS.get(hold, '')}: the unit lacks {means.partition(' (')[0]}"


def _step(
    step: SheetStep, tags: Mapping[str, str], lettered: Sequence[Mapping[str, Any]], kept: Sequence[int]
) -> dict[str, Any]:
    """The texts of a step; what the marks show need not be read a second time, so the reason is one they do not."""
    clothing = [row["letter"] for row in lettered if set(row["points"]) & set(step.near)]
    return {
        "number": str(step.number),
        "device": step.device,
        "tag": tags.get(step.device, ""),
        "action": _capital(step.action),
        "turn": _turn(step),
        "doors": "" if step.doors == SHUT else step.doors,
        "stand": list(step.stand),
        "looks": ", ".join(step.looks),
        "why": _why(step),
        "verified": step.verified_by,
        "holds": [{"id": hold, "words": HOLD_POINTS.get(hold, "")} for hold in step.hold_points],
        "keys": " ".join(step.keys_after),
        "marks": [_mark(step.marks[n]) for n in kept],
        "away": "" if step.to_break_off == STAY else step.to_break_off,
        "beware": list(step.beware),
        "noticed": list(step.noticed),
        "never": list(step.never),
        "near": ", ".join(step.near),
        "clothing": ", ".join(clothing),
        "own_lock": step.own_lock,
    }


def _turn(step: SheetStep) -> str:
    """From where to where a handle goes; what the action says already is not said again."""
    if step.place:
        return f"at {step.place}"
    return "" if step.device.startswith("key ") else f"{step.origin} to {step.target}"


def _why(step: SheetStep) -> str:
    """What it keeps from moving; failing that, where the marks show no change, the weightiest reason."""
    kept = [words for words in step.purposes if words.startswith("keeps ")]
    return next(iter((*kept, *(() if step.changes else step.purposes))), "")


_POINTS = {"line side of main": (SECONDARY,), "bus": (LV_BUS,), "switch": (SWITCH_BUS, FUSE_LINE_SIDE)}
"""Points at which hands are near an arc, by where a place of work is."""


def places(report: Report) -> list[dict[str, Any]]:
    """Arc energy, boundary and clothing of every place of work, as far as they are known; energies rounded up."""
    operation = report.project.unit.operation
    entries = (operation.places if operation else None) or {}
    rows = []
    for place in report.arcs:
        entry, governing, widest = entries.get(place.place), place.governing, place.largest_boundary
        distance = entry.working_distance.text if entry and entry.working_distance else ""
        clothing = entry.clothing.text if entry and entry.clothing else ""
        known = governing is not None and distance != ""
        at = entry.at if entry else None
        points = (feeder_end(entry.feeder),) if entry and entry.feeder else _POINTS.get(at or "", ())
        rows.append(
            {
                "name": place.place,
                "points": list(points),
                "energy": typographic(both_systems(governing.energy, "J/m2", "up")) if governing and known else "",
                "distance": raised(distance),
                "boundary": typographic(both_systems(widest.boundary, "m", "up")) if widest else "",
                "clothing": raised(clothing),
            }
        )
    return rows
