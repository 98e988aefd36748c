"""Project: the example of a missing entry works where it is to be put, in each practice."""

from __future__ import annotations

from datetime import date

import pytest
from ruamel.yaml import YAML
from test_help import faults, places

from deadfront.project.describing import describe
from deadfront.project.model import Unit
from deadfront.project.reading import load_bytes
from deadfront.project.shape import dotted
from deadfront.project.starters import PRACTICES, STARTER, starter_files

PLACES = [place for place, _ in places(Unit) if not any(isinstance(part, int) for part in place)]


def given(place, practice):
    """The example of an entry as a file has it below its slot."""
    return YAML(typ="safe", pure=True).load(describe(dotted(place), practice).example)


@pytest.mark.parametrize("practice", PRACTICES)
def test_every_example_has_the_form_of_its_entry(practice):
    """No `{curve: words}`, no `{a name: {...}}`: the example of each entry of each slot is read without a fault."""
    for place in PLACES:
        ((name, value),) = given(place, practice).items()
        value = str(value) if isinstance(value, date) else value
        assert (name, faults(place, value)) == (place[-1], {}), dotted(place)
    assert len(PLACES) > 500


@pytest.mark.parametrize("practice", PRACTICES)
def test_the_example_of_a_whole_slot_makes_a_file_that_is_read(practice):
    """A file that lacks the whole slot takes its example as it stands."""
    files = starter_files(practice)
    del files[STARTER]
    for place in PLACES:
        if len(place) == 1 and place[0] not in ("deadfront", "title", "practice"):
            text = f"deadfront: 1\ntitle: t\npractice: {practice}\n{describe(dotted(place), practice).example}\n"
            load_bytes("unit.yaml", text.encode(), files)


def test_an_example_is_of_the_practice():
    """An IEC unit is offered no 24.94 kV, no 480 V and no connector interface of the other practice."""
    assert describe("supply", "iec").example == "supply: {voltage: 20 kV}"
    assert describe("board", "iec").example == "board: {voltage: 400 V}"
    assert describe("terminations", "iec").example == "terminations: {voltage_class: 24 kV}"
    assert describe("fuses", "north-american").example == "fuses: {bayonet: {rating: 40 A}}"
    assert describe("operation.approach.low_voltage", "iec") != describe("operation.approach.medium_voltage", "iec")
