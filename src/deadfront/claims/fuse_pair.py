"""Claims: link and limiter do their two different jobs. A walk comes in; the terms of OC-03 to OC-06 go out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from deadfront.claims import matched_melting, rated_voltages
from deadfront.claims.comparing import (
    Maker,
    NotApplicable,
    Outcome,
    OutsideModel,
    Questions,
    Term,
    claim,
    later,
    same_rule,
)
from deadfront.claims.fuse_load import HAZARD, LIQUID_SOURCE
from deadfront.claims.model import Step
from deadfront.claims.steps import amperes, at, seconds, shared_steps
from deadfront.claims.terms import Against, standing, term
from deadfront.claims.wording import in_words
from deadfront.physics import fuse_pair as physical
from deadfront.physics import let_through
from deadfront.physics.crossing import WORDS
from deadfront.physics.types import Array
from deadfront.station.station import SECONDARY
from deadfront.study import fault_sizes, fuse_entries, fuse_pair, secondary_faults
from deadfront.study.faults import Kind
from deadfront.study.fuse_pair import Crossing, Liquid
from deadfront.study.inputs import Assumed
from deadfront.study.walk import Walk

PRACTICE = "IEEE C37.48 practice"


MIXED = (False, True)
"""States of the liquid in which a crossing is asked: the same for both fuses, and mixed; each by a maker of its own."""


@claim(
    "OC-03",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer"),
    sentence=(
        "The draw-out link alone clears every secondary fault, bolted to arcing, "
        "and in time to leave the limiter unharmed."
    ),
    rule=same_rule(
        "Every secondary fault above the first point of the link's clearing curve and within its interrupting rating; "
        "its clearing at most a share of the limiter's melting time up to the largest of them",
        PRACTICE,
        "C",
    ),
)
def link_clears_secondary_faults(walk: Walk) -> Outcome:
    """Each kind of fault, from its smallest arcing current to the bolted one, in the coldest and hottest liquid."""
    if not fuse_entries.given(walk, "bayonet"):
        return NotApplicable("The file has no draw-out link.")
    if text := _alone_unknown(walk):
        return OutsideModel(text)
    kinds = secondary_faults.kinds(walk)
    makers = [later(_interrupts, walk, kind) for kind in secondary_faults.largest_kinds(walk)]
    makers += [later(_smallest, walk, kind) for kind in kinds]
    if fuse_pair.lacks(walk) is None:
        makers += [later(_spares, walk, kind) for kind in kinds]
        makers += [later(_spares_at_most, walk, kind) for kind in secondary_faults.largest_kinds(walk)]
    return Questions(makers)


def _alone_unknown(walk: Walk) -> str | None:
    """Why nothing can be said of the link alone, or beside its limiter."""
    if fuse_pair.lacks(walk) is None:
        return fuse_pair.unknown(walk)
    return fuse_entries.unfit_curve(walk, "bayonet") or fuse_entries.too_hot(walk, "bayonet")


def _interrupts(walk: Walk, kind: Kind) -> Term:
    """Largest secondary fault against the link's interrupting rating; an isolation link has none."""
    largest = secondary_faults.largest_through_fault(walk, kind)
    steps = partial(_largest_evidence, walk, kind, largest)
    if fuse_entries.isolates_only(walk):
        subject = "Draw-out link that only isolates: current it interrupts"
        return standing(subject, Against(0.0 * largest, largest, "A", at_least=True), steps)
    rating = walk.inputs.number("fuses.bayonet.interrupting")
    return standing(f"Draw-out link, largest {kind} secondary fault", Against(largest, rating, "A"), steps)


def _largest_evidence(walk: Walk, kind: Kind, largest: Array) -> tuple[Step, ...]:
    return (_largest_step(walk, kind, largest, 0),)


def _largest_step(walk: Walk, kind: Kind, largest: Array, case: int) -> Step:
    read = walk.inputs.number
    rated = amperes(walk, fuse_entries.rated_current(walk), case)
    tap, impedance = at(walk, read("transformer.highest_tap"), case), at(walk, read("transformer.impedance"), case)
    meaning = f"largest {kind} secondary fault on the MV side: infinite bus, lowest impedance, highest tap"
    numbers = f"{tap:.4g} x {rated} / {impedance:.4g}, through {walk.inputs.word('transformer.connection')}"
    size = amperes(walk, largest, case)
    return Step("ITF", meaning, "v I / z, shifted by the connection", numbers, size, PRACTICE, "C")


def _smallest(walk: Walk, kind: Kind) -> Term:
    """Arcing fault on the MV side against the current from which the cold link promises to clear."""
    bolted, share = secondary_faults.shared_line(walk, kind), fault_sizes.arcing_share(walk)
    temperature = walk.inputs.number("transformer.liquid_temperature")
    needed = fuse_pair.surely_cleared(walk, temperature)

    def steps(case: int) -> tuple[Step, ...]:
        size = amperes(walk, share * bolted, case)
        numbers = f"{at(walk, share, case):.4g} x {amperes(walk, bolted, case)}"
        limit, cold = amperes(walk, needed, case), f"at {at(walk, temperature, case):.4g} degC"
        meaning = "first point of the link's clearing curve, moved by the liquid"
        fault, formula = f"smallest arcing {kind} fault on the MV side", fault_sizes.FORMULA
        return (
            *shared_steps(walk, SECONDARY, kind, case),
            Step("I", fault, formula, numbers, size, "IEEE 242", "M"),
            Step("I1", meaning, "F I1", cold, limit, LIQUID_SOURCE, "D"),
        )

    subject = f"Draw-out link, smallest arcing {kind} secondary fault"
    against = Against(share * bolted, needed, "A", at_least=True)
    return term(walk, subject, against, secondary_faults.fed_cases(walk), steps, kind)


def _spares(walk: Walk, kind: Kind) -> Term:
    """Share of the limiter's melting time that the link takes, up to a bolted fault."""
    subject = f"Link before limiter, up to the bolted {kind} secondary fault"
    return _share_term(walk, subject, secondary_faults.primary_line(walk, kind), kind)


def _spares_at_most(walk: Walk, kind: Kind) -> Term:
    """The same up to the largest secondary fault there can be."""
    subject = f"Link before limiter, up to the largest {kind} secondary fault"
    return _share_term(walk, subject, secondary_faults.largest_through_fault(walk, kind), kind)


def _share_term(walk: Walk, subject: str, current: Array, kind: Kind) -> Term:
    share, limit = fuse_pair.share_up_to(walk, current), _time_share(walk)
    if silent := fuse_pair.silent_link(walk):
        melts, clears = (in_words(each, "A") for each in silent)
        subject += f" (the limiter melts from {melts} on, the link clears only from {clears} on)"

    def steps(case: int) -> tuple[Step, ...]:
        size = f"{at(walk, share, case):.4g}"
        numbers = f"up to {amperes(walk, current, case)}; {fuse_pair.LOW}, limiter after load"
        meaning = "link's clearing over limiter's melting time, largest up to that current"
        return (Step("r", meaning, "t_clear(link) / t_melt(limiter)", numbers, size, PRACTICE, "C"),)

    return term(
        walk,
        subject,
        Against(share, limit, "1", quantity="clearing over melting"),
        secondary_faults.fed_cases(walk),
        steps,
        kind,
    )


def _time_share(walk: Walk) -> Array:
    path, value = "fuses.time_share", physical.TIME_SHARE[0]
    text = f"The link may take {value:.0%} of the limiter's melting time to clear; custom is 75 to 90 %."
    return walk.inputs.assume(path, value, value, Assumed(path, text, PRACTICE, "C", "Coordination study."))


@claim(
    "OC-04",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer"),
    sentence=(
        "The crossover of link and limiter lies above the largest secondary fault seen from the MV side and below the "
        "link's interrupting rating at the true recovery voltage."
    ),
    rule=same_rule(
        "Crossover at least a multiple of the largest secondary fault and at most the link's interrupting rating; the "
        "link's rated voltage not below its recovery voltage",
        PRACTICE,
        "C",
    ),
)
def crossing_lies_between(walk: Walk) -> Outcome:
    """Lowest crossing against the largest fault, highest crossing against the rating, voltage against recovery."""
    if reason := fuse_pair.lacks(walk):
        return NotApplicable(reason)
    if text := fuse_pair.unknown(walk):
        return OutsideModel(text)
    makers: list[Maker] = [later(_below_rating, walk, mixed) for mixed in MIXED]
    makers += [
        later(_above_faults, walk, kind, mixed) for kind in secondary_faults.largest_kinds(walk) for mixed in MIXED
    ]
    return Questions([*makers, later(_link_voltage, walk)])


def _above_faults(walk: Walk, kind: Kind, mixed: bool) -> Term:
    """Lowest crossing against the largest secondary fault of a kind."""
    largest = secondary_faults.largest_through_fault(walk, kind)
    path, least = "fuses.crossing_multiple", 1.0
    preferred = physical.PREFERRED_CROSSING
    text = f"The crossing may lie as low as the largest secondary fault; {preferred} times that is preferred."
    multiple = walk.inputs.assume(path, least, least, Assumed(path, text, PRACTICE, "C", "Coordination study."))

    def before(case: int) -> tuple[Step, ...]:
        numbers = f"{at(walk, multiple, case):.4g} x {amperes(walk, largest, case)}"
        size = amperes(walk, multiple * largest, case)
        needed = Step("Imin", "where the crossing has to lie at least", "m ITF", numbers, size, PRACTICE, "C")
        return (_largest_step(walk, kind, largest, case), needed)

    found = fuse_pair.lowest_crossing(walk, mixed=mixed)
    return _crossing_term(walk, f"largest {kind} secondary fault", found, (multiple * largest, True), before)


def _below_rating(walk: Walk, mixed: bool) -> Term:
    """Highest crossing against what the link interrupts."""
    rating, found = walk.inputs.number("fuses.bayonet.interrupting"), fuse_pair.highest_crossing(walk, mixed=mixed)
    return _crossing_term(walk, "link's interrupting rating", found, (rating, False), lambda _case: ())


def _crossing_term(
    walk: Walk, what: str, found: Crossing, limit: tuple[Array, bool], before: Callable[[int], tuple[Step, ...]]
) -> Term:
    """A crossing against a current that it must not go below (`limit[1]`) or above."""
    subject = f"Crossing against the {what}, {found.liquid.words}"
    if found.state != "crosses once":
        subject += f" ({WORDS[found.state].format(lower='link', upper='limiter')})"
    against = Against(found.current, limit[0], "A", at_least=limit[1])

    def steps(case: int) -> tuple[Step, ...]:
        return (*before(case), _crossing_step(walk, found, case))

    return standing(subject, against, partial(steps, 0))


def _crossing_step(walk: Walk, found: Crossing, case: int) -> Step:
    link, limiter = (at(walk, each, case) for each in (found.liquid.link, found.liquid.limiter))
    numbers = f"link at {link:.4g} degC, limiter at {limiter:.4g} degC"
    if found.state == "crosses once":
        numbers += f", both at {seconds(walk, fuse_pair.crossing_time(walk, found), case)}"
    meaning, formula = "crossover of link and limiter", "t_clear(link, IX) = t_melt(limiter, IX)"
    return Step("IX", meaning, formula, numbers, amperes(walk, found.current, case), LIQUID_SOURCE, "D")


def _link_voltage(walk: Walk) -> Term:
    """Voltage the link recovers against, against its class."""
    return rated_voltages.link(walk)


@claim(
    "OC-05",
    hazard=HAZARD,
    needs=("fuses", "transformer"),
    sentence=("Below the crossover the limiter is never asked to clear less than its minimum interrupting current."),
    rule=same_rule("Crossover at least the limiter's minimum interrupting current", "IEEE C37.48; IEC 60282-1", "C"),
)
def limiter_is_never_asked_too_little(walk: Walk) -> Outcome:
    """Lowest crossing against the minimum; a limiter alone must not melt below it."""
    if not fuse_entries.given(walk, "limiter"):
        return NotApplicable("The file has no current-limiting fuse.")
    if fuse_pair.lacks(walk):
        if walk.inputs.maybe_word("switch.fused") == "yes":
            return NotApplicable("No draw-out link: below the limiter's minimum the fused switch opens, see OC-11.")
        text = fuse_entries.smallest_melting(walk)[1]
        return OutsideModel(text) if text else Questions([later(_limiter_alone, walk)])
    if text := fuse_pair.unknown(walk):
        return OutsideModel(text)
    return Questions([later(_above_minimum, walk, mixed) for mixed in MIXED])


def _minimum(walk: Walk) -> Array:
    """Smallest current the limiters together interrupt, A."""
    one = walk.inputs.number("fuses.limiter.minimum_interrupting")
    return let_through.paralleled_current(one, fuse_entries.in_parallel(walk, "limiter"))


def _above_minimum(walk: Walk, mixed: bool) -> Term:
    found, limit = fuse_pair.lowest_crossing(walk, mixed=mixed), _minimum(walk)
    return _crossing_term(walk, "limiter's minimum interrupting current", found, (limit, True), lambda _case: ())


def _limiter_alone(walk: Walk) -> Term:
    """A limiter without a link must interrupt every current that melts it."""
    melts = fuse_entries.smallest_melting(walk)[0]

    def steps(case: int) -> tuple[Step, ...]:
        meaning, formula = "smallest current that melts the limiter", "first point of its curve"
        return (Step("I1", meaning, formula, "", amperes(walk, melts, case), "curve of the file", "V"),)

    subject = "Limiter without a link that interrupts: smallest current that melts it"
    return standing(subject, Against(melts, _minimum(walk), "A", at_least=True), partial(steps, 0))


@claim(
    "OC-06",
    hazard=HAZARD,
    needs=("supply", "fuses", "transformer"),
    sentence="Melting energy is matched: the link also melts whenever the limiter clears.",
    rule=same_rule(
        "Largest melting energy of the link at most a multiple of the limiter's smallest; the limiter's rated voltage "
        "not below line to neutral where they are matched, the supply is solidly earthed and the link is rated line to "
        "line; line to line where not",
        "IEEE C37.48, definition; factor and time from memory",
        "M",
    ),
)
def melting_is_matched(walk: Walk) -> Outcome:
    """Energy of the link against that of the limiter, in the same and in mixed liquid; voltage of the limiter."""
    if reason := fuse_pair.lacks(walk):
        return NotApplicable(reason)
    if text := fuse_pair.unfit(walk):
        return OutsideModel(text)
    states = (fuse_pair.same_liquid(walk), fuse_pair.cold_link_hot_limiter(walk))
    return Questions([*(later(_matched, walk, state) for state in states), later(_limiter_voltage, walk)])


def _matched(walk: Walk, liquid: Liquid) -> Term:
    found = matched_melting.energies(walk, liquid)

    def steps(case: int) -> tuple[Step, ...]:
        link, limiter = (in_words(at(walk, each, case), "A2s") for each in (found.link, found.limiter))
        at_time = f"at {at(walk, found.time, case) * 1e3:.4g} ms, link at {at(walk, liquid.link, case):.4g} degC"
        limit = in_words(at(walk, found.factor * found.limiter, case), "A2s")
        numbers = f"{at(walk, found.factor, case):.4g} x {limiter}, at {at(walk, liquid.limiter, case):.4g} degC"
        meaning = "largest energy that melts the link"
        return (
            Step("WL", meaning, "(F I(t) (1 + e))^2 t", at_time, link, "matched-melt practice", "M"),
            Step("cW", "what the limiter surely lets through", "c F^2 W", numbers, limit, "matched-melt practice", "M"),
        )

    subject = f"Melting energy of the link against the limiter's, {liquid.words}"
    against = Against(found.link, found.factor * found.limiter, "A2s")
    return standing(subject, against, partial(steps, 0))


def _limiter_voltage(walk: Walk) -> Term:
    """Voltage class the limiter needs: line to neutral where the link shares the recovery voltage, as it melts too."""
    return rated_voltages.limiter(walk, matched_melting.limiter_voltage(walk))
