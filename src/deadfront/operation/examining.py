"""Operation: the verdict on one machine in one mode. A machine in, states, hazards and shortest sequences out."""

from __future__ import annotations

from dataclasses import dataclass
from math import prod

from deadfront.operation.building import build
from deadfront.operation.machine import KINDS, Kind, Machine, Mode
from deadfront.operation.search import Explored, explore
from deadfront.operation.splitting import split


@dataclass(frozen=True, slots=True)
class Examination:
    """All that hands can do to a machine in one mode.

    `transitions` are moves between states; `depth` is the farthest state's distance; `states_hazard_free` is how many
    states are left when no hazardous move is taken; `sequences` holds the shortest way to each kind of hazard, the
    dangerous move last.
    """

    mode: Mode
    states: int
    transitions: int
    depth: int
    states_hazard_free: int
    sequences: dict[Kind, tuple[str, ...]]
    sub_plants: int

    def length(self, kind: Kind) -> int:
        """The number of moves to a hazard; KeyError if it cannot be reached."""
        return len(self.sequences[kind])


def examine(machine: Machine, mode: Mode) -> Examination:
    """Explore every state of a machine, sub-plant by sub-plant. Raises `MachineTooLarge`.

    Sub-plants are independent: states multiply, distances add, a shortest way to a hazard lies within one of them.
    """
    searches = [explore(build(part, mode)) for part in split(machine)]
    states = prod(search.states for search in searches)
    free = [s.states if not s.dangers else explore(s.plant, through_dangers=False).states for s in searches]
    return Examination(
        mode=mode,
        states=states,
        transitions=sum(search.transitions * (states // search.states) for search in searches),
        depth=sum(search.depth for search in searches),
        states_hazard_free=prod(free),
        sequences={kind: found for kind in KINDS if (found := _shortest(searches, kind))},
        sub_plants=len(searches),
    )


def _shortest(searches: list[Explored], kind: Kind) -> tuple[str, ...]:
    able = [search for search in searches if kind in search.dangers]
    if not able:
        return ()
    # The first of equally short ones, so that the text is the same every time.
    search = min(able, key=lambda s: s.dangers[kind].length)
    return tuple(search.plant.moves[move].text for move in search.sequence(kind))
