"""Rules for all tests: no network outside tests/e2e, and hypothesis without deadlines."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# In CI the same examples are drawn each time, so that a change is judged by itself; elsewhere new ones are looked for.
settings.register_profile(
    "alertd",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("alertd")

E2E = Path(__file__).parent / "e2e"


@pytest.fixture(autouse=True)
def no_network_outside_e2e(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse connections and look-ups of names in every test that is not below tests/e2e."""
    if E2E in request.path.parents:
        return

    def refused(*_arguments: object, **_named: object) -> None:
        message = "this test opens a connection; only tests below tests/e2e may"
        raise RuntimeError(message)

    monkeypatch.setattr(socket.socket, "connect", refused)
    monkeypatch.setattr(socket, "getaddrinfo", refused)
