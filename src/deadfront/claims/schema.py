"""Claims: the JSON Schemas of results. Nothing comes in; the schemas that `check --json` keeps to go out."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, cast


def result_schema() -> dict[str, Any]:
    """The schema of the object that `deadfront check FILE --json` prints, JSON Schema 2020-12."""
    return _schema("result")


def break_points_schema() -> dict[str, Any]:
    """The schema of the object that `--break-points --json` prints."""
    return _schema("break-points")


def map_schema() -> dict[str, Any]:
    """The schema of the object that `--map X,Y --json` prints."""
    return _schema("map")


def _schema(name: str) -> dict[str, Any]:
    text = (files("deadfront.claims") / f"{name}.schema.json").read_text(encoding="utf-8")
    return cast(dict[str, Any], json.loads(text))
