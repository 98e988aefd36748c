"""Dossier: pictures of access can be read. Nothing lies on lettering, and no lettering is smaller than 7 points."""

from __future__ import annotations

import pytest
from picture_boxes import overlaps
from unit_machines import NAMES, unit

from deadfront.dossier.access_picture import NothingToDraw, access_picture
from deadfront.dossier.sheet import HALF_MODULE, HIGHEST, LEAST, TEXT, TYPE_AREA, WIDEST
from deadfront.dossier.state_picture import legend_picture
from deadfront.dossier.strip import LAST_LEVEL, strip

WANTED = ("keys", "steps", "hazards", "rests")


def drawn(name, wanted):
    """Every picture of a kind that can be drawn of a unit: of each task, or the one of all hazards or rest states."""
    tasks = [goal.id for goal in unit(name).machine.goals] if wanted in ("steps", "keys") else [None]
    for task in tasks:
        try:
            yield access_picture(unit(name), wanted, task)
        except NothingToDraw:
            continue


@pytest.mark.parametrize("wanted", WANTED)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_lies_on_lettering_and_all_fits_a_page_at_seven_points(name, wanted):
    """No two pieces of lettering share room, no line crosses one, and no picture is too wide for its lettering."""
    for picture in drawn(name, wanted):
        assert overlaps(picture.svg) == []
        assert picture.width <= WIDEST
        if wanted in ("keys", "rests"):
            assert picture.height <= HIGHEST


@pytest.mark.parametrize("name", NAMES)
def test_a_long_way_is_folded(name):
    """No strip is wider than a page, whatever hangs on it."""
    first, last = strip(unit(name).machine).levels
    assert 0 <= first <= last <= LAST_LEVEL


def test_the_widest_picture_has_seven_points():
    """By hand: 1.5 half modules of 1.25 mm are 5.315 points; enlarged from 130.6 to 172 mm they are 7.00."""
    points = TEXT * HALF_MODULE / 25.4 * 72
    assert points == pytest.approx(5.315, abs=0.0005)
    assert points * TYPE_AREA / WIDEST == pytest.approx(LEAST)
    assert pytest.approx(130.6, abs=0.05) == WIDEST


def test_the_legend_fits_a_page_at_seven_points():
    """Its two rows are no wider than any other picture."""
    assert legend_picture().width <= WIDEST
    assert overlaps(legend_picture().svg) == []
