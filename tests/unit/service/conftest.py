from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from alertd.messages import Reader
from alertd.site import MonthDay, Site
from alertd.store import Store
from alertd.watch import Readership


class Clock:
    """Shows what it is set to."""

    def __init__(self) -> None:
        self.now = datetime(2026, 1, 22, 9, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def advance(self, **length: float) -> datetime:
        self.now += timedelta(**length)
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def store():
    with Store.open(None) as store:
        yield store


@pytest.fixture
def site():
    return Site("Steinbruch", 50.4, 11.7, 410.0, ZoneInfo("Europe/Berlin"), "", MonthDay(5, 15))


@pytest.fixture
def readers():
    return Readership((Reader("Ann"), Reader("Bo", frozenset({"figs"}))), {"Ann": ("mail", "phone"), "Bo": ("phone",)})


@pytest.fixture(autouse=True)
def loggers(caplog):
    """Put the loggers back as they were."""
    kept = [(logger, logger.handlers[:], logger.level, logger.propagate) for logger in map(logging.getLogger, _NAMES)]
    caplog.set_level(logging.INFO, "alertd")
    yield
    for logger, handlers, level, propagate in kept:
        logger.handlers[:] = handlers
        logger.setLevel(level)
        logger.propagate = propagate


_NAMES = ("alertd", "apscheduler", "apprise", "requests", "urllib3")
