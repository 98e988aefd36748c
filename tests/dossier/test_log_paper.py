"""Dossier: log-log paper has equal decades, its labels meet nothing, and it gives the same bytes every time."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from deadfront.dossier.label_places import Ink, Place, Wanted, places
from deadfront.dossier.log_labels import STYLES
from deadfront.dossier.log_paper import drawable, labels_meet, log_paper, span_in_words
from deadfront.dossier.raster import png
from deadfront.study.drawing import Characteristic, Edge, Point, Scale, Sheet, Span, cut, traced


def sheet(**changes) -> Sheet:
    """Two bands and a few ranges, invented."""
    current = np.geomspace(100.0, 3000.0, 12)
    edges = tuple(Edge("edge", current * k, 3e5 / current**2) for k in (1.0, 1.2))
    wide = tuple(replace(edge, current=edge.current * 3.0) for edge in edges)
    plain = Sheet(
        title="Invented",
        scale=Scale("Current at 20 kV, A"),
        other=Scale("Current at 400 V, kA", 0.05),
        characteristics=(
            Characteristic("Link", ("40 A", "25 \u00b0C"), "link", edges, True, "own current"),
            Characteristic("Limiter", ("80 A",), "limiter", wide, True, "own current"),
        ),
        points=(Point("inrush; 12 times for 0.1 s", 320.0, 0.1, "diamond"),),
        spans=(Span("three-phase at the LV bus", 410.0, 611.0, ruled=True), Span("to earth", 240.0, 240.0)),
    )
    return replace(plain, **changes)


def test_same_sheet_same_bytes():
    """SVG and PNG carry no date, no random identifier and nothing of the machine."""
    assert log_paper(sheet()).svg == log_paper(sheet()).svg
    assert png(log_paper(sheet()), 50.0) == png(log_paper(sheet()), 50.0)


def test_png_is_as_large_as_asked():
    """At 254 dots per inch a millimetre has ten pixels."""
    picture = log_paper(sheet())
    header = png(picture, 254.0)[16:24]
    wide, high = int.from_bytes(header[:4]), int.from_bytes(header[4:])
    assert abs(wide - 10 * picture.width) <= 1
    assert abs(high - 10 * picture.height) <= 1


def test_decades_are_as_long_upright_as_across():
    """The line at 1000 A stands as far from that at 100 A as 1 s from 10 s."""
    svg = log_paper(sheet()).svg
    decades = svg.split('stroke="#A0A0A0"')[1].split("</g>")[0]
    across = [float(x) for x in re.findall(r'd="M([\d.]+) 0V', decades)]
    upright = [float(y) for y in re.findall(r'd="M0 ([\d.]+)H', decades)]
    assert np.diff(across) == pytest.approx(np.full(len(across) - 1, 31.0), abs=0.011)
    assert np.diff(upright) == pytest.approx(np.full(len(upright) - 1, -31.0), abs=0.011)
    assert len(upright) == 4


def test_labels_meet_nothing():
    """Both devices and the point have their words, and none had to stand over another one."""
    drawn = sheet()
    assert not labels_meet(drawn)
    for words in ("Link", "Limiter", "inrush", "12 times for 0.1 s"):
        assert f">{words}</text>" in log_paper(drawn).svg


def test_a_crowd_of_labels_of_one_point_are_reported_as_meeting():
    """The check of the labels can fail."""
    crowd = tuple(Point(f"a point with a long name, number {n}", 320.0, 0.1, "square") for n in range(45))
    assert labels_meet(sheet(points=crowd))


def test_labels_keep_off_the_lines():
    """Beside one upright line a label stands left or right of it, near its anchor."""
    ink = Ink(100.0, 100.0)
    ink.line(np.array([50.0, 50.0]), np.array([0.0, 100.0]))
    (place,) = places([Wanted(20.0, 5.0, np.array([[50.0, 50.0]]))], ink)
    assert place.free
    assert place.left > 50.0 or place.left + 20.0 < 50.0
    assert abs(place.left - 50.0) < 25.0


def leader(wanted: Wanted, place: Place) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the line from what a label speaks of to the nearest point of its box."""
    x, y = place.anchor
    near = min(max(x, place.left), place.left + wanted.wide), min(max(y, place.top), place.top + wanted.high)
    return (x, y), near


def passes(ends, wanted: Wanted, place: Place) -> bool:
    """Whether a line passes through a box, looked at in steps of a hundredth of a millimetre."""
    share = np.linspace(0.0, 1.0, 20_000)
    x, y = (start + share * (end - start) for start, end in zip(*ends, strict=True))
    within = (x > place.left) & (x < place.left + wanted.wide) & (y > place.top) & (y < place.top + wanted.high)
    return bool(within.any())


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 5])
def test_no_leader_passes_through_a_label_however_long_it_is(seed):
    """Labels of points that lie together: leaders are long, and none cuts even the corner of another label."""
    chance = np.random.default_rng(seed)
    wanted = [
        Wanted(float(wide), 3.5, chance.uniform((40.0, 70.0), (70.0, 99.0), (1, 2)))
        for wide in chance.uniform(12.0, 34.0, 7)
    ]
    ink = Ink(120.0, 100.0)
    ink.line(np.array([55.0, 60.0]), np.array([0.0, 100.0]))
    found = list(zip(wanted, places(wanted, ink), strict=True))
    assert all(place.free for _, place in found)
    for one in found:
        assert not any(passes(leader(*one), *other) for other in found if other is not one)


def test_leaders_do_not_cross_where_there_is_room():
    """Two points side by side on an empty sheet: no label stands on the far side of the other's leader."""
    for apart in (2.0, 5.0, 9.0):
        wanted = [Wanted(20.0, 4.0, np.array([[50.0 + x, 50.0]])) for x in (0.0, apart)]
        (a, b), (c, d) = (leader(*each) for each in zip(wanted, places(wanted, Ink(100.0, 100.0)), strict=True))

        def turn(p, q, r):
            return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

        assert not (turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0)


def test_every_role_has_a_line_of_its_own_in_grey():
    """Devices are told apart without colour; the two kinds of part that stand something share a solid grey line."""
    devices = [dashes for role, (_, dashes) in STYLES.items() if role not in ("transformer", "conductor")]
    assert len(set(devices)) == len(devices)


def test_a_range_is_never_printed_too_small():
    """The lower end goes down, the upper end up; one value is printed once."""
    assert span_in_words(Span("", 461.96, 611.11)) == "461\u00a0A to 612\u00a0A"
    assert span_in_words(Span("", 1204.0, 1204.0)) == "1.20\u00a0kA"


def test_a_step_stands_upright_and_a_start_comes_from_above():
    """Steps of a device that starts at 100 A and steps at 1000 A are found to a millionth."""
    edge = traced("", lambda i: np.where(i <= 100.0, np.inf, np.where(i <= 1000.0, 1e5 / i**2, 0.03)), 10.0, 5000.0)
    start = np.flatnonzero(np.isfinite(edge.time))[0]
    assert edge.time[start] == 1e6
    assert edge.current[start : start + 2] == pytest.approx(100.0, rel=1e-6)
    step = np.flatnonzero(edge.time == 0.03)[0]
    assert edge.current[step - 1 : step + 1] == pytest.approx(1000.0, rel=1e-6)
    assert edge.time[step - 1] == pytest.approx(0.1, rel=1e-6)


def test_a_device_that_never_operates_leaves_no_line():
    """Infinite everywhere: nothing is drawn."""
    assert np.isnan(traced("", lambda i: np.full_like(i, np.inf), 10.0, 100.0).time).all()


def test_a_cut_line_ends_where_it_is_cut():
    """Straight in log-log between its points: I²t = 100 read at 3 A and 5 A."""
    edge = cut(Edge("", np.array([1.0, 10.0]), np.array([100.0, 1.0])), 3.0, 5.0)
    assert edge.current == pytest.approx([3.0, 5.0])
    assert edge.time == pytest.approx([100.0 / 9.0, 4.0])
    assert len(cut(edge, 6.0, 9.0).current) == 0


def test_nothing_to_draw_is_refused_in_words():
    """No current at all: an error that names the window."""
    empty = sheet(characteristics=(), points=(), spans=())
    assert not drawable(empty)
    with pytest.raises(
        ValueError, match=r"^log-log paper: expected something between 0\.01 and 1000 on the upright axis$"
    ):
        log_paper(empty)


def test_words_of_the_file_never_become_markup():
    """Angle brackets and ampersands stay text."""
    assert "&lt;b&gt; &amp; Co" in log_paper(sheet(title="<b> & Co")).svg
