"""The invented answers have the form of the real ones."""

import jsonschema
import pytest

from tests.fakes.metno import location_forecast, step_times

#: After METJSONForecast in the OpenAPI description of MET Norway's Locationforecast 2.0, *seen*; only what is used.
SCHEMA = {
    "type": "object",
    "required": ["type", "geometry", "properties"],
    "properties": {
        "type": {"const": "Feature"},
        "geometry": {
            "type": "object",
            "required": ["type", "coordinates"],
            "properties": {
                "type": {"const": "Point"},
                "coordinates": {"type": "array", "minItems": 2, "items": {"type": "number"}},
            },
        },
        "properties": {
            "type": "object",
            "required": ["meta", "timeseries"],
            "properties": {
                "meta": {
                    "type": "object",
                    "required": ["updated_at", "units"],
                    "properties": {"updated_at": {"type": "string"}, "units": {"type": "object"}},
                },
                "timeseries": {"type": "array", "items": {"$ref": "#/$defs/step"}},
            },
        },
    },
    "$defs": {
        "details": {"type": "object", "additionalProperties": {"type": "number"}},
        "period": {
            "type": "object",
            "required": ["summary", "details"],
            "properties": {
                "summary": {"type": "object", "required": ["symbol_code"]},
                "details": {"$ref": "#/$defs/details"},
            },
        },
        "step": {
            "type": "object",
            "required": ["time", "data"],
            "properties": {
                "time": {"type": "string", "pattern": "^\\d{4}-\\d{2}-\\d{2}T\\d{2}:\\d{2}:\\d{2}Z$"},
                "data": {
                    "type": "object",
                    "properties": {
                        "instant": {"type": "object", "properties": {"details": {"$ref": "#/$defs/details"}}},
                        "next_1_hours": {"$ref": "#/$defs/period"},
                        "next_6_hours": {"$ref": "#/$defs/period"},
                        "next_12_hours": {"$ref": "#/$defs/period"},
                    },
                },
            },
        },
    },
}


@pytest.mark.parametrize(
    "document",
    [location_forecast(), location_forecast(error="no data at the given location"), location_forecast(altitude=None)],
)
def test_invented_answers_fit_the_schema(document):
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)


def test_invented_answers_have_the_quirks_of_real_ones():
    steps = location_forecast()["properties"]["timeseries"]
    assert set(steps[-1]["data"]) == {"instant"}
    assert "next_12_hours" not in steps[-2]["data"]
    lacking = [step["time"] for step in steps[:-1] if "next_6_hours" not in step["data"]]
    assert lacking == [f"2026-01-24T{hour}:00:00Z" for hour in (19, 20, 21, 22, 23)]
    assert len(steps) == len(step_times())
