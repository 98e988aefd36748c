"""Claims: both fuses carry what they should carry. A walk comes in; the terms of OC-01 and OC-02 go out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from deadfront.claims.comparing import Maker, Outcome, OutsideModel, Questions, Term, claim, later, same_rule
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, seconds
from deadfront.claims.terms import Against, standing
from deadfront.claims.wording import in_words
from deadfront.physics import curves, fuse_pair
from deadfront.physics.types import Array
from deadfront.study import devices, fuse_entries
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

HAZARD = "A fuse that melts when it should not, or cannot clear what it should"

TABLE_SOURCE = "IEEE 242-2001, chapter 15, and practice"

LIQUID_SOURCE = "engineering model of the shift in hot liquid"

INSTEAD = "instead of"
"""Mark of a row of the table that stands in for another one of it."""


@dataclass(frozen=True, slots=True)
class AskedPoint:
    """A current that must not melt a fuse: name, multiple of the rated current, time and longest time s, and whence."""

    name: str
    multiple: Array
    time: Array
    longest: float
    source: str
    tag: str


@claim(
    "OC-01",
    hazard=HAZARD,
    needs=("fuses", "transformer"),
    sentence="Both MV fuses carry the permitted load, overload and cold-load pickup in hot liquid.",
    rule=same_rule(
        "Permitted load within what each fuse carries in liquid of that temperature; cold-load pickup below its "
        "melting current, hot and after load",
        "IEEE C37.48 practice",
        "C",
    ),
)
def fuses_carry_the_load(walk: Walk) -> Outcome:
    """Load for long, and each cold-load point, of each fuse."""
    if text := _silent(walk, "cold_load"):
        return OutsideModel(text)
    makers = [later(_load, walk, name) for name in FUSE_NAMES if fuse_entries.given(walk, name)]
    return Questions([*makers, *_survives(walk, "cold_load")])


@claim(
    "OC-02",
    hazard=HAZARD,
    needs=("fuses", "transformer"),
    sentence="Neither MV fuse is damaged by energisation inrush, in hot liquid and after load.",
    rule=same_rule(
        "12 times the rated current for 0.1 s and 25 times for 0.01 s below the melting current, hot and after load",
        "IEEE 242-2001, chapter 15; IEEE C37.48 practice",
        "C",
    ),
)
def fuses_survive_inrush(walk: Walk) -> Outcome:
    """Each inrush point of each fuse."""
    if text := _silent(walk, "inrush"):
        return OutsideModel(text)
    return Questions(_survives(walk, "inrush"), "The file says that this transformer has no inrush.")


def _silent(walk: Walk, entry: str) -> str | None:
    """In words, why a fuse's curve does not say what a point asks of it; None where all do."""
    for name in FUSE_NAMES:
        if fuse_entries.given(walk, name):
            text = fuse_entries.unfit_curve(walk, name) or fuse_entries.too_hot(walk, name)
            if text:
                return text
        for point in load_points(walk, entry) if fuse_entries.given(walk, name) else ():
            curve = devices.curve(walk, walk.inputs.word(f"fuses.{name}.curve"))
            share = fuse_entries.preload(walk, name, float(curve.current[0]))
            asked, first = point.longest / share, float(curve.minimum_melting[0])
            if np.isnan(asked):
                return f"The permitted load alone melts the {FUSE_NAMES[name].lower()} in hot liquid."
            if asked > first:
                return (
                    f"The curve of the {FUSE_NAMES[name].lower()} begins at {in_words(first, 's')}: it does not say "
                    f"what melts it in {in_words(asked, 's')}, which is {point.name} after load."
                )
    return None


def _load(walk: Walk, name: FuseName) -> Term:
    """Permitted load against what the fuse carries in the liquid."""
    load, temperature = fuse_entries.load_current(walk), walk.inputs.number("transformer.liquid_temperature")
    factor = fuse_entries.liquid_factor(walk, name, temperature)
    carried = fuse_pair.permitted_load(fuse_entries.permitted_load(walk, name), 1.0, factor)

    def steps(case: int) -> tuple[Step, ...]:
        limit = amperes(walk, carried, case)
        numbers = f"F = {at(walk, factor, case):.4g} at {at(walk, temperature, case):.4g} degC"
        return (
            _load_step(walk, load, case),
            Step("Ip", "load the fuse carries in this liquid", "F times its load", numbers, limit, LIQUID_SOURCE, "D"),
        )

    subject = f"{FUSE_NAMES[name]}, permitted load"
    return standing(subject, Against(load, carried, "A"), partial(steps, 0))


def _load_step(walk: Walk, load: Array, case: int) -> Step:
    rated = amperes(walk, fuse_entries.rated_current(walk), case)
    share = at(walk, walk.inputs.number("transformer.permitted_load"), case)
    formula, numbers = "share of S / (sqrt(3) U)", f"{share:.4g} x {rated}"
    source = "entries of the file"
    return Step("Iload", "permitted load on the MV side", formula, numbers, amperes(walk, load, case), source, "V")


def _survives(walk: Walk, entry: str) -> list[Maker]:
    """Each point of one kind against each fuse."""
    return [
        later(_point, walk, name, point)
        for name in FUSE_NAMES
        if fuse_entries.given(walk, name)
        for point in load_points(walk, entry)
    ]


def load_points(walk: Walk, entry: str) -> Iterator[AskedPoint]:
    """The file's points, or those of the table, listed as an assumption."""
    path = f"transformer.{entry}"
    named = walk.inputs.entry(path)
    kind = entry.replace("_", " ")
    if isinstance(named, dict):
        for name in named:
            here = f"{path}.{name}"
            multiple, time = walk.inputs.number(f"{here}.multiple"), walk.inputs.number(f"{here}.time")
            yield AskedPoint(name, multiple, time, walk.inputs.highest(f"{here}.time"), here, "C")
        return
    points = [p for p in fuse_pair.load_points() if p.kind.replace("_", " ") == kind and INSTEAD not in p.tag]
    words = ", ".join(f"{p.multiple:g} times for {p.time:g} s" for p in points)
    text = f"The {kind} is taken as {words}, of the transformer's rated current."
    tag = "V" if entry == "inrush" else "C"
    confirm = "Switching study, or the transformer maker's inrush curve; restart of the load after an outage."
    walk.inputs.note(Assumed(path, text, TABLE_SOURCE, tag, confirm))
    for p in points:
        name, own_tag = f"{p.multiple:g} times for {p.time:g} s", p.tag.split(",")[0]
        yield AskedPoint(name, p.multiple, p.time, p.time, TABLE_SOURCE, own_tag)


def _point(walk: Walk, name: FuseName, point: AskedPoint) -> Term:
    """Current of a point against the current that melts the fuse in that time, hot, after load, with its ageing."""
    together = fuse_entries.in_parallel(walk, name)
    curve = devices.curve(walk, walk.inputs.word(f"fuses.{name}.curve"))
    temperature = walk.inputs.number("transformer.liquid_temperature")
    factor = fuse_entries.liquid_factor(walk, name, temperature)
    preload = fuse_entries.preload(walk, name, float(curve.current[0]))
    melts = together * curves.hot_melting_current(curve, point.time, factor, preload)
    share = fuse_entries.ageing_share(walk, name)
    load = point.multiple * fuse_entries.rated_current(walk)

    def steps(case: int) -> tuple[Step, ...]:
        numbers = (
            f"at {seconds(walk, point.time, case)} / {preload:.4g}, F = {at(walk, factor, case):.4g} at "
            f"{at(walk, temperature, case):.4g} degC"
        )
        multiple = f"{at(walk, point.multiple, case):.4g} x {amperes(walk, fuse_entries.rated_current(walk), case)}"
        current, size, limit = (amperes(walk, each, case) for each in (load, melts, share * melts))
        hot, own = "current that melts it in that time, hot, after load", "entry of the file, or custom"
        return (
            Step("I", point.name, "multiple of the rated current", multiple, current, point.source, point.tag),
            Step("Im", hot, "F I(t / p)", numbers, size, LIQUID_SOURCE, "D"),
            Step("Imax", "what may be used of it", "a Im", f"a = {at(walk, share, case):.4g}", limit, own, "C"),
        )

    subject = f"{FUSE_NAMES[name]}, {point.name}"
    return standing(subject, Against(load, share * melts, "A"), partial(steps, 0))
