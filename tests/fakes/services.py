"""Public services that answer at random, well and badly, without a network."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from random import Random
from urllib.parse import urlsplit

from requests.structures import CaseInsensitiveDict

from alertd.sources.transport import Reply
from tests.fakes.garden import make_site
from tests.fakes.http_servers import http_date
from tests.fakes.metno import cold_night, location_forecast, step_times
from tests.fakes.nws import CELL_PATH, gridpoint, hourly, layer, period, points
from tests.fakes.open_meteo import document, forecast_columns, status
from tests.fakes.transport import LOST, TOO_SLOW

START = datetime(2026, 1, 5, 0, 7, tzinfo=UTC)
LATITUDE, LONGITUDE, ELEVATION = 44.1234, -72.5, 300.0
SITE = make_site(latitude=LATITUDE, longitude=LONGITUDE, elevation=ELEVATION)

#: How often each way of answering is drawn; the rest answers well.
BAD_WAYS = {
    "500": 0.08,
    "503": 0.06,
    "429": 0.05,
    "lost": 0.06,
    "slow": 0.05,
    "html": 0.05,
    "cut": 0.05,
    "nan": 0.04,
    "empty": 0.04,
    "old": 0.08,
    "null": 0.04,
}


class Fickle:
    """Services that draw how to answer, and remember what they were asked and when."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.now = START
        self.outage_until = START
        self.asked: list[tuple[datetime, str, str, Reply | None]] = []
        self.met_norway_made: datetime | None = None
        self.only: str | None = None

    def get(self, url, headers, seconds):
        """Answer one request."""
        assert "@" in headers["User-Agent"]
        assert seconds > 0.0
        way = self.way()
        reply = None if way in {"lost", "slow"} else self.reply(url, way)
        self.asked.append((self.now, url, way, reply))
        if reply is None:
            raise LOST if way == "lost" else TOO_SLOW
        return reply

    def way(self) -> str:
        """Draw how to answer, unless told; now and then all services are gone for a day."""
        if self.only is not None:
            return self.only
        if self.now < self.outage_until:
            return "lost"
        drawn = self.random.random()
        for way, share in BAD_WAYS.items():
            drawn -= share
            if drawn < 0.0:
                return way
        return "good"

    def reply(self, url: str, way: str) -> Reply:
        """Return what a service says in this way."""
        if way in {"500", "503"}:
            return Reply(int(way), CaseInsensitiveDict(), b"{}")
        if way == "429":
            return Reply(429, CaseInsensitiveDict({"Retry-After": "5400"}), b"")
        body = json.dumps(self.document(url, way)).encode()
        if way == "cut":
            body = body[: len(body) * 2 // 3]
        if way == "html":
            body = b"<html><body>Please log in</body></html>"
        if way == "nan":
            body = body[:-1] + b',"more": nan}'
        if way == "empty":
            body = b""
        headers = {"Expires": http_date(self.now + timedelta(minutes=50)), "Content-Type": "application/json"}
        if way == "good" and "api.met.no" in url:
            self.met_norway_made = self.now - timedelta(minutes=40)
        return Reply(200, CaseInsensitiveDict(headers), body)

    def document(self, url: str, way: str) -> dict:
        """Return a good answer, an old one, or one with nothing in it."""
        made = self.now - (timedelta(hours=88) if way == "old" else timedelta(minutes=40))
        hour = self.now.replace(minute=0)
        path = urlsplit(url).path
        place = {"latitude": LATITUDE, "longitude": LONGITUDE}
        if "api.met.no" in url:
            times = [] if way == "null" else step_times(hour, 60, 4)
            return location_forecast(**place, altitude=ELEVATION, updated=made, times=times)
        if path.startswith("/data/"):
            return status(hour - timedelta(hours=5))
        if "open-meteo" in url:
            start = (hour - timedelta(hours=88) if way == "old" else hour).replace(hour=0)
            air = [round(cold_night(start + timedelta(hours=number)), 1) for number in range(96)]
            columns = forecast_columns(96) | {"temperature_2m": air, "dew_point_2m": [each - 3.0 for each in air]}
            if way == "null":
                columns = {key: [None] * 96 for key in columns}
            return document(columns, start=start, **place, elevation=ELEVATION)
        hours = [hour + timedelta(hours=number) for number in range(72)]
        if path.startswith("/points/"):
            return points()
        if path == CELL_PATH:
            values = [(f"{each.isoformat()}/PT1H", None if way == "null" else cold_night(each)) for each in hours]
            parts = {"minTemperature": ..., "maxTemperature": ..., "dewpoint": ...}
            return gridpoint(updateTime=made.isoformat(), temperature=layer("wmoUnit:degC", *values), **parts)
        periods = [
            period(
                "22T13",
                None if way == "null" else round(cold_night(each) * 1.8 + 32),
                startTime=each.isoformat(),
                endTime=(each + timedelta(hours=1)).isoformat(),
            )
            for each in hours
        ]
        return hourly(*periods, updateTime=made.isoformat(), generatedAt=made.isoformat())
