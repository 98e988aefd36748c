"""Dossier: a picture in pixels. SVG comes in, the bytes of a PNG go out."""

from __future__ import annotations

import typst

from deadfront.dossier.errors import DossierError
from deadfront.dossier.sheet import Picture
from deadfront.dossier.typeset import own_fonts

DOTS_PER_INCH = 200.0
"""Fine enough for a hairline on paper."""

_PAGE = b"""#set page(width: auto, height: auto, margin: 0pt, fill: white)
#image(bytes(sys.inputs.svg), format: "svg", width: float(sys.inputs.width) * 1mm)
"""


def png(picture: Picture, dots_per_inch: float = DOTS_PER_INCH) -> bytes:
    """The picture in pixels: the same picture gives the same bytes.

    raises  DossierError: the typesetter refused the picture, with its message
    """
    inputs = {"svg": picture.svg, "width": f"{picture.width:.3f}"}
    compiler = typst.Compiler(_PAGE, font_paths=own_fonts(), sys_inputs=inputs)
    try:
        found = compiler.compile(format="png", ppi=dots_per_inch)
    except typst.TypstError as refusal:
        raise DossierError(f"the typesetter refused the picture: {refusal.message}") from refusal
    if not isinstance(found, bytes):
        raise DossierError("the typesetter made no picture")
    return found
