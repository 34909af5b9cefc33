"""Public services that answer at random, well and badly, without a network."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime, timedelta
from random import Random
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from requests.structures import CaseInsensitiveDict

from alertd.sources.transport import Reply
from tests.fakes import forecasts
from tests.fakes.forecasts import ELEVATION, LATITUDE, LONGITUDE, SITE
from tests.fakes.http_servers import http_date
from tests.fakes.nws import CELL_PATH, alerts, points
from tests.fakes.open_meteo import status
from tests.fakes.transport import LOST, TOO_SLOW

if TYPE_CHECKING:
    from pathlib import Path

__all__ = [
    "BAD_WAYS",
    "BAD_WAYS_OF_FILES",
    "ELEVATION",
    "LATITUDE",
    "LONGITUDE",
    "SITE",
    "START",
    "Fickle",
    "FickleFile",
]

START = datetime(2026, 1, 5, 0, 7, tzinfo=UTC)

#: How long ago an answer was made, a good one and an old one.
_AGE, _OLD_AGE = timedelta(minutes=40), timedelta(hours=88)

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
        self.last_made: datetime | None = None  # by a service that needs one request only for a forecast
        self.only: str | None = None

    def get(self, url, headers, seconds):
        """Answer one request."""
        assert "@" in headers["User-Agent"]
        assert seconds > 0.0
        way = self.way()
        reply = None if way in {"lost", "slow"} else self.reply(url, way)
        self.asked.append((self.now, url, way, reply))
        if reply is None:
            failure = LOST if way == "lost" else TOO_SLOW
            raise failure.with_traceback(None)  # or it would hold every frame that it has passed since the start
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
        body = self.body(url, way)
        if way == "cut":
            body = body[: len(body) * 2 // 3]
        if way == "html":
            body = b"<html><body>Please log in</body></html>"
        if way == "empty":
            body = b""
        headers = {"Expires": http_date(self.now + timedelta(minutes=50)), "Content-Type": "application/json"}
        if "dwd.de" in url:
            headers["Content-Type"] = "application/vnd.google-earth.kmz"
        if way == "good" and ("api.met.no" in url or "dwd.de" in url):
            self.last_made = self.now - _AGE
        return Reply(200, CaseInsensitiveDict(headers), body)

    def body(self, url: str, way: str) -> bytes:
        """Return a whole answer, whose content may still be bad."""
        made = self.now - (_OLD_AGE if way == "old" else _AGE)
        hour = self.now.replace(minute=0)
        is_known = way != "null"
        if "dwd.de" in url:
            number = "nan" if way == "nan" else None
            start = made.replace(minute=0) if way == "old" else hour
            return forecasts.mosmix(start, made, is_known=is_known, number=number)
        body = json.dumps(self.document(url, hour, made, is_known=is_known)).encode()
        return body[:-1] + b',"more": nan}' if way == "nan" else body

    def document(self, url: str, hour: datetime, made: datetime, *, is_known: bool) -> dict:
        """Return what a service that speaks JSON says."""
        path = urlsplit(url).path
        if "api.met.no" in url:
            return forecasts.met_norway(hour, made, is_known=is_known)
        if path.startswith("/data/"):
            return status(hour - timedelta(hours=5))
        if "open-meteo" in url:
            start = made.replace(minute=0) if self.now - made > timedelta(days=1) else hour
            make = forecasts.open_meteo_ensemble if path == "/v1/ensemble" else forecasts.open_meteo
            return make(start, is_known=is_known)
        if path.startswith("/points/"):
            return points()
        if path == "/alerts/active":
            return alerts(forecasts.freeze_warning(hour)) if is_known else alerts()
        make = forecasts.nws_grid if path == CELL_PATH else forecasts.nws_hourly
        return make(hour, made, is_known=is_known)


#: Ways of answering that a file has, too; it cannot be busy or slow.
BAD_WAYS_OF_FILES = ("lost", "html", "cut", "nan", "empty", "old", "null")


class FickleFile:
    """A weather file that is written each time the clock is set, well or badly."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.only = "good"
        self._now = START

    @property
    def now(self) -> datetime:
        """The time."""
        return self._now

    @now.setter
    def now(self, now: datetime) -> None:
        self._now = now
        self.path.unlink(missing_ok=True)
        if self.only == "lost":
            return
        made = now - (_OLD_AGE if self.only == "old" else _AGE)
        self.path.write_bytes(self.content())
        os.utime(self.path, (made.timestamp(), made.timestamp()))

    def content(self) -> bytes:
        """Return what stands in the file."""
        if self.only == "html":
            return b"<html><body>Please log in</body></html>"
        if self.only == "empty":
            return b""
        text = forecasts.weather_file(self._now.replace(minute=0), is_known=self.only != "null")
        if self.only == "cut":
            text = text[: text.index(",", len(text) * 2 // 3)]
        return f"{text}{self._now:%Y-%m-%dT%H:%M:%SZ},nan\n".encode() if self.only == "nan" else text.encode()
