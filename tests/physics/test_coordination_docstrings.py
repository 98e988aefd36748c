"""Tests: each public function of the coordination physics says what passes through it and where it comes from."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from types import ModuleType

import pytest

from deadfront.physics import (
    code_maxima,
    crossing,
    damage_curve,
    fuse_candidates,
    fuse_pair,
    fuse_ratings,
    let_through,
    moved_crossing,
    reclosing,
    selectivity,
    switch_fuse,
)

MODULES = (
    code_maxima,
    crossing,
    damage_curve,
    fuse_candidates,
    fuse_pair,
    fuse_ratings,
    let_through,
    moved_crossing,
    reclosing,
    selectivity,
    switch_fuse,
)


def public(module: ModuleType) -> list[Callable[..., object]]:
    """Functions that the module defines for others."""
    found = inspect.getmembers(module, inspect.isfunction)
    return [f for name, f in found if f.__module__ == module.__name__ and not name.startswith("_")]


FUNCTIONS = [function for module in MODULES for function in public(module)]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f"{f.__module__.rpartition('.')[2]}.{f.__name__}")
def test_docstring_has_a_line_for_each_parameter(function: Callable[..., object]) -> None:
    """Every parameter, and returns, raises and source, begins a line of the docstring."""
    text = inspect.getdoc(function) or ""
    heads = {word for line in text.splitlines() for word in re.split(r",?\s+", re.split(r"\s{2,}", line)[0])}
    wanted = {*inspect.signature(function).parameters, "returns", "holds", "raises", "source"}
    assert wanted <= heads, wanted - heads


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f"{f.__module__.rpartition('.')[2]}.{f.__name__}")
def test_function_is_short_and_has_few_parameters(function: Callable[..., object]) -> None:
    """Up to 25 lines of code below the docstring and up to six parameters."""
    source = inspect.getsource(function)
    code = source.replace(function.__doc__ or "", "")
    lines = [line for line in code.splitlines() if line.strip() and not line.strip().startswith("#")]
    assert len(lines) <= 25
    assert len(inspect.signature(function).parameters) <= 6
