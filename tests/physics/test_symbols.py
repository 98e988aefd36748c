"""Tests: the glossary of symbols holds every parameter of the physics. RENEW_SYMBOLS=1 in the environment writes it."""

from __future__ import annotations

import inspect
import os
from pathlib import Path

import physics_functions

GLOSSARY = Path(__file__).parents[2] / "docs" / "symbols.md"

HEAD = """# Names, symbols and units

Every parameter of a public function of `physics/`, as its docstrings give it: symbol where the standard has one, unit,
meaning. SI inside the house: A, V, ohm, W, VA, m, s, J/m², temperatures in degC; `1` is a pure number. Written from the
docstrings by `RENEW_SYMBOLS=1 pytest tests/physics/test_symbols.py`; a test fails where it is behind.

| name | symbol, unit, meaning | read by |
|---|---|---|
"""


def glossary() -> str:
    """The page as the docstrings of today give it."""
    meanings: dict[str, dict[str, None]] = {}
    readers: dict[str, set[str]] = {}
    for function in physics_functions.functions():
        said = physics_functions.described(function)
        for name in inspect.signature(function).parameters:
            readers.setdefault(name, set()).add(function.__module__.rpartition(".")[2])
            if name in said:
                meanings.setdefault(name, {})[said[name]] = None
    rows = []
    for name in sorted(readers):
        cell = "<br>".join(meanings.get(name, {})).replace("|", "\\|")
        rows.append(f"| `{name}` | {cell} | {', '.join(sorted(readers[name]))} |")
    return HEAD + "\n".join(rows) + "\n"


def test_the_glossary_is_what_the_docstrings_say() -> None:
    """Page and docstrings agree."""
    if os.environ.get("RENEW_SYMBOLS"):
        GLOSSARY.write_text(glossary(), encoding="utf-8")
    assert GLOSSARY.read_text(encoding="utf-8") == glossary()


def test_every_parameter_has_a_meaning() -> None:
    """No name stands in the glossary without a word beside it."""
    silent = [line for line in glossary().splitlines() if line.startswith("| `") and "` |  |" in line]
    assert not silent, silent
