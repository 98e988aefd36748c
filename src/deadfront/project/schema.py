"""Project: the form of the file as JSON Schema, made from the model; nothing comes in, the schema goes out."""

from __future__ import annotations

import json
from typing import Any

from deadfront.project.model import Unit
from deadfront.project.quantities import ARTICLES, UNITS, pattern

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a project file, with which editors complete and check it.

    A number with its unit is a string with a pattern and an example. The schema knows no spans, no contradictions and
    no files beside the project file: what it passes may still be refused by `load`. What `load` passes it passes too,
    save two liberties that need no advertising: a bare number as a name, a whole number in quotes.
    """
    schema: dict[str, Any] = _tidied(Unit.model_json_schema())
    schema["$defs"] |= {_name(dimension): _quantity(dimension) for dimension in UNITS}
    return {"$schema": DIALECT, "title": "Deadfront project file"} | schema


def schema_text() -> str:
    """The schema as it is printed and committed: keys in the model's order, indented by two."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _name(dimension: str) -> str:
    """The definition's name, which may hold no space in a reference."""
    return dimension.replace(" ", "-")


def _quantity(dimension: str) -> dict[str, Any]:
    """A dimension's definition; an entry may also be left empty, and a plain number needs no quotes."""
    kinds = ["number", "string", "null"] if dimension == "number" else ["string", "null"]
    return {
        "description": f"{ARTICLES[dimension]}: point, range or tolerance",
        "type": kinds,
        "pattern": pattern(dimension),
    }


def _tidied(node: Any) -> Any:
    """Without what no editor needs (defaults of null, made-up titles), quantities as references."""
    if isinstance(node, list):
        return [_tidied(item) for item in node]
    if not isinstance(node, dict):
        return node
    tidy = {key: _tidied(value) for key, value in node.items() if not (key == "default" and value is None)}
    if isinstance(tidy.get("title"), str):
        del tidy["title"]
    if "pattern" in tidy and "examples" in tidy:
        dimension = next(name for name in UNITS if pattern(name) == tidy["pattern"])
        tidy = {"$ref": f"#/$defs/{_name(dimension)}", "examples": tidy["examples"]}
    named = tidy.get("additionalProperties")
    if isinstance(named, dict) and "$ref" in named:  # a feeder of which only the name is known yet
        tidy["additionalProperties"] = {"anyOf": [named, {"type": "null"}]}
    return _merged(tidy)


def _merged(node: dict[str, Any]) -> dict[str, Any]:
    """An optional entry in one piece, where JSON Schema can say it in one."""
    choices = node.get("anyOf")
    if not isinstance(choices, list) or len(choices) != 2 or choices[1] != {"type": "null"}:
        return node
    inner: dict[str, Any] = choices[0]
    rest = {key: value for key, value in node.items() if key != "anyOf"}
    if "examples" in inner:  # a quantity, whose definition holds null already
        return rest | inner
    if "enum" in inner:
        return rest | {"enum": [*inner["enum"], None]}
    if isinstance(inner.get("type"), str):
        return rest | inner | {"type": [inner["type"], "null"]}
    return node
