from __future__ import annotations

import io
import sys
import threading
import time
from datetime import timedelta

import pytest

from alertd.delivery import Channel, Outcome, send

DEADLINE = timedelta(seconds=20)


def test_a_terminal_channel_writes_to_standard_output_unless_told_otherwise(letter, capsys):
    stream = io.StringIO()
    send(Channel("t", "terminal:"), letter, site_slug="north", deadline=DEADLINE, stream=stream)
    assert capsys.readouterr().out == ""
    result = send(Channel("t", "terminal:"), letter, site_slug="north", deadline=DEADLINE)
    assert result.outcome is Outcome.ACCEPTED
    assert result.reason == "accepted by the channel"
    assert capsys.readouterr().out == stream.getvalue()


def test_a_file_channel_files_the_letter(letter, tmp_path):
    result = send(Channel("d", f"file:{tmp_path}"), letter, site_slug="north", deadline=DEADLINE)
    assert result.outcome is Outcome.ACCEPTED
    assert (tmp_path / "N7-1.txt").is_file()


@pytest.mark.parametrize("url", ["file:letters", "nosuchservice://s3cr3t", "", "mailto://"])
def test_a_url_that_nobody_understands_is_refused(letter, url):
    result = send(Channel("c", url), letter, site_slug="north", deadline=DEADLINE)
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "address not understood")


def test_a_deadline_ends_a_send(letter):
    started = time.monotonic()
    result = send(Channel("c", "nosuch://x"), letter, site_slug="north", deadline=timedelta(milliseconds=20))
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "no answer before the deadline")
    assert time.monotonic() - started < 1.0
    assert result.elapsed < timedelta(seconds=1)


def test_a_stop_ends_a_send(letter):
    stop = threading.Event()
    stop.set()
    result = send(Channel("c", "nosuch://x"), letter, site_slug="north", deadline=DEADLINE, stop=stop)
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "stopped while sending")


def test_a_sending_process_that_dies_leaves_the_outcome_unknown(letter, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/bin/false")
    result = send(Channel("c", "json://x"), letter, site_slug="north", deadline=DEADLINE)
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "the sending process ended without an answer")


def test_a_sending_process_that_talks_rubbish_leaves_the_outcome_unknown(letter, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/bin/echo")
    result = send(Channel("c", "json://x"), letter, site_slug="north", deadline=DEADLINE)
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "the sending process ended without an answer")


def test_a_sending_process_that_cannot_start_is_unavailable(letter, monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "executable", str(tmp_path / "nowhere"))
    result = send(Channel("c", "json://x"), letter, site_slug="north", deadline=DEADLINE)
    assert (result.outcome, result.reason) == (Outcome.UNAVAILABLE, "the sending process cannot be started")


def test_the_sending_process_does_not_inherit_settings_or_secrets(letter, monkeypatch, tmp_path):
    program = tmp_path / "environment"
    program.write_text(f"#!/bin/sh\nenv > {tmp_path}/seen\n")
    program.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(program))
    for name in ("ALERTD_CHANNELS__MAIL", "CREDENTIALS_DIRECTORY", "NOTIFY_SOCKET", "APPRISE_URLS", "WATCHDOG_PID"):
        monkeypatch.setenv(name, "s3cr3t-canary")
    send(Channel("c", "json://u:s3cr3t-canary@x"), letter, site_slug="north", deadline=DEADLINE)
    seen = (tmp_path / "seen").read_text()
    assert "PATH=" in seen
    assert "s3cr3t-canary" not in seen
