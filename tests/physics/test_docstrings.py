"""Tests: each public function of the physics says what passes through it and where it comes from."""

from __future__ import annotations

import inspect
import re

import physics_functions
import pytest
from physics_functions import Function, short_name

FUNCTIONS = physics_functions.functions()

BY_REFERENCE = {"ieee1584", "ieee1584_setting", "curves", "relays", "trips", "clearing"}
"""Modules whose docstrings say once for several functions what their common parameters are."""

FULL = [f for f in FUNCTIONS if short_name(f).partition(".")[0] not in BY_REFERENCE]


@pytest.mark.parametrize("function", FULL, ids=short_name)
def test_docstring_has_a_line_for_each_parameter_and_its_bounds(function: Function) -> None:
    """Every parameter, and returns, holds, raises and source, begins a line of the docstring."""
    text = inspect.getdoc(function) or ""
    heads = {word for line in text.splitlines() for word in re.split(r",?\s+", re.split(r"\s{2,}", line)[0])}
    wanted = {*inspect.signature(function).parameters, "returns", "holds", "raises", "source"}
    assert wanted <= heads, wanted - heads


@pytest.mark.parametrize("function", FUNCTIONS, ids=short_name)
def test_docstring_names_its_source(function: Function) -> None:
    """Each says where it comes from, itself or by naming the function it is made of."""
    text = inspect.getdoc(function) or ""
    assert re.search(r"source|`\w+`", text), short_name(function)


@pytest.mark.parametrize("function", FULL, ids=short_name)
def test_docstring_says_raises_nothing_only_where_nothing_is_raised(function: Function) -> None:
    """A function that says it raises nothing has no raise of its own."""
    if re.search(r"^raises\s+nothing$", inspect.getdoc(function) or "", re.MULTILINE):
        assert "raise " not in inspect.getsource(function)


@pytest.mark.parametrize("function", FUNCTIONS, ids=short_name)
def test_function_is_short_and_has_few_parameters(function: Function) -> None:
    """Up to 25 lines of code below the docstring and up to six parameters."""
    source = inspect.getsource(function)
    code = source.replace(function.__doc__ or "", "")
    lines = [line for line in code.splitlines() if line.strip() and not line.strip().startswith("#")]
    assert len(lines) <= 25
    assert len(inspect.signature(function).parameters) <= 6
