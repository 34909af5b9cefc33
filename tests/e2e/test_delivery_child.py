"""The work of the sending process, done in this process to see how it treats the library."""

from __future__ import annotations

import sys
from pathlib import Path

from alertd.delivery import Outcome
from alertd.delivery.child import perform
from alertd.delivery.job import Job
from alertd.delivery.verdict import Phrase, Verdict

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.servers import MailServer, WebAnswer, WebServer, free_port

ACCEPTED = Verdict(Outcome.ACCEPTED, Phrase.ACCEPTED)


def make_job(url: str) -> Job:
    return Job(
        url=url,
        reference="N7-1",
        subject="Wrap 4 figs",
        short="Wrap 4 figs by 14:10",
        text="our  text",
        html="<p>our html</p>",
        mail_headers={"X-Alertd-Reference": "N7-1"},
        deadline=10.0,
    )


def test_the_plain_part_of_each_mail_is_its_own_text_and_the_library_is_left_as_it_was():
    with MailServer() as server:
        url = f"mailto://127.0.0.1:{server.port}/?from=a@example.org&to=b@example.org"
        assert [perform(make_job(url)), perform(make_job(f"{url}&format=text"))] == [ACCEPTED, ACCEPTED]
    both, text = server.received
    assert [part.get_content().strip() for part in both.iter_parts()] == ["our  text", "<p>our html</p>"]
    assert text.get_content().strip() == "our  text"
    plugin = sys.modules["apprise.plugins.email.base"]
    assert plugin.convert_between("html", "text", "<b>bold</b>") != "our  text"


def test_webhooks_are_judged_by_their_answer():
    with WebServer(WebAnswer(200), WebAnswer(503, {"Retry-After": "9"}), WebAnswer(410)) as server:
        job = make_job(f"json://127.0.0.1:{server.port}/hook")
        verdicts = [perform(job), perform(job), perform(job)]
    assert verdicts == [
        ACCEPTED,
        Verdict(Outcome.UNAVAILABLE, Phrase.HTTP, 503, 9.0),
        Verdict(Outcome.REFUSED, Phrase.HTTP, 410),
    ]


def test_a_connection_that_nobody_takes_is_told_for_mail_and_web():
    wanted = Verdict(Outcome.UNAVAILABLE, Phrase.CONNECTION_REFUSED)
    assert perform(make_job(f"json://127.0.0.1:{free_port()}/hook")) == wanted
    assert perform(make_job(f"mailto://127.0.0.1:{free_port()}/?from=a@example.org&to=b@example.org")) == wanted
