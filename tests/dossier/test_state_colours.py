"""Dossier: states are told apart by those who see no red or no green, and on a print without colour."""

from __future__ import annotations

from io import BytesIO
from itertools import combinations

import numpy as np
import pytest
from PIL import Image

from deadfront.dossier.raster import png
from deadfront.dossier.sheet import Sheet
from deadfront.dossier.state_picture import _LINES, GREEN, MEANINGS, VERMILLION, trace

COLOURS = {"live": VERMILLION, "not live": "#000000", "earthed": GREEN, "paper": "#FFFFFF"}
FARTHEST = 35.0
"""Least distance in CIELAB between any two. About 2.3 is just to be seen side by side; 35 is seen across a page."""

# Dichromats by the model of Machado, Oliveira and Fernandes (2009) at full severity, on linear sRGB [M]; rows sum to 1.
EYES = {
    "trichromat": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanope": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranope": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanope": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
# Linear sRGB to CIE XYZ, white D65: IEC 61966-2-1.
XYZ = ((0.4124564, 0.3575761, 0.1804375), (0.2126729, 0.7151522, 0.0721750), (0.0193339, 0.1191920, 0.9503041))
WHITE = (0.95047, 1.0, 1.08883)


def linear(colour):
    """A colour written as #RRGGBB, in linear light."""
    share = np.array([int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)])
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def lab(light):
    """CIELAB of linear sRGB, held to what a screen shows."""
    share = np.array(XYZ) @ np.clip(light, 0, 1) / np.array(WHITE)
    f = np.where(share > (6 / 29) ** 3, np.cbrt(share), share / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def distance(eye, one, other):
    """How far two colours lie apart for an eye."""
    seen = [lab(np.array(EYES[eye]) @ linear(colour)) for colour in (one, other)]
    return float(np.linalg.norm(seen[0] - seen[1]))


def test_the_measure_is_that_of_the_books():
    """Black to white is 100; sRGB red is L* 53.24, a* 80.09, b* 67.20; pure red and green come close for no red."""
    assert distance("trichromat", "#000000", "#FFFFFF") == pytest.approx(100, abs=0.02)
    assert lab(linear("#FF0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.02)
    for eye, rows in EYES.items():
        assert np.sum(rows, axis=1) == pytest.approx(1, abs=3e-6), eye
    assert distance("deuteranope", "#D00000", "#4F6000") < 0.3 * distance("trichromat", "#D00000", "#4F6000")


@pytest.mark.parametrize("eye", EYES)
def test_colours_of_states_lie_far_apart_for_every_eye(eye):
    """Live, not live, earthed and the paper, each two of them; the nearest are live and earthed without red: 39."""
    for (one, a), (other, b) in combinations(COLOURS.items(), 2):
        assert distance(eye, a, b) > FARTHEST, (one, other)


def test_these_are_the_colours_that_are_drawn():
    """Every line of a state has one of them, so that the test before this one is about the pictures."""
    drawn = {ink.colour.lower() for inks in _LINES.values() for ink in inks}
    assert drawn == {VERMILLION.lower(), GREEN.lower(), "black", "white"}


def grey(state):
    """Rows of a line in a state, in grey from 0 to 1, and how many of them make half a module; the ends cut off."""
    sheet = Sheet()
    trace(sheet, ((0, 0), (24, 0)), state)
    sheet.room(0, -3, 24, 3)
    found = np.asarray(Image.open(BytesIO(png(sheet.picture("line"), 400))).convert("L")) / 255
    scale = found.shape[0] / 10  # six half modules and a margin of two above and below
    return found[:, int(4 * scale) : int(24 * scale)], scale


def texture(state):
    """At three distances from the middle of the line: how light it is there, and whether that changes along it."""
    found, scale = grey(state)
    middle = found.shape[0] / 2
    rows = [found[int(middle - off * scale)] for off in (0.0, 0.36, 0.6)]
    light = ["light" if row.mean() > 0.9 else "dark" for row in rows]
    return tuple("changing" if row.std() > 0.1 else word for row, word in zip(rows, light, strict=True))


def test_states_differ_in_grey():
    """Printed without colour: solid, hollow, rungs on a thin line, teeth on a thick one."""
    assert {state: texture(state) for state, _ in MEANINGS} == {
        "live": ("dark", "dark", "light"),
        "dead": ("light", "dark", "light"),
        "proved dead": ("light", "dark", "light"),  # the word at the point tells it from dead
        "earthed": ("dark", "changing", "changing"),
        "fault": ("dark", "dark", "changing"),
    }
