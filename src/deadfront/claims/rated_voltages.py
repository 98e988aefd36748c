"""Claims: a current rating holds up to a rated voltage. A walk comes in; a term per device of the MV side goes out."""

from __future__ import annotations

from functools import partial

from deadfront.claims.comparing import Maker, Term, later
from deadfront.claims.model import Step
from deadfront.claims.steps import at
from deadfront.claims.terms import Against, standing
from deadfront.claims.wording import in_words
from deadfront.physics.types import Array
from deadfront.study import fuse_entries, fuse_pair, ratings
from deadfront.study.walk import Walk

PAIR_PRACTICE = "IEEE C37.48 practice"


def switch(walk: Walk) -> list[Maker]:
    """Rated voltage of the switch against the highest voltage between lines."""
    return [later(_switch, walk)]


def connectors(walk: Walk) -> list[Maker]:
    """The connectors' largest voltages against those in service; to earth only where their standard states it."""
    found = [later(_connectors, walk)]
    if ratings.connector_row(walk) is not None:
        found.append(later(_connectors_to_earth, walk))
    return found


def fuse(walk: Walk) -> list[Maker]:
    """A fuse without a partner against the voltage it recovers against; those of a pair stand in OC-04 and OC-06."""
    if walk.inputs.entry("fuses.limiter") is None:
        return [later(link, walk)]
    return [] if fuse_pair.lacks(walk) is None else [later(_limiter_alone, walk)]


def _limiter_alone(walk: Walk) -> Term:
    rated = walk.inputs.number("fuses.limiter.voltage")
    return _against_recovery(walk, "Limiter", _recovery_or_line(walk), rated)


def _switch(walk: Walk) -> Term:
    return _between_lines(walk, "MV switch, rated voltage", walk.inputs.number("switch.voltage"))


def _connectors(walk: Walk) -> Term:
    return _between_lines(walk, "MV connectors, rated voltage", ratings.connector_voltage(walk))


def _between_lines(walk: Walk, subject: str, rated: Array) -> Term:
    highest = fuse_entries.highest_line_voltage(walk)
    return standing(subject, Against(highest, rated, "V"), lambda: (_highest_step(walk, highest),))


def _highest_step(walk: Walk, highest: Array) -> Step:
    nominal = in_words(at(walk, walk.inputs.number("supply.voltage"), 0), "V")
    size = in_words(at(walk, highest, 0), "V")
    meaning, formula = "highest voltage between lines in service", "entry of the file, or as assumed"
    return Step("Um", meaning, formula, f"nominal {nominal}", size, "supply.highest_voltage", "C")


def _connectors_to_earth(walk: Walk) -> Term:
    """Line to earth: over sqrt(3) only where the neutral is solidly earthed; else an earth fault leaves it all."""
    value = ratings.voltage_to_earth(walk)

    def steps() -> tuple[Step, ...]:
        earthing, size = walk.inputs.word("supply.earthing"), in_words(at(walk, value, 0), "V")
        formula = "Um / sqrt(3) where the neutral is solidly earthed, else Um"
        return (Step("Ue", "highest voltage to earth", formula, f"neutral {earthing}", size, "IEEE 386", "M"),)

    limit = ratings.connector_voltage_to_earth(walk)
    return standing("MV connectors, rated voltage to earth", Against(value, limit, "V"), steps)


def _recovery_or_line(walk: Walk) -> Array:
    """Voltage across a fuse that has cleared, V; between lines while the file does not say how it is connected."""
    if walk.inputs.maybe_word("transformer.connection") is None or walk.inputs.maybe_word("supply.earthing") is None:
        return fuse_entries.highest_line_voltage(walk)
    return fuse_entries.recovery_voltage(walk)


def link(walk: Walk) -> Term:
    """Voltage the draw-out link recovers against, against its class."""
    rated = walk.inputs.number("fuses.bayonet.voltage")
    return _against_recovery(walk, "Draw-out link", _recovery_or_line(walk), rated)


def _against_recovery(walk: Walk, name: str, recovery: Array, rated: Array) -> Term:
    subject = f"{name}, recovery voltage against its voltage class"
    return standing(subject, Against(recovery, rated, "V"), partial(_recovery_steps, walk, recovery))


def _recovery_steps(walk: Walk, recovery: Array) -> tuple[Step, ...]:
    connection = walk.inputs.maybe_word("transformer.connection") or "connection not given"
    earthing = walk.inputs.maybe_word("supply.earthing") or "not given"
    highest = in_words(at(walk, fuse_entries.highest_line_voltage(walk), 0), "V")
    numbers = f"{highest}, {connection}, supply neutral {earthing}"
    formula = "U, or U / sqrt(3) where both stars and the supply are earthed"
    size = in_words(at(walk, recovery, 0), "V")
    return (Step("Ur", "voltage across a fuse that has cleared", formula, numbers, size, PAIR_PRACTICE, "C"),)


def limiter(walk: Walk, needed: Array) -> Term:
    """Voltage class of a limiter beside its link against what it needs, V."""

    def steps() -> tuple[Step, ...]:
        formula = "U / sqrt(3) where matched, solidly earthed and the link within its class; else as the link"
        size = in_words(at(walk, needed, 0), "V")
        last = Step("Un", "voltage the limiter needs", formula, "", size, "IEEE C37.48", "M")
        return (*_recovery_steps(walk, fuse_entries.recovery_voltage(walk)), last)

    rated = walk.inputs.number("fuses.limiter.voltage")
    return standing("Limiter, recovery voltage against its voltage class", Against(needed, rated, "V"), steps)
