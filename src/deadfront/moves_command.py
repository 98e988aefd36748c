"""Command line: how far ranges may move, and maps of claims; options of `check` come in, answers to print go out."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from deadfront.claims.report import Progress
    from deadfront.dossier.sheet import Picture


@dataclass(frozen=True)
class Answer:
    """What break points or a map give: text, one object, a picture, and the verdicts they rest on."""

    text: Callable[[], str]
    plain: Callable[[], dict[str, Any]]
    picture: Callable[[], Picture]
    verdicts: Sequence[str]


def answered(chosen: argparse.Namespace, progress: Progress | None) -> Answer:
    """What `check` was asked with `--break-points`, or with `--map`.

    raises  ProjectErrors: the file is wrong; ValueError: no such claim, or no such range
    """
    return _mapped(chosen) if chosen.map else _moved(chosen, progress)


def _moved(chosen: argparse.Namespace, progress: Progress | None) -> Answer:
    from dataclasses import replace

    from deadfront.claims.breaking import REACHING
    from deadfront.claims.reach_objects import break_points_object
    from deadfront.dossier.break_picture import break_picture, break_text
    from deadfront.library import break_points, load

    effort, project = replace(REACHING, **_given_effort(chosen)), load(chosen.file)
    found = break_points(project, chosen.claim, progress=progress, effort=effort)
    return Answer(
        lambda: break_text(found),
        lambda: break_points_object(project, found, effort),
        lambda: break_picture(found),
        [reaches.claim.verdict for reaches in found],
    )


def _mapped(chosen: argparse.Namespace) -> Answer:
    from dataclasses import replace

    from deadfront.claims.mapping import MAPPING
    from deadfront.claims.reach_objects import map_object
    from deadfront.dossier.map_picture import map_picture, map_text
    from deadfront.library import load, margin_map

    first, second = chosen.map.split(",")
    effort, project = replace(MAPPING, **_given_effort(chosen)), load(chosen.file)
    found = margin_map(project, chosen.claim, (first.strip(), second.strip()), effort=effort)
    return Answer(
        lambda: map_text(found),
        lambda: map_object(project, found, effort),
        lambda: map_picture(found),
        [found.claim.verdict],
    )


def _given_effort(chosen: argparse.Namespace) -> dict[str, Any]:
    """Budget and tolerance, where they were asked for."""
    asked = {"budget": chosen.budget, "tolerance": chosen.tolerance}
    return {name: value for name, value in asked.items() if value is not None}
