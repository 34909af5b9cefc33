"""What every kind of channel promises, as far as it needs no network; services with one are in ``e2e``."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from alertd.delivery import Channel, ChannelKind, Outcome, check_channel, send
from alertd.messages import Letter

LETTER = Letter(
    reference="N7-1",
    recipient="Ann",
    composed=datetime(2026, 1, 22, 9, tzinfo=UTC),
    subject="Wrap 4 figs",
    text="Wrap 4 figs, start by 14:10.",
    html="<p>Wrap 4 figs</p>",
    short="Wrap 4 figs",
    threads=(),
    response_type="Execute",
)
SECRET = "s3cr3t-canary"


class Terminal:
    """Takes letters on a stream."""

    kind = ChannelKind.TERMINAL

    def __init__(self, _folder):
        self.stream = io.StringIO()
        self.channel = Channel("screen", "terminal:")

    def received(self):
        return self.stream.getvalue()

    def break_down(self):
        self.stream = io.StringIO()
        self.stream.close()


class Folder:
    """Takes letters as files."""

    kind = ChannelKind.FILE

    def __init__(self, folder):
        self.stream = None
        self.folder = folder / SECRET
        self.channel = Channel("disk", f"file:{self.folder}")

    def received(self):
        return "".join(path.read_text(encoding="utf-8") for path in sorted(self.folder.glob("*.txt")))

    def break_down(self):
        self.folder.write_text("")


@pytest.fixture(params=[Terminal, Folder])
def local(request, tmp_path):
    return request.param(tmp_path)


def carry(local, letter=LETTER):
    return send(local.channel, letter, site_slug="north", deadline=timedelta(seconds=5), stream=local.stream)


def test_the_url_names_the_kind_and_passes_the_check(local):
    assert local.channel.kind is local.kind
    assert check_channel(local.channel) is None


def test_an_accepted_letter_has_arrived_whole(local):
    result = carry(local)
    assert (result.outcome, result.reason, result.retry_after) == (Outcome.ACCEPTED, "accepted by the channel", None)
    assert LETTER.subject in local.received()
    assert LETTER.text in local.received()


def test_letters_do_not_overwrite_each_other(local):
    carry(local)
    carry(local, replace(LETTER, reference="N8-1", text="Lift the mulch."))
    assert "Wrap 4 figs, start by 14:10." in local.received()
    assert "Lift the mulch." in local.received()


def test_a_failure_is_a_result_with_a_reason_and_no_secret(local):
    local.break_down()
    result = carry(local)
    assert result.outcome is Outcome.UNAVAILABLE
    assert result.reason == "cannot write"
    assert SECRET not in repr(result)


def test_the_time_a_send_took_is_told(local):
    assert timedelta(0) <= carry(local).elapsed < timedelta(seconds=5)
