"""Physics: the one type that passes through every function of the room."""

from typing import Any, TypeAlias

Array: TypeAlias = Any
"""A float, a numpy float array, or an array of intervals or gradients over intervals.

All three answer to numpy's ufuncs, so one physics function serves them all. No static type covers the three
without shutting one out, hence `Any`; shapes and units stand in the docstrings.
"""
