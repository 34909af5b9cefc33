"""An invented corner of the US National Weather Service: one garden, one grid cell, three stations.

Shapes and quirks are those of the service's OpenAPI 3.9.2 and of recorded answers; office, cell, stations and all
values are invented. Temperatures are whole °F written as °C and winds whole knots in km/h, as the service has them.
The grid cell lies 300 m above the sea.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from alertd.site import MonthDay, Site

from .http_servers import Behaviour, HttpServer, json_answer

LATITUDE, LONGITUDE = 44.12345678, -72.5
POSITION = "44.1234,-72.5"
CELL_PATH = "/gridpoints/ZZQ/12,34"
OTHER_CELL_PATH = "/gridpoints/ZZR/5,6"
ELEVATION = 300.0
UPDATE_TIME = "2026-01-22T17:12:50+00:00"
NOW = datetime(2026, 1, 22, 18, 30, tzinfo=UTC)

#: Hours are UTC; the garden's clock is five hours behind.
TEMPERATURES_FAHRENHEIT = (
    ("2026-01-22T11:00:00+00:00/PT3H", 28),
    ("2026-01-22T14:00:00+00:00/PT1H", 30),
    ("2026-01-22T15:00:00+00:00/PT1H", 32),
    ("2026-01-22T16:00:00+00:00/PT1H", 34),
    ("2026-01-22T17:00:00+00:00/PT1H", 36),
    ("2026-01-22T18:00:00+00:00/PT2H", 37),
    ("2026-01-22T20:00:00+00:00/PT1H", 35),
    ("2026-01-22T21:00:00+00:00/PT1H", 32),
    ("2026-01-22T22:00:00+00:00/PT2H", 29),
    ("2026-01-23T00:00:00+00:00/PT4H", 26),
    ("2026-01-23T04:00:00+00:00/PT4H", 22),
    ("2026-01-23T08:00:00+00:00/PT4H", 20),
    ("2026-01-23T12:00:00+00:00/PT2H", 19),
    ("2026-01-23T14:00:00+00:00/PT1H", 23),
    ("2026-01-23T15:00:00+00:00/PT2H", 27),
    ("2026-01-23T17:00:00+00:00/P1DT4H", 32),
)

_CORNERS = [[-72.51, 44.13], [-72.49, 44.13], [-72.49, 44.11], [-72.51, 44.11], [-72.51, 44.13]]
_CELL = {"type": "Polygon", "coordinates": [_CORNERS]}


def site(**changed) -> Site:
    """Return the garden; it lies in its grid cell and as high."""
    values = {
        "name": "Quince Hollow",
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "elevation": ELEVATION,
        "time_zone": ZoneInfo("America/New_York"),
        "contact": "keeper@example.org",
        "last_freeze": MonthDay(5, 20),
    }
    return Site(**{**values, **changed})


def celsius_of(fahrenheit: float) -> float:
    """Return whole °F as the service writes them."""
    return (fahrenheit - 32) / 1.8


def points(*, path: str = CELL_PATH, latitude: float = 44.1234, longitude: float = LONGITUDE) -> dict:
    """Return an answer of /points."""
    host = "https://api.weather.gov"
    office, _slash, column_and_row = path.removeprefix("/gridpoints/").partition("/")
    column, row = column_and_row.split(",")
    return {
        "id": f"{host}/points/44.1234,-72.4999999",
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [longitude, latitude]},
        "properties": {
            "@type": "wx:Point",
            "cwa": "ZZP",
            "gridId": office,
            "gridX": int(column),
            "gridY": int(row),
            "forecast": f"{host}{path}/forecast",
            "forecastHourly": f"{host}{path}/forecast/hourly",
            "forecastGridData": f"{host}{path}",
            "observationStations": f"{host}{path}/stations",
            "timeZone": "America/New_York",
        },
    }


def layer(uom: str, *values: tuple[str, float | None]) -> dict:
    """Return a layer of a grid cell."""
    return {"uom": uom, "values": [{"validTime": time, "value": value} for time, value in values]}


def gridpoint(*, path: str = CELL_PATH, **changed) -> dict:
    """Return the raw layers of the cell; `changed` properties are replaced, and left out if they are ``...``."""
    office, _slash, column_and_row = path.removeprefix("/gridpoints/").partition("/")
    column, row = column_and_row.split(",")
    properties = {
        "@type": "wx:Gridpoint",
        "updateTime": UPDATE_TIME,
        "validTimes": "2026-01-22T11:00:00+00:00/P7DT14H",
        "elevation": {"unitCode": "wmoUnit:m", "value": 300},
        "gridId": office,
        "gridX": column,  # text in some answers, numbers in others
        "gridY": row,
        "temperature": layer("wmoUnit:degC", *((time, celsius_of(value)) for time, value in TEMPERATURES_FAHRENHEIT)),
        "dewpoint": layer("wmoUnit:degC", ("2026-01-22T11:00:00+00:00/PT24H", celsius_of(14))),
        "maxTemperature": layer("wmoUnit:degC", ("2026-01-22T12:00:00+00:00/PT13H", celsius_of(38))),
        "minTemperature": layer(
            "wmoUnit:degC",
            ("2026-01-22T11:00:00+00:00/PT5H", celsius_of(26)),
            ("2026-01-23T00:00:00+00:00/PT14H", celsius_of(16)),
        ),
        "skyCover": layer(
            "wmoUnit:percent",
            ("2026-01-22T11:00:00+00:00/PT6H", 75),
            ("2026-01-22T17:00:00+00:00/PT3H", None),
            ("2026-01-22T20:00:00+00:00/PT10H", 10),
        ),
        "windSpeed": layer("wmoUnit:km_h-1", ("2026-01-22T11:00:00+00:00/P1DT4H", 11.112)),
        "quantitativePrecipitation": layer(
            "wmoUnit:mm",
            ("2026-01-22T18:00:00+00:00/PT1H", 0.254),
            ("2026-01-22T19:00:00+00:00/PT6H", 6),
        ),
        "snowfallAmount": layer("wmoUnit:mm", ("2026-01-22T18:00:00+00:00/PT6H", 50.8)),
        "heatIndex": {
            "uom": "wmoUnit:degC",
            "values": [{"validTime": "2026-01-22T11:00:00+00:00/P7DT14H", "value": None}],
        },
        "snowLevel": {"values": []},
    }
    kept = {name: value for name, value in {**properties, **changed}.items() if value is not ...}
    return {"type": "Feature", "geometry": _CELL, "properties": kept}


def period(hour: str, fahrenheit: float | None, **changed) -> dict:
    """Return one period of the hourly forecast: hour in local time, like ``22T14``."""
    day, clock = hour.split("T")
    start = datetime(2026, 1, int(day), int(clock), tzinfo=ZoneInfo("America/New_York"))
    end = datetime.fromtimestamp(start.timestamp() + 3600, tz=start.tzinfo)
    values = {
        "number": 1,
        "name": "",
        "startTime": start.isoformat(),
        "endTime": end.isoformat(),
        "isDaytime": False,
        "temperature": fahrenheit,
        "temperatureUnit": "F",
        "temperatureTrend": None,
        "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": None},
        "dewpoint": {"unitCode": "wmoUnit:degC", "value": -10},
        "windSpeed": "5 to 10 mph",
        "windDirection": "NNW",
        "shortForecast": "Clear",
    }
    return {**values, **changed}


def hourly(*periods: dict, **changed) -> dict:
    """Return an answer of /forecast/hourly; from 13 to 16 h local time if no periods are given."""
    given = periods or tuple(period(f"22T{hour}", 40 - hour) for hour in range(13, 17))
    properties = {
        "units": "us",
        "generatedAt": "2026-01-22T18:20:00+00:00",
        "updateTime": UPDATE_TIME,
        "elevation": {"unitCode": "wmoUnit:m", "value": 300},
        "periods": list(given),
    }
    kept = {name: value for name, value in {**properties, **changed}.items() if value is not ...}
    return {"type": "Feature", "geometry": _CELL, "properties": kept}


def station(identifier: str, latitude: float, longitude: float, metres: float | None = 250) -> dict:
    """Return one feature of an answer of /gridpoints/.../stations."""
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [longitude, latitude]},
        "properties": {
            "@type": "wx:ObservationStation",
            "elevation": {"unitCode": "wmoUnit:m", "value": metres},
            "stationIdentifier": identifier,
            "name": f"{identifier} Field",
        },
    }


def stations() -> dict:
    """Return an answer of /gridpoints/.../stations; the fourth is the furthest and must not be asked."""
    features = [
        station("ZZQ1", 44.2, -72.5),
        station("ZZQ2", 44.1234, -72.6),
        station("ZZQ3", 44.4, -72.5),
        station("ZZQ4", 44.7, -72.5),
    ]
    return {"type": "FeatureCollection", "features": features}


def observation(identifier: str, celsius: float | None, code: str = "V", **changed) -> dict:
    """Return an answer of /stations/.../observations/latest."""
    properties = {
        "@type": "wx:ObservationStation",
        "station": f"https://api.weather.gov/stations/{identifier}",
        "timestamp": "2026-01-22T17:53:00+00:00",
        "temperature": {"unitCode": "wmoUnit:degC", "value": celsius, "qualityControl": code},
        "dewpoint": {"unitCode": "wmoUnit:degC", "value": -11.1, "qualityControl": "V"},
        "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 7.2, "qualityControl": "V"},
        "windGust": {"unitCode": "wmoUnit:km_h-1", "value": None, "qualityControl": "Z"},
    }
    geometry = {"type": "Point", "coordinates": [LONGITUDE, 44.2]}
    return {"type": "Feature", "geometry": geometry, "properties": {**properties, **changed}}


def alert(identifier: str = "urn:example:1", **changed) -> dict:
    """Return one feature of an answer of /alerts/active: an invented freeze warning."""
    properties = {
        "@type": "wx:Alert",
        "id": identifier,
        "areaDesc": "Quince County",
        "references": [],
        "sent": "2026-01-22T14:10:00-05:00",
        "onset": "2026-01-22T22:00:00-05:00",
        "expires": "2026-01-23T02:00:00-05:00",
        "ends": "2026-01-23T09:00:00-05:00",
        "status": "Actual",
        "messageType": "Alert",
        "severity": "Moderate",
        "certainty": "Likely",
        "urgency": "Expected",
        "event": "Freeze Warning",
        "headline": "Freeze Warning until 9 AM EST Friday",
        "description": "* WHAT...Temperatures as low as 16.\n\n* WHERE...Quince County.",
        "instruction": "Protect tender plants.",
        "parameters": {"VTEC": ["/O.NEW.KZZQ.FZ.W.0003.260123T0300Z-260123T1400Z/"]},
    }
    return {"type": "Feature", "geometry": None, "properties": {**properties, **changed}}


def alerts(*features: dict) -> dict:
    """Return an answer of /alerts/active."""
    return {"type": "FeatureCollection", "features": list(features), "updated": "2026-01-22T19:11:00+00:00"}


def problem(kind: str, status: int, detail: str = "", *, urn: bool = False) -> Behaviour:
    """Return a failing answer as the service gives it."""
    prefix = "urn:noaa:nws:api:" if urn else "https://api.weather.gov/problems/"
    document = {"correlationId": "1a2b", "title": kind, "type": prefix + kind, "status": status, "detail": detail}
    return json_answer(document, {"Content-Type": "application/problem+json"}, status=status)


def geojson(document: object, **headers: str) -> Behaviour:
    """Return a good answer; `headers` have underscores for hyphens."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return json_answer(document, {"Content-Type": "application/geo+json", **named})


def body(document: object) -> bytes:
    """Return a document as it comes over the wire."""
    return json.dumps(document).encode()


def serve_all(server: HttpServer) -> None:
    """Let everything be as it should: points, raw layers, hourly forecast, stations, reports, one alert."""
    server.script(f"/points/{POSITION}", geojson(points()))
    server.script(CELL_PATH, geojson(gridpoint()))
    server.script(f"{CELL_PATH}/forecast/hourly", geojson(hourly()))
    server.script(f"{CELL_PATH}/stations", geojson(stations()))
    for identifier, celsius in (("ZZQ1", 1.1), ("ZZQ2", 2.2), ("ZZQ3", 3.3)):
        server.script(f"/stations/{identifier}/observations/latest", geojson(observation(identifier, celsius)))
    server.script("/alerts/active", geojson(alerts(alert())))
