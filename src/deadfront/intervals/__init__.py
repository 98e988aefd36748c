"""Intervals: numbers that are ranges. Interval and gradient arrays over numpy, branch and bound; no electricity."""

from deadfront.intervals.bounding import Problem, halved
from deadfront.intervals.gradient import Dual
from deadfront.intervals.interval import Interval, Truth
from deadfront.intervals.mapping import FAILS, HOLDS, UNDECIDED, Chart, chart
from deadfront.intervals.rounding import BOX, exceptionally, work_done
from deadfront.intervals.search import Decision, Effort, decide, least
from deadfront.intervals.spacing import grid, halfway, placed, shares_of
from deadfront.intervals.waypoint import waypoint
from deadfront.intervals.witness import first_witness

__all__ = [
    "BOX",
    "FAILS",
    "HOLDS",
    "UNDECIDED",
    "Chart",
    "Decision",
    "Dual",
    "Effort",
    "Interval",
    "Problem",
    "Truth",
    "chart",
    "decide",
    "exceptionally",
    "first_witness",
    "grid",
    "halfway",
    "halved",
    "least",
    "placed",
    "shares_of",
    "waypoint",
    "work_done",
]
