"""The JSON Schema: that it is one, that it is the committed one, and that it agrees with the reader."""

import json
import re
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator

from deadfront.project.quantities import UNITS
from deadfront.project.schema import json_schema, schema_text
from deadfront.project.shape import entries
from deadfront.project.sources import Source
from deadfront.project.starters import PRACTICES, STARTER, starter_files
from deadfront.project.tree import parse

from deadfront.project.model import Unit  # isort: skip


def data(text):
    """Plain data of a file's text, as an editor's own reader of YAML 1.2 would give it."""
    return parse(Source("unit.yaml", text)).data


@pytest.fixture(scope="module")
def validator():
    """A validator of the draft that the schema states."""
    return Draft202012Validator(json_schema())


def test_the_schema_is_a_schema_of_its_draft():
    """The metaschema of JSON Schema 2020-12 accepts it, and every reference is one without a space."""
    schema = json_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(schema)
    references = set(re.findall(r'"\$ref": "#/\$defs/([^"]+)"', schema_text()))
    assert references <= set(schema["$defs"])
    assert not [name for name in references if " " in name]


def test_the_committed_schema_is_the_one_the_model_gives():
    """Whoever changes the model prints the schema anew: src/deadfront/project/schema.json is its text."""
    assert (files("deadfront.project") / "schema.json").read_text(encoding="utf-8") == schema_text()


@pytest.mark.parametrize("practice", PRACTICES)
def test_starter_files_satisfy_the_schema(validator, practice):
    """What the tool writes, an editor does not underline."""
    text = starter_files(practice)[STARTER].decode()
    assert [error.message for error in validator.iter_errors(data(text))] == []


HEAD = "deadfront: 1\ntitle: a\npractice: iec\n"


@pytest.mark.parametrize(
    "text",
    [
        "suply: {}\n",
        "supply: {voltag: 20 kV}\n",
        "supply: {voltage: 24.94}\n",
        "supply: {voltage: 24.94 kA}\n",
        "supply: {earthing: solidly}\n",
        "supply: {x_over_r: 8 m}\n",
        "board: {feeders: [pump hall]}\n",
        "board: {feeders: {pump hall: {ratng: 4 A}}}\n",
        "issued: 31.03.2025\n",
        "mv_cable: {parallel: 2000}\n",
        "operation: {places: {bus: {without_detection: no wrk}}}\n",
    ],
)
def test_what_is_misspelt_or_of_the_wrong_kind_fails_the_schema(validator, text):
    """Each fault that an editor can see without reading other files or other entries."""
    assert list(validator.iter_errors(data(HEAD + text)))


@pytest.mark.parametrize(
    "text",
    [
        "supply:\n",
        "supply: {voltage: , x_over_r: 6 .. 14}\n",
        "supply: {x_over_r: 8, fault_current: 3.2..9.8 kA}\n",
        "transformer: {impedance: 5.75 % +/- 7.5 %}\n",
        "board: {feeders: {pump hall: , spare: {}}}\n",
        "operation: {places: {bus: {without_detection: no work}, panel: {without_detection: 8 cal/cm2}}}\n",
    ],
)
def test_what_the_reader_takes_satisfies_the_schema(validator, text):
    """Half-filled files, ranges and words instead of numbers are no faults to an editor either."""
    assert [error.message for error in validator.iter_errors(data(HEAD + text))] == []


def test_every_entry_is_described_and_every_number_has_an_example():
    """An editor can show for each entry what it is, and for each quantity how it is written."""
    schema = json.loads(schema_text())
    slots = {"": schema} | {name: part for name, part in schema["$defs"].items() if "properties" in part}
    assert set(schema["properties"]) == set(entries(Unit))
    dimensions = {f"#/$defs/{name.replace(' ', '-')}" for name in UNITS}
    for slot, part in slots.items():
        for name, entry in part["properties"].items():
            assert entry["description"], (slot, name)
            if entry.get("$ref") in dimensions:
                assert entry["examples"], (slot, name)
