"""Claims: the JSON Schema of a result. Nothing comes in; the schema that `check --json` keeps to goes out."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, cast


def result_schema() -> dict[str, Any]:
    """The schema of the object that `deadfront check FILE --json` prints, JSON Schema 2020-12."""
    text = (files("deadfront.claims") / "result.schema.json").read_text(encoding="utf-8")
    return cast(dict[str, Any], json.loads(text))
