"""Dossier: a chart of one field. Sizes in mm and what draws on the field come in, a picture in vectors goes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

from deadfront.dossier.lettering import SANS, printable
from deadfront.dossier.sheet import Picture

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MILLIMETRE = 1 / 25.4

# Nothing of the machine it is drawn on, and the same bytes for the same chart.
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


@dataclass(frozen=True, slots=True)
class Field:
    """Where the field of a chart stands, mm: its size, and what is left free around it."""

    wide: float
    high: float
    left: float
    right: float
    top: float
    bottom: float


def chart(field: Field, draw: Callable[[Axes], None], alternate: str, hatching: dict[Any, Any]) -> Picture:
    """What `draw` puts on a field, as SVG.

    alternate  the message of the chart in words
    hatching   width and colour of the lines of a hatched area
    """
    import matplotlib as mpl  # a second to import: only for a picture
    from matplotlib.figure import Figure

    width, height = field.left + field.wide + field.right, field.high + field.top + field.bottom
    with mpl.rc_context({**mpl.rcParamsDefault, **_PLAIN, **hatching}):
        figure = Figure(figsize=(width * _MILLIMETRE, height * _MILLIMETRE))
        draw(figure.add_axes((field.left / width, field.bottom / height, field.wide / width, field.high / height)))
        stream = BytesIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return Picture(stream.getvalue().decode("utf-8"), width, height, printable(alternate))
