"""Normal answers of the local services have the form that the services themselves describe.

The descriptions are no part of the project. `SERVICE_SCHEMAS` names the folder that holds them; the parts that
are read are written out in the project, and checked everywhere.
"""

from __future__ import annotations

import copy
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest
import yaml

from tests.fakes import forecasts, metno, nws, open_meteo, service_schemas

SCHEMAS = Path(os.environ.get("SERVICE_SCHEMAS", Path(__file__).parents[3] / "shared" / "schemas"))
RECORDED = Path(os.environ.get("RECORDED_PAYLOADS", Path(__file__).parents[3] / "shared" / "payloads")) / "nws"

needs_schemas = pytest.mark.skipif(not SCHEMAS.is_dir(), reason="no descriptions of services; set SERVICE_SCHEMAS")
needs_recorded = pytest.mark.skipif(not RECORDED.is_dir(), reason="no recorded answers; set RECORDED_PAYLOADS")

HOUR = datetime(2026, 1, 5, tzinfo=UTC)
MADE = HOUR - timedelta(minutes=40)

NWS_ANSWERS = {
    "points": (nws.points(),),
    "gridpoint": (nws.gridpoint(), forecasts.nws_grid(HOUR, MADE)),
    "hourly": (nws.hourly(), forecasts.nws_hourly(HOUR, MADE)),
    "stations": (nws.stations(),),
    "observation": (nws.observation("ZZQ1", -3.3), nws.observation("ZZQ1", None, "Z")),
    "alerts": (nws.alerts(nws.alert()), nws.alerts()),
}

OPEN_METEO_ANSWERS = {
    "forecast": (open_meteo.document(open_meteo.forecast_columns()), forecasts.open_meteo(HOUR)),
    "ensemble": (open_meteo.document(open_meteo.ensemble_columns()), forecasts.open_meteo_ensemble(HOUR)),
}

MET_NORWAY_ANSWERS = (
    metno.location_forecast(),
    forecasts.met_norway(HOUR, MADE),
    metno.location_forecast(spread=None, altitude=None),
)

OWN_SCHEMAS = {
    "points": service_schemas.NWS_POINTS,
    "gridpoint": service_schemas.NWS_GRIDPOINT,
    "hourly": service_schemas.NWS_HOURLY,
    "stations": service_schemas.NWS_STATIONS,
    "observation": service_schemas.NWS_OBSERVATION,
    "alerts": service_schemas.NWS_ALERTS,
}

#: Names of the schemas in NWS' description.
NWS_NAMES = {
    "points": "PointGeoJson",
    "gridpoint": "GridpointGeoJson",
    "hourly": "GridpointHourlyForecastGeoJson",
    "stations": "ObservationStationCollectionGeoJson",
    "observation": "ObservationGeoJson",
    "alerts": "AlertCollectionGeoJson",
}

#: Where the answers leave NWS' description on purpose: their offices are invented, and grid coordinates that are text,
#: and trends that are null, are seen in recorded answers.
NWS_DEVIATIONS = {
    "points": {"properties/cwa", "properties/gridId"},
    "gridpoint": {"properties/gridX", "properties/gridY"},
    "hourly": {"properties/periods/*/temperatureTrend"},
}


def problems(document, schema):
    """Return what does not fit by its place, with * for any index of an array."""
    found = {}
    for error in jsonschema.Draft202012Validator(schema).iter_errors(document):
        place = "/".join("*" if isinstance(part, int) else part for part in error.absolute_path)
        found[place] = error.message[:200]
    return found


def read_description(name):
    text = (SCHEMAS / name).read_text(encoding="utf-8")
    return yaml.safe_load(text) if name.endswith(".yml") else json.loads(text)


@needs_schemas
@pytest.mark.parametrize("kind", NWS_ANSWERS)
def test_answers_of_nws_fit_its_own_description_but_for_what_is_meant(kind):
    components = read_description("nws_openapi_v3.json")["components"]
    schema = {"$ref": f"#/components/schemas/{NWS_NAMES[kind]}", "components": components}
    for answer in NWS_ANSWERS[kind]:
        found = problems(answer, schema)
        assert set(found) == NWS_DEVIATIONS.get(kind, set()), found


@needs_schemas
@pytest.mark.parametrize("answer", MET_NORWAY_ANSWERS)
def test_answers_of_met_norway_fit_its_own_description(answer):
    schemas = read_description("metno_METJSONForecast_schema_fragment.json")
    schema = {"$ref": "#/components/schemas/METJSONForecast", "components": {"schemas": schemas}}
    assert problems(answer, schema) == {}


@needs_schemas
@pytest.mark.parametrize("kind", OPEN_METEO_ANSWERS)
def test_answers_of_open_meteo_fit_its_own_description_but_for_times_that_are_asked_for_as_numbers(kind):
    description = read_description(f"openmeteo_openapi_{kind}.yml")
    ok = description["paths"][f"/v1/{kind}"]["get"]["responses"]["200"]
    schema = {**ok["content"]["application/json"]["schema"], "components": description.get("components", {})}
    for answer in OPEN_METEO_ANSWERS[kind]:
        assert set(problems(answer, schema)) == {"hourly/time/*"}
        written = copy.deepcopy(answer)
        written["hourly"]["time"] = [
            f"{datetime.fromtimestamp(each, UTC):%Y-%m-%dT%H:%M}" for each in answer["hourly"]["time"]
        ]
        assert problems(written, schema) == {}


@pytest.mark.parametrize("kind", NWS_ANSWERS)
def test_answers_of_nws_fit_the_part_of_the_description_that_is_read(kind):
    for answer in NWS_ANSWERS[kind]:
        assert problems(answer, OWN_SCHEMAS[kind]) == {}


@pytest.mark.parametrize("answer", [each for answers in OPEN_METEO_ANSWERS.values() for each in answers])
def test_answers_of_open_meteo_fit_the_part_of_the_description_that_is_read(answer):
    assert problems(answer, open_meteo.SCHEMA) == {}


def test_the_status_of_a_model_fits_what_the_documentation_says():
    assert problems(open_meteo.status(HOUR), service_schemas.OPEN_METEO_STATUS) == {}
    for missing in open_meteo.status(HOUR):
        broken = {name: value for name, value in open_meteo.status(HOUR).items() if name != missing}
        assert set(problems(broken, service_schemas.OPEN_METEO_STATUS)) == {""}


@pytest.mark.parametrize(
    ("kind", "break_it", "place"),
    [
        ("points", lambda answer: answer["properties"].update(gridX="12"), "properties/gridX"),
        ("gridpoint", lambda answer: answer["properties"]["temperature"]["values"][0].pop("validTime"), None),
        ("hourly", lambda answer: answer["properties"]["periods"][0].update(temperature="36"), None),
        ("stations", lambda answer: answer["features"][0]["properties"].pop("stationIdentifier"), None),
        ("observation", lambda answer: answer["properties"]["temperature"].update(value="1.1"), None),
        ("alerts", lambda answer: answer["features"][0]["properties"].update(severity="Bad"), None),
    ],
)
def test_an_answer_of_another_form_does_not_fit(kind, break_it, place):
    answer = copy.deepcopy(NWS_ANSWERS[kind][0])
    break_it(answer)
    found = problems(answer, OWN_SCHEMAS[kind])
    assert len(found) == 1
    assert place is None or place in found


@needs_recorded
@pytest.mark.parametrize(
    ("kind", "pattern"),
    [
        ("points", "points_*.json"),
        ("gridpoint", "gridpoint_*.json"),
        ("stations", "stations_*.json"),
        ("observation", "observations_latest.json"),
        ("alerts", "alerts_active_*.json"),
    ],
)
def test_recorded_answers_fit_the_part_of_the_description_that_is_read(kind, pattern):
    paths = sorted(RECORDED.glob(pattern))
    assert paths
    for path in paths:
        assert problems(json.loads(path.read_text(encoding="utf-8")), OWN_SCHEMAS[kind]) == {}, path.name
