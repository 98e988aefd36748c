"""Dossier: where a claim holds over two ranges. A map of cells comes in; lines of text, and an SVG, go out."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from deadfront.claims.numbers import format_number
from deadfront.claims.wording import DIMENSION_UNITS, path_in_words
from deadfront.dossier.chart import Field, chart
from deadfront.dossier.lettering import printable
from deadfront.dossier.sheet import Picture
from deadfront.intervals import FAILS, HOLDS, UNDECIDED

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from deadfront.claims.mapping import MarginMap

WIDTH = 79
_MARKS = {HOLDS: "+", UNDECIDED: "?", FAILS: "X"}
_MOST_COLUMNS = 64
_LEFT, _SIDE, _RIGHT, _TOP, _BOTTOM = 20.0, 110.0, 6.0, 12.0, 26.0
# White, grey and a light orange: each with its own hatching, so that they are told apart without colour.
_FILLS = {HOLDS: ("white", ""), UNDECIDED: ("#D0D0D0", "...."), FAILS: ("#E8B48C", "xxxx")}
_WORDS = {
    HOLDS: "proved to hold, whatever the other ranges are",
    UNDECIDED: "undecided: the boundary runs here",
    FAILS: "proved to fail for some values of the other ranges",
}
_LEVELS = (-1.0, -0.5, -0.2, -0.1, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9)
"""Margins drawn as lines, shares of the limit."""
_HATCHING = {"hatch.linewidth": 0.4, "hatch.color": "#6E6E6E"}


def map_text(found: MarginMap) -> str:
    """The map in marks, the second input upward, with its key and how much of it is decided."""
    first, second = (_ends(found, k) for k in (0, 1))
    wide = max(1, _MOST_COLUMNS // found.state.shape[1])
    lines = [f"{found.claim.id}  {found.claim.verdict}", *textwrap.wrap(found.claim.sentence, WIDTH), ""]
    lines += textwrap.wrap(f"{path_in_words(found.paths[1])}, {second[0]} (bottom) to {second[1]} (top)", WIDTH)
    lines += ["  " + "".join(_MARKS[int(cell)] * wide for cell in row) for row in found.state[::-1]]
    lines += textwrap.wrap(f"{path_in_words(found.paths[0])}, {first[0]} (left) to {first[1]} (right)", WIDTH)
    lines += [""]
    for state in (HOLDS, FAILS, UNDECIDED):
        lines += [f"  {_MARKS[state]} {_share(found, state):>4}  {_WORDS[state]}"]
    return (
        "\n".join(part for line in lines for part in (textwrap.wrap(line, WIDTH) if len(line) > WIDTH else [line]))
        + "\n"
    )


def _ends(found: MarginMap, number: int) -> tuple[str, str]:
    unit = _unit(found, number)
    return format_number(float(found.edges[number][0]), unit), format_number(float(found.edges[number][-1]), unit)


def _unit(found: MarginMap, number: int) -> str:
    """Unit of an input; a range that the tool assumed has none of the file."""
    return DIMENSION_UNITS.get(found.ranges[number].dimension, "1")


def _share(found: MarginMap, state: int) -> str:
    return f"{round(100 * float(np.mean(found.state == state)))} %"


def map_picture(found: MarginMap) -> Picture:
    """The map with its three areas, lines of equal smallest margin, and a key."""

    def draw(axes: Axes) -> None:
        for state in (UNDECIDED, FAILS):
            _area(axes, found, state)
        _lines(axes, found)
        _frame(axes, found)

    areas = "; ".join(f"{_share(found, state)} {_WORDS[state]}" for state in (HOLDS, FAILS, UNDECIDED))
    names = " and ".join(path_in_words(path) for path in found.paths)
    field = Field(_SIDE, _SIDE, _LEFT, _RIGHT, _TOP, _BOTTOM)
    return chart(field, draw, f"{found.claim.id} over {names}: {areas}.", _HATCHING)


def _area(axes: Axes, found: MarginMap, state: int) -> None:
    """The cells of one state; those of a row that touch are one rectangle, so that hatching runs through."""
    from matplotlib.patches import Rectangle

    fill, hatch = _FILLS[state]
    first, second = found.edges
    for j, row in enumerate(found.state == state):
        bounds = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8)))
        for left, right in zip(bounds[::2], bounds[1::2], strict=True):
            corner = float(first[left]), float(second[j])
            size = float(first[right] - first[left]), float(second[j + 1] - second[j])
            axes.add_patch(Rectangle(corner, *size, facecolor=fill, hatch=hatch, edgecolor="#6E6E6E", linewidth=0.0))


def _lines(axes: Axes, found: MarginMap) -> None:
    """Lines of equal smallest margin, where the margin is a number."""
    least = np.where(np.isfinite(found.least), found.least, np.nan)
    known = least[~np.isnan(least)]
    levels = [level for level in _LEVELS if known.size and known.min() < level < known.max()]
    if not levels:
        return
    middles = [0.5 * (edges[:-1] + edges[1:]) for edges in found.edges]
    drawn = axes.contour(*middles, np.ma.masked_invalid(least), levels=levels, colors="black", linewidths=0.6)
    axes.clabel(drawn, fmt=lambda level: f"{round(100 * level)} %", fontsize=6.5)


def _frame(axes: Axes, found: MarginMap) -> None:
    """Axes in the units of the file, heading and key."""
    from matplotlib.patches import Patch
    from matplotlib.ticker import FuncFormatter

    for number, axis in enumerate((axes.xaxis, axes.yaxis)):
        unit = _unit(found, number)
        axis.set_major_formatter(FuncFormatter(lambda value, _, unit=unit: format_number(value, unit)))
        axis.set_label_text(printable(path_in_words(found.paths[number])))
    axes.set_xlim(float(found.edges[0][0]), float(found.edges[0][-1]))
    axes.set_ylim(float(found.edges[1][0]), float(found.edges[1][-1]))
    axes.set_title(printable(f"{found.claim.id}: {found.claim.verdict}"), loc="left", fontsize=9, fontweight="bold")
    patches = [
        Patch(facecolor=_FILLS[state][0], hatch=_FILLS[state][1], edgecolor="#6E6E6E", label=_WORDS[state])
        for state in (HOLDS, FAILS, UNDECIDED)
    ]
    axes.legend(handles=patches, loc="upper left", bbox_to_anchor=(-0.02, -0.1), frameon=False, fontsize=7)
