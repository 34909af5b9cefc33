"""Shapes of answers, as far as they are read: parts of the services' own descriptions, written out by hand.

NWS: the service's OpenAPI 3.9.2, *seen*; that grid coordinates may be text, and trends null, is *seen* in recorded
answers. Status of a model: Open-Meteo's documentation, *seen*. Shapes of its forecasts stand in ``open_meteo.py``, that
of MET Norway's in the tests of its invented answers.
"""

from __future__ import annotations

from typing import Any


def _object(**properties: Any) -> dict[str, Any]:
    """Return the shape of an object that has all of these properties, and may have others."""
    return {"type": "object", "required": list(properties), "properties": properties}


def _array(items: Any, **limits: int) -> dict[str, Any]:
    return {"type": "array", "items": items, **limits}


_TEXT = {"type": "string"}
_NUMBER = {"type": "number"}
_TIME = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(Z|[+-]\d{2}:\d{2})$"}
_TIME_OR_NULL = {"anyOf": [_TIME, {"type": "null"}]}
_UNIT = {"type": "string", "minLength": 1}
_URL = {"type": "string", "pattern": "^https://"}
_COORDINATE = {"anyOf": [{"type": "integer"}, {"type": "string", "pattern": r"^\d+$"}]}
_SECONDS = {"type": "integer", "minimum": 0}

_EDGE = r"(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(Z|[+-]\d{2}:?\d{2}?)|NOW)"
_LENGTH = r"P(\d+Y)?(\d+M)?(\d+D)?(T(\d+H)?(\d+M)?(\d+S)?)?"
_INTERVAL = {"type": "string", "pattern": f"^{_EDGE}/{_LENGTH}$"}

_POSITION = _array(_NUMBER, minItems=2)
_POINT = _object(type={"const": "Point"}, coordinates=_POSITION)
_POLYGON = _object(type={"const": "Polygon"}, coordinates=_array(_array(_POSITION, minItems=4)))

_QUANTITY = {
    "type": "object",
    "required": ["unitCode", "value"],
    "properties": {
        "unitCode": _UNIT,
        "value": {"type": ["number", "null"]},
        "qualityControl": {"enum": ["Z", "C", "S", "V", "X", "Q", "G", "B", "T"]},
    },
}

_LAYER = {
    "type": "object",
    "required": ["values"],
    "properties": {
        "uom": _UNIT,
        "values": _array(
            _object(validTime=_INTERVAL, value={"type": ["number", "null"]}) | {"additionalProperties": False}
        ),
    },
}

_LAYER_NAMES = (
    "temperature",
    "dewpoint",
    "minTemperature",
    "maxTemperature",
    "skyCover",
    "windSpeed",
    "snowfallAmount",
)

_PERIOD = _object(
    number={"type": "integer", "minimum": 1},
    startTime=_TIME,
    endTime=_TIME,
    isDaytime={"type": "boolean"},
    temperature={"type": ["integer", "null"]},
    temperatureUnit={"enum": ["F", "C"]},
    temperatureTrend={"enum": ["rising", "falling", "", None]},
    windSpeed=_TEXT,
    windDirection=_TEXT,
    shortForecast=_TEXT,
)


def _feature(geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return _object(type={"const": "Feature"}, geometry=geometry, properties=properties)


def _collection(feature: dict[str, Any]) -> dict[str, Any]:
    return _object(type={"const": "FeatureCollection"}, features=_array(feature))


NWS_POINTS = _feature(
    _POINT,
    _object(
        gridId={"type": "string", "pattern": "^[A-Z0-9]{3}$"},
        gridX={"type": "integer", "minimum": 0},
        gridY={"type": "integer", "minimum": 0},
        forecastHourly=_URL,
        forecastGridData=_URL,
        observationStations=_URL,
        timeZone=_TEXT,
    ),
)

NWS_GRIDPOINT = _feature(
    _POLYGON,
    {
        "type": "object",
        "required": ["updateTime", "validTimes", "elevation", "gridId", "gridX", "gridY", "temperature"],
        "properties": {
            "updateTime": _TIME,
            "validTimes": _INTERVAL,
            "elevation": _QUANTITY,
            "gridId": _TEXT,
            "gridX": _COORDINATE,
            "gridY": _COORDINATE,
            **dict.fromkeys(_LAYER_NAMES, _LAYER),
        },
    },
)

NWS_HOURLY = _feature(
    _POLYGON, _object(generatedAt=_TIME, updateTime=_TIME, elevation=_QUANTITY, periods=_array(_PERIOD))
)

NWS_STATIONS = _collection(_feature(_POINT, _object(elevation=_QUANTITY, stationIdentifier=_TEXT, name=_TEXT)))

NWS_OBSERVATION = _feature(
    _POINT,
    _object(timestamp=_TIME, temperature=_QUANTITY, dewpoint=_QUANTITY, windSpeed=_QUANTITY, windGust=_QUANTITY),
)

NWS_ALERTS = _collection(
    _feature(
        {"anyOf": [_POLYGON, {"type": "null"}]},
        _object(
            id=_TEXT,
            areaDesc=_TEXT,
            references=_array({"type": "object"}),
            sent=_TIME,
            onset=_TIME_OR_NULL,
            expires=_TIME,
            ends=_TIME_OR_NULL,
            status={"enum": ["Actual", "Exercise", "System", "Test", "Draft"]},
            messageType={"enum": ["Alert", "Update", "Cancel", "Ack", "Error"]},
            severity={"enum": ["Extreme", "Severe", "Moderate", "Minor", "Unknown"]},
            certainty={"enum": ["Observed", "Likely", "Possible", "Unlikely", "Unknown"]},
            urgency={"enum": ["Immediate", "Expected", "Future", "Past", "Unknown"]},
            event=_TEXT,
            headline={"type": ["string", "null"]},
            description=_TEXT,
            instruction={"type": ["string", "null"]},
            parameters={"type": "object", "additionalProperties": {"type": "array"}},
        ),
    )
)

OPEN_METEO_STATUS = _object(
    last_run_initialisation_time=_SECONDS,
    last_run_modification_time=_SECONDS,
    last_run_availability_time=_SECONDS,
    temporal_resolution_seconds=_SECONDS,
    update_interval_seconds=_SECONDS,
)
