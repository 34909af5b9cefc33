"""The rule that only tests below tests/e2e open connections."""

from __future__ import annotations

import socket

import pytest


def test_a_unit_test_cannot_connect() -> None:
    with socket.socket() as probe, pytest.raises(RuntimeError, match="only tests below tests/e2e"):
        probe.connect(("127.0.0.1", 9))


def test_a_unit_test_cannot_look_up_a_name() -> None:
    with pytest.raises(RuntimeError, match="only tests below tests/e2e"):
        socket.getaddrinfo("example.org", 80)
