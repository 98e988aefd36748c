"""Dossier: the time-current picture has one reference voltage, equal decades and the same bytes every time."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace as Row

import numpy as np
import pytest
from sample_document import sample_characteristics

from deadfront.dossier import time_current as module
from deadfront.dossier.time_current import key, marked, time_current


def picture(**changes):
    """The sample's picture, with parts replaced."""
    sample = replace(sample_characteristics(), **changes)
    return time_current(sample.curves, sample.markers, sample.reference)


def test_same_curves_same_bytes():
    """No date, no random identifier, no setting of the machine."""
    assert picture().svg == picture().svg
    assert "<dc:date>" not in picture().svg


def test_the_machine_s_plot_settings_do_not_reach_the_picture():
    """A user's own settings of the plotting library change nothing."""
    import matplotlib as mpl

    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "black", "svg.fonttype": "none", "lines.linewidth": 9.0}):
        other = picture().svg
    assert other == picture().svg


def test_decades_are_equal_on_both_axes():
    """Five decades of time and two of current (1 to 100 kA) take the same length each."""
    drawn = picture()
    wide = drawn.width - module._LEFT - module._RIGHT
    tall = drawn.height - module._TOP - module._BOTTOM
    assert wide / 2 == pytest.approx(tall / 5, rel=1e-12)


def test_the_key_names_tag_device_ratio_and_edges():
    """Trap 13: a curve referred to another voltage says by which ratio."""
    rows = key(sample_characteristics().curves)
    assert [row["tag"] for row in rows] == ["G1", "F1, F2", "Q2"]
    assert rows[1]["ratio"] == "24.94 kV / 480 V = 51.96"
    assert [row["edges"] for row in rows] == ["latest", "earliest and latest", "earliest and latest"]
    assert len({(row["colour"], row["dashes"]) for row in rows}) == 3
    assert len({row["dashes"] for row in rows}) == 3


def test_marked_currents_rise_and_carry_their_letters():
    """Letters from the smallest current; a marker outside the model is not drawn."""
    rows = marked((*sample_characteristics().markers, Row(words="outside", current=math.nan, time=None)))
    assert [(row["letter"], row["words"], row["current"], row["time"]) for row in rows] == [
        ("a", "arc, reduced", "14.2\u00a0kA", "1.84\u00a0s"),
        ("b", "bolted, smallest", "20.7\u00a0kA", ""),
        ("c", "bolted, largest", "33.4\u00a0kA", "50\u00a0ms"),
    ]


def test_the_alternate_text_carries_the_message():
    """What clears, where, and when, in words."""
    words = picture().alternate
    assert words.startswith(
        "Time-current characteristics at 480 V of G1 Upstream relay and breaker, F1, F2 MV fuses in series, Q2 LV main"
    )
    assert "a arc, reduced 14.2\u00a0kA, cleared in 1.84\u00a0s" in words


def test_a_tag_that_looks_like_mathematics_is_text():
    """Dollar signs and backslashes in a tag never reach the plotting library's own typesetting."""
    curve = Row(**vars(sample_characteristics().curves[2]) | {"tag": r"$\undefined{x$ \ $5"})
    assert picture(curves=(curve,)).svg


def test_never_operating_parts_are_not_drawn():
    """A device that never operates in the window leaves no line, and does not stop the picture."""
    current = np.geomspace(100.0, 1e4, 50)
    never = Row(name="n", tag="N", current=current, earliest=None, latest=np.full(50, np.inf), reference_ratio="1")
    assert re.search(r"<svg", picture(curves=(never,)).svg)


def test_nothing_to_draw_is_refused():
    """No positive current: an error in words."""
    with pytest.raises(
        ValueError,
        match=r"^time-current picture: no curve and no marker has a positive current inside 0\.01 s to 1000 s$",
    ):
        picture(curves=(), markers=())
