"""Where redirects may lead, and what errors of the network mean."""

import http.client
import ssl

import pytest
import requests
import urllib3

from alertd.sources.deadline import Deadline, LookUpFailed
from alertd.sources.transport import TransportFailure, _failure, _next_url

OLD = "https://api.example.org/points/1.00000,2"


@pytest.mark.parametrize(
    ("old", "location", "new"),
    [
        (OLD, "/points/1,2", "https://api.example.org/points/1,2"),
        (OLD, "2,1?x=1", "https://api.example.org/points/2,1?x=1"),
        (OLD, "https://API.example.org:443/x", "https://API.example.org:443/x"),
        (OLD, "//api.example.org/x", "https://api.example.org/x"),
        ("http://api.example.org/", "https://api.example.org/", "https://api.example.org/"),
        ("http://api.example.org:8080/", "https://api.example.org:8080/", "https://api.example.org:8080/"),
    ],
)
def test_a_redirect_within_the_host_is_followed(old, location, new):
    assert _next_url(old, location) == new


@pytest.mark.parametrize(
    ("old", "location"),
    [
        (OLD, "http://api.example.org/"),  # back to plain text
        (OLD, "https://example.org/"),
        (OLD, "https://api.example.org:8443/"),
        (OLD, "https://api.example.org.evil.example/"),
        (OLD, "https://api.example.org@evil.example/"),
        (OLD, "https://kim:x@api.example.org/"),
        (OLD, "file:///etc/passwd"),
        (OLD, "https://api.example.org:99999/"),
        (OLD, "https://[::1/"),
        (OLD, "data:,x"),
        ("http://127.0.0.1:8080/", "http://127.0.0.1:8081/"),
        ("http://127.0.0.1:8080/", "https://127.0.0.1:8081/"),
    ],
)
def test_a_redirect_to_anywhere_else_is_not(old, location):
    with pytest.raises(TransportFailure, match="redirects to another host, which is not followed; check base_url"):
        _next_url(old, location)


def caused(outer, cause):
    outer.__cause__ = cause
    return outer


@pytest.mark.parametrize(
    ("error", "reason", "is_lost"),
    [
        (requests.ConnectionError(urllib3.exceptions.ProtocolError("x", LookUpFailed())), "cannot be looked up", False),
        (requests.ReadTimeout("https://x/?apikey=canary"), "in time", False),
        (TimeoutError(), "in time", False),
        (requests.exceptions.SSLError(caused(OSError(), ssl.SSLCertVerificationError())), "certificate", False),
        (caused(requests.ConnectionError(), ConnectionRefusedError()), "refuses connections", True),
        (urllib3.exceptions.ProtocolError("x", http.client.IncompleteRead(b"")), "broke off", True),
        (EOFError(), "broke off", True),
        (requests.exceptions.InvalidHeader(), "with such headers", False),
        (requests.exceptions.SSLError(), "lost the connection", True),
        (ValueError("x"), "lost the connection", True),
    ],
)
def test_each_error_of_the_network_means_something_to_a_person(error, reason, is_lost):
    failure = _failure(error, Deadline(60.0))
    assert reason in failure.reason
    assert "canary" not in failure.reason
    assert ";" in failure.reason
    assert failure.is_lost is is_lost


def test_errors_that_cause_each_other_are_looked_at_once():
    first, second = OSError(), OSError()
    first.__cause__, second.__cause__ = second, first
    assert "lost" in _failure(first, Deadline(60.0)).reason


def test_whatever_goes_wrong_after_the_deadline_is_the_deadline():
    assert "in time" in _failure(ConnectionResetError(), Deadline(0.0)).reason
