import tomllib
from pathlib import Path

import jsonschema
import pytest

from alertd.config import json_schema

EXAMPLES = sorted((Path(__file__).parents[3] / "example_config").glob("*.toml"))


def tables_of(schema):
    """Yield every table of a schema with its name."""
    yield "the whole file", schema
    yield from schema["$defs"].items()


def test_the_schema_is_valid_draft_2020_12():
    schema = json_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(schema)


def test_every_key_has_a_description():
    tables = [(name, table) for name, table in tables_of(json_schema()) if "properties" in table]
    assert len(tables) == 24
    without = [
        f"{name}: {key}"
        for name, table in tables
        for key, value in table["properties"].items()
        if len(value.get("description", "")) < 8
    ]
    assert without == []


def test_every_table_is_described_and_refuses_unknown_keys():
    for name, table in tables_of(json_schema()):
        assert table.get("description"), name
        if "properties" in table:
            assert table["additionalProperties"] is False, name


def test_addresses_are_marked_as_secrets():
    url = json_schema()["$defs"]["ChannelSection"]["properties"]["url"]
    assert {"format": "password", "type": "string", "writeOnly": True} in url["anyOf"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_the_examples_satisfy_the_schema(path):
    jsonschema.validate(tomllib.loads(path.read_text()), json_schema(), cls=jsonschema.Draft202012Validator)


def test_the_valid_configuration_of_these_tests_satisfies_the_schema(valid):
    jsonschema.validate(tomllib.loads(valid), json_schema(), cls=jsonschema.Draft202012Validator)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("latitude = 40.65", "latitude = 95"),
        ("latitude = 40.65", "latitud = 40"),
        ('url = "file:letters"', ""),
        ('url = "file:letters"', 'url = "file:letters"\ncredential = "mail"'),
        ('every = "1h"', 'every = "1 hour"'),
        ("05-01", "13-01"),
        ('id = "patio-pots"', 'id = "Patio Pots"'),
        ('units = "degF"', 'units = "F"'),
        ("[classes.seedling]", "[classes.Seedling]"),
    ],
)
def test_the_schema_refuses_what_the_loader_refuses(valid, problems, right, wrong):
    text = valid.replace(right, wrong, 1)
    assert problems(text)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(text), json_schema(), cls=jsonschema.Draft202012Validator)
