"""Claims: only the right device opens. A walk comes in; the terms of CO-01, CO-02 and CO-03 go out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from deadfront.claims import conductors, coordination
from deadfront.claims.comparing import (
    Maker,
    NotApplicable,
    Outcome,
    OutsideModel,
    Questions,
    Term,
    claim,
    later,
    rule_by_practice,
    same_rule,
)
from deadfront.claims.model import Rule, Step
from deadfront.claims.pairs import Pair, pair_term
from deadfront.claims.steps import amperes, at, seconds
from deadfront.claims.terms import Against, Cases, ordinary, standing, term
from deadfront.claims.wording import in_words
from deadfront.physics import fuse_ratings, reclosing, selectivity, trips
from deadfront.physics.types import Array
from deadfront.station.station import LV_BUS
from deadfront.study import devices, earliest, fault_sizes, faults, melting, through, upstream_faults, utility
from deadfront.study.clearing import first
from deadfront.study.devices import Operation
from deadfront.study.faults import Kind
from deadfront.study.fuse_entries import FUSE_NAMES, FuseName
from deadfront.study.inputs import Assumed
from deadfront.study.through import Carried
from deadfront.study.walk import Walk

IEEE_242 = "IEEE 242"
MAIN = "LV main breaker"
NO_FEEDERS = "The board has no feeders."


# --- CO-01 ---


@claim(
    "CO-01",
    hazard=coordination.HAZARD,
    needs=("supply", "fuses", "transformer"),
    sentence="The upstream utility device stays closed for every fault that the unit's fuses can clear.",
    rule=same_rule(
        "Clearing of the fuses, with the margin of the kind of device, before the utility's device acts",
        "IEEE 242, tables 15-2 and 15-3",
        "M",
    ),
)
def utility_stays_closed(walk: Walk) -> Outcome:
    """Phase elements from the smallest LV fault up to the bolted fault behind the fuses; earth elements likewise.

    The fuses in the coldest liquid. With both ways closed each relay sees less than with one, and is later.

    Where fast shots are meant to save the fuses, they are asked instead not to melt them; all heat of the shots is
    taken to stay in the fuse.
    """
    makers: list[Maker] = []
    for key in upstream_faults.supplies(walk):
        path, cases = walk.station.device(key).path, upstream_faults.cases(walk, key)
        makers += [later(_upstream_terms, walk, family, path, cases) for family in upstream_faults.families(walk)]
        if _saves_fuses(walk, path):
            makers += [later(_saving_term, walk, path, name, cases) for name in melting.fitted(walk)]
    return Questions(makers)


def _saves_fuses(walk: Walk, path: str) -> bool:
    return walk.inputs.maybe_word(f"{path}.protection.reclosing.fuse_saving") == "yes"


def _upstream_terms(walk: Walk, family: upstream_faults.Family, path: str, cases: Cases) -> list[Term]:
    total, ends = upstream_faults.currents(walk, family)
    waiting = earliest.upstream(walk, path, upstream_faults.carried(family, total), family.element)
    found = []

    def fuses(current: Array) -> Sequence[Operation]:
        return devices.fuses(walk, current)

    for number, behind in enumerate(waiting):
        if behind.element.startswith("fast shots") and _saves_fuses(walk, path):
            continue

        def then(current: Array, number: int = number) -> earliest.Waiting:
            return earliest.upstream(walk, path, upstream_faults.carried(family, current), family.element)[number]

        subject = f"MV fuses below {path} protection, {behind.element}, {family.words}"
        pair = Pair(subject, total, ends, fuses, then, lambda current: current, f"{IEEE_242}, margins")
        found.append(pair_term(walk, pair, cases))
    return found


def _saving_term(walk: Walk, path: str, name: FuseName, cases: Cases) -> Term:
    """Heat of the fast shots in a fuse over what melts it, for LV faults: at most one."""
    family = upstream_faults.LV_FAULTS
    total, _ = upstream_faults.currents(walk, family)
    own = f"{path}.protection"
    fast = first(utility.latest_fast_shots(walk, own, total))
    count = walk.inputs.whole(f"{own}.reclosing.fast_shots")
    melts = melting.hot_melting_time(walk, name, total)
    shots = [reclosing.Shot(fast, 0.0)] * count
    # A fuse that never melts at this current keeps none of the heat that counts.
    heat = np.where(
        np.less(melts, np.inf), reclosing.heat_of_shots(shots, np.minimum(melts, selectivity.NEVER), np.inf), 0.0
    )

    def steps(case: int) -> tuple[Step, ...]:
        size = amperes(walk, total, case)
        numbers = f"{count} x {seconds(walk, fast, case)} of {seconds(walk, melts, case)}, at {size}"
        meaning = "heat of the fast shots over melting, hot and preloaded"
        return (
            Step("h", meaning, "sum of t / t melt, no cooling", numbers, f"{at(walk, heat, case):.3g}", "heating", "D"),
        )

    subject = f"{FUSE_NAMES[name]}, heated by the fast shots of {path}"
    return term(walk, subject, Against(heat, 1.0, "1", quantity="heat of the shots over what melts it"), cases, steps)


# --- CO-02 ---


@claim(
    "CO-02",
    hazard=coordination.HAZARD,
    needs=("supply", "fuses", "transformer", "board"),
    sentence=(
        "The LV main opens before the draw-out link, or any other MV fuse, melts for every LV feeder fault, "
        "with the shift through the transformer counted."
    ),
    rule=same_rule("Latest clearing of the main before the earliest melting of the hot, preloaded fuse", IEEE_242, "M"),
)
def main_opens_before_the_fuses(walk: Walk) -> Outcome:
    """The feeders together, each kind of fault: the bolted one at the board to the smallest arcing one at a far end.

    The main backs up each feeder's own device. Behind a delta the line-line fault draws 16 % more in one MV line than
    the balanced fault of the same LV current; a line-line-earth fault draws no more than it, and is seen by the
    earth-fault element besides [D].
    """
    for name in melting.fitted(walk):
        if not melting.melts_by_curve(walk, name):
            path = f"fuses.{name}"
            return OutsideModel(f"The curve file of {path} has no melting times: how early it melts is not known.")
    if not walk.station.feeders():
        return NotApplicable(NO_FEEDERS)
    kinds = [kind for kind in conductors.lv_kinds(walk) if kind != "line-line-earth"]
    return Questions([later(_main_and_fuse, walk, kind, name) for kind in kinds for name in melting.fitted(walk)])


def _fed(walk: Walk) -> Cases:
    """Ordinary cases in which the main feeds the bus."""
    return tuple(i for i in ordinary(walk) if walk.cases.main[i] > 0.0)


def _through_main(walk: Walk, kind: Kind, total: Array) -> Carried:
    return through.infeeds(walk, LV_BUS, kind, walk.method, total)["main"]


def _main_and_fuse(walk: Walk, kind: Kind, name: FuseName) -> Term:
    ends = fault_sizes.in_feeders(walk, walk.station.feeders(), kind)
    total = fault_sizes.of_every_size(walk, *ends)

    def main(current: Array) -> Sequence[Operation]:
        return devices.low_voltage(walk, "board.main", MAIN, _through_main(walk, kind, current))

    def line(current: Array) -> Array:
        own = _through_main(walk, kind, current)
        return through.primary_current(walk, LV_BUS, kind, walk.method, own.phase)

    def melts(current: Array) -> earliest.Waiting:
        time = melting.hot_melting_time(walk, name, line(current))
        return earliest.Waiting(f"{FUSE_NAMES[name].lower()} melts, hot and after load", time, earliest.CLEAR_SPACE)

    subject = f"{MAIN} before {FUSE_NAMES[name].lower()}, {kind} faults of the feeders"
    source = f"{IEEE_242}; connection by symmetrical components"
    return pair_term(walk, Pair(subject, total, ends, main, melts, line, source), _fed(walk))


# --- CO-03 ---


@claim(
    "CO-03",
    hazard=coordination.HAZARD,
    needs=("supply", "transformer", "board"),
    sentence="Each LV feeder clears its faults before the LV main acts.",
    rule=rule_by_practice(
        Rule("Clear space between the bands of both devices; 75 % of a fuse's melting time", IEEE_242, "M"),
        Rule("Clear space between the bands of both devices; gG fuses 1.6 to 1", "IEC 60947-2, IEC 60269", "M"),
    ),
)
def feeders_are_selective(walk: Walk) -> Outcome:
    """Phase and earth elements of each feeder against those of the main, over every size of fault in the feeder."""
    feeders = walk.station.feeders()
    if not feeders:
        return NotApplicable(NO_FEEDERS)
    if reason := earliest.without_earliest(walk, "board.main"):
        return OutsideModel(reason)
    _note_arc_trip(walk)
    kinds: tuple[Kind, ...] = ("three-phase",)
    if walk.inputs.word("transformer.neutral") == "earthed":
        kinds = ("three-phase", "line-earth")
    makers = []
    for feeder in feeders:
        path = f"board.feeders.{feeder}"
        if _both_gg(walk, path):
            makers.append(later(_gg_terms, walk, feeder))
            continue
        makers += [later(_feeder_and_main, walk, feeder, kind) for kind in kinds]
        if walk.inputs.maybe_word(f"{path}.fuse_class") in LIMITED and _is_fuse(walk, "board.main"):
            makers.append(later(_energy_term, walk, feeder))
    return Questions(makers)


LIMITED = ("J", "RK1", "L")
"""Classes of fuse whose let-through their standard limits."""


def _is_fuse(walk: Walk, path: str) -> bool:
    return walk.inputs.maybe_word(f"{path}.kind") == "fuse"


def _both_gg(walk: Walk, path: str) -> bool:
    return all(walk.inputs.maybe_word(f"{one}.fuse_class") == "gG" for one in (path, "board.main"))


def _note_arc_trip(walk: Walk) -> None:
    """The arc detection opens the main for an arc in a feeder's compartment too: that is what it is for."""
    trips = walk.inputs.entry("board.arc_detection.trips")
    if isinstance(trips, list | tuple) and "main" in trips:
        text = (
            "The arc detection opens the main at once for an arc that its sensors see, a feeder's included: it is "
            "unselective by design, and the selectivity stated here is that of faults without light."
        )
        confirm = "Agreement of the owner that an arc at a covered place takes the whole board out of service."
        walk.inputs.note(Assumed("board.arc_detection.unselective", text, "by design of the detection", "C", confirm))


def _feeder_and_main(walk: Walk, feeder: str, kind: Kind) -> Term:
    path = f"board.feeders.{feeder}"
    ends = fault_sizes.in_feeders(walk, (feeder,), kind)
    total = fault_sizes.of_every_size(walk, *ends)

    def own(current: Array) -> Carried:
        return Carried(current, through.residual(walk, LV_BUS, kind, walk.method, current), 1.0)

    def main(current: Array) -> Carried:
        return _through_main(walk, kind, current)

    def device(current: Array) -> Sequence[Operation]:
        return devices.low_voltage(walk, path, feeder, own(current))

    def acts(current: Array) -> earliest.Waiting:
        restrained = earliest.restraint(walk, "board.main", feeder, own(current))
        return earliest.low_voltage(walk, "board.main", main(current), restrained)

    words = "phase faults" if kind == "three-phase" else "earth faults"
    subject = f"{feeder} below {MAIN}, {words}"
    pair = Pair(subject, total, ends, device, acts, lambda current: main(current).phase, IEEE_242)
    return pair_term(walk, pair, _fed(walk))


def _gg_terms(walk: Walk, feeder: str) -> list[Term]:
    """gG fuse below gG fuse, by the limits of their standard: selective at every current, or not surely at any."""
    lower, upper = walk.inputs.highest(f"board.feeders.{feeder}.rating"), walk.inputs.lowest("board.main.rating")
    found = fuse_ratings.gg_discrimination(lower, upper)

    def steps() -> tuple[Step, ...]:
        numbers = f"{upper:g} A over {lower:g} A"
        return (
            Step(
                "r", "ratings", "1.6 to 1 is what the limits give", numbers, f"{upper / lower:.3g}", "IEC 60269-1", "M"
            ),
        )

    subject = f"{feeder} below {MAIN}, gG fuses"
    current = Against(found.current, 1.0, "1", at_least=True, quantity="ratio of currents")
    terms = [standing(f"{subject}, current at 0.1 s", current, steps)]
    if not np.isnan(found.energy):  # below 16 A the standard limits no energies
        terms.append(
            standing(f"{subject}, I2t", Against(found.energy, 1.0, "1", at_least=True, quantity="ratio of I2t"), steps)
        )
    return terms


def _energy_term(walk: Walk, feeder: str) -> Term:
    """Largest let-through of the feeder's class against what melts the main fuse: below 0.01 s times mislead."""
    path = f"board.feeders.{feeder}"
    limits = trips.let_through_limits(walk.inputs.word(f"{path}.fuse_class"), walk.inputs.highest(f"{path}.rating"))
    total = faults.current(walk, LV_BUS, "three-phase", walk.method)
    curve = devices.curve(walk, walk.inputs.word("board.main.curve"))
    melts = float(curve.minimum_melting[-1] * curve.current[-1] ** 2)
    through_it = trips.highest_i2t(limits, total)

    def steps(case: int) -> tuple[Step, ...]:
        size, numbers = in_words(at(walk, through_it, case), "A2s"), f"at {amperes(walk, total, case)} prospective"
        return (
            Step(
                "I2t", "largest let-through of the class", "table of the standard", numbers, size, "UL 248", limits.tag
            ),
        )

    limit = earliest.FUSE_BEHIND.amount * melts
    return term(walk, f"{feeder} below {MAIN}, let-through", Against(through_it, limit, "A2s"), _fed(walk), steps)
