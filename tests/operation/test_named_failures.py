"""Operation: failures that are asked for by name, beside a search through all of them."""

from __future__ import annotations

import pytest
from published import CASES

from deadfront.operation.failures import break_all, single_failures
from deadfront.operation.machine_file import read_machine


@pytest.mark.parametrize("identifier", ["C11", "C12"])
def test_only_the_named_failures_are_looked_at_and_come_out_the_same(identifier):
    """One name: that failure and the sound station, with the hazards that the search through all gives it."""
    machine = read_machine(CASES[identifier])
    every, names = break_all(machine, "hands"), single_failures(machine)
    assert len(names) > 1
    for name in names:
        found = break_all(machine, "hands", only=[frozenset([name])])
        assert found.reaches.keys() | found.spared <= {frozenset(), frozenset([name])}
        assert found.new([name]) == every.new([name])
        assert found.sound == every.sound
        for other in names:
            if other != name:
                with pytest.raises(KeyError):
                    found.new([other])
