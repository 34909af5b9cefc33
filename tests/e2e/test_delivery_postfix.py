"""Mail through Postfix, a mail server that people really run, started here on a port of its own."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

import pytest

from alertd.delivery import Channel, Outcome, send

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.letters import make_letter
from tests.fakes.postfix import Postfix, find_postfix

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(find_postfix() is None, reason="the program postfix is not installed"),
    pytest.mark.skipif(os.geteuid() != 0, reason="postfix can be started by root only"),
]


@pytest.fixture(scope="module")
def postfix():
    folder = Path(tempfile.mkdtemp(prefix="alertd-postfix-"))
    server = Postfix(folder)
    try:
        server.start()
        yield server
    finally:
        server.command("stop")
        shutil.rmtree(folder)


def send_through(postfix, recipient, letter):
    url = f"mailto://127.0.0.1:{postfix.port}/?from=alertd@example.com&to={recipient}"
    return send(Channel("mail", url), letter, site_slug="north-garden", deadline=timedelta(seconds=20))


def test_a_mail_lands_in_the_mailbox_with_its_fields_and_both_forms(postfix):
    letter = make_letter(
        subject="Wrap 4 figs \N{EM DASH} start by 14:10",
        text="Wrap 4 figs.\n\n  expected   -11 \N{DEGREE SIGN}C\n.\nlast line\n",
        html="<html><body><p>Wrap 4 figs, -11 \N{DEGREE SIGN}C</p></body></html>",
        threads=("a7", "b2"),
    )
    result = send_through(postfix, "ann@example.org", letter)
    assert (result.outcome, result.reason) == (Outcome.ACCEPTED, "accepted by the channel")
    (mail,) = postfix.mails(1)
    assert mail["Subject"] == letter.subject
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["X-Alertd-Reference"] == "N7-1"
    assert mail["In-Reply-To"] == "<a7.north-garden@alertd.invalid>"
    assert mail["References"] == "<b2.north-garden@alertd.invalid> <a7.north-garden@alertd.invalid>"
    assert mail["Return-Path"] == "<alertd@example.com>"
    plain, html = mail.iter_parts()
    assert plain.get_content().rstrip("\n") == letter.text.rstrip("\n")
    assert html.get_content().rstrip("\n") == letter.html


def test_a_recipient_whom_the_server_does_not_know_is_refused(postfix):
    result = send_through(postfix, "nobody@example.org", make_letter())
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "SMTP 550")


def test_mail_that_the_server_does_not_relay_is_refused(postfix):
    result = send_through(postfix, "ann@example.net", make_letter())
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "SMTP 554")
