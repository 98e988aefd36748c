"""Operation: every state number gets one identity, in the order of being met, in a plain table and with hashing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from deadfront.operation.coding import LARGEST, coding
from deadfront.operation.errors import MachineTooLarge
from deadfront.operation.index import Index

BATCHES = st.lists(st.lists(st.integers(0, 5000), max_size=400), max_size=12)


@given(batches=BATCHES, dense=st.sampled_from([0, 1 << 20]))
def test_identities_are_those_of_a_dictionary(batches: list[list[int]], dense: int):
    """Identity and first meetings are what a dictionary filled one by one says, with and without hashing."""
    index, known = Index(5001, dense=dense), {}
    for batch in batches:
        first = []
        for n, code in enumerate(batch):
            if code not in known:
                known[code] = len(known)
                first.append(n)
        identities, met = index.meet(np.array(batch, dtype=np.int64))
        assert identities.tolist() == [known[code] for code in batch]
        assert met.tolist() == first
    assert index.codes[: index.count].tolist() == list(known)


def test_many_numbers_survive_the_growth_of_the_table():
    """200 000 numbers far apart, met twice in another order, keep their identity while the hashed table grows."""
    codes = (np.arange(200_000, dtype=np.int64) * 7_919_000_003) % (1 << 61)
    index = Index(1 << 62)
    for part in np.array_split(codes, 37):
        index.meet(part)
    again, first = index.meet(codes[::-1])
    assert first.size == 0
    assert np.array_equal(again, np.arange(200_000)[::-1])


def test_more_positions_than_can_be_numbered_are_refused():
    """63 parts with two positions are more than a state number holds; nothing is explored instead of a part."""
    parts = [(f"S{n}", ("closed", "open"), "closed") for n in range(63)]
    with pytest.raises(MachineTooLarge) as error:
        coding(parts, [])
    assert (
        str(error.value)
        == f"63 moving parts have {2**63:.1e} combined positions, more than {LARGEST:.1e} can be numbered"
    )
