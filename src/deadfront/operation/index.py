"""Operation: which states have been met. Batches of state numbers in, consecutive identities out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.int64]
Identities = NDArray[np.int32]

DENSE = 1 << 24
"""Up to this many possible numbers a plain table is used (64 MB at most); above it, a table with hashing."""

_MULTIPLIER = np.uint64(0x9E3779B97F4A7C15)
"""2^64 divided by the golden ratio, made odd: spreads consecutive numbers (multiplicative hashing, common practice)."""


class Index:
    """Gives every different number an identity 0, 1, 2 ... in the order in which the numbers are first met."""

    def __init__(self, space: int, dense: int = DENSE) -> None:
        self._dense = space <= dense
        self._size = space if self._dense else 1 << 12
        self._identity = np.full(self._size, -1, dtype=np.int32)
        self._held = np.full(0 if self._dense else self._size, -1, dtype=np.int64)
        self.codes = np.zeros(1 << 10, dtype=np.int64)
        self.count = 0

    def meet(self, codes: Codes) -> tuple[Identities, Codes]:
        """Return the identity of each number, and where in `codes` each number met for the first time stands."""
        if not self._dense:
            while 2 * (self.count + codes.size) > self._size:
                self._grow()
        slots = codes if self._dense else self._slots(codes)
        found = self._identity[slots]
        unknown = np.flatnonzero(found < 0)
        if unknown.size == 0:
            return found, unknown
        new = slots[unknown]
        # Written backwards, so that of equal numbers the first one is what stays.
        self._identity[new[::-1]] = unknown[::-1].astype(np.int32)
        first = unknown[self._identity[new] == unknown]
        self._remember(codes[first])
        self._identity[slots[first]] = np.arange(self.count - first.size, self.count, dtype=np.int32)
        found[unknown] = self._identity[new]
        return found, first

    def _remember(self, codes: Codes) -> None:
        total = self.count + codes.size
        if total > self.codes.size:
            larger = np.zeros(max(total, 2 * self.codes.size), dtype=np.int64)
            larger[: self.count] = self.codes[: self.count]
            self.codes = larger
        self.codes[self.count : total] = codes
        self.count = total

    def _slots(self, codes: Codes) -> Codes:
        """Where each number stands in the table with hashing; a number that is not there takes the next free place."""
        shift = np.uint64(64 - self._size.bit_length() + 1)
        slots = ((codes.astype(np.uint64) * _MULTIPLIER) >> shift).astype(np.int64)
        left = np.arange(codes.size)
        while left.size:
            at, wanted = slots[left], codes[left]
            free = self._held[at] == -1
            self._held[at[free]] = wanted[free]
            left = left[self._held[at] != wanted]
            slots[left] = (slots[left] + 1) & (self._size - 1)
        return slots

    def _grow(self) -> None:
        self._size *= 2
        self._identity = np.full(self._size, -1, dtype=np.int32)
        self._held = np.full(self._size, -1, dtype=np.int64)
        known = self.codes[: self.count]
        self._identity[self._slots(known)] = np.arange(self.count, dtype=np.int32)
