"""Dossier: the time-current picture. Curves at one voltage and the currents that matter come in, an SVG goes out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from io import BytesIO
from string import ascii_lowercase
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from deadfront.dossier.lettering import SANS, printable
from deadfront.dossier.numbers import format_number, typographic
from deadfront.dossier.sheet import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Values = NDArray[np.float64]

SHORTEST, LONGEST = 0.01, 1000.0
"""s; the window of time of a coordination drawing [C]."""
_WIDTH, _HEIGHT = 150.0, 195.0
"""mm for the decades, so that the picture and its key fit a page."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 16.0, 6.0, 9.0, 13.0
_LETTER_DECADES = 0.09
"""Markers nearer than this share of a decade have their letters one above the other."""
_MILLIMETRE = 1 / 25.4
# Okabe-Ito colours that hold as lines on white [V2], each with its own dashes so that the picture reads in grey.
_STYLES: tuple[tuple[str, str | tuple[int, tuple[float, ...]]], ...] = (
    ("#0072B2", "solid"),
    ("#D55E00", (0, (6, 2))),
    ("#009E73", (0, (6, 2, 1.2, 2))),
    ("#000000", (0, (1.5, 1.5))),
    ("#CC79A7", (0, (9, 2, 1.2, 2, 1.2, 2))),
    ("#595959", (0, (3, 3))),
)
# Settings of the plotting library; a text is never read as mathematics, and nothing in the file is random.
_PLAIN: dict[Any, Any] = {
    "svg.fonttype": "path",
    "font.family": SANS,
    "font.size": 7.5,
    "axes.linewidth": 0.7,
    "path.simplify": False,
    "axes.unicode_minus": True,
    "text.parse_math": False,
    "svg.hashsalt": "deadfront",
}


class Curve(Protocol):
    """What a device does: its total clearing times, and the earliest it may act where that is known.

    current and times are at the reference voltage; a device without a band has no `earliest`. `reference_ratio` says
    by which ratio its own current was referred.
    """

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def tag(self) -> str: ...  # noqa: D102
    @property
    def current(self) -> Values: ...  # noqa: D102
    @property
    def earliest(self) -> Values | None: ...  # noqa: D102
    @property
    def latest(self) -> Values: ...  # noqa: D102
    @property
    def reference_ratio(self) -> str: ...  # noqa: D102


class Marker(Protocol):
    """A current that matters, and the time in which it is cleared; `time` is None where only the current is meant."""

    @property
    def words(self) -> str: ...  # noqa: D102
    @property
    def current(self) -> float: ...  # noqa: D102
    @property
    def time(self) -> float | None: ...  # noqa: D102


def time_current(curves: Sequence[Curve], markers: Sequence[Marker], reference: str) -> Picture:
    """The clearing characteristics on log-log paper with equal decades, 0.01 s to 1000 s.

    curves     what each device does, in the order of the key; currents at `reference`
    markers    vertical lines with their words; a point where a clearing time belongs to the current
    reference  the one voltage all currents are referred to, as text, for the title of the axis
    raises     ValueError: there is no curve and no marker, or none with a positive current
    """
    import matplotlib as mpl  # a second to import: only for a dossier
    from matplotlib.figure import Figure

    low, high = _decades(curves, markers)
    decade = min(_WIDTH / (high - low), _HEIGHT / math.log10(LONGEST / SHORTEST))
    wide, tall = decade * (high - low), decade * math.log10(LONGEST / SHORTEST)
    width, height = wide + _LEFT + _RIGHT, tall + _TOP + _BOTTOM
    with mpl.rc_context({**mpl.rcParamsDefault, **_PLAIN}):
        figure = Figure(figsize=(width * _MILLIMETRE, height * _MILLIMETRE))
        axes = figure.add_axes((_LEFT / width, _BOTTOM / height, wide / width, tall / height))
        _paper(axes, 10.0**low, 10.0**high, reference)
        for number, curve in enumerate(curves):
            _curve(axes, curve, number, len(curves))
        _markers(axes, markers)
        stream = BytesIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return Picture(stream.getvalue().decode("utf-8"), width, height, _alternate_text(curves, markers, reference))


def key(curves: Sequence[Curve]) -> list[dict[str, str]]:
    """The key under the picture: tag, name and ratio of each curve, with its colour and dashes for the page to draw."""
    rows = []
    for number, curve in enumerate(curves):
        colour, dashes = _STYLES[number % len(_STYLES)]
        pattern = "" if isinstance(dashes, str) else " ".join(f"{length:g}" for length in dashes[1])
        band = "earliest and latest" if curve.earliest is not None else "latest"
        row = {"tag": curve.tag, "name": curve.name, "ratio": curve.reference_ratio, "edges": band}
        rows.append({name: printable(text) for name, text in row.items()} | {"colour": colour, "dashes": pattern})
    return rows


def marked(markers: Sequence[Marker]) -> list[dict[str, str]]:
    """The marked currents in print: letter, words, current, and the time in which it is cleared."""
    return [
        {
            "letter": letter,
            "words": printable(marker.words),
            "current": typographic(format_number(marker.current, "A")),
            "time": "" if marker.time is None else _time(marker.time),
        }
        for letter, marker in _lettered(markers)
    ]


def drawable(curves: Iterable[Curve], markers: Iterable[Marker]) -> bool:
    """Whether anything falls inside the picture: a time in its window, or a marked current."""
    return bool(_currents(curves, markers))


def _currents(curves: Iterable[Curve], markers: Iterable[Marker]) -> list[float]:
    """Every current with a time in the window, and every marker."""
    currents = [marker.current for marker in markers]
    for curve in curves:
        shown = (curve.latest >= SHORTEST) & (curve.latest <= LONGEST) & (curve.current > 0)
        currents += [float(current) for current in curve.current[shown]]
    return [current for current in currents if math.isfinite(current) and current > 0]


def _decades(curves: Iterable[Curve], markers: Iterable[Marker]) -> tuple[int, int]:
    """The whole decades that hold all of these currents."""
    currents = _currents(curves, markers)
    if not currents:
        raise ValueError("time-current picture: no curve and no marker has a positive current inside 0.01 s to 1000 s")
    low, high = math.floor(math.log10(min(currents))), math.ceil(math.log10(max(currents)))
    return low, max(high, low + 1)


def _paper(axes: Axes, low: float, high: float, reference: str) -> None:
    """Log-log paper: decades, their nine lines, plain numbers."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    axes.set_xscale("log")
    axes.set_yscale("log")
    axes.set_xlim(low, high)
    axes.set_ylim(SHORTEST, LONGEST)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(LogLocator(10, numticks=20))
        axis.set_minor_locator(LogLocator(10, subs=tuple(range(2, 10)), numticks=200))
        axis.set_major_formatter(FuncFormatter(lambda value, _: _plain(value)))
        axis.set_minor_formatter(NullFormatter())
    axes.grid(True, which="major", color="#9A9A9A", linewidth=0.5)
    axes.grid(True, which="minor", color="#D8D8D8", linewidth=0.3)
    axes.set_axisbelow(True)
    axes.set_xlabel(f"Current at {printable(reference)}, A (symmetrical, rms)")
    axes.set_ylabel("Time, s")


def _curve(axes: Axes, curve: Curve, number: int, count: int) -> None:
    """One device: its latest edge, its earliest edge and the band between, its tag on the line."""
    colour, dashes = _STYLES[number % len(_STYLES)]
    latest = np.where(np.isfinite(curve.latest), curve.latest, np.nan)
    if curve.earliest is not None:
        earliest = np.where(np.isfinite(curve.earliest), curve.earliest, np.nan)
        known = np.isfinite(earliest)
        axes.fill_between(
            curve.current, earliest, latest, where=known & np.isfinite(latest), color=colour, alpha=0.14, linewidth=0
        )
        axes.plot(curve.current, earliest, color=colour, linestyle=dashes, linewidth=0.8)
    axes.plot(curve.current, latest, color=colour, linestyle=dashes, linewidth=1.5)
    _tag(axes, curve, latest, colour, (number + 1) / (count + 1))


def _tag(axes: Axes, curve: Curve, latest: Values, colour: str, level: float) -> None:
    """The tag on the line itself, each curve at a height of its own so that tags do not meet."""
    inside = np.isfinite(latest) & (latest >= SHORTEST) & (latest <= LONGEST)
    if not inside.any():
        return
    wanted = LONGEST * (SHORTEST / LONGEST) ** level
    current, time = curve.current[inside], latest[inside]
    nearest = int(np.argmin(np.abs(np.log(time / wanted))))
    box = {"boxstyle": "round,pad=0.2", "facecolor": "white", "edgecolor": colour, "linewidth": 0.7}
    axes.text(
        float(current[nearest]),
        float(time[nearest]),
        printable(curve.tag),
        ha="center",
        va="center",
        fontsize=7,
        bbox=box,
        zorder=5,
    )


def _markers(axes: Axes, markers: Sequence[Marker]) -> None:
    """Vertical lines with their letters over the frame, and the points at which a fault is gone."""
    near = 0.0
    for letter, marker in _lettered(markers):
        axes.axvline(marker.current, color="#333333", linewidth=0.7, linestyle=(0, (8, 2, 2, 2)))
        raised = abs(math.log10(marker.current) - near) < _LETTER_DECADES
        near = 0.0 if raised else math.log10(marker.current)
        axes.annotate(
            letter,
            (marker.current, LONGEST),
            textcoords="offset points",
            xytext=(0, 10 if raised else 2),
            ha="center",
            fontsize=8,
            fontweight="bold",
            annotation_clip=False,
        )
        if marker.time is not None and SHORTEST <= marker.time <= LONGEST:
            axes.plot(
                [marker.current],
                [marker.time],
                marker="o",
                markersize=5,
                markerfacecolor="white",
                markeredgecolor="black",
                zorder=6,
            )
            axes.annotate(
                _time(marker.time),
                (marker.current, marker.time),
                textcoords="offset points",
                xytext=(6, 5),
                fontsize=7,
                zorder=6,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
            )


def _lettered(markers: Sequence[Marker]) -> list[tuple[str, Marker]]:
    """The markers that can be drawn, from the smallest current, each with its letter."""
    drawn = [marker for marker in markers if math.isfinite(marker.current) and marker.current > 0]
    drawn.sort(key=lambda marker: (marker.current, marker.words))
    return list(zip(ascii_lowercase, drawn, strict=False))


def _time(time: float) -> str:
    return typographic(format_number(time, "s", "up"))


def _plain(value: float) -> str:
    return f"{value:g}" if value < 1e4 else f"{value:,.0f}".replace(",", "\u2009")


def _alternate_text(curves: Sequence[Curve], markers: Sequence[Marker], reference: str) -> str:
    """The message of the picture and its numbers."""
    shown = [f"{curve.tag} {curve.name}" for curve in curves]
    points = []
    for row in marked(markers):
        cleared = f", cleared in {row['time']}" if row["time"] else ""
        points.append(f"{row['letter']} {row['words']} {row['current']}{cleared}")
    return printable(f"Time-current characteristics at {reference} of {', '.join(shown)}. {'; '.join(points)}.")
